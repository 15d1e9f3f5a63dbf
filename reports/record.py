"""The record: everything learnt about one card in one run, and what was concluded.

This file and those that it imports hold the types alone: they format nothing and
decide nothing. Units are in the names; raw values stay raw; what is absent is None
with a reason beside it, never zero.

History of the schema (`SCHEMA`):
  1  2026-11  first version
"""

from typing import Annotated, Literal

from msgspec import Meta

from reports.base import Base, Count, Few, Many, Positive, Real, Signed, Text
from reports.base import Word32 as Word32  # noqa: PLC0414 - named here too
from reports.counts import CellCounts as CellCounts  # noqa: PLC0414
from reports.counts import Flips as Flips  # noqa: PLC0414
from reports.firmware_report import FirmwareReport
from reports.inspection import Inspection
from reports.lasting import Incident, Soak
from reports.layers import Layers

SCHEMA: Literal[1] = 1

Depth = Literal["quick", "standard", "thorough"]
Layer = Literal["listing", "opencl", "nvml", "pci", "driver"]
CardKind = Literal["gpu", "cpu", "accelerator", "other"]
BlockState = Literal[
    "proven", "mirrored", "hollow", "failing", "scrambled", "spilled", "unreached"
]
EndedBy = Literal[
    "driver refused",
    "whole claim held",
    "limit asked for",
    "host memory",
    "error",
    "below a crash",
]
PhaseOutcome = Literal["done", "failed", "skipped", "interrupted"]
Strength = Literal["decisive", "strong", "supporting"]
Bearing = Literal["agrees", "contradicts", "fault", "explains", "open"]
Outcome = Literal["as claimed", "not as claimed", "faulty", "undetermined"]


class Program(Base, frozen=True, kw_only=True):
    """Which program and which table of genuine cards made this record."""

    version: Text
    table_version: Text | None = None
    table_sha256: Text | None = None


class Host(Base, frozen=True, kw_only=True):
    """The PC, without anything that names its owner."""

    system: Text
    release: Text
    machine: Text
    python: Text
    memory_bytes: Count | None = None
    on_battery: bool | None = None
    """Whether the PC ran on its battery when the test began."""


class CardIdentity(Base, frozen=True, kw_only=True):
    """Which card was tested, and how it is told apart from others in the PC."""

    label: Text
    """The name it goes by in this record: what its driver calls it."""
    kind: CardKind
    index: Count
    """Its place in `cardassay list`."""
    pci_address: Text | None = None
    """domain:bus:device.function, as `0000:01:00.0`."""
    platform: Text | None = None
    also_seen_through: Few[Text] = ()
    """Further platforms that show the same card."""
    paired_by: Text | None = None
    """The rule that tied OpenCL's device to NVML's and the bus's."""
    unified_memory: bool = False
    """True where the device works in the PC's own memory."""
    drives_display: bool | None = None
    layers: Layers | None = None
    """What was read beside the claims; None: nobody asked."""


class Claim(Base, frozen=True, kw_only=True):
    """What one layer says the card is. None: the layer does not say."""

    layer: Layer
    source: Text
    """Where exactly it was read, in words a person can follow."""
    model: Text | None = None
    vendor: Text | None = None
    memory_bytes: Count | None = None
    pci_id: Text | None = None
    """vendor:device, as `10de:1b81`."""
    subsystem: Text | None = None
    revision: Text | None = None
    compute_units: Count | None = None
    cores: Count | None = None
    compute_capability: Text | None = None
    gfx_target: Text | None = None
    clock_mhz: Count | None = None
    memory_clock_mhz: Count | None = None
    bus_width_bits: Count | None = None
    link_generation: Count | None = None
    link_width: Count | None = None
    driver: Text | None = None
    firmware: Text | None = None
    free_bytes: Count | None = None
    chip_id: Text | None = None
    """NVIDIA: the chip's own number, read from its register: `134`, hexadecimal."""


class Phase(Base, frozen=True, kw_only=True):
    """One phase of the run, on the card's own clock from the start of the run."""

    name: Text
    outcome: PhaseOutcome
    started_seconds: Positive
    seconds: Positive
    detail: Text = ""


class Block(Base, frozen=True, kw_only=True):
    """One block of card memory: an allocation of the capacity proof."""

    offset_bytes: Count
    """Its place in the order in which blocks were taken."""
    size_bytes: Count
    state: BlockState
    counts: CellCounts
    """The worst pass: the one with the fewest intact cells."""
    mirror_distance_bytes: Signed | None = None
    """Where the foreign tag of the first mirrored cell belongs, minus this cell."""
    flips: Flips | None = None
    write_seconds: Positive | None = None
    verify_seconds: Positive | None = None


