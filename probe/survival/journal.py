"""The journal of a run: one checksummed line a fact, safe before anything risky.

A line is `checksum seconds fact`: eight hexadecimal digits, the run's age, and the fact
as JSON. The checksum (CRC-32) covers the line and the checksum of the line before it,
so that a line that is cut, changed, lost, doubled or moved ends what can be believed.
Written by appending alone. This file writes and reads bytes; what they come to is
`probe/story.py`'s.
"""

import os
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Self

import msgspec

from probe.events import Event, Started
from reports.errors import RecordError
from reports.files import contents
from reports.text import named

SIZE_LIMIT = 64 * 2**20
"""Largest journal read, in bytes: a thorough run writes one or two MiB."""
LINE_LIMIT = 4 * 2**20
_SEED = zlib.crc32(b"cardassay journal 1")
_CHECKSUM = 8

_encoder = msgspec.json.Encoder()
_decoder = msgspec.json.Decoder(Event)


class JournalError(RecordError):
    """A journal holds nothing that a record could be made of."""


@dataclass(frozen=True)
class Entry:
    """One fact, and the run's age in seconds when it was written."""

    seconds: float
    fact: Event


@dataclass(frozen=True)
class Telling:
    """What a journal holds up to its first damage."""

    started: Started
    entries: tuple[Entry, ...]
    damage: str | None
    """Where and why reading ended; None where the whole journal is sound."""


class Journal:
    """A journal being written. Where its disk fails, it falls silent and says so."""

    def __init__(self, path: Path, *, safe: bool = True) -> None:
        """Make the file. Raises RecordError with the operating system's reason.

        `safe`: whether `sync` waits for the disk; nothing can happen to the PC while a
        card is simulated.
        """
        self.path = path
        self._safe = safe
        self.problem: str | None = None
        self._checksum = _SEED
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND
        flags |= getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
        try:
            self._file = os.open(path, flags, 0o644)
        except OSError as error:
            raise RecordError(f"{path}: cannot be made: {error.strerror}") from None
        if safe:
            sync_folder(path.parent)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def write(self, fact: Event, seconds: float) -> None:
        """Append one fact; never raises. See `sync`."""
        if self.problem is not None:
            return
        try:
            text, self._checksum = line(fact, seconds, self._checksum)
            left = memoryview(text)
            while left:
                left = left[os.write(self._file, left) :]
        except OSError as error:
            self.problem = f"{self.path}: cannot be written: {error.strerror}"
        except ValueError as error:  # half of a surrogate pair: no UTF-8 holds it
            self.problem = f"{self.path}: cannot be written: {error}"

    def sync(self) -> None:
        """Return once all that was written is stored for good; never raises."""
        if self.problem is not None or not self._safe:
            return
        try:
            os.fsync(self._file)
        except OSError as error:
            self.problem = f"{self.path}: cannot be stored: {error.strerror}"

    def close(self) -> None:
        """Store and close it; may be called twice."""
        if self._file >= 0:
            self.sync()
            os.close(self._file)
            self._file = -1
            self.problem = self.problem or "closed"


def sync_folder(place: Path) -> None:
    """Store which files a folder holds; a system that cannot is left alone."""
    try:
        folder = os.open(place, os.O_RDONLY)
    except OSError:  # Windows opens no folder
        return
    try:
        os.fsync(folder)
    except OSError:
        pass
    finally:
        os.close(folder)


def line(fact: Event, seconds: float, before: int) -> tuple[bytes, int]:
    """Return a fact as a line, and its checksum."""
    body = b"%.3f " % seconds + _encoder.encode(fact) + b"\n"
    checksum = zlib.crc32(body, before)
    return b"%08x " % checksum + body, checksum


def parse(data: bytes, name: str = "journal") -> Telling:
    """Return what a journal tells up to its first damage.

    Raises JournalError where not even the first line can be believed.
    """
    if len(data) > SIZE_LIMIT:
        raise JournalError(f"{name}: larger than {SIZE_LIMIT} bytes: no journal")
    entries: list[Entry] = []
    damage: str | None = None
    checksum = _SEED
    start = 0
    while start < len(data):
        try:
            end = data.index(b"\n", start, start + LINE_LIMIT) + 1
        except ValueError:
            damage = "its last line was not finished"
            break
        text = data[start:end]
        found = _entry(text, checksum)
        if isinstance(found, str):
            damage = found
            break
        entry, checksum = found
        entries.append(entry)
        start = end
    if damage is not None:
        damage = f"{damage} (line {len(entries) + 1}, byte {start + 1})"
    if not entries or not isinstance(entries[0].fact, Started):
        raise JournalError(f"{name}: not a journal of cardassay: {damage or 'empty'}")
    return Telling(entries[0].fact, tuple(entries), damage)


def _entry(text: bytes, before: int) -> tuple[Entry, int] | str:
    """Return a line's entry and its checksum, or what is wrong with it."""
    body = text[_CHECKSUM + 1 :]
    checksum = zlib.crc32(body, before)
    if text[: _CHECKSUM + 1] != b"%08x " % checksum:
        return "a line is damaged, missing or out of place"
    age, _, fact = body.partition(b" ")
    try:
        seconds = float(age)
        told = _decoder.decode(fact)
    except (ValueError, msgspec.MsgspecError, RecursionError):
        return "a line was written by another version of this program"
    if not 0 <= seconds < 1e9:  # noqa: PLR2004 - thirty years
        return "a line was written by another version of this program"
    return Entry(seconds, told), checksum


def read(path: Path) -> Telling:
    """Return what a journal file tells. Raises RecordError, JournalError."""
    try:
        data = contents(path, SIZE_LIMIT)
    except OSError as error:
        raise RecordError(f"{named(path)}: cannot be read: {error.strerror}") from None
    return parse(data, named(path))
