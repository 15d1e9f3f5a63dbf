"""How a card lasted: what cut its run off, and what became of it under load."""

from typing import Annotated, Literal

from msgspec import Meta

from reports.base import Base, Count, Positive, Real, Text
from reports.counts import CellCounts, Flips

MOST_SPOTS = 64
MOST_POINTS = 600

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


class SoakTest(Base, frozen=True, kw_only=True):
    """One kind of work under lasting load. Results are compared bit for bit."""

    name: Text
    """A rate's name, as `fp32`."""
    launches: Count = 0
    checked: Count = 0
    wrong: Count = 0


class Spot(Base, frozen=True, kw_only=True):
    """One place found wrong: a work-group of one test, or a block of memory."""

    kind: Literal["results", "memory"]
    test: Text
    """What found it: a rate's name; of memory always `turn`."""
    at_seconds: Positive
    """Since the soak began: the first time."""
    last_seconds: Positive
    times: Count
    """Launches or readings in which it was wrong."""
    wrong: Count
    """Results or cells, all times together."""
    group: Count | None = None
    """The work-group; None of memory, or where it could not be told."""
    block_bytes: Count | None = None
    """Where in the card's memory the block begins."""
    scrambled: Count = 0
    """Of the cells: those that held anything else than a few flipped bits."""
    first_byte: Count | None = None
    last_byte: Count | None = None
    """Card-wide byte offsets of the outermost cells that were not intact."""
    flips: Flips | None = None
    """Of the cells with a few flipped bits."""
    temperature_c: Real | None = None
    core_mhz: Real | None = None
    """As last read before the first time."""


class SoakPoint(Base, frozen=True, kw_only=True):
    """One moment of a soak, with what happened since the point before."""

    at_seconds: Positive
    """Since the soak began."""
    rate: Positive | None = None
    """Mean fp32 rate of the steady launches, FLOP/s; None where there were none."""
    core_mhz: Real | None = None
    temperature_c: Real | None = None
    power_w: Real | None = None
    wrong: Count = 0
    """Wrong results and wrong cells."""


class Soak(Base, frozen=True, kw_only=True):
    """What became of a card under lasting load, steady and in steps."""

    asked_seconds: Positive
    seconds: Positive
    launches: Count = 0
    checked: Count = 0
    """Results compared bit for bit."""
    wrong: Count = 0
    tests: Annotated[tuple[SoakTest, ...], Meta(max_length=16)] = ()
    """The same by kind of work."""
    steps: Count = 0
    """Load steps: from rest to full load in one launch."""
    held_bytes: Count = 0
    """Memory held meanwhile, and read again and again."""
    memory_bytes: Count = 0
    """Bytes read back and compared, all passes together."""
    passes: Count = 0
    """Whole walks over all that was held."""
    cells: CellCounts | None = None
    """All passes together; None where no memory was read."""
    spots: Annotated[tuple[Spot, ...], Meta(max_length=MOST_SPOTS)] = ()
    """Where it was wrong, in the order in which that was found."""
    more_spots: Count = 0
    """Times that something was wrong elsewhere, once the list was full."""
    series: Annotated[tuple[SoakPoint, ...], Meta(max_length=MOST_POINTS)] = ()
    rate_start: Positive | None = None
    """fp32 under steady load, FLOP/s: median of the first turn, once clocks had
    risen."""
    rate_end: Positive | None = None
    """Median of the last turn."""
    stopped_by: Text | None = None
    """What ended it before its time; None: nothing did."""
