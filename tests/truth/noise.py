"""What happens to a card while it is tested: the truth bench's own chance.

Everything here is drawn from one `random.Random`; nothing knows the judge. The table's
rows give facts of one card; all spans come from `habits.py` and from:
  clocks      -40 to +15 % of the rated boost: factory overclock +3 to +12 %, boards
              of one kind differ by 8 % on average and by up to 1.5x (Sinha et al.,
              SC22, arXiv:2208.11035); T4 and laptop parts lose up to half (Jia 2019)
  memory      0 to +5 % factory overclock; compute states of drivers take up to 5 % off;
              check bits in GDDR cost 8 to 18 % of the rate
  shown size  published listings (`tests/data/outside/printed_cards.csv` and issue
              threads): NVIDIA 0.95 to 1.0, AMD 0.93 to 1.0, check bits 0.875 and
              0.9375, Arc 0.79 to 0.98 and 243 MiB without a resizable window, old AMD
              drivers a quarter or a half of it
  links       pinned copies reach 0.6 to 0.9 of the link (CUDA Best Practices Guide);
              risers leave one lane of the first generation
  cells       a healthy card flips 7e-5 bits a GB and hour (Tiwari et al., 2015)
How often each trouble comes is this bench's own choice: far more often than in life.
"""

from dataclasses import dataclass, field
from random import Random

from truth.habits import HABITS, STREAM, Habit, Span

from reference.rows import Variant

GIB = 2**30
MIB = 2**20
KIB = 2**10
WORDS = {
    "heat": ("thermal slowdown (software)", "thermal slowdown (hardware)"),
    "power": ("power cap", "power brake"),
}
RATES = (
    "fp32", "fp64", "fp16", "int32", "transcendental", "memory_read", "memory_write",
    "memory_copy", "local_memory", "link_up", "link_down",
)  # fmt: skip
MEMORY = ("memory_read", "memory_write", "memory_copy")


@dataclass(kw_only=True)
class Troubles:
    """What beset one run."""

    clock: float
    """Core clock over the rated one."""
    memory_clock: float
    words: tuple[str, ...] = ()
    temperature_c: float = 62.0
    busy: float = 0.0
    """Utilisation that the sensors show before the test."""
    share: float = 1.0
    """Of the card's time that a neighbour leaves on average."""
    held: float = 0.0
    """Share of memory that others hold."""
    riser: bool = False
    sensors: bool = True
    remarks: tuple[str, ...] = ()
    told: list[str] = field(default_factory=list)
    """What it was, for the bench's own report."""


def within(rng: Random, span: Span) -> float:
    """Return a figure of the span, the middle likelier than the ends."""
    return rng.triangular(*span)


def troubles(rng: Random, row: Variant) -> Troubles:
    """Return what besets this run of a card of this row."""
    habit = HABITS[row.architecture]
    made = Troubles(
        clock=1.0 + rng.uniform(*habit.boost),
        memory_clock=1.0 + max(rng.gauss(0.0, 0.015), -0.05),
    )
    made.memory_clock = min(made.memory_clock, 1.05)
    made.sensors = rng.random() < (0.85 if row.vendor == "NVIDIA" else 0.5)
    capped = row.form == "laptop" or (row.power_w or 999) <= 75
    if rng.random() < (0.5 if capped else 0.2):
        _held_back(rng, made, 0.52 if capped else 0.60)
    if rng.random() < 0.10:
        _neighbour(rng, made)
    if rng.random() < 0.15:
        made.riser = True
        made.told.append("riser")
    return made


def _held_back(rng: Random, made: Troubles, least: float) -> None:
    """Heat or power hold the clock; one time in five nothing shows why."""
    made.clock = rng.uniform(least, 0.95)
    kind = rng.choice(("heat", "power"))
    if kind == "heat":
        made.temperature_c = rng.uniform(84.0, 97.0)
    if rng.random() < 0.8:
        made.words = (rng.choice(WORDS[kind]),)
        made.told.append(made.words[0])
    else:
        made.temperature_c = min(made.temperature_c, 84.0)
        made.told.append("held back unseen")


