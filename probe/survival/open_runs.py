"""Which runs are under way, and which the PC or the program did not survive.

One small file a run, in the program's state folder, names the run's journal and the
process that writes it. It goes when the run's record is stored; one that is left, and
whose process is no more, is a run that was cut off.
"""

import contextlib
import hashlib
import os
import sys
from dataclasses import dataclass
from pathlib import Path

import msgspec

from probe.errors import HostError
from probe.survival.journal import sync_folder
from reports.base import Base, Positive, Text
from reports.files import contents

_FOLDER = "runs"
_LIMIT = 65536
_MOST = 200
_STARTED = 22 - 3
"""Place of a process's start among the fields behind its name."""
CLOCK_SET_MINUTES = 2.0
"""Two starts of a PC are further apart; so far a clock that is set right may move."""
UNREADABLE = (OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError)
"""What a mark that is none raises."""


class OpenRun(Base, frozen=True, kw_only=True):
    """One run, as its file tells of it."""

    journal: Text
    """Path of its journal."""
    label: Text
    pid: int
    process_began: Positive
    """When the system started that process: numbers are used again. See `_began`."""
    practice: bool = False
    boot: Text
    """Which start of the PC it was."""


@dataclass(frozen=True)
class CutOff:
    """A run that nobody is running any more."""

    run: OpenRun
    mark: Path
    pc_restarted: bool


def mark(
    folder: Path | None, journal: Path, label: str, *, practice: bool
) -> Path | None:
    """Note that a run began; return its mark, None where it cannot be kept."""
    if folder is None:
        return None
    run = OpenRun(
        journal=str(journal.resolve()),
        label=label[:1000],
        practice=practice,
        pid=os.getpid(),
        process_began=_began(os.getpid()) or 0.0,
        boot=this_boot(),
    )
    place = _place(folder, run.journal)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with place.open("wb") as file:
            file.write(msgspec.json.encode(run))
            file.flush()
            os.fsync(file.fileno())
    except (OSError, ValueError):  # a path that no JSON can hold
        return None
    sync_folder(place.parent)
    return place


def _place(folder: Path, journal: str) -> Path:
    name = hashlib.sha256(journal.encode("utf-8", "replace")).hexdigest()[:16]
    return folder / _FOLDER / f"{name}.json"


def running(folder: Path | None, journal: Path) -> int | None:
    """Return the process that is writing a journal; None where none is known."""
    if folder is None:
        return None
    try:
        run = _read(_place(folder, str(journal.resolve())))
    except UNREADABLE:
        return None
    return run.pid if _under_way(run) else None


def unmark(place: Path | None) -> None:
    """Note that a run is over, its record stored."""
    if place is not None:
        with contextlib.suppress(OSError):
            place.unlink(missing_ok=True)


def cut_off(folder: Path | None) -> tuple[CutOff, ...]:
    """Return the runs that did not end, the latest first."""
    if folder is None:
        return ()
    found: list[tuple[float, CutOff]] = []
    try:
        places = sorted((folder / _FOLDER).glob("*.json"))[:_MOST]
    except OSError:
        return ()
    for place in places:
        try:
            run = _read(place)
            written = place.stat().st_mtime
        except UNREADABLE:
            continue
        if _under_way(run):
            continue
        if not _has_begun(Path(run.journal)):
            unmark(place)
            continue
        found.append((written, CutOff(run, place, restarted_since(run.boot))))
    return tuple(one for _, one in sorted(found, key=lambda one: -one[0]))


def _has_begun(journal: Path) -> bool:
    """Whether a run told anything: ended before its first fact, it did nothing."""
    try:
        return journal.is_file() and journal.stat().st_size > 0
    except OSError:
        return False


def _read(place: Path) -> OpenRun:
    return msgspec.json.decode(contents(place, _LIMIT), type=OpenRun)


def _under_way(run: OpenRun) -> bool:
    """Whether the very process that began it is still there."""
    return not restarted_since(run.boot) and _began(run.pid) == run.process_began


def of_folder(asked: str) -> Path:
    """Return the journal in a run's folder, or that file itself. Raises HostError."""
    from probe.folder import Folder  # noqa: PLC0415 - start-up

    path = Path(asked).expanduser()
    place = Folder(path).journal_path if path.is_dir() else path
    if not place.is_file():
        raise HostError(f"{asked}: no journal of a run is there; name its folder")
    return place


def restarted_since(boot: str) -> bool:
    """Whether the PC was started anew since; not where it was not said."""
    return bool(boot) and not _same_boot(boot, this_boot())


def this_boot() -> str:
    """Return what tells this start of the PC from every other."""
    with contextlib.suppress(OSError):
        text = Path("/proc/sys/kernel/random/boot_id").read_text("ascii")
        return text.strip()[:64]
    import psutil  # noqa: PLC0415 - start-up

    return f"{psutil.boot_time() / 60:.0f}"


def _same_boot(one: str, other: str) -> bool:
    """Whether two are the same start; a time of it moves when the clock is set."""
    if one == other:
        return True
    try:
        return abs(float(one) - float(other)) <= CLOCK_SET_MINUTES
    except ValueError:
        return False


def _began(pid: int) -> float | None:
    """Return when a process was started; None where there is no such process.

    In a unit of the system's own, that no setting of the clock changes: on Linux ticks
    since the PC was started (proc(5), /proc/PID/stat, field 22), else seconds.
    """
    if sys.platform == "linux":
        try:
            text = Path(f"/proc/{pid}/stat").read_bytes()
        except OSError:
            return None
        fields = text.rpartition(b")")[2].split()
        return None if fields[0] in (b"Z", b"X") else float(fields[_STARTED])
    import psutil  # noqa: PLC0415 - start-up

    try:
        process = psutil.Process(pid)
        if process.status() == psutil.STATUS_ZOMBIE:
            return None
        return float(process.create_time())
    except (psutil.Error, OSError):
        return None
