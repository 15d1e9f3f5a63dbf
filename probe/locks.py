"""One run a card: two at once would measure each other. Held by name, and no more.

A lock file in the state folder, held through the operating system, which gives it up
when the process dies, however it dies: a file left lying locks nothing. Needs no
rights beyond the user's own; where no lock can be had the run goes on, and says so.
"""

import os
import re
import sys
from contextlib import suppress
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from probe.environment import now_utc
from probe.errors import HostError
from probe.places import state_folder
from reports.record import CardIdentity

_FAR_BYTE = 2**30
"""Windows bars others from reading what is locked: the byte lies beyond the text."""
_TEXT_LIMIT = 200
_NAME, _SLUG = 60, 80


@dataclass
class Lock:
    """A card held for this run, until `release` or the end of the process."""

    note: str | None = None
    """Why there is no lock, for a person; None where there is one."""
    _file: int | None = None

    def release(self) -> None:
        """Give the card back; may be called twice.

        The file stays: it is never in the way, and to remove it could take it from
        under another run.
        """
        file, self._file = self._file, None
        if file is None:
            return
        with suppress(OSError):
            os.ftruncate(file, 0)
        with suppress(OSError):
            _unlock(file)
        with suppress(OSError):
            os.close(file)

    def __enter__(self) -> Self:
        """Hold it for a block of code."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Give it back."""
        self.release()


def lock_card(card: CardIdentity) -> Lock:
    """Hold a card. Raises HostError, naming who holds it, where another run does."""
    lock, holder = _hold(lock_name(card))
    if lock is None:
        raise HostError(
            f"{card.label}: another run is testing this card{holder}; wait for its "
            "end, or name another card with --card"
        )
    return lock


def lock_shared(name: str) -> Lock | None:
    """Hold what this PC has only once (see `turns.py`); None where another run does.

    `name`: letters alone.
    """
    return _hold(f"turn-{name}.lock")[0]


def _hold(name: str) -> tuple[Lock | None, str]:
    """Return a lock, or None and who has it."""
    folder = state_folder()
    if folder is None:
        return _without("there is no folder for it that could be written"), ""
    path = folder / name
    try:
        file = os.open(path, os.O_RDWR | os.O_CREAT | _flags(), 0o600)
    except OSError as error:
        return _without(error.strerror or str(error)), ""
    try:
        held = _lock(file)
    except OSError as error:  # a file system without locks
        os.close(file)
        return _without(error.strerror or str(error)), ""
    if not held:
        holder = _holder(file)
        os.close(file)
        return None, holder
    with suppress(OSError):  # a full disk: locked all the same
        os.ftruncate(file, 0)
        os.write(file, f"process {os.getpid()} since {now_utc()}\n".encode("ascii"))
    return Lock(_file=file), ""


def lock_name(card: CardIdentity) -> str:
    """Return the lock file's name: after the bus address, else after name and place."""
    own = card.pci_address or f"{card.label[:_NAME]} {card.index}"
    return f"card-{re.sub(r'[^a-z0-9]+', '-', own.lower()).strip('-')[:_SLUG]}.lock"


def _without(why: str) -> Lock:
    return Lock(
        note=f"no lock on the card ({why}): start no second test of it meanwhile"
    )


def _flags() -> int:
    """Return flags that a system may lack: no symbolic link, no waiting for a pipe."""
    names = ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY")
    return sum(getattr(os, name, 0) for name in names)


def _holder(file: int) -> str:
    """Return ` (process 12, since TIME)`, or nothing where the file does not say."""
    try:
        os.lseek(file, 0, os.SEEK_SET)
        text = os.read(file, _TEXT_LIMIT).decode("ascii", "replace")
    except OSError:
        return ""
    said = re.match(r"process (\d{1,10}) since ([0-9T:+-]{1,40})\n", text)
    return f" (process {said[1]}, since {said[2]})" if said else ""


if sys.platform == "win32":

    def _lock(file: int) -> bool:
        """Lock without waiting; False where another process has it."""
        import msvcrt  # noqa: PLC0415 - Windows alone has it

        os.lseek(file, _FAR_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        finally:
            os.lseek(file, 0, os.SEEK_SET)
        return True

    def _unlock(file: int) -> None:
        import msvcrt  # noqa: PLC0415 - Windows alone has it

        os.lseek(file, _FAR_BYTE, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_UNLCK, 1)

else:

    def _lock(file: int) -> bool:
        """Lock without waiting; False where another process has it."""
        import fcntl  # noqa: PLC0415 - Windows lacks it

        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(file: int) -> None:
        import fcntl  # noqa: PLC0415 - Windows lacks it

        fcntl.flock(file, fcntl.LOCK_UN)
