"""The command line: the only place that prints and that picks exit codes.

Heavy modules are imported by the command that needs them, so that `--help` is there
at once.
"""

import sys
import time
from collections.abc import Sequence
from enum import IntEnum

from probe.options import parse

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
    try:
        return _run(asked.command, asked)
    except KeyboardInterrupt:
        _complain("stopped")
        return Exit.INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has gone: nothing is left to say to them.
        sys.stderr.close()
        return Exit.INTERRUPTED
    except Exception as error:  # noqa: BLE001 - the one place where all of them end
        return _explain(error)


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
    import traceback  # noqa: PLC0415 - rare

    place = traceback.extract_tb(error.__traceback__)[-1]
    name = place.filename.replace("\\", "/").rsplit("/", 2)
    _complain(
        f"a bug in cardassay: {type(error).__name__}: {error} "
        f"({'/'.join(name[-2:])}, line {place.lineno}); please report this line"
    )
    return Exit.BUG


def _complain(text: str) -> None:
    print(f"cardassay: {text}", file=sys.stderr)