class Pass(Base, frozen=True, kw_only=True):
    """One walk over all blocks."""

    name: Literal["write", "verify", "turn"]
    """turn: verify and rewrite with the complement, in place."""
    upward: bool
    complemented: bool
    """Polarity of the tags that this pass leaves in memory."""
    bytes_moved: Count
    seconds: Positive
    counts: CellCounts | None = None


class Capacity(Base, frozen=True, kw_only=True):
    """The capacity proof."""

    claimed_bytes: Count
    """The most that any layer of the card itself reports."""
    free_bytes: Count | None = None
    """What the driver called free before the run."""
    covered_bytes: Count
    """Held in blocks, all at once."""
    proven_bytes: Count
    """Bytes whose tags survived after everything was written; the least over the
    passes, without spilled blocks."""
    spilled_bytes: Count = 0
    cell_bytes: Count = 16
    margin_bytes: Count = 0
    """Left alone on purpose."""
    ended_by: EndedBy
    """Why no more blocks were taken."""
    refusal: Text | None = None
    """The driver's words when it refused."""
    nonce: Text
    """This run's number, in hexadecimal: part of every tag."""
    passes: Many[Pass] = ()
    blocks: Many[Block] = ()


class Rate(Base, frozen=True, kw_only=True):
    """One measured rate."""

    name: Literal[
        "fp32",
        "fp64",
        "fp16",
        "int32",
        "transcendental",
        "memory_read",
        "memory_write",
        "memory_copy",
        "local_memory",
        "link_up",
        "link_down",
    ]
    unit: Literal["FLOP/s", "op/s", "B/s"]
    value: Positive | None = None
    """Median over the samples; None where it was not measured."""
    missing: Text | None = None
    """Why there is no value."""
    work_per_launch: Positive = 0.0
    """Operations or bytes of one launch."""
    warmup_seconds: Many[Positive] = ()
    sample_seconds: Many[Positive] = ()
    checked: Count = 0
    """Results compared bit for bit."""
    wrong: Count = 0
    remarks: Few[Text] = ()


class Latency(Base, frozen=True, kw_only=True):
    """One point of the latency curve: a footprint, and what a hop through it takes."""

    footprint_bytes: Count
    hop_ns: Positive


class CacheLevel(Base, frozen=True, kw_only=True):
    """One plateau of the latency curve."""

    reaches_bytes: Count | None = None
    """Up to which footprint it answers; None for the last, the memory itself."""
    low_bytes: Count | None = None
    high_bytes: Count | None = None
    """Between which footprints the curve leaves the plateau."""
    hop_ns: Positive


class Stair(Base, frozen=True, kw_only=True):
    """One point of the staircase: so many work-groups, each filling a unit, at once."""

    groups: Count
    seconds: Positive
    """The least of several looks: noise only ever makes a launch slower."""


class Structure(Base, frozen=True, kw_only=True):
    """How the chip is built, told by time alone: nothing here can be rewritten.

    None: could not be told; `missing` says why.
    """

    units: Count | None = None
    """Units that run one full work-group each at the same time."""
    units_low: Count | None = None
    units_high: Count | None = None
    """The bounds between which the count certainly lies."""
    step: Positive | None = None
    """Time with one group more than units, over the time before: 2 is clear."""
    second_step: bool | None = None
    """Whether twice the units step as well: the staircase is regular."""
    stairs: Many[Stair] = ()
    """What was looked at to find the step, by number of groups."""
    link_ns: Positive | None = None
    """Time of one dependent multiply-add: cycles of the architecture over the clock."""
    link_ns_spread: Positive | None = None
    lane_cycles: Positive | None = None
    """fp32 operations a second of one unit, over two, times `link_ns`: lanes times
    cycles of a link, whatever the clock."""
    warp_width: Count | None = None
    resident_groups: Count | None = None
    """Groups that hold `resident_bytes` of local memory each and fit on one unit."""
    resident_bytes: Count | None = None
    latencies: Many[Latency] = ()
    levels: Few[CacheLevel] = ()
    missing: Few[Text] = ()


class Sample(Base, frozen=True, kw_only=True):
    """One reading of the card's sensors."""

    at_seconds: Positive
    phase: Text
    core_mhz: Real | None = None
    memory_mhz: Real | None = None
    temperature_c: Real | None = None
    power_w: Real | None = None
    fan_percent: Real | None = None
    utilisation_percent: Real | None = None
    memory_used_bytes: Count | None = None
    link_generation: Count | None = None
    """PCI Express generation and lanes that the link ran at just then: it rests slower
    than it works."""
    link_width: Count | None = None
    throttle: Few[Text] = ()


