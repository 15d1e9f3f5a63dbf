"""The chip's structure as time would tell it, for the truth bench: right, with noise.

Knows rows' facts and `habits.py` alone. Spans of step and latencies: an H100 measured
once (step 1.96, 2.05 ns a link, 147 and 303 ns) and the papers named in `habits.py`.
"""

from random import Random

from truth.habits import L2_KNEE, RESIDENT_BY_CAPABILITY
from truth.noise import KIB, Silicon, Troubles, within

from reference.rows import Variant
from reports.record import CacheLevel, Latency, Structure

LANE_DRIFT = 0.02
"""Clocks drift between the measurement of fp32 and that of the chain."""


def structure(
    rng: Random, row: Variant, chip: Silicon, capability: str | None, beset: Troubles,
    fp32: float | None,
) -> Structure:  # fmt: skip
    """Return what the structure phase tells of a card of this row."""
    missing: list[str] = []
    habit = chip.habit
    link = within(rng, habit.cycles) * rng.gauss(1.0, 0.004) / chip.hertz * 1e9
    if beset.share < 1.0:
        link *= rng.choice((1.0, 1.0, rng.uniform(1.0, 1.3)))
    told = link if rng.random() > 0.02 else None
    units, step, second = _staircase(rng, row, beset, habit.paired)
    if units is None:
        missing.append("units: no clear step")
    lanes = None
    if told and units and fp32:
        lanes = fp32 / (2 * units) * told * 1e-9 * rng.gauss(1.0, LANE_DRIFT)
    warp = rng.choice(habit.warp) if rng.random() > 0.12 else None
    resident = None
    if habit.resident and units and rng.random() > 0.15:
        count = RESIDENT_BY_CAPABILITY.get(capability or "", habit.resident[0])
        resident = count * row.units // units if units < row.units else count
    latencies, levels = _latencies(rng, row, chip)
    return Structure(
        units=units,
        units_low=units,
        units_high=units,
        step=step,
        second_step=second,
        link_ns=told,
        link_ns_spread=link * 0.004 if told else None,
        lane_cycles=lanes,
        warp_width=warp,
        resident_groups=resident,
        resident_bytes=habit.resident[1] if resident and habit.resident else None,
        latencies=latencies,
        levels=levels,
        missing=tuple(missing),
    )


def _staircase(
    rng: Random, row: Variant, beset: Troubles, paired: float
) -> tuple[int | None, float | None, bool | None]:
    """Units right; a neighbour may hide the step or, rarely, shift it unclearly."""
    second = rng.choice((True, True, True, None))
    hidden = 0.5 if beset.share < 1.0 else 0.03
    if rng.random() < hidden:
        return None, None, None
    if beset.share < 1.0 and rng.random() < 0.03:
        off = max(1, row.units + rng.choice((-2, -1, 1, 2)))
        return off, rng.uniform(1.25, 1.55), rng.choice((False, None))
    units = row.units
    if units % 2 == 0 and rng.random() < paired:
        units //= 2
    return units, rng.uniform(1.6, 2.0), second


def _latencies(
    rng: Random, row: Variant, chip: Silicon
) -> tuple[tuple[Latency, ...], tuple[CacheLevel, ...]]:
    if rng.random() < 0.03:
        return (), ()
    habit, cycle = chip.habit, 1e9 / chip.hertz
    first = within(rng, habit.l1_cycles) * cycle
    second = max(within(rng, habit.l2_cycles) * cycle, first * 1.3)
    memory = max(within(rng, habit.memory_ns), second * 1.3)
    known = (row.llc_mib or 0) * 1024 or row.l2_kib or 1024
    knee = int(known * KIB * within(rng, L2_KNEE))
    reaches = max(knee, 4 * habit.l1_bytes)
    levels = (
        _level(habit.l1_bytes, first),
        _level(reaches, second),
        CacheLevel(hop_ns=memory),
    )
    points = []
    size = 8 * KIB
    while size <= 8 * reaches:
        near = first if size <= habit.l1_bytes else second
        hop = near if size <= reaches else memory
        points.append(Latency(footprint_bytes=size, hop_ns=hop * rng.gauss(1.0, 0.01)))
        size *= 4
    return tuple(points), levels


def _level(reaches: int, hop_ns: float) -> CacheLevel:
    return CacheLevel(
        reaches_bytes=reaches,
        low_bytes=int(reaches * 0.8),
        high_bytes=int(reaches * 1.25),
        hop_ns=hop_ns,
    )
