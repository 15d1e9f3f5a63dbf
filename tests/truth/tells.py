"""What tells two cards apart at all, by the bench's own figures: pair by pair.

A quantity tells where a typical card of the one shows what no card of the other does,
however it is held back. Where none does, no test tells them apart and a forgery of the
pair is counted apart. From `habits.py` and facts of the rows alone: not from the judge.
"""

from functools import cache

from truth.habits import HABITS, L2_KNEE, RESIDENT_BY_CAPABILITY, STREAM, Span

from reference.rows import Chip, Variant
from reference.table import Table

SAME_SIZE = 0.93
"""Genuine drivers show from so much of the memory on (`noise.shown`)."""
SLOWEST = 0.60
"""Clock over the rated one of a card held back, and 0.52 on small boards."""
SMALL = 0.52
STARVED = 0.80
"""What is left of the memory's rate at such a clock."""
NOISE = 0.03


def telling(true: Variant, claimed: Variant, table: Table) -> tuple[str, ...]:
    """Return what a whole test of a `true` card shows that a `claimed` one never does.

    Both compared without anything that can be written. A card with more memory than
    it says cannot be told by it: no driver hands out more than firmware declares.
    Clocks are the firmware's to set: between cards of one chip with as many units,
    speed tells the lesser one alone, by a memory too slow for the other.
    """
    found = list(_of_the_chip(true, claimed, table))
    if (true.chip, true.units) == (claimed.chip, claimed.units):
        slower = true.bandwidth < claimed.bandwidth
        found = [one for one in found if one == "memory rate" and slower]
    if true.memory_bytes < SAME_SIZE * claimed.memory_bytes:
        found.append("memory size")
    return tuple(found)


@cache
def _of_the_chip(true: Variant, claimed: Variant, table: Table) -> tuple[str, ...]:
    mine, other = HABITS[true.architecture], HABITS[claimed.architecture]
    found = []
    if not _counts(true) & _counts(claimed):
        found.append("units")
    if not set(mine.warp) & set(other.warp):
        found.append("warp width")
    here, there = (_held(row, table.chip(row)) for row in (true, claimed))
    if here and there and here != there:
        found.append("work-groups on a unit")
    for name, own, genuine in (
        ("lanes and cycles", _lane_cycles(true), _lane_cycles(claimed)),
        ("fp32 rate", _fp32(true, held=False), _fp32(claimed, held=True)),
        ("memory rate", _traffic(true, held=False), _traffic(claimed, held=True)),
        ("fp64 to fp32", _ratio(true, "fp64"), _ratio(claimed, "fp64")),
        ("int32 to fp32", _ratio(true, "int32"), _ratio(claimed, "int32")),
        ("exp2 to fp32", _ratio(true, "exp2"), _ratio(claimed, "exp2")),
        ("last-level cache", _knee(true), _knee(claimed)),
    ):
        if own is None or genuine is None:
            continue
        typical = (own[0] + own[1]) / 2
        if not genuine[0] * (1 - NOISE) <= typical <= genuine[1] * (1 + NOISE):
            found.append(name)
    return tuple(found)


def _counts(row: Variant) -> set[int]:
    """Return what a staircase may count."""
    paired = HABITS[row.architecture].paired and row.units % 2 == 0
    return {row.units, row.units // 2} if paired else {row.units}


def _held(row: Variant, chip: Chip) -> tuple[int, int] | None:
    held = HABITS[row.architecture].resident
    if held is None:
        return None
    return RESIDENT_BY_CAPABILITY.get(chip.compute_capability or "", held[0]), held[1]


def _lanes(row: Variant) -> float:
    return row.shaders / row.units


def _lane_cycles(row: Variant) -> Span:
    """Return lanes times cycles; paired units show twice as many lanes."""
    habit = HABITS[row.architecture]
    least, most = (
        _lanes(row) * share * cycles
        for share, cycles in zip(habit.fp32, habit.cycles, strict=True)
    )
    return least, most * (2 if habit.paired else 1)


def _slowest(row: Variant) -> float:
    small = row.form == "laptop" or (row.power_w or 999) <= 75
    return SMALL if small else SLOWEST


def _fp32(row: Variant, *, held: bool) -> Span:
    habit = HABITS[row.architecture]
    slow = _slowest(row) if held else 1 + habit.boost[0]
    least, most = habit.fp32
    return row.fp32 * least * slow, row.fp32 * most * (1 + habit.boost[1])


def _traffic(row: Variant, *, held: bool) -> Span:
    habit = HABITS[row.architecture]
    least, most = habit.stream.get(row.memory_type) or STREAM[row.memory_type]
    checked = row.ecc and not row.memory_type.startswith("HBM")
    least *= (STARVED if held else 1.0) * (0.82 if checked else 1.0)
    return row.bandwidth * least, row.bandwidth * most * (1.05 if held else 1.0)


def _ratio(row: Variant, name: str) -> Span | None:
    habit = HABITS[row.architecture]
    span = {"fp64": habit.fp64, "int32": habit.int32, "exp2": habit.exp2}[name]
    if name == "fp64" and row.fp64:
        span = row.fp64 * 0.93, row.fp64
    if span is None:
        return None
    lanes = _lanes(row)
    return span[0] / (lanes * habit.fp32[1]), span[1] / (lanes * habit.fp32[0])


def _knee(row: Variant) -> Span | None:
    known = (row.llc_mib or 0) * 1024 or row.l2_kib
    return (known * L2_KNEE[0], known * L2_KNEE[1]) if known else None
