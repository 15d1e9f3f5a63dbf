"""What one record holds for and against each row: measurements, and the card's word.

Two kinds, kept apart: `Evidence` is told by silicon alone, `Word` by what firmware and
driver can write. Both only gather; how much each weighs is `reference/match.py`'s.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import log
from weakref import WeakKeyDictionary

from reference.case import Case
from reference.causes import causes
from reference.envelope import shown
from reference.profile import RATIOS
from reference.rows import Variant
from reference.table import Table
from reports.record import Structure

SURE = 0.90
"""From this probability on an answer is given as one."""
CLEAR_STEP = 1.7
"""A staircase whose first step is at least that high has counted units."""
FAIR_STEP = 1.55
"""From here on it is a step, if perhaps not where the units end."""
_TRAFFIC = ("memory_read", "memory_write", "memory_copy")
_OPEN_ENDS = frozenset({"limit asked for", "host memory", "error"})
_FREE_SHARE = 0.90
"""Below this share of the claimed memory free, others held the rest."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Measurements as logarithms; None where one is missing."""

    units: tuple[int, int] | None = None
    clear: bool = False
    """Whether the staircase is regular enough to count by."""
    fp32: float | None = None
    clock: float | None = None
    """Of the time of a link, where the fp32 rate is missing."""
    link: float | None = None
    ratios: tuple[float | None, ...] = ()
    traffic: float | None = None
    hindered: bool = False
    """Whether an innocent cause of slowness was seen."""
    size: float | None = None
    whole: bool = False
    """Whether the proof went as far as the memory goes."""
    cache: float | None = None
    warp: int | None = None
    resident: tuple[int, int] | None = None
    """Groups on a unit, and the bytes that each holds."""

    @property
    def used(self) -> tuple[str, ...]:
        """Names of what was measured."""
        ratios = zip(RATIOS, self.ratios, strict=False)
        told = {
            "units": self.units,
            "fp32 rate": self.fp32,
            "clock": self.clock,
            "lanes and cycles": self.link,
            **{f"{name} to fp32": value for name, value in ratios},
            "memory rate": self.traffic,
            "proven memory": self.size,
            "last-level cache": self.cache,
            "warp width": self.warp,
            "work-groups on a unit": self.resident,
        }
        return tuple(name for name, value in told.items() if value is not None)


def evidence(case: Case) -> Evidence:
    """Return what was measured of the card."""
    built = case.record.structure or Structure()
    fp32 = _log(_rate(case, "fp32"))
    traffic = max((_rate(case, name) or 0.0 for name in _TRAFFIC), default=0.0)
    low, high = built.units_low or built.units, built.units_high or built.units
    link = _log(built.link_ns)
    return Evidence(
        units=(min(low, high), max(low, high)) if low and high else None,
        clear=is_clear(built),
        fp32=fp32,
        clock=link if fp32 is None else None,
        link=_log(built.lane_cycles),
        ratios=tuple(_ratio(case, name, fp32) for name in RATIOS),
        traffic=_log(traffic),
        hindered=any(causes(case, rate) for rate in case.rates.values()),
        size=_log(float(case.proven_bytes)),
        whole=_whole(case),
        cache=_cache(built),
        warp=built.warp_width or None,
        resident=(built.resident_groups, built.resident_bytes)
        if built.resident_groups and built.resident_bytes
        else None,
    )


def is_regular(built: Structure) -> bool:
    """Whether the staircase steps as one does: high, and again at twice the units."""
    return (built.step or 0.0) >= CLEAR_STEP and bool(built.second_step)


def may_count(built: Structure) -> bool:
    """Whether the staircase steps, though it was not seen to step a second time."""
    return (built.step or 0.0) >= FAIR_STEP and built.second_step is not False


def is_clear(built: Structure) -> bool:
    """Whether the staircase counted units beyond doubt."""
    exact = built.units_low == built.units == built.units_high
    return bool(built.units) and exact and is_regular(built)


def _rate(case: Case, name: str) -> float | None:
    rate = case.rates.get(name)
    return rate.value if rate is not None else None


def _log(value: float | None) -> float | None:
    return log(value) if value and value > 0 else None


def _ratio(case: Case, name: str, fp32: float | None) -> float | None:
    value = _log(_rate(case, name))
    return value - fp32 if value is not None and fp32 is not None else None


def _cache(built: Structure) -> float | None:
    """Return where the last cache ends; a single plateau tells of none."""
    ends = [one.reaches_bytes for one in built.levels if one.reaches_bytes]
    return _log(float(max(ends))) if ends else None


