"""What each row of the table leads us to expect of each measurement, made ready once.

Turns rows into plain numbers for `reference/match.py`: logarithms and widths, no record
and no judgement. Bands are the architectures'; how they become a bell is said at each.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil, log, pi, sqrt
from weakref import WeakKeyDictionary

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
_LIKELIEST = 0.65
"""Where in a band, on a logarithmic scale, healthy cards gather."""
_EDGES = 1.8
"""Standard deviations from there to either edge."""
_ROOT = sqrt(2 * pi)
_CACHE_LEAST, _CACHE_MOST = 0.40, 1.25
"""Share of a cache at which a pointer chase sees its end: partitions show half."""

_FACTORS: dict[str, tuple[tuple[float, float], ...]] = {
    "NVIDIA": ((1.0, 0.98), (0.5, 0.01), (2.0, 0.01)),
    "AMD": ((1.0, 0.90), (0.5, 0.05), (2.0, 0.05)),
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
class Bell:
    """A bell over a logarithm, with its own width to either side."""

    centre: float
    low: float
    """1 / (2 x variance) below the centre."""
    high: float
    peak: float
    """Logarithm of the density at the centre."""


@dataclass(frozen=True, slots=True)
class Plateau:
    """All values between two logarithms alike, a bell's flank outside."""

    least: float
    most: float
    low: float
    high: float
    peak: float


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
    clock: Bell | None
    """Of the time of a link, ns."""
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


_Ratios = dict[tuple[object, ...], tuple[Plateau | None, ...]]
_made: WeakKeyDictionary[Table, tuple[Profile, ...]] = WeakKeyDictionary()


def profiles(table: Table) -> tuple[Profile, ...]:
    """Return one profile a row, in the table's order. Made once a table."""
    found = _made.get(table)
    if found is None:
        ratios: _Ratios = {}
        whole = _wholes(table)
        found = tuple(
            _profile(
                row,
                table.chip(row),
                table.architecture(row),
                ratios,
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
    row: Variant, chip: Chip, kind: Architecture, ratios: _Ratios, prior: float
) -> Profile:
    low, high = kind.clock
    low *= capped(row, kind)
    least, most = kind.memory[row.memory_type]
    least *= CHECK_BITS if row.ecc else 1.0
    widths = warp_widths(kind)
    same = (row.architecture, row.fp64, row.not_judged)
    if same not in ratios:
        ratios[same] = tuple(_ratio(name, row, kind) for name in RATIOS)
    return Profile(
        row=row,
        counts=_counts(row, kind),
        spare=range(row.units + 1, chip.units + 1) if kind.unlocks else range(0),
        efforts=_efforts(kind),
        fp32=_bell(row.fp32 * low, row.fp32 * high),
        clock=_clock(row, kind),
        link=_link(row, kind),
        ratios=ratios[same],
        traffic=_bell(row.bandwidth * least, row.bandwidth * most),
        size=log(row.memory_bytes),
        kept=log(shown(row, kind)[0] * MARGIN),
        cache=_cache(row, chip),
        warps=dict.fromkeys(widths, -log(len(widths))),
        shared=shared_bytes(chip, kind),
        prior=prior,
        alike=_alike(row, kind, ratios[same]),
    )


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


def _clock(row: Variant, kind: Architecture) -> Bell | None:
    """Return a link's time: a light load runs fast, or has not woken the card yet."""
    if kind.fma_cycles is None:
        return None
    rated = 1e9 * kind.fma_cycles / row.clock_hz
    unsure = _cycles_unsure(kind)
    held = 1 / capped(row, kind)
    return _bell(
        rated * 0.86 / (1 + unsure), rated * 1.5 * held * (1 + unsure), at=1.02 * rated
    )


def _link(row: Variant, kind: Architecture) -> Plateau | None:
    """Return lanes times cycles; under load the clock may be lower than alone."""
    if kind.fma_cycles is None:
        return None
    whole = kind.lanes * kind.fma_cycles
    unsure = _cycles_unsure(kind)
    held = 0.15 + 0.2 * (1 - capped(row, kind)) / 0.35
    return _plateau(whole * 0.97, whole * 1.03, held + unsure, 0.05 + unsure)


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
    return _plateau(each * pair[0], each * pair[1], 0.09, 0.09)


def _cache(row: Variant, chip: Chip) -> Plateau | None:
    sizes = [
        1024 * kib
        for kib in (row.l2_kib or chip.l2_kib, (row.llc_mib or 0) * 1024)
        if kib
    ]
    if not sizes:
        return None
    return _plateau(min(sizes) * _CACHE_LEAST, max(sizes) * _CACHE_MOST, 0.15, 0.15)


def _bell(low: float, high: float, at: float | None = None) -> Bell:
    """Return the bell whose edges lie at `low` and `high`, both as plain values."""
    first, last = log(low), log(high)
    centre = first + _LIKELIEST * (last - first) if at is None else log(at)
    below, above = (centre - first) / _EDGES, (last - centre) / _EDGES
    return Bell(
        centre, 1 / (2 * below**2), 1 / (2 * above**2),
        log(2 / (_ROOT * (below + above))),
    )  # fmt: skip


def _plateau(low: float, high: float, below: float, above: float) -> Plateau:
    least, most = log(low), log(max(high, low))
    width = most - least + _ROOT / 2 * (below + above)
    return Plateau(least, most, 1 / (2 * below**2), 1 / (2 * above**2), -log(width))