class Telemetry(Base, frozen=True, kw_only=True):
    """Sensor readings beside the run, and the limits they are read against."""

    source: Text | None = None
    missing: Text | None = None
    slowdown_c: Real | None = None
    power_limit_w: Real | None = None
    host_memory_before_bytes: Count | None = None
    host_memory_least_bytes: Count | None = None
    stopped: Text | None = None
    """Why the run was stopped to protect the card: `CARD: what; next step`."""
    samples: Many[Sample] = ()


class Envelope(Base, frozen=True, kw_only=True):
    """What a genuine card of the claimed model shows in one quantity."""

    quantity: Text
    """A rate's name, `memory_bytes` or `compute_units`."""
    low: Real
    high: Real
    unit: Text
    basis: Text
    """The physics and the band in one line."""
    sources: Few[Text] = ()


class Genuine(Base, frozen=True, kw_only=True):
    """The table's rows for the claimed model: what the card is judged against."""

    model: Text
    chips: Few[Text]
    variants: Few[Text]
    """Ids of the rows."""
    envelopes: Few[Envelope] = ()
    sources: Few[Text] = ()


class Finding(Base, frozen=True, kw_only=True):
    """One comparison of claim and measurement."""

    rule: Text
    strength: Strength
    bearing: Bearing
    claim: Text
    measured: Text
    envelope: Text
    """What a genuine card shows."""
    sentence: Text
    sources: Few[Text] = ()


class Candidate(Base, frozen=True, kw_only=True):
    """One chip that a card may be made of, and as what it was sold."""

    chip: Text
    twins: Few[Text] = ()
    """Further chips, built alike or cut down alike: nothing measured tells them from
    this one."""
    probability: Annotated[float, Meta(ge=0.0, le=1.0)]
    """That the card is made of this chip, or of one of its twins."""
    alone: Annotated[float, Meta(ge=0.0, le=1.0)]
    """That it is made of this chip and no twin: what is rarely cut so far is rare."""
    models: Few[Text] = ()
    """The models that fit, the likeliest first: together they hold 99 % of it."""
    variants: Few[Text] = ()
    """Ids of the rows behind them, the likeliest first."""
    lanes: Few[Count] = ()
    """What those rows have: fp32 lanes, and bytes of memory."""
    memory_bytes: Few[Count] = ()


class Identified(Base, frozen=True, kw_only=True):
    """What the card really is, by everything measured together.

    `chips`, `others` and `unlisted` add up to 1; so do those of the second ranking.
    """

    chips: Few[Candidate]
    """The likeliest first, from nothing that firmware can write."""
    others: Positive
    """All further chips of the table together."""
    unlisted: Positive
    """That it is a card which the table lacks."""
    sentence: Text
    used: Few[Text] = ()
    """Which measurements entered."""
    with_claims: Few[Candidate] = ()
    """The same, with the card's own word added; empty where it says nothing."""
    honest: Annotated[float, Meta(ge=0.0, le=1.0)] | None = None
    """That what the card says of itself fits its silicon."""
    differ: bool = False
    """Whether silicon and word tell of different cards."""


class Verdict(Base, frozen=True, kw_only=True):
    """What follows from the findings."""

    outcome: Outcome
    sentence: Text
    reasons: Few[Text] = ()
    unchecked: Few[Text] = ()
    """What could not be checked, and why."""
    settle: Few[Text] = ()
    """What would settle an undetermined verdict."""


class Record(Base, frozen=True, kw_only=True):
    """One tested card."""

    schema: Literal[1] = SCHEMA
    program: Program
    practice: bool
    """True: a simulated card was tested, no real one."""
    practice_condition: Text | None = None
    interrupted: bool = False
    started: Text
    """UTC, ISO 8601."""
    seconds: Positive = 0.0
    """From the start of the process to the finished record."""
    depth: Depth
    host: Host
    card: CardIdentity
    claims: Few[Claim] = ()
    phases: Few[Phase] = ()
    capacity: Capacity | None = None
    rates: Few[Rate] = ()
    structure: Structure | None = None
    soak: Soak | None = None
    telemetry: Telemetry | None = None
    incidents: Few[Incident] = ()
    """What cut the run off, in the order in which it happened."""
    firmware_report: FirmwareReport | None = None
    """What was read from its firmware chip; None: no read was given."""
    inspection: Inspection | None = None
    """What a person saw on it; None: nobody looked."""
    genuine: Genuine | None = None
    findings: Few[Finding] = ()
    identified: Identified | None = None
    verdict: Verdict | None = None
