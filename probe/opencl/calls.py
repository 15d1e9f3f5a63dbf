"""OpenCL calls with their errors in our words.

pyopencl's exceptions are turned into `probe.errors` here and nowhere else; the
driver's own name for the error is kept.
"""

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pyopencl as cl

from probe.errors import CardError, DeviceLostError, MemoryRefusedError

MEMORY_WORDS = frozenset(
    {
        "MEM_OBJECT_ALLOCATION_FAILURE",
        "OUT_OF_HOST_MEMORY",
        "OUT_OF_RESOURCES",
        "INVALID_BUFFER_SIZE",
    }
)
FAR_OFF = 8.0
"""A timer that shows less than one part in this many of what was waited for is off."""
WORTH_DOUBT = 0.05
WORTH_TRUST = 0.001
"""Seconds from which on a launch speaks against, or for, the timer."""
CAUGHT = 2
"""So many launches in a row: one alone may have had its kernel compiled first."""
NO_TIMER = "PROFILING_INFO_NOT_AVAILABLE"
LOST_WORDS = frozenset({"DEVICE_NOT_AVAILABLE", "INVALID_CONTEXT", "INVALID_DEVICE"})


def error_name(error: Exception) -> str:
    """Return the driver's name for an error, as `OUT_OF_RESOURCES`."""
    code = getattr(error, "code", None)
    if code is None:
        return type(error).__name__
    try:
        return str(cl.status_code.to_string(code))  # type: ignore[operator]
    except ValueError:
        return f"error {code}"


def is_drivers(error: Exception) -> bool:
    """Whether an error is what came of a driver's answer, and none of ours.

    Sizes and numbers that make no sense end in pyopencl's own code, in any exception;
    its compiled part raises these three of Python's.
    """
    if isinstance(error, cl.Error | MemoryError | ValueError | RuntimeError):
        return True
    last = error.__traceback__
    while last is not None and last.tb_next is not None:
        last = last.tb_next
    return last is not None and _is_in_pyopencl(last.tb_frame.f_code.co_filename)


@cache
def _is_in_pyopencl(file: str) -> bool:
    folder = Path(str(cl.__file__)).parent
    return Path(file).is_relative_to(folder) or file.startswith("<generated")


@contextmanager
def calling(what: str, card: str, *, memory: bool = False) -> Iterator[None]:
    """Run driver calls; raise a CardError that says what failed on which card.

    With `memory`, an error that can mean "no more memory" becomes a
    MemoryRefusedError.
    """
    try:
        yield
    except Exception as error:
        if not is_drivers(error):
            raise
        code = error_name(error)
        message = f"{card}: {what} failed"
        if code in LOST_WORDS:
            raise DeviceLostError(message, code) from None
        if memory and (code in MEMORY_WORDS or isinstance(error, MemoryError)):
            raise MemoryRefusedError(message, code) from None
        raise CardError(message, code) from None


def drop(buffer: cl.Buffer) -> None:
    """Give a buffer back; a lost device, or one given back already, is no error."""
    with suppress(CardError), calling("giving a buffer back", "the card"):
        buffer.release()


def unmap(mapped: Any, queue: cl.CommandQueue) -> None:  # noqa: ANN401 - pyopencl's map
    """End a mapping; where a lost device refuses, keep it for the process's life.

    pyopencl's own destructor would try again, and its exception would end the process.
    """
    try:
        with calling("ending a mapping", "the card"):
            mapped.release(queue)
    except CardError:
        ctypes.pythonapi.Py_IncRef(ctypes.py_object(mapped))


def span(events: list[Any], passed: float, share: float = 1.0) -> float:
    """Return seconds from the start of the first event to the end of the last.

    `passed` is what the PC's clock saw pass meanwhile. It stands in, times the `share`
    of it that these events are worth, where the driver's timer says nothing usable: no
    time at all, more than the PC saw pass, or that it has none.
    """
    try:
        start = min(event.profile.start for event in events)
        end = max(event.profile.end for event in events)
    except cl.Error as error:
        if error_name(error) != NO_TIMER:
            raise
        return passed * share
    seconds = float(end - start) * 1e-9
    return seconds if 0.0 < seconds <= passed else passed * share


@dataclass
class Timer:
    """The driver's timer of one device, held against the PC's clock.

    A timer that runs too fast would make every launch look short: calibration would go
    on to launches of minutes, and a slow card would seem quick.
    """

    doubts: int = 0

    def span(
        self, events: list[Any], passed: float, waited: float | None = None
    ) -> float:
        """Return the seconds of events that alone were waited for; see `span`.

        `waited` is how much of the time that passed the device was surely at work,
        where that is not all of it.
        """
        seconds = span(events, passed)
        least = passed if waited is None else waited
        if least >= WORTH_DOUBT and seconds * FAR_OFF < least:
            self.doubts += 1
            return passed
        if self.doubts >= CAUGHT:
            return passed
        if passed >= WORTH_TRUST and seconds * FAR_OFF >= passed > seconds:
            self.doubts = 0
        return seconds

    def part(self, events: list[Any], passed: float, share: float) -> float:
        """Return the seconds of one part of what `span` was last asked about."""
        return passed * share if self.doubts else span(events, passed, share)
