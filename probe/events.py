"""What a run tells those who hear of it: the view, the journal, the assembled record.

Plain values, in the order in which things happen; they cross from the measuring process
to the one that watches over it, and each journal line is one. *Views* are for the eye
and may be lost. *Facts* make the record: whatever applies them in order has learnt what
the run has learnt (`probe/account.py`, `probe/story.py`). A listener never answers, but
a fact that announces something risky is only heard once it is safely stored.
"""

from collections.abc import Callable
from typing import Annotated

from msgspec import Meta, Struct

from probe.device import Census, Sweep
from reports.base import Count, Positive, Real, Text
from reports.lasting import Incident, Soak
from reports.record import (
    BlockState,
    CardIdentity,
    Claim,
    Depth,
    EndedBy,
    Host,
    Pass,
    Phase,
    Program,
    Rate,
    Sample,
    Structure,
)

Word64 = Annotated[int, Meta(ge=0)]


class Told(Struct, frozen=True, kw_only=True, tag=True):
    """What all events share: the tag that names them on the way."""


class RunBegan(Told, frozen=True, kw_only=True):
    """View: what is about to be tested."""

    label: str
    practice_condition: str | None
    folder: str | None
    expected_seconds: float | None
    """How long the run should take; None where it is only seconds."""


class Progressed(Told, frozen=True, kw_only=True):
    """View: how far the running phase is."""

    done: float
    total: float
    figure: str
    """The figure so far: `41.0 GiB proven`, `64.7 TFLOP/s`."""


class MapChanged(Told, frozen=True, kw_only=True):
    """View: the block map, one state a block, in address order."""

    states: tuple[BlockState | None, ...]
    """None: held, not judged yet."""


class Noted(Told, frozen=True, kw_only=True):
    """View: a remark worth a line of its own."""

    text: str


class Working(Told, frozen=True, kw_only=True):
    """View: something was begun that may take so long before the next word."""

    seconds: float


class Started(Told, frozen=True, kw_only=True):
    """Fact, the first: what was asked for."""

    program: Program
    started: Text
    """UTC, ISO 8601."""
    depth: Depth
    host: Host
    listing: Claim | None = None
    limit_bytes: Count | None = None
    practice_condition: Text | None = None
    boot: Text = ""
    """Which start of the PC it is: it tells whether that went down meanwhile."""
    soak_seconds: Positive | None = None
    identity: CardIdentity | None = None
    """Of the card meant: the PC may not survive its opening."""
    claims: tuple[Claim, ...] = ()
    """What every layer but the listing says of it."""


class Opened(Told, frozen=True, kw_only=True):
    """Fact: which card it is, and what every layer but the listing says of it."""

    identity: CardIdentity
    claims: tuple[Claim, ...]
    memory_bytes: Count
    """The most that any layer reports."""
    free_bytes: Count | None = None


class SensorsFound(Told, frozen=True, kw_only=True):
    """Fact: where readings come from, and the limits they are read against."""

    source: Text | None
    missing: Text | None
    slowdown_c: Real | None
    power_limit_w: Real | None


class HostMemory(Told, frozen=True, kw_only=True):
    """Fact: what the PC has free. The first is what it began with."""

    available_bytes: Count


class PhaseBegan(Told, frozen=True, kw_only=True):
    """Fact, risky: a phase begins."""

    name: Text
    title: Text
    """What is being done, for a person: `Memory, first pass: writing`."""
    at_seconds: Positive = 0.0
    """The card's own clock."""


class PhaseEnded(Told, frozen=True, kw_only=True):
    """Fact: a phase is over."""

    phase: Phase
    title: str
    figure: str


class ProofBegan(Told, frozen=True, kw_only=True):
    """Fact: a capacity proof begins, from nothing."""

    nonce: Word64
    below_crash: bool = False
    """Whether its limit lies where an earlier proof was cut off."""


class Renewed(Told, frozen=True, kw_only=True):
    """Fact: all tags change."""

    nonce: Word64


class Linked(Told, frozen=True, kw_only=True):
    """Fact: what the host link gives; at most, where it was not seen alone."""

    bytes_a_second: Positive


class Taking(Told, frozen=True, kw_only=True):
    """Fact, risky: a block is about to be touched for the first time."""

    number: Count
    first_cell: Count
    size_bytes: Count


class Taken(Told, frozen=True, kw_only=True):
    """Fact: the block just announced is held."""

    number: Count


class Refused(Told, frozen=True, kw_only=True):
    """Fact: the driver gave no more, and its words."""

    text: Text


class TakingOver(Told, frozen=True, kw_only=True):
    """Fact: all blocks that can be had are held."""

    ended_by: EndedBy
    margin_bytes: Count


class Dropped(Told, frozen=True, kw_only=True):
    """Fact: only the first so many blocks are kept."""

    kept: Count


class PassBegan(Told, frozen=True, kw_only=True):
    """Fact: a walk over all blocks begins."""

    action: Sweep
    upward: bool


class BlockSwept(Told, frozen=True, kw_only=True):
    """Fact: one block is done. `action` None: read for its speed alone."""

    action: Sweep | None
    number: Count
    seconds: Positive
    census: Census | None = None


class PassOver(Told, frozen=True, kw_only=True):
    """Fact: the walk is over."""

    made: Pass


class Measured(Told, frozen=True, kw_only=True):
    """Fact: a rate, or why there is none."""

    rate: Rate


class Built(Told, frozen=True, kw_only=True):
    """Fact: how the chip is built, as far as it was told."""

    structure: Structure


class Soaked(Told, frozen=True, kw_only=True):
    """Fact: what a soak has come to so far."""

    soak: Soak


class Sensed(Told, frozen=True, kw_only=True):
    """Fact: one reading of the sensors."""

    sample: Sample


class Guarded(Told, frozen=True, kw_only=True):
    """Fact: the run has to stop so that the card takes no harm."""

    reason: Text


class Troubled(Told, frozen=True, kw_only=True):
    """Fact: the run was cut off, and what is known of it."""

    incident: Incident
    seconds: Positive = 0.0
    """How long the phase had been under way."""


class Ended(Told, frozen=True, kw_only=True):
    """Fact, the last of a measuring process: it is over."""

    interrupted: bool = False
    """By the person, or by a guard."""
    lost: bool = False
    """The device no longer answers."""


class Closed(Told, frozen=True, kw_only=True):
    """Fact, the last of a run: its record was made."""


Event = (
    RunBegan
    | Progressed
    | MapChanged
    | Noted
    | Working
    | Started
    | Opened
    | SensorsFound
    | HostMemory
    | PhaseBegan
    | PhaseEnded
    | ProofBegan
    | Renewed
    | Linked
    | Taking
    | Taken
    | Refused
    | TakingOver
    | Dropped
    | PassBegan
    | BlockSwept
    | PassOver
    | Measured
    | Built
    | Soaked
    | Sensed
    | Guarded
    | Troubled
    | Ended
    | Closed
)
Watcher = Callable[[Event], None]

VIEWS = (RunBegan, Progressed, MapChanged, Noted, Working)
"""Not journaled: nothing in them that is not told elsewhere."""
SHOWN = (RunBegan, Progressed, MapChanged, Noted, PhaseBegan, PhaseEnded, Troubled)
"""What a watching person sees something of."""
RISKY = (PhaseBegan, Taking)
"""Stored for good before what they announce is done."""
