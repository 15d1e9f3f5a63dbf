"""Files from elsewhere, read up to a limit and without waiting for anyone.

What stands under a name may be no file: a device without end, a pipe that nobody writes
to. Neither may hang the program or fill the PC's memory.
"""

import errno
import os
import stat
from pathlib import Path

_HASTE = getattr(os, "O_NONBLOCK", 0)
"""With it, opening a pipe waits for no writer."""


def contents(path: Path, limit: int) -> bytes:
    """Return a file's bytes, at most one more than `limit`.

    Raises OSError, also for what is no ordinary file.
    """
    try:
        with open(path, "rb", opener=_open) as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise _special()
            return file.read(limit + 1)
    except ValueError as error:  # a name that the system cannot even be asked for
        raise OSError(errno.EINVAL, str(error)) from None


def spare_devices(path: Path) -> None:
    """Raise OSError where a file written to `path` would take a device's place."""
    if path.exists() and not (path.is_file() or path.is_dir()):
        raise _special()


def _special() -> OSError:
    return OSError(errno.EINVAL, "Not an ordinary file")


def _open(path: str, flags: int) -> int:
    return os.open(path, flags | _HASTE)
