"""What each row of the table leads us to expect of each measurement, made ready once.

Turns rows into plain numbers for `reference/match.py`: logarithms and widths, no record
and no judgement. Bands are the architectures'; how they become a bell is said at each.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from math import ceil, log
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

from reference.curves import Bell, Plateau, bell, moved, plateau
from reference.envelope import CHECK_BITS, EACH, capped, results, shown
from reference.rows import Architecture, Chip, Variant
from reference.table import Table

RATIOS = ("fp64", "int32", "transcendental")
"""Rates held against fp32."""
RESERVED_KIB = 1
"""Local memory that the system takes of each work-group (cuda_occupancy.h)..."""
RESERVES_FROM = 8
"""... from this compute capability on."""
MARGIN = 0.955
"""Share of the memory shown that a proof covers at least, a display attached."""
_CACHE_LEAST, _CACHE_MOST = 0.40, 1.25
"""Share of a cache at which a pointer chase sees its end: partitions show half."""

_FACTORS: dict[str, tuple[tuple[float, float], ...]] = {
    "NVIDIA": ((1.0, 0.98), (0.5, 0.01), (2.0, 0.01)),
    "AMD": ((1.0, 0.98), (0.5, 0.01), (2.0, 0.01)),
    "Intel": ((1.0, 0.80), (0.5, 0.05), (2.0, 0.15)),
}
_RARE = 0.02
_SALVAGED = log(0.1)
"""A model made of several chips is mostly made of the one that fits it best: the larger
ones are chips with flaws, used up. An assumption, as sales are not published."""
_BUSY = 0.97
"""Share of its lanes that a plain loop keeps busy where nothing is lost."""
_HALF, _ALL = 0.5, 0.6
"""With less of its lanes busy for sure, lanes and ratios tell nothing."""
_STEP = 0.35
"""Distance of the shares that are tried, as a logarithm."""
_PAIRED = ((1.0, 0.60), (0.5, 0.36), (2.0, 0.04))
"""Work-group processors hold two compute units each (AMD, RDNA whitepaper)."""
_EXACT_CYCLES = frozenset({4, 6})
"""Cycles of a link that the CUDA guide and microbenchmarks agree on."""


@dataclass(frozen=True, slots=True)
class Profile:
    """One row's expectations; None where the table says nothing of it."""

    row: Variant
    counts: Mapping[int, tuple[float, float]]
    """Units that a staircase may count: logarithm of its chance, and the factor."""
    spare: range
    """Counts above the card's own that switching spare units on would give."""
    efforts: tuple[float, ...]
    """Logarithms of the shares of its lanes that plain code may keep busy."""
    fp32: Bell
    """Of the rate over that share."""
    kind: Architecture
    link: Plateau | None
    """Of lanes times cycles, over that share."""
    ratios: tuple[Plateau | None, ...]
    """Times that share."""
    traffic: Bell
    size: float
    kept: float
    """Logarithm of the least share of it that a proof reaches undisturbed."""
    cache: Plateau | None
    warps: Mapping[int, float]
    shared: tuple[int, int] | None
    """Bytes of local memory a unit, and what each group takes besides its own."""
    prior: float
    """Logarithm of how common such cards are: 0, or less for salvaged chips."""
    alike: tuple[object, ...]
    """All that is measured of its units: rows that share it cannot be told apart."""


_Shape = TypeVar("_Shape")
_NONE = range(0)


@dataclass(frozen=True, slots=True)
class _Single:
    """What all rows of one architecture share, small boards apart."""

    efforts: tuple[float, ...]
    fp32: Bell
    """Of the rate over the rated one."""
    link: Plateau | None
    warps: Mapping[int, float]


class _Shapes:
    """What many rows share, made once: most of the work is logarithms.

    A key begins with the name of what it is the key of.
    """

    def __init__(self) -> None:
        self._made: dict[tuple[object, ...], Any] = {}

    def of(self, key: tuple[object, ...], make: Callable[[], _Shape]) -> _Shape:
        """Return what was made for `key`, else make it."""
        if key not in self._made:
            self._made[key] = make()
        found: _Shape = self._made[key]
        return found


_made: WeakKeyDictionary[Table, tuple[Profile, ...]] = WeakKeyDictionary()
_twins: WeakKeyDictionary[Table, dict[str, tuple[str, ...]]] = WeakKeyDictionary()


