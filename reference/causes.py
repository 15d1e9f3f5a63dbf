"""Innocent causes of slowness that a record shows, and how much each explains.

Only looks for causes and measures them; whether one is enough is the rule's matter. A
clock explains a rate down to its own share of the rated clock, never further.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from statistics import median

from reference.case import Case
from reports.record import Rate, Sample
from reports.units import gib

BUSY_PERCENT = 20.0
FREE_SHARE = 0.80
HELD_SHARE = 0.985
"""A card that drives no display is all but empty (99.4 % free on an idle H100): with
less another program has work on it."""
NEAR_SLOWDOWN_C = 3.0
LOWERED = 0.90
"""Core clock over rated clock below which the clock counts as held back."""
DIVIDED = 0.50
"""A slowdown in hardware divides the clock by two or more, and the sensors may still
show the undivided one (NVML API reference, clock event reasons)."""
SHADER_STEP = 1.3
"""Above this multiple of the core clock a reading is the lanes' own (Fermi) clock."""
_DIVIDING = ("hardware", "brake")
_BEFORE = frozenset({"before", "idle", "identify", "settle"})
"""Phases in which the test itself does not load the card."""
_TELLING = ("throttl", "other program", "busy", "contend", "not alone")


@dataclass(frozen=True)
class Cause:
    """One cause, in words, and what it leaves of a genuine card's rate."""

    said: str
    share: float | None = None
    """Down to which share of a genuine rate it explains; None: nobody can tell."""


def causes(case: Case, rate: Rate) -> tuple[Cause, ...]:
    """Return the innocent causes of a low `rate` that the record shows."""
    return (*_slowed(case, rate), *_supply(case), *_neighbours(case, rate))


def busy(case: Case) -> tuple[Cause, ...]:
    """Return that another program loaded the card before the test, where one did."""
    telemetry = case.record.telemetry
    samples = telemetry.samples if telemetry else ()
    before = [one for one in samples if one.phase in _BEFORE]
    load = max((one.utilisation_percent or 0.0 for one in before), default=0.0)
    if load < BUSY_PERCENT:
        return ()
    return (Cause(f"it was {load:.0f} % busy before the test"),)


def disturbed(case: Case) -> bool:
    """Whether another program seems to have used the card during the test."""
    return bool(busy(case) or crowded(case))


def crowded(case: Case) -> tuple[Cause, ...]:
    """Return that other programs held memory before the test, where some did.

    A desktop holds some of a card that drives a display: there only much counts.
    """
    proof = case.capacity
    if proof is None or proof.free_bytes is None:
        return ()
    used = proof.claimed_bytes - proof.free_bytes
    if proof.free_bytes < FREE_SHARE * proof.claimed_bytes:
        return (Cause(f"other programs held {gib(used)} of its memory"),)
    shown = case.record.card.drives_display is not False
    if shown or proof.free_bytes >= HELD_SHARE * proof.claimed_bytes:
        return ()
    return (Cause(f"another program held {gib(used)} of its memory"),)


def on_battery(case: Case) -> bool:
    """Whether the PC ran on its battery; a simulated card draws nothing from it."""
    return bool(case.record.host.on_battery) and not case.record.practice


def lowest_share(found: Iterable[Cause]) -> float | None:
    """Return the least that the measurable ones of these causes leave of a rate."""
    return min((one.share for one in found if one.share is not None), default=None)


def unexplained_clock(case: Case, rate: Rate) -> str:
    """Return a sentence on a low clock for which the driver gives no reason."""
    clock, rated = _core(case, rate)
    if rate.name != "fp32" or not clock or not rated or clock >= LOWERED * rated:
        return ""  # said once
    return (
        f" Its core ran at {clock:.0f} MHz of {rated:.0f}, and the driver gives no "
        "reason."
    )


def is_memory(rate: Rate) -> bool:
    """Whether a rate is one of the card's memory."""
    return rate.name.startswith("memory")


def _slowed(case: Case, rate: Rate) -> Iterator[Cause]:
    """Heat, power and clocks: measured by the clock seen while they lasted."""
    telemetry = case.record.telemetry
    mine = _samples(case, rate)
    clock, rated = _core(case, rate)
    share = min(clock / rated, 1.0) if clock and rated else None
    if is_memory(rate) and share is not None:
        share = min(share, _memory_share(case, mine))
    words = sorted({word for one in mine for word in one.throttle})
    if words:
        divided = any(one in word for word in words for one in _DIVIDING)
        held = share * DIVIDED if share is not None and divided else share
        yield Cause(f"the card slowed itself ({', '.join(words)})", held)
    limit = telemetry.slowdown_c if telemetry else None
    hottest = max((one.temperature_c or 0.0 for one in mine), default=0.0)
    hot = bool(limit) and hottest >= (limit or 0.0) - NEAR_SLOWDOWN_C
    if hot:
        yield Cause(f"it was {hottest:.0f} °C hot", share)
    lowered = clock and rated and clock < LOWERED * rated
    reasons = "nvml" in ((telemetry.source if telemetry else None) or "").casefold()
    if lowered and (words or hot or not (reasons or is_memory(rate))):
        yield Cause(f"its core ran at {clock:.0f} MHz of {rated:.0f}", share)


def _supply(case: Case) -> Iterator[Cause]:
    """Battery: a laptop holds its graphics back on it, nobody knows how far."""
    if on_battery(case):
        yield Cause("the PC ran on its battery")


def _neighbours(case: Case, rate: Rate) -> Iterator[Cause]:
    """Other programs, and remarks of the measurement: nobody knows how much."""
    yield from busy(case)
    yield from crowded(case)
    for remark in sorted(set(rate.remarks)):
        if any(word in remark.casefold() for word in _TELLING):
            yield Cause(remark)


def _samples(case: Case, rate: Rate) -> tuple[Sample, ...]:
    """Return the readings beside one rate, or all where none was taken beside it.

    Those of a soak come after all rates: they excuse none.
    """
    telemetry = case.record.telemetry
    samples = telemetry.samples if telemetry else ()
    every = tuple(one for one in samples if one.phase != "soak")
    return tuple(one for one in every if one.phase == rate.name) or every


def _core(case: Case, rate: Rate) -> tuple[float | None, float | None]:
    """Return core clock seen and rated, MHz: the claimed model's slowest variant."""
    seen = [one.core_mhz for one in _samples(case, rate) if one.core_mhz]
    clock = median(seen) if seen else None
    rated = min((row.boost_mhz or row.base_mhz for row in case.rows), default=None)
    lanes = min((row.clock_hz / 1e6 for row in case.rows), default=None)
    if clock and rated and clock > SHADER_STEP * rated:
        return clock, lanes
    return clock, rated


def _memory_share(case: Case, samples: Iterable[Sample]) -> float:
    """Return the memory clock seen over the highest that its driver tells."""
    seen = [one.memory_mhz for one in samples if one.memory_mhz]
    told = [one.memory_clock_mhz for one in case.reported if one.memory_clock_mhz]
    return min(median(seen) / max(told), 1.0) if seen and told else 1.0
