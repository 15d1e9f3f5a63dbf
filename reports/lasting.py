"""How a card lasted: what cut its run off, and what became of it under load."""

from typing import Literal

from reports.base import Base, Count, Positive, Text

IncidentKind = Literal[
    "crashed", "killed", "hung", "lost", "babbled", "frozen", "ended"
]
"""crashed: a fault in the measuring process, as driver code causes it. killed: ended
from outside. hung: a launch that never came back. lost: the driver gave the device up.
babbled: the process told nonsense. frozen: the PC itself went down. ended: the program
that watched was ended."""


class Incident(Base, frozen=True, kw_only=True):
    """What cut a run off, and where it stood."""

    kind: IncidentKind
    phase: Text
    """The phase that was under way, or `opening`."""
    doing: Text
    """The same for a person: `Memory, first pass: writing`."""
    at_bytes: Count | None = None
    """Where in the card's memory the block begins that was worked on."""
    block_bytes: Count | None = None
    proven_bytes: Count | None = None
    """What had survived until then."""
    detail: Text = ""
    """The signal, the code, the driver's last words."""
    started: Text | None = None
    """UTC start of an earlier run in which it happened; None: this one."""


class Soak(Base, frozen=True, kw_only=True):
    """What became of a card under lasting load."""

    asked_seconds: Positive
    seconds: Positive
    checked: Count = 0
    """Results compared bit for bit."""
    wrong: Count = 0
