"""How likely all that was measured is on a card of each row, for all rows at once.

Rows share most of what they lead us to expect: each distinct expectation is looked at
once, and a row only adds up what its own come to. No ranking here and no record.

A likelihood never falls below a floor for each measurement: one figure gone wrong
must not settle what nine others say.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import replace
from math import inf, log
from typing import Generic, TypeVar
from weakref import WeakKeyDictionary

from reference.curves import Bell, Plateau, on_bell, on_plateau
from reference.evidence import Evidence
from reference.profile import Profile, clock, groups, profiles, twins
from reference.table import Table

BROAD = {
    "units": log(1 / 100), "fp32": -1.9, "link": -1.5, "ratio": -1.5, "traffic": -1.9,
    "size": -1.8, "cache": -1.9, "warp": -1.4, "resident": -1.6, "clock": -1.5,
}  # fmt: skip
"""Logarithm of the density of a measurement on a card of which nothing is known."""
_ROUNDED = 0.003
"""How far above nominal drivers' rounding takes a size, as a logarithm."""
_PROVEN = 0.85
"""Share of undisturbed proofs that cover nearly all memory."""
_FALL = 0.5
"""How the others fall off below, as a logarithm."""
_NO_SPARE = range(0)
_HELD = 48 * 1024
"""Local memory of each group where it is counted how many a unit holds."""
_LOGS = (0.0, *(log(count) for count in range(1, 64)))

_Kind = TypeVar("_Kind", bound=Hashable)
_Value = TypeVar("_Value")
_Counts = tuple[float, float]
"""The count's logarithm, and by which factor the staircase miscounts."""


class _Distinct(Generic[_Kind]):
    """The distinct ones of some values, and for each row the place of its own."""

    def __init__(self, values: Iterable[_Kind]) -> None:
        found: dict[_Kind, int] = {}
        self.places = [found.setdefault(one, len(found)) for one in values]
        self.each = tuple(found)
        self._none = [0.0] * len(found)

    def of(
        self, measured: _Value | None, part: Callable[[_Kind, _Value], float]
    ) -> list[float]:
        """Return one figure for each distinct value; zeros of what is missing."""
        if measured is None:
            return self._none
        return [part(one, measured) for one in self.each]