def profiles(table: Table) -> tuple[Profile, ...]:
    """Return one profile a row, in the table's order. Made once a table."""
    found = _made.get(table)
    if found is None:
        shapes = _Shapes()
        whole = _wholes(table)
        found = tuple(
            _profile(
                row,
                table.chip(row),
                table.architecture(row),
                shapes,
                0.0 if _part(row, table) >= whole[row.model, row.form] else _SALVAGED,
            )
            for row in table.variants
        )
        _made[table] = found
    return found


def _wholes(table: Table) -> dict[tuple[str, str], float]:
    """Return, by model and form, the largest part of its chip that is switched on."""
    found: dict[tuple[str, str], float] = {}
    for row in table.variants:
        key = row.model, row.form
        found[key] = max(found.get(key, 0.0), _part(row, table))
    return found


def _part(row: Variant, table: Table) -> float:
    return row.units / table.chip(row).units


def twins(table: Table) -> dict[str, tuple[str, ...]]:
    """Return, for each chip, all chips of the same build, itself among them."""
    found = _twins.get(table)
    if found is None:
        found = _twins[table] = _same(table)
    return found


def _same(table: Table) -> dict[str, tuple[str, ...]]:
    groups: dict[tuple[object, ...], list[str]] = defaultdict(list)
    for name, chip in table.chips.items():
        groups[_build(chip)].append(name)
    return {name: tuple(same) for same in groups.values() for name in same}


def build(table: Table, rows: Iterable[Variant]) -> frozenset[str]:
    """Return the chips of these rows and every chip of the same build."""
    every = twins(table)
    return frozenset(twin for row in rows for twin in every[row.chip])


def effort(kind: Architecture) -> float:
    """Return the least share of its lanes that plain code keeps busy."""
    return min(1.0, kind.fp32[0] / kind.clock[0])


def groups(shared: tuple[int, int], size_bytes: int) -> int:
    """Return how many groups of `size_bytes` local memory fit on one unit."""
    whole, extra = shared
    return whole // (size_bytes + extra)


def clock(one: Profile) -> Bell | None:
    """Return the bell of a link's time, ns: of a light load, so at a high clock."""
    row, kind = one.row, one.kind
    if kind.fma_cycles is None:
        return None
    rated = 1e9 * kind.fma_cycles / row.clock_hz
    unsure = _cycles_unsure(kind)
    held = 1 / capped(row, kind)
    return bell(
        rated * 0.86 / (1 + unsure), rated * 1.5 * held * (1 + unsure), at=1.02 * rated
    )


def shared_bytes(chip: Chip, kind: Architecture) -> tuple[int, int] | None:
    """Return local memory of one unit and what each group takes besides; or None."""
    kib = chip.shared_kib or kind.shared_kib
    if kib is None:
        return None
    major = float((chip.compute_capability or "0").partition(".")[0])
    return kib * 1024, 1024 * RESERVED_KIB if major >= RESERVES_FROM else 0


def factors(row: Variant, kind: Architecture) -> tuple[tuple[float, float], ...]:
    """Return by which factors a staircase may miscount, each with its chance."""
    paired = row.vendor == "AMD" and min(kind.units_as) < 1
    return _PAIRED if paired else _FACTORS[row.vendor]


def shares(row: Variant, kind: Architecture) -> tuple[float, ...]:
    """Return the factors by which a staircase of such a card is known to miscount."""
    return tuple(by for by, chance in factors(row, kind) if chance > _RARE)


def warp_widths(kind: Architecture) -> tuple[int, ...]:
    """Return the widths at which work-items may part without cost."""
    if kind.vendor == "Intel":
        return (8, 16, 32)
    if kind.vendor == "AMD" and kind.warp == 32:  # noqa: PLR2004 - RDNA has both
        return (32, 64)
    return (kind.warp,)


def _build(chip: Chip) -> tuple[object, ...]:
    return (
        chip.architecture, chip.units, chip.bus_bits, chip.l2_kib, chip.fp64, chip.fp16,
        chip.shared_kib, chip.compute_capability, chip.gfx[:1],
    )  # fmt: skip