def _neighbour(rng: Random, made: Troubles) -> None:
    made.share = rng.uniform(0.15, 0.95)
    if rng.random() < 0.9:
        made.busy = 100.0 * min(1.0, (1.0 - made.share) * rng.uniform(0.7, 1.3))
    if rng.random() < 0.6:
        made.held = rng.uniform(0.02, 0.75)
    if rng.random() < 0.3:
        made.remarks = ("samples differ by more than 10 %: another program?",)
    made.told.append("neighbour")


@dataclass(frozen=True, kw_only=True)
class Silicon:
    """What one card's chip truly does in one run, before measurement noise."""

    habit: Habit
    rates: dict[str, float | None]
    hertz: float
    """The real clock of its lanes."""


def silicon(rng: Random, row: Variant, beset: Troubles) -> Silicon:
    """Return the true rates of a card of this row under these troubles."""
    habit = HABITS[row.architecture]
    hertz = row.clock_hz * beset.clock
    each = hertz * row.units
    lanes = row.shaders / row.units
    fp64 = row.fp64 * rng.uniform(0.93, 1.0) if row.fp64 else None
    if fp64 is None and habit.fp64 is not None:
        fp64 = within(rng, habit.fp64)
    stream = habit.stream.get(row.memory_type) or STREAM[row.memory_type]
    share = within(rng, stream) * beset.memory_clock
    if row.ecc and not row.memory_type.startswith("HBM") and rng.random() < 0.7:
        share *= rng.uniform(0.82, 0.92)
    traffic = row.bandwidth * share
    # a chip clocked far down cannot keep its memory busy
    traffic *= min(1.0, 0.45 + 0.60 * beset.clock)
    half = rng.choice((1.0, 2.0))
    rates: dict[str, float | None] = {
        "fp32": each * lanes * 2 * within(rng, habit.fp32),
        "fp64": each * fp64 * 2 if fp64 else None,
        "fp16": each * lanes * 2 * half * 0.9 if rng.random() < 0.3 else None,
        "int32": each * within(rng, habit.int32) * 2,
        "transcendental": each * within(rng, habit.exp2),
        "memory_read": traffic,
        "memory_write": traffic * rng.uniform(0.92, 1.05),
        "memory_copy": traffic * rng.uniform(0.86, 1.0),
        "local_memory": each * 128 * rng.uniform(0.5, 1.0),
        "link_up": _link(rng, row, beset),
        "link_down": _link(rng, row, beset),
    }
    return Silicon(habit=habit, rates=rates, hertz=hertz)


def _link(rng: Random, row: Variant, beset: Troubles) -> float:
    generation, _, width = (row.pcie or "3 x16").partition(" x")
    lane = {1: 0.25e9, 2: 0.5e9, 3: 0.985e9, 4: 1.97e9, 5: 3.94e9}
    if beset.riser:
        return 0.25e9 * rng.uniform(0.6, 0.85)
    best = lane.get(int(generation), 3.94e9) * int(width)
    return best * rng.uniform(0.6, 0.9) / rng.choice((1, 1, 1, 2, 4))


def measured(rng: Random, value: float, beset: Troubles) -> float:
    """Return a rate as the medians of repeated launches give it."""
    if beset.share < 1.0:
        value *= min(1.0, beset.share * rng.uniform(0.8, 1.25))
    if rng.random() < 0.005:
        value *= rng.uniform(0.4, 0.95)  # one rate caught by something unseen
    return value * rng.gauss(1.0, 0.012)


def shown(rng: Random, row: Variant) -> float:
    """Return which share of its nominal memory this card's driver prints."""
    if row.vendor == "NVIDIA":
        share = rng.choice((rng.uniform(0.95, 1.0), rng.uniform(0.98, 1.0)))
        checked = row.ecc and not row.memory_type.startswith("HBM")
        if checked and rng.random() < 0.6:
            old = row.architecture.startswith("fermi")
            share *= 0.875 / 0.98 if old else 0.9375
        return share
    if row.vendor == "Intel":
        if rng.random() < 0.05:
            return 243 * MIB / row.memory_bytes
        return rng.uniform(0.79, 0.99)
    if row.architecture.startswith("terascale") and rng.random() < 0.4:
        return rng.choice((0.25, 0.5, 0.75)) * rng.uniform(0.98, 1.0)
    return rng.choice((rng.uniform(0.93, 1.0), 0.998))
