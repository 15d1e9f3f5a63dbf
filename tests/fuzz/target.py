"""One thing that takes bytes from elsewhere, and what may come of it.

A target is right where every input ends normally or in one of the exceptions that it
names, within its processor time and its memory. What runs it is `engine.py`'s and
`guided.py`'s matter.
"""

import resource
import signal
import traceback
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from random import Random

SECONDS = 1.0
"""Processor seconds that one input may take."""
MEMORY_BYTES = 2**30
"""Address space that inputs may add to the process."""


class TooSlow(BaseException):
    """An input took its time and more; no `except Exception` swallows it."""


@dataclass(frozen=True, kw_only=True)
class Target:
    """A parser, or all that is done with what was parsed."""

    name: str
    run: Callable[[bytes], object]
    allowed: tuple[type[Exception], ...]
    """The only exceptions that an input may end in."""
    seeds: Callable[[], list[bytes]]
    """Good inputs to begin from."""
    mutate: Callable[[bytes, Random], bytes]
    """Makes another input of one; knows the format."""
    weight: float = 1.0
    """Share of the inputs, beside the other targets'."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """An input that ended in anything else."""

    target: str
    place: str
    """Exception, file and line: faults of one place are one fault."""
    said: str
    data: bytes


def tried(target: Target, data: bytes) -> Fault | None:
    """Run one input; return what is wrong with how it ended."""
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        target.run(data)
    except target.allowed:
        return None
    except (Exception, TooSlow) as error:  # noqa: BLE001 - that is what is looked for
        return _fault(target, error, data)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return None


@contextmanager
def limits():
    """Bound memory and time of what runs within, in the main thread."""

    def late(*_):
        raise TooSlow

    before = signal.signal(signal.SIGPROF, late)
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (_mapped() + MEMORY_BYTES, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
        signal.signal(signal.SIGPROF, before)


def _mapped() -> int:
    with open("/proc/self/statm", encoding="ascii") as file:  # noqa: PTH123 - procfs
        return int(file.read().split()[0]) * resource.getpagesize()


def _fault(target: Target, error: BaseException, data: bytes) -> Fault:
    frames = traceback.extract_tb(error.__traceback__)
    ours = [one for one in frames if "/tests/" not in one.filename] or frames
    last = ours[-1]
    file = "/".join(last.filename.rsplit("/", 2)[-2:])
    kind = type(error).__name__
    place = kind if kind == "TooSlow" else f"{kind} in {file}, line {last.lineno}"
    said = str(error).splitlines()[0][:200] if str(error) else ""
    if kind == "TooSlow":
        said = f"in {file}, line {last.lineno}"
    return Fault(target=target.name, place=place, said=said, data=data)
