"""`check --events`: a check that another program of ours watches (`probe/batch/`).

Its end of the line: events go out, one a line, as JSON; the end of standard input
stands for Ctrl-C, so that a check ends in order when whoever watches it wants it to,
and when that is no more. What is said beside goes to standard error, as ever.
"""

import _thread
import contextlib
import os
import signal
import sys
import threading
from collections.abc import Iterator
from typing import BinaryIO

import msgspec

from probe.events import Event, MapChanged
from probe.progress import Silent
from reports.text import inert


class EventLines(Silent):
    """A view that passes on what a person would see; see `progress.View`."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def __call__(self, event: Event) -> None:
        """Write the event. Raises OSError where nobody listens any more."""
        if isinstance(event, MapChanged):  # too much for one line among others
            return
        self._stream.write(inert(msgspec.json.encode(event)) + b"\n")
        self._stream.flush()


@contextlib.contextmanager
def stopped_by_end_of_input() -> Iterator[None]:
    """Within: the end of standard input is a Ctrl-C, also where those are ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    over = threading.Event()

    def listen() -> None:
        try:  # not through `sys.stdin`: its lock would be held when the program ends
            while os.read(sys.stdin.fileno(), 1):
                pass
        except (OSError, ValueError, AttributeError):  # there is none
            return
        if not over.is_set():
            _thread.interrupt_main()

    threading.Thread(target=listen, daemon=True).start()
    try:
        yield
    finally:
        over.set()
        signal.signal(signal.SIGINT, before)
