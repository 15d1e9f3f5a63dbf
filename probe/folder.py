"""The folder of one run: made before the run starts, never losing what is in it."""

import contextlib
import os
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from probe.errors import UsageError
from reports import codec
from reports.errors import RecordError
from reports.page import render_page
from reports.record import Record

RESERVE_BYTES = 2 * 2**20
"""Held back while the run lasts, so that a disk that fills up meanwhile still takes the
finished record and page."""

_RECORD, _PAGE, _RESERVE = "record.json", "report.html", ".reserve"


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

    def keep(self, record: Record) -> None:
        """Store the record as far as it has come. Raises RecordError."""
        codec.save(codec.encode(record), self.record_path)

    def finish(self, record: Record) -> bytes:
        """Store record and page; return the record's bytes. Raises RecordError."""
        with contextlib.suppress(OSError):
            (self.path / _RESERVE).unlink(missing_ok=True)
        data = codec.encode(record)
        codec.save(data, self.record_path)
        codec.save(render_page(record, data).encode("utf-8"), self.page_path)
        return data


def open_folder(asked: str | None, label: str, now: datetime) -> Folder:
    """Make the folder and make sure that it can be written.

    Earlier documents in it are moved aside under the time they were written. Raises
    UsageError with the operating system's reason.
    """
    path = Path(asked).expanduser() if asked else _default(label, now)
    try:
        path.mkdir(parents=True, exist_ok=True)
        for name in (_RECORD, _PAGE):
            _move_aside(path / name)
        with (path / _RESERVE).open("wb") as file:
            file.write(b"\0" * RESERVE_BYTES)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        with contextlib.suppress(OSError):
            (path / _RESERVE).unlink(missing_ok=True)
        raise UsageError(
            f"cannot write in {path}: {error.strerror or error}; choose another "
            "folder with --out"
        ) from None
    return Folder(path)


def documents() -> Path:
    """Return the user's folder for documents, or their home."""
    home = Path.home()
    named = os.environ.get("XDG_DOCUMENTS_DIR")
    for place in (Path(named) if named else None, home / "Documents"):
        if place is not None and place.is_dir():
            return place
    return home


def _default(label: str, now: datetime) -> Path:
    slug = re.sub(r"[^a-z0-9]+", "-", label.lower()).strip("-")[:60] or "card"
    name = f"cardassay {slug} {now:%Y-%m-%d %H.%M.%S}"
    return documents() / name.replace(" ", "_")


def _move_aside(path: Path) -> None:
    """Rename an earlier document; never over another."""
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


__all__ = ["Folder", "RecordError", "documents", "open_folder"]
