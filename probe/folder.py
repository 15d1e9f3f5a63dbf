"""The folder of one run: made before the run starts, never losing what is in it."""

import contextlib
import errno
import os
import re
import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from probe.errors import UsageError
from reports import codec
from reports.page import render_page
from reports.record import Record
from reports.text import named

RESERVE_BYTES = 8 * 2**20
"""Held back while the run lasts, so that a disk that fills up meanwhile still takes the
finished record and page: 4,000 readings and 600 blocks come to 2 and 4 MiB, and the
record's older copy lies beside it until it is replaced."""
ROOM_BYTES = 8 * 2**20
"""What has to be free beside it: for a thorough run's journal and the record so far."""
_MIB = 2**20

_RECORD, _PAGE, _RESERVE = "record.json", "report.html", ".reserve"
_JOURNAL = "journal.txt"


@dataclass(frozen=True)
class Folder:
    """Where a run's documents go."""

    path: Path

    @property
    def record_path(self) -> Path:
        return self.path / _RECORD

    @property
    def page_path(self) -> Path:
        return self.path / _PAGE

    @property
    def journal_path(self) -> Path:
        return self.path / _JOURNAL

    def keep(self, record: Record) -> None:
        """Store the record as far as it has come. Raises RecordError."""
        codec.save(codec.encode(record), self.record_path)

    def store(self, record: Record) -> bytes:
        """Store the finished record; return its bytes. Raises RecordError."""
        self.close()
        data = codec.encode(record)
        codec.save(data, self.record_path)
        return data

    def store_page(self, record: Record, data: bytes) -> None:
        """Store the page of a record whose bytes are `data`. Raises RecordError."""
        codec.save(render_page(record, data).encode("utf-8"), self.page_path)

    def close(self) -> None:
        """Give back the room held in reserve; may be called twice."""
        with contextlib.suppress(OSError):
            (self.path / _RESERVE).unlink(missing_ok=True)

    def tidy(self) -> None:
        """Remove what a run that was ended midway left half-written."""
        self.close()
        with contextlib.suppress(OSError):
            for name in (_RECORD, _PAGE):
                for part in self.path.glob(f".{name}.{'[0-9a-f]' * 8}"):
                    part.unlink(missing_ok=True)


def open_folder(
    asked: str | None, label: str, now: datetime, *, room_bytes: int = ROOM_BYTES
) -> Folder:
    """Make the folder and make sure that it can be written.

    Earlier documents in it are moved aside under the time they were written.
    `room_bytes` has to be free beside what is held in reserve. Raises UsageError with
    the operating system's reason.
    """
    path = _asked(asked) if asked is not None else _default(label, now)
    try:
        path.mkdir(parents=True, exist_ok=True)
        Folder(path).tidy()
        with (path / _RESERVE).open("wb") as file:
            some = os.urandom(_MIB)  # zeros take no room where files are compressed
            for _ in range(RESERVE_BYTES // _MIB):
                file.write(some)
            file.flush()
            os.fsync(file.fileno())
        free = shutil.disk_usage(path).free
        if free < room_bytes:
            had, needed = RESERVE_BYTES + free, RESERVE_BYTES + room_bytes
            raise OSError(  # noqa: TRY301 - a disk that is all but full
                errno.ENOSPC,
                f"{had // _MIB} MiB are free where {needed // _MIB} MiB are needed",
            )
        for name in (_RECORD, _PAGE, _JOURNAL):
            move_aside(path / name)
    except OSError as error:
        with contextlib.suppress(OSError):
            (path / _RESERVE).unlink(missing_ok=True)
        raise UsageError(
            f"cannot write in {named(path)}: {error.strerror or error}; choose another "
            "folder with --out"
        ) from None
    return Folder(path)


def documents() -> Path:
    """Return the user's folder for documents, or their home.

    Raises UsageError where the system knows of no home.
    """
    try:
        home = Path.home()
    except RuntimeError:
        raise UsageError(
            "this system knows of no home folder; choose a folder with --out"
        ) from None
    named = os.environ.get("XDG_DOCUMENTS_DIR") or _user_dirs(home)
    for place in (Path(named) if named else None, home / "Documents"):
        if place is not None and place.is_dir():
            return place
    return home


def _user_dirs(home: Path) -> str | None:
    """Return the documents folder that the desktop has set (xdg-user-dirs)."""
    folder = os.environ.get("XDG_CONFIG_HOME") or home / ".config"
    try:
        text = (Path(folder) / "user-dirs.dirs").read_text("utf-8", "replace")
    except OSError:
        return None
    found = re.search(r'^\s*XDG_DOCUMENTS_DIR="([^"\n]+)"', text, re.MULTILINE)
    return found[1].replace("$HOME", str(home)) if found else None


def _asked(text: str) -> Path:
    if not text.strip():
        raise UsageError("--out: no folder is named")
    try:
        return Path(text).expanduser()
    except RuntimeError:  # ~somebody
        return Path(text)


def _default(label: str, now: datetime) -> Path:
    slug = re.sub(r"[^a-z0-9]+", "-", label[:256].lower()).strip("-")[:60] or "card"
    return documents() / f"cardassay_{slug}_{now:%Y-%m-%d_%H.%M.%S}"


def move_aside(path: Path) -> None:
    """Rename an earlier document; never over another. Raises OSError."""
    if not path.exists():
        return
    written = datetime.fromtimestamp(path.stat().st_mtime).astimezone()
    stem = f"{path.stem}.{written:%Y%m%d-%H%M%S}"
    target = path.with_name(f"{stem}{path.suffix}")
    number = 1
    while target.exists():
        number += 1
        target = path.with_name(f"{stem}.{number}{path.suffix}")
    path.rename(target)