def _whole(case: Case) -> bool:
    """Whether all the card's memory was asked for, and none was others'."""
    proof = case.capacity
    if proof is None or case.record.interrupted or case.broken:
        return False
    if proof.ended_by == "below a crash":
        from reference.rules.endurance import (  # noqa: PLC0415 - it imports this file
            repeated_at,
        )

        if repeated_at(case) is None:
            return False
    held = proof.free_bytes is not None and (
        proof.free_bytes < _FREE_SHARE * proof.claimed_bytes
    )
    return proof.ended_by not in _OPEN_ENDS and not held


class Word:
    """How badly each row fits what the card says of itself: 0 for not at all badly.

    Figures are logarithms of how rarely an honest card of that row says such a thing.
    Rows are named by their places in the table.
    """

    def __init__(self, case: Case) -> None:
        self.silent = True
        """Whether the card says nothing that could be compared."""
        self._least = 0.0
        self._better: dict[int, float] = {}
        table, places = case.table, _places(case.table)
        told = [claim for claim in case.reported if not case.is_standin(claim)]
        for name in sorted({claim.model for claim in told if claim.model}):
            fitting = places.of_chips(table.chips_named(name))
            fitting += places.of_rows(table.resolve(name))
            if fitting:
                self._fits(fitting, -7.0)
        for pci in sorted({claim.pci_id for claim in told if claim.pci_id}):
            self._add(*_numbered(pci, table, places))
        for one in sorted(
            {claim.compute_capability for claim in told if claim.compute_capability}
        ):
            self._fits(places.capabilities.get(one, ()), -9.0)
        for target in sorted({claim.gfx_target for claim in told if claim.gfx_target}):
            bare = table.gfx(target)
            if bare:
                self._fits(places.targets.get(bare, ()), -5.0)
        for count in sorted({c.compute_units for c in told if c.compute_units}):
            self._fits(places.counts.get(count, ()), -7.0)
        for cores in sorted({claim.cores for claim in told if claim.cores}):
            self._fits(places.shaders.get(cores, ()), -7.0)
        size = case.reported_bytes
        if size and case.size_counts and told:
            self._fits(
                [
                    at
                    for at, (low, high) in enumerate(places.shown)
                    if low <= size <= high
                ],
                -6.0,
            )

    def __call__(self, place: int) -> float:
        """Return the logarithm for the row at that place of the table."""
        return self._better.get(place, self._least)

    def _fits(self, places: Iterable[int], miss: float) -> None:
        self._add(dict.fromkeys(places, 0.0), miss)

    def _add(self, fits: Mapping[int, float], miss: float) -> None:
        """Add what `fits` gives, and to all other rows `miss`."""
        self.silent = False
        least = self._least
        better = {place: one + miss for place, one in self._better.items()}
        for place, one in fits.items():
            better[place] = self._better.get(place, least) + one
        self._better, self._least = better, least + miss


class _Places:
    """Where in the table the rows are that say a thing. Made once a table."""

    def __init__(self, table: Table) -> None:
        self.rows = {row.id: place for place, row in enumerate(table.variants)}
        self.chips: dict[str, list[int]] = defaultdict(list)
        self.capabilities: dict[str, list[int]] = defaultdict(list)
        self.targets: dict[str, list[int]] = defaultdict(list)
        self.counts: dict[float, list[int]] = defaultdict(list)
        self.shaders: dict[int, list[int]] = defaultdict(list)
        self.shown: list[tuple[float, float]] = []
        for place, row in enumerate(table.variants):
            chip, kind = table.chip(row), table.architecture(row)
            self.chips[row.chip].append(place)
            self.capabilities[chip.compute_capability or ""].append(place)
            for target in chip.gfx:
                self.targets[target].append(place)
            for by in kind.units_as:
                self.counts[row.units * by].append(place)
            self.shaders[row.shaders].append(place)
            low, high = shown(row, kind)
            self.shown.append((row.memory_bytes * low, row.memory_bytes * high))

    def of_chips(self, chips: Iterable[str]) -> list[int]:
        return [place for chip in chips for place in self.chips.get(chip, ())]

    def of_rows(self, rows: Iterable[Variant]) -> list[int]:
        return [self.rows[row.id] for row in rows if row.id in self.rows]


_made: WeakKeyDictionary[Table, _Places] = WeakKeyDictionary()


def _places(table: Table) -> _Places:
    found = _made.get(table)
    if found is None:
        found = _made[table] = _Places(table)
    return found


def _numbered(
    pci: str, table: Table, places: _Places
) -> tuple[Mapping[int, float], float]:
    holders = table.by_pci(pci)
    owner = table.chip_by_window(pci)
    chips = {row.chip for row in holders} or {owner} - {None}
    if not chips:
        return {}, -1.0
    same = places.of_chips(sorted(filter(None, chips)))
    fits = dict.fromkeys(same, -3.0 if holders else 0.0)
    return fits | dict.fromkeys(places.of_rows(holders), 0.0), -8.0
