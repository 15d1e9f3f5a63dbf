"""The command line: the only place that prints and that picks exit codes.

Heavy modules are imported by the command that needs them, so that `--help` is there
at once.
"""

import contextlib
import errno
import os
import sys
import time
from collections.abc import Sequence
from enum import IntEnum

from probe.options import parse

_FULL = {errno.ENOSPC, errno.EIO, errno.EBADF, errno.EFBIG}
_STARTED = time.perf_counter()


class Exit(IntEnum):
    """What the program's end tells a script."""

    AS_CLAIMED = 0
    NOT_AS_CLAIMED = 1  # or faulty
    USAGE = 2
    COULD_NOT_TEST = 3  # or undetermined
    BUG = 70
    INTERRUPTED = 130


def seconds_since_start() -> float:
    """Return the program's age: what `Record.seconds` counts from."""
    return time.perf_counter() - _STARTED


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return its exit code. Prints every error, once, in words."""
    try:
        asked = parse(argv)
    except SystemExit as end:  # argparse has printed help or a usage error
        return end.code if isinstance(end.code, int) else Exit.USAGE
    _open_streams()
    try:
        code = _run(asked.command, asked)
        sys.stdout.flush()
    except KeyboardInterrupt:
        _complain("stopped")
        code = Exit.INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has gone: nothing is left to say to them.
        code = Exit.INTERRUPTED
    except Exception as error:  # noqa: BLE001 - the one place where all of them end
        code = _explain(error)
    _flush()
    return code


def _open_streams() -> None:
    """Stand in for streams that were closed before we began (`>&-`)."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115, PTH123


def _flush() -> None:
    """Empty standard output; where nobody takes it, do not let the exit complain."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(command: str, asked: object) -> int:
    from probe import commands  # noqa: PLC0415 - start-up

    return int(commands.run(command, asked))


def _explain(error: Exception) -> int:
    """Say what went wrong in words; return the exit code."""
    from probe.errors import CardError, HostError, UsageError  # noqa: PLC0415 - rare
    from reference.errors import TableError  # noqa: PLC0415 - rare
    from reports.errors import RecordError  # noqa: PLC0415 - rare

    if isinstance(error, UsageError | TableError | RecordError):
        _complain(str(error))
        return Exit.USAGE
    if isinstance(error, HostError | CardError):
        _complain(str(error))
        return Exit.COULD_NOT_TEST
    if isinstance(error, MemoryError):
        _complain("the PC ran out of memory; close other programs and test again")
        return Exit.COULD_NOT_TEST
    if isinstance(error, OSError) and error.filename is None and error.errno in _FULL:
        _complain(f"standard output cannot be written: {error.strerror}")
        return Exit.COULD_NOT_TEST
    import traceback  # noqa: PLC0415 - rare

    place = traceback.extract_tb(error.__traceback__)[-1]
    name = place.filename.replace("\\", "/").rsplit("/", 2)
    _complain(
        f"a bug in cardassay: {type(error).__name__}: {error} "
        f"({'/'.join(name[-2:])}, line {place.lineno}); please report this line"
    )
    return Exit.BUG


def _complain(text: str) -> None:
    from probe.commands import aside  # noqa: PLC0415 - start-up

    with contextlib.suppress(OSError, ValueError):
        aside(f"cardassay: {text}")