def _profile(
    row: Variant, chip: Chip, kind: Architecture, shapes: _Shapes, prior: float
) -> Profile:
    held = capped(row, kind)
    rates = shapes.of(("single", row.architecture, held), lambda: _single(row, kind))
    ratios = shapes.of(
        ("ratios", row.architecture, row.fp64, row.not_judged),
        lambda: tuple(_ratio(name, row, kind) for name in RATIOS),
    )
    traffic = shapes.of(
        ("traffic", row.architecture, row.memory_type, row.ecc),
        lambda: _traffic(row, kind),
    )
    return Profile(
        row=row,
        counts=shapes.of(
            ("counts", row.architecture, row.units), lambda: _counts(row, kind)
        ),
        spare=range(row.units + 1, chip.units + 1) if kind.unlocks else _NONE,
        efforts=rates.efforts,
        fp32=moved(rates.fp32, row.fp32),
        kind=kind,
        link=rates.link,
        ratios=ratios,
        traffic=moved(traffic, row.bandwidth),
        size=log(row.memory_bytes),
        kept=shapes.of(
            ("kept", row.architecture, row.ecc),
            lambda: log(shown(row, kind)[0] * MARGIN),
        ),
        cache=shapes.of(
            ("cache", row.chip, row.l2_kib, row.llc_mib), lambda: _cache(row, chip)
        ),
        warps=rates.warps,
        shared=shapes.of(("shared", row.chip), lambda: shared_bytes(chip, kind)),
        prior=prior,
        alike=_alike(row, kind, ratios),
    )


def _single(row: Variant, kind: Architecture) -> _Single:
    low, high = kind.clock
    widths = warp_widths(kind)
    return _Single(
        efforts=_efforts(kind),
        fp32=bell(low * capped(row, kind), high),
        link=_link(row, kind),
        warps=dict.fromkeys(widths, -log(len(widths))),
    )


def _traffic(row: Variant, kind: Architecture) -> Bell:
    low, high = kind.memory[row.memory_type]
    return bell(low * CHECK_BITS if row.ecc else low, high)


def _alike(
    row: Variant, kind: Architecture, ratios: tuple[Plateau | None, ...]
) -> tuple[object, ...]:
    """Return what tells units apart: nothing that the compiler may hide."""
    same = (kind.vendor, kind.fma_cycles, kind.warp)
    if effort(kind) < _HALF:
        return (*same, row.units)
    if effort(kind) < _ALL:
        return (*same, row.shaders)
    return (*same, row.shaders, ratios)


def _counts(row: Variant, kind: Architecture) -> dict[int, tuple[float, float]]:
    found: dict[int, tuple[float, float]] = {}
    for by, chance in factors(row, kind):
        count = row.units * by
        if count == int(count) and count:
            found.setdefault(int(count), (log(chance), by))
    return found


def _link(row: Variant, kind: Architecture) -> Plateau | None:
    """Return lanes times cycles; under load the clock may be lower than alone."""
    if kind.fma_cycles is None:
        return None
    whole = kind.lanes * kind.fma_cycles
    unsure = _cycles_unsure(kind)
    held = 0.15 + 0.2 * (1 - capped(row, kind)) / 0.35
    return plateau(whole * 0.97, whole * 1.03, held + unsure, 0.05 + unsure)


def _efforts(kind: Architecture) -> tuple[float, ...]:
    lost = log(effort(kind))
    steps = ceil(-lost / _STEP)
    return tuple(log(_BUSY) + lost * step / max(steps, 1) for step in range(steps + 1))


def _cycles_unsure(kind: Architecture) -> float:
    return 0.02 if kind.fma_cycles in _EXACT_CYCLES and kind.vendor == "NVIDIA" else 0.1


def _ratio(name: str, row: Variant, kind: Architecture) -> Plateau | None:
    """Return the ratio to fp32 where all lanes are busy; None where nobody tells."""
    if {name, "fp32"} & set(row.not_judged):
        return None
    pair = results(name, row, kind)
    if pair is None:
        return None
    each = EACH[name] / (2 * kind.lanes)
    return plateau(each * pair[0], each * pair[1], 0.09, 0.09)


def _cache(row: Variant, chip: Chip) -> Plateau | None:
    sizes = [
        1024 * kib
        for kib in (row.l2_kib or chip.l2_kib, (row.llc_mib or 0) * 1024)
        if kib
    ]
    if not sizes:
        return None
    return plateau(min(sizes) * _CACHE_LEAST, max(sizes) * _CACHE_MOST, 0.15, 0.15)
