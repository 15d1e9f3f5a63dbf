"""OpenCL calls with their errors in our words.

pyopencl's exceptions are turned into `probe.errors` here and nowhere else; the
driver's own name for the error is kept.
"""

import ctypes
from collections.abc import Iterator
from contextlib import contextmanager, suppress
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


@contextmanager
def calling(what: str, card: str, *, memory: bool = False) -> Iterator[None]:
    """Run driver calls; raise a CardError that says what failed on which card.

    With `memory`, an error that can mean "no more memory" becomes a
    MemoryRefusedError.
    """
    try:
        yield
    except (cl.Error, MemoryError) as error:
        code = error_name(error)
        message = f"{card}: {what} failed"
        if code in LOST_WORDS:
            raise DeviceLostError(message, code) from None
        if memory and (code in MEMORY_WORDS or isinstance(error, MemoryError)):
            raise MemoryRefusedError(message, code) from None
        raise CardError(message, code) from None


def drop(buffer: cl.Buffer) -> None:
    """Give a buffer back; a lost device, or one given back already, is no error."""
    with suppress(cl.Error):
        buffer.release()


def unmap(mapped: Any, queue: cl.CommandQueue) -> None:  # noqa: ANN401 - pyopencl's map
    """End a mapping; where a lost device refuses, keep it for the process's life.

    pyopencl's own destructor would try again, and its exception would end the process.
    """
    try:
        mapped.release(queue)
    except cl.Error:
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
