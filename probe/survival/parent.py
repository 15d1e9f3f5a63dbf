"""The watching side of one measuring process: starts it, hears it, outlives it.

A thread reads what it says, writes facts into the journal and answers what is risky
only once that is stored; whoever uses this class takes words one by one and learns
whether the process hangs, died or babbled. Judges nothing.
"""

import contextlib
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, cast

import probe
from probe.events import RISKY, VIEWS, Event, Working
from probe.survival.talk import (
    NONSENSE,
    Acked,
    Asking,
    List,
    Measure,
    Order,
    Pick,
    Stop,
    Word,
    receive,
    send,
    words,
)
from reports.lasting import IncidentKind
from reports.text import plain

Keep = Callable[[Event], None]
LAST_WORDS = 4096
"""Bytes kept of what the process and its driver printed."""
CALL_SECONDS = 1.0
START_PATIENCES = 4.0
"""A process may take so many times the patience before its first word."""
END_SECONDS = 5.0
"""How long a process may take to end once it was killed."""
FAULTS = ("SIGSEGV", "SIGBUS", "SIGABRT", "SIGILL", "SIGFPE", "SIGSYS", "SIGTRAP")
TICK = 0.1
STALL_SECONDS = 0.5
"""So much longer than a tick, and it was this process that stood still."""


@dataclass(frozen=True)
class Gone:
    """The process is no more, or no longer worth hearing."""

    kind: IncidentKind
    detail: str


class Process:
    """One measuring process."""

    def __init__(self, patience: float, keep: Keep | None = None) -> None:
        """Start it. `keep` stores a fact, and for good what is risky."""
        self.patience = patience
        self.keep = keep
        self.asking: Asking | None = None
        """The layer that was asked last."""
        self._heard: queue.SimpleQueue[Word | Gone] = queue.SimpleQueue()
        self._deadline = time.monotonic() + START_PATIENCES * patience
        self._storing = False
        self._last_words = b""
        self._process = _start()
        self._threads = [
            threading.Thread(target=self._listen, daemon=True),
            threading.Thread(target=self._collect, daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    def order(self, order: Order) -> None:
        """Give an order; where the process has gone, its end is heard next."""
        if isinstance(order, List | Pick | Measure):
            self._deadline = time.monotonic() + START_PATIENCES * self.patience
        with contextlib.suppress(OSError, ValueError):
            send(_pipe(self._process.stdin), order)

    def stop(self) -> None:
        """Ask it to end what is under way."""
        self._deadline = min(self._deadline, time.monotonic() + self.patience)
        self.order(Stop())

    def hear(self) -> Word | Gone | None:
        """Return the next word, or None after a moment of silence.

        A process that is silent for longer than it announced is ended: it hung. Not
        one that waits for our disk, and not where we ourselves were stopped meanwhile.
        """
        asked = time.monotonic()
        try:
            word = self._heard.get(timeout=TICK)
        except queue.Empty:
            now = time.monotonic()
            if now - asked - TICK > STALL_SECONDS:
                self._deadline += now - asked
            if self._storing or now < self._deadline:
                return None
            waited = self.patience
            stuck = self.kill()
            return Gone("hung", f"no answer for {waited:g} s beyond its time{stuck}")
        if isinstance(word, Asking):
            self.asking = word
        if not isinstance(word, Gone):
            self._expect(word)
        return word

    def kill(self) -> str:
        """End the process; return what to add where the system cannot."""
        with contextlib.suppress(OSError):
            self._process.kill()
        try:
            self._process.wait(END_SECONDS)
        except subprocess.TimeoutExpired:
            return "; the driver holds the process in the kernel: restart the PC"
        return ""

    def close(self) -> None:
        """Let it end by itself, or end it; it is gone afterwards."""
        with contextlib.suppress(OSError, ValueError):
            _pipe(self._process.stdin).close()
        try:
            self._process.wait(END_SECONDS)
        except subprocess.TimeoutExpired:
            self.kill()
        for thread in self._threads:
            thread.join(END_SECONDS)
        for stream in (self._process.stdout, self._process.stderr):
            if stream is not None:
                stream.close()

    def _expect(self, word: Word) -> None:
        seconds = CALL_SECONDS
        if isinstance(word, Working | Asking):
            seconds = word.seconds
        self._deadline = time.monotonic() + seconds + self.patience

    def _listen(self) -> None:
        stream = _pipe(self._process.stdout)
        try:
            while (body := receive(stream)) is not None:
                self._take(words.decode(body))
        except NONSENSE as error:
            self.kill()
            said = plain(str(error), 500)
            self._heard.put(Gone("babbled", f"its process told nonsense: {said}"))
        except (OSError, ValueError):  # closed by us
            pass
        else:
            self._heard.put(self._end())

    def _take(self, word: Word) -> None:
        self._storing = True
        if self.keep is not None and isinstance(word, _FACTS):
            self.keep(word)
        if isinstance(word, RISKY):
            self.order(Acked())
        self._heard.put(word)
        self._storing = False

    def _collect(self) -> None:
        """Keep the last that the process printed; a full pipe must not stop it."""
        stream = _pipe(self._process.stderr)
        with contextlib.suppress(OSError, ValueError):
            while printed := os.read(stream.fileno(), 65536):
                self._last_words = (self._last_words + printed)[-LAST_WORDS:]

    def _end(self) -> Gone:
        """Return how the process ended by itself."""
        try:
            code = self._process.wait(END_SECONDS)
        except subprocess.TimeoutExpired:
            self.kill()
            return Gone("hung", "its process fell silent and did not end")
        self._threads[1].join(1.0)
        said = plain(self._last_words.decode("utf-8", "replace"), LAST_WORDS)[-500:]
        said = f"; its last words: {said}" if said else ""
        if code < 0:
            name = _signal(-code)
            kind: IncidentKind = "crashed" if name in FAULTS else "killed"
            return Gone(kind, f"its process was ended by {name}{said}")
        if code > 255:  # noqa: PLR2004 - Windows' status codes
            return Gone("crashed", f"its process ended with 0x{code:08X}{said}")
        return Gone("crashed", f"its process ended with code {code}{said}")


_FACTS = tuple(one for one in Event.__args__ if one not in VIEWS)


def _start() -> subprocess.Popen[bytes]:
    """Start a process that hears no Ctrl-C of ours."""
    place = str(Path(probe.__file__).resolve().parents[1])
    paths = [place, *filter(None, [os.environ.get("PYTHONPATH")])]
    flags = getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
    return subprocess.Popen(
        [sys.executable, "-P", "-c", "from probe.survival.child import main; main()"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(paths)},
        start_new_session=os.name == "posix",
        creationflags=flags,
    )


def _pipe(stream: object) -> BinaryIO:
    return cast("BinaryIO", stream)


def _signal(number: int) -> str:
    try:
        return signal.Signals(number).name
    except ValueError:
        return f"signal {number}"
