"""Lines that a person types or scans: read whole, hostile ones too.

What was typed before a question was there may be a number scanned early, and is kept;
Enter alone is no answer to a question that nobody had seen: a scanner that ends each
code with CR and LF sends one more, and so do the impatient. Knows no question.
"""

import contextlib
import select
import sys
from collections import deque
from typing import IO

from probe import commands
from probe.batch.numbers import LINE_LIMIT

SCANNER_SECONDS = 0.05
"""The second half of a scanner's CR LF comes within so much of the first."""


class EndOfInputError(Exception):
    """Nobody answers any more."""


class Lines:
    """Lines out of a stream."""

    def __init__(self, stream: IO[str] | None = None) -> None:
        self._stream = sys.stdin if stream is None else stream
        self._early: deque[str] = deque()

    @property
    def is_person(self) -> bool:
        """Whether somebody sits there."""
        with contextlib.suppress(AttributeError, ValueError):
            return self._stream.isatty()
        return False

    def ask(self, question: str, *, afresh: bool = False) -> str:
        """Ask; return the answer. Raises EndOfInputError.

        `afresh`: nothing that was typed before the question can be meant for it.
        """
        try:
            self._take_early()
            if afresh:
                self._early.clear()
            commands.aside(question, end="")
            if not self._early:
                return self.read()
        except (EndOfInputError, KeyboardInterrupt):
            commands.aside("")  # what comes next begins a line
            raise
        text = self._early.popleft()
        commands.aside(text.rstrip("\r\n"))
        return text

    def give_back(self, text: str) -> None:
        """Take a line for the answer to the next question."""
        self._early.append(text)

    def read(self) -> str:
        """Return the next line with its end. Raises EndOfInputError."""
        raw = getattr(self._stream, "buffer", None)
        try:
            if raw is None:
                text = self._stream.readline(LINE_LIMIT)
                rest = text
                while rest and not rest.endswith("\n"):
                    rest = self._stream.readline(LINE_LIMIT)
            else:
                data = raw.readline(LINE_LIMIT)
                text, more = data.decode("utf-8", "replace"), data
                while more and not more.endswith(b"\n"):
                    more = raw.readline(LINE_LIMIT)
        except (OSError, ValueError, AttributeError):
            raise EndOfInputError from None
        if not text:
            raise EndOfInputError
        return text

    def _take_early(self) -> None:
        while self._is_waiting():
            text = self.read()
            if text.strip():
                self._early.append(text)

    def _is_waiting(self) -> bool:
        """Whether a line was typed already. A console of Windows does not tell."""
        if not self.is_person:
            return False
        with contextlib.suppress(OSError, ValueError, AttributeError):
            return bool(select.select([self._stream], [], [], SCANNER_SECONDS)[0])
        return False
