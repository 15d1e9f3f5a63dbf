"""Ctrl-C as a number: counted where a run must not be cut in two, and heeded after.

While a run is stored, or heard from another process, an exception from anywhere would
leave half of it. Knows nothing of what is done meanwhile.
"""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

MOST_COUNTED = 3
"""From then on each is heeded at once, whatever it breaks: something does not end."""


class _Counted:
    """How often it was pressed, since counting began."""

    times = 0
    counting = False


def _note(number: int, frame: FrameType | None) -> None:
    _Counted.times += 1
    if _Counted.times > MOST_COUNTED:
        signal.default_int_handler(number, frame)


@contextmanager
def counted() -> Iterator[Callable[[], int]]:
    """Count Ctrl-C instead of raising KeyboardInterrupt.

    Within another `counted` the same count goes on: what was pressed before is heeded.
    """
    if threading.current_thread() is not threading.main_thread():
        yield lambda: 0
        return
    if _Counted.counting:
        yield lambda: _Counted.times
        return
    before = signal.getsignal(signal.SIGINT)
    if before is not signal.default_int_handler:  # ignored, or somebody else's
        yield lambda: 0
        return
    _Counted.times, _Counted.counting = 0, True
    signal.signal(signal.SIGINT, _note)
    try:
        yield lambda: _Counted.times
    finally:
        signal.signal(signal.SIGINT, before)
        _Counted.counting = False


@contextmanager
def heeded() -> Iterator[None]:
    """Within `counted`: raise KeyboardInterrupt after all, at once if it is overdue."""
    if not _Counted.counting:
        yield
        return
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        if _Counted.times:
            raise KeyboardInterrupt
        yield
    finally:
        signal.signal(signal.SIGINT, _note)