class Rows:
    """All rows of one table, laid out by what they share. Made once a table."""

    def __init__(self, table: Table) -> None:
        self.profiles = every = profiles(table)
        self._priors = [one.prior for one in every]
        self._none = [0.0] * len(every)
        self._counts = _Distinct(
            (tuple(one.counts.items()), one.spare) for one in every
        )
        self._kinds = _Distinct((one.efforts, one.link, one.ratios) for one in every)
        self._singles = _Distinct(
            zip(
                self._counts.places,
                self._kinds.places,
                (one.fp32 for one in every),
                strict=True,
            )
        )
        self._traffic = _Distinct(one.traffic for one in every)
        self._sizes = _Distinct((one.size, one.kept) for one in every)
        self._caches = _Distinct(one.cache for one in every)
        self._warps = _Distinct(tuple(one.warps.items()) for one in every)
        self._shared = _Distinct(one.shared for one in every)
        self._apart: dict[tuple[int, int], float] = {}
        self.builds = _builds(every, table)
        """Chips of one build, and the places of their rows."""

    def likelihoods(self, seen: Evidence) -> tuple[list[float], list[float]]:
        """Return logarithms a row, in the table's order: of all, and of the chip alone.

        The second leaves out how much memory was proven and how common a row is.
        """
        slow = -3.5 if seen.hindered else -7.0
        counted = [_units(*one, seen) for one in self._counts.each]
        units = [one for one, _ in counted]
        singles = self._arithmetic(seen, [by for _, by in counted], slow)
        traffic = self._traffic.of(
            seen.traffic, lambda one, value: on_bell(one, value, slow, -10.0)
        )
        cache = self._caches.of(
            seen.cache, lambda one, value: _flat(one, value, "cache", -3.5)
        )
        warp = self._warps.of(seen.warp, lambda one, value: dict(one).get(value, -7.0))
        resident = self._shared.of(seen.resident, _resident)
        chip = [
            units[a] + singles[b] + tick + traffic[c] + cache[d] + warp[e] + resident[f]
            for tick, a, b, c, d, e, f in zip(
                self._clocks(seen), self._counts.places, self._singles.places,
                self._traffic.places, self._caches.places, self._warps.places,
                self._shared.places, strict=True,
            )
        ]  # fmt: skip
        size = self._sizes.of(
            seen.size, lambda one, value: _size(*one, value, whole=seen.whole)
        )
        whole = [
            one + prior + size[place]
            for one, prior, place in zip(
                chip, self._priors, self._sizes.places, strict=True
            )
        ]
        return whole, chip

    def apart(self, true: int, other: int) -> float:
        """Return how surely a whole test tells one row's typical chip from another's.

        A logarithm: how much likelier its figures are on the true one. Rows by place.
        """
        key = true, other
        found = self._apart.get(key)
        if found is None:
            seen = typical(self.profiles[true])
            found = chip_alone(self.profiles[true], seen)
            # with spare units switched on it would be another card than it was sold as
            found -= chip_alone(replace(self.profiles[other], spare=_NO_SPARE), seen)
            self._apart[key] = found
        return found

    def _clocks(self, seen: Evidence) -> list[float]:
        """Return the same of a link's time alone, where no fp32 rate was measured."""
        if seen.clock is None:
            return self._none
        return [_soft(clock(one), seen.clock, "clock") for one in self.profiles]

    def _arithmetic(
        self, seen: Evidence, factors: Sequence[float], slow: float
    ) -> list[float]:
        """Return the same of arithmetic, for the share of its lanes that fits best."""
        single, link = seen.fp32, seen.link
        if single is None and link is None:
            return [0.0] * len(self._singles.each)
        rest: dict[tuple[int, float], tuple[tuple[float, float], ...]] = {}
        found = []
        for count, kind, expected in self._singles.each:
            key = kind, factors[count]
            tried = rest.get(key)
            if tried is None:
                tried = _beside(*self._kinds.each[kind], seen, log(key[1]), slow)
                rest[key] = tried
            if single is None:
                best = max([one for _, one in tried])
            else:
                best = _best(expected, single, tried, slow)
            found.append(best - _LOGS[len(tried)])
        return found


def _best(
    bell: Bell, value: float, tried: Iterable[tuple[float, float]], slow: float
) -> float:
    """Return the likeliest of the shares of busy lanes.

    Does what `on_bell` does in its own place: it runs some 600 times a judgement.
    """
    best = -inf
    for part, one in tried:
        away = value - part - bell.centre
        if away < 0:
            fit, floor = bell.peak - away * away * bell.low, slow
        else:
            fit, floor = bell.peak - away * away * bell.high, -10.0
        both = one + (fit if fit > floor else floor)  # noqa: FURB136 - as `max` below
        if both > best:  # noqa: PLR1730 - calling `max` would take as long as all else
            best = both
    return best


_made: WeakKeyDictionary[Table, Rows] = WeakKeyDictionary()


def rows(table: Table) -> Rows:
    """Return the rows of a table, laid out."""
    found = _made.get(table)
    if found is None:
        found = _made[table] = Rows(table)
    return found


def chip_alone(one: Profile, seen: Evidence) -> float:
    """Return one row's logarithm of all but memory's size and how common it is."""
    slow = -3.5 if seen.hindered else -7.0
    total, by = _units(one.counts.items(), one.spare, seen)
    if seen.fp32 is not None or seen.link is not None:
        tried = [
            other
            if seen.fp32 is None
            else other + on_bell(one.fp32, seen.fp32 - part, slow, -10.0)
            for part, other in _beside(
                one.efforts, one.link, one.ratios, seen, log(by), slow
            )
        ]
        total += max(tried) - _LOGS[len(tried)]
    if seen.clock is not None:
        total += _soft(clock(one), seen.clock, "clock")
    if seen.traffic is not None:
        total += on_bell(one.traffic, seen.traffic, slow, -10.0)
    if seen.cache is not None:
        total += _flat(one.cache, seen.cache, "cache", -3.5)
    if seen.warp is not None:
        total += one.warps.get(seen.warp, -7.0)
    if seen.resident is not None:
        total += _resident(one.shared, seen.resident)
    return total


def typical(one: Profile) -> Evidence:
    """Return what a whole test of an untroubled card of that row shows of its chip."""
    part = one.efforts[len(one.efforts) // 2]
    chain, cache = _middle(one.link), _middle(one.cache)
    ratios = [_middle(ratio) for ratio in one.ratios]
    return Evidence(
        units=(one.row.units, one.row.units),
        clear=True,
        fp32=one.fp32.centre + part,
        link=None if chain is None else chain + part,
        ratios=tuple(None if ratio is None else ratio - part for ratio in ratios),
        traffic=one.traffic.centre,
        cache=cache,
        warp=next(iter(one.warps)),
        resident=(groups(one.shared, _HELD), _HELD) if one.shared else None,
    )


def _middle(flat: Plateau | None) -> float | None:
    return None if flat is None else (flat.least + flat.most) / 2


def _builds(
    every: Sequence[Profile], table: Table
) -> tuple[tuple[tuple[str, ...], tuple[int, ...]], ...]:
    same = twins(table)
    found: dict[tuple[str, ...], list[int]] = {}
    for place, one in enumerate(every):
        found.setdefault(same[one.row.chip], []).append(place)
    return tuple((build, tuple(places)) for build, places in found.items())


def unknown(seen: Evidence) -> float:
    """Return the logarithm of how likely it is on a card of which nothing is known."""
    kinds = {
        "units": seen.units, "fp32": seen.fp32, "clock": seen.clock, "link": seen.link,
        "traffic": seen.traffic, "size": seen.size, "cache": seen.cache,
        "warp": seen.warp, "resident": seen.resident,
    }  # fmt: skip
    told = sum(BROAD[name] for name, value in kinds.items() if value is not None)
    return told + BROAD["ratio"] * sum(one is not None for one in seen.ratios)


def _beside(
    efforts: Iterable[float],
    chain: Plateau | None,
    ratios: Iterable[Plateau | None],
    seen: Evidence,
    by: float,
    slow: float,
) -> tuple[tuple[float, float], ...]:
    """Return the shares of its lanes that may be busy, and what else fits each."""
    found = []
    for part in efforts:
        total = 0.0
        if seen.link is not None:
            total += _flat(chain, seen.link + by - part, "link", slow)
        for expected, value in zip(ratios, seen.ratios, strict=False):
            if value is not None:
                total += _flat(expected, value + part, "ratio", -7.0)
        found.append((part, total))
    return tuple(found)


def _units(
    counts: Iterable[tuple[int, _Counts]], spare: range, seen: Evidence
) -> _Counts:
    if seen.units is None:
        return 0.0, 1.0
    low, high = seen.units
    fitting = [one for count, one in counts if low <= count <= high]
    if fitting:
        chance, by = max(fitting)
        return chance - log(high - low + 1), by
    if spare and low < spare.stop and high >= spare.start:
        return -6.0, 1.0
    return (-16.0 if seen.clear else -7.0), 1.0


def _soft(bell: Bell | None, value: float, name: str) -> float:
    return BROAD[name] if bell is None else on_bell(bell, value, -6.0, -6.0)


def _flat(flat: Plateau | None, value: float, name: str, floor: float) -> float:
    return BROAD[name] if flat is None else on_plateau(flat, value, floor)


def _size(whole_size: float, kept: float, value: float, *, whole: bool) -> float:
    """More than there is cannot be proven; nearly all of it mostly is."""
    share = value - whole_size
    if share > _ROUNDED:
        return -14.0
    if not whole:
        return BROAD["size"]
    if share >= kept:
        return log(_PROVEN / (_ROUNDED - kept))
    return max(log((1 - _PROVEN) / _FALL) - (kept - share) / _FALL, -8.0)


def _resident(shared: tuple[int, int] | None, held: tuple[int, int]) -> float:
    if shared is None:
        return BROAD["resident"]
    count, size_bytes = held
    away = abs(count - groups(shared, size_bytes))
    return (-0.1, -3.0)[away] if away < 2 else -5.0  # noqa: PLR2004 - 0 or 1
