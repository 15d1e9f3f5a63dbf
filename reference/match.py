"""What a card really is: the likelihood of all measurements together, row by row.

Every row of the table, and one card that the table lacks, starts alike. Each
measurement multiplies in how likely it is on a genuine card of that row; a missing one
multiplies nothing. The first ranking uses only what firmware cannot write. The second
adds the card's own word, as that of a card which is either honest or, rarely, a liar:
a liar's word fits anything. So a word that its silicon belies shows as a low `honest`.

A likelihood never falls below a floor for each measurement: one figure gone wrong
must not settle what nine others say.
"""

from collections.abc import Iterable, Sequence
from math import exp, log
from typing import NamedTuple

from reference.case import Case
from reference.curves import Bell, Plateau, on_bell, on_plateau
from reference.evidence import SURE, Evidence, Word, evidence
from reference.profile import (
    Profile,
    clock,
    groups,
    profiles,
    twins,
)
from reference.rules._say import a, chip_names, either, named
from reference.table import Table
from reports.record import Candidate, Identified
from reports.units import percent

LIKELY = 0.50
LEAST_EVIDENCE = 3
"""Fewer measurements than that single out nothing."""
_SHOWN = 5
_NAMES = 4
_LEAST_SHOWN = 1e-4
_KEPT = 0.99
"""Share of a chip's probability that its models make up."""
_MOST_ROWS = 40
_NOTABLE = 0.05
_LEAST_TWIN = 1e-3
_LOOKED_AT = 12

_UNLISTED = log(0.5)
"""A card that the table lacks, beside one of its rows."""
_BROAD = {
    "units": log(1 / 100), "fp32": -1.9, "link": -1.5, "ratio": -1.5, "traffic": -1.9,
    "size": -1.8, "cache": -1.9, "warp": -1.4, "resident": -1.6, "clock": -1.5,
}  # fmt: skip
"""Logarithm of the density of a measurement on a card of which nothing is known."""
_CAUTION = 0.85
"""Measurements of one card err together, so they weigh less than so many alone: with 1
the truth bench finds probabilities of 0.93 right in 0.82 of runs, so in 0.88."""
_ROUNDED = 0.003
"""How far above nominal drivers' rounding takes a size, as a logarithm."""
_PROVEN = 0.85
"""Share of undisturbed proofs that cover nearly all memory."""
_FALL = 0.5
"""How the others fall off below, as a logarithm."""
_LOGS = (0.0, *(log(count) for count in range(1, 64)))
_LIES = 1e-3
"""Share of tested cards that say of themselves what they are not."""


def identify(case: Case) -> Identified | None:
    """Return what the card is; None where too little was measured. Never raises."""
    seen = evidence(case)
    used = seen.used
    if not case.is_card or case.sliced or len(used) < LEAST_EVIDENCE:
        return None
    every = profiles(case.table)
    likely = [_CAUTION * _likelihood(one, seen) for one in every]
    unlisted = _UNLISTED + _CAUTION * _unknown(seen)
    shares, away = _normal(likely, unlisted)
    chips = _candidates(every, shares, case.table)
    word = Word(case)
    second: tuple[Candidate, ...] = ()
    honest = None
    if not word.silent and every:
        second, honest = _with_word(every, likely, unlisted, word, case.table)
    return Identified(
        chips=chips[:_SHOWN],
        others=max(0.0, 1 - away - sum(one.probability for one in chips[:_SHOWN])),
        unlisted=away,
        sentence=_sentence(chips, away),
        used=used,
        with_claims=second,
        honest=honest,
        differ=honest is not None and honest < LIKELY,
    )


def _with_word(
    every: Sequence[Profile],
    likely: Sequence[float],
    unlisted: float,
    word: Word,
    table: Table,
) -> tuple[tuple[Candidate, ...], float]:
    """Return the second ranking, and how surely the card's word is an honest one's."""
    lie = log(_LIES / len(every))
    top = max(likely)
    said = [log(1 - _LIES) + word(one.row) for one in every]
    true = [exp(max(x + y - top, -700.0)) for x, y in zip(likely, said, strict=True)]
    false = [exp(max(x + lie - top, -700.0)) for x in likely]
    total = sum(true) + sum(false)
    both = [top + log(x + y + 1e-300) for x, y in zip(true, false, strict=True)]
    shares, _ = _normal(both, unlisted + lie)
    honest = sum(true) / total if total else 0.0
    return _candidates(every, shares, table)[:_SHOWN], min(1.0, honest)


def _normal(likely: Sequence[float], unlisted: float) -> tuple[list[float], float]:
    """Return probabilities of the rows, and of a card that the table lacks."""
    top = max([unlisted, *likely])
    weights = [exp(max(one - top, -700.0)) for one in likely]
    rest = exp(max(unlisted - top, -700.0))
    total = sum(weights) + rest
    return [one / total for one in weights], rest / total


def _likelihood(row: Profile, seen: Evidence) -> float:
    """Return the logarithm of how likely all that was measured is on such a card."""
    total, by = _units(row, seen)
    total += row.prior + _speeds(row, seen, by)
    if seen.size is not None:
        total += _size(row, seen.size, whole=seen.whole)
    if seen.cache is not None:
        total += _flat(row.cache, seen.cache, "cache", -3.5)
    if seen.warp is not None:
        total += row.warps.get(seen.warp, -7.0)
    if seen.resident is not None:
        total += _resident(row, *seen.resident)
    return total


def _speeds(row: Profile, seen: Evidence, by: float) -> float:
    """Return the same of what is timed; `by` is how the staircase miscounts."""
    total = 0.0
    slow = -3.5 if seen.hindered else -7.0
    if seen.fp32 is not None or seen.link is not None:
        tried = [_single(row, seen, log(by), slow, part) for part in row.efforts]
        total += max(tried) - _LOGS[len(tried)]
    if seen.clock is not None:
        total += _soft(clock(row), seen.clock, "clock")
    if seen.traffic is not None:
        total += on_bell(row.traffic, seen.traffic, slow, -10.0)
    return total


def _single(row: Profile, seen: Evidence, by: float, slow: float, part: float) -> float:
    """Return the same of arithmetic, where fp32 keeps `part` of the lanes busy."""
    total = 0.0
    if seen.fp32 is not None:
        total += on_bell(row.fp32, seen.fp32 - part, slow, -10.0)
    if seen.link is not None:
        total += _flat(row.link, seen.link + by - part, "link", slow)
    for expected, value in zip(row.ratios, seen.ratios, strict=False):
        if value is not None:
            total += _flat(expected, value + part, "ratio", -7.0)
    return total


def _unknown(seen: Evidence) -> float:
    """Return the same of a card of which nothing is known."""
    kinds = {
        "units": seen.units, "fp32": seen.fp32, "clock": seen.clock, "link": seen.link,
        "traffic": seen.traffic, "size": seen.size, "cache": seen.cache,
        "warp": seen.warp, "resident": seen.resident,
    }  # fmt: skip
    told = sum(_BROAD[name] for name, value in kinds.items() if value is not None)
    return told + _BROAD["ratio"] * sum(one is not None for one in seen.ratios)


def _units(row: Profile, seen: Evidence) -> tuple[float, float]:
    """Return the count's logarithm, and by which factor the staircase miscounts."""
    if seen.units is None:
        return 0.0, 1.0
    low, high = seen.units
    fitting = [one for count, one in row.counts.items() if low <= count <= high]
    if fitting:
        chance, by = max(fitting)
        return chance - log(high - low + 1), by
    if any(low <= count <= high for count in row.spare):
        return -6.0, 1.0
    return (-16.0 if seen.clear else -7.0), 1.0


def _soft(bell: Bell | None, value: float, name: str) -> float:
    return _BROAD[name] if bell is None else on_bell(bell, value, -6.0, -6.0)


def _flat(flat: Plateau | None, value: float, name: str, floor: float) -> float:
    return _BROAD[name] if flat is None else on_plateau(flat, value, floor)


def _size(row: Profile, value: float, *, whole: bool) -> float:
    """More than there is cannot be proven; nearly all of it mostly is."""
    share = value - row.size
    if share > _ROUNDED:
        return -14.0
    if not whole:
        return _BROAD["size"]
    if share >= row.kept:
        return log(_PROVEN / (_ROUNDED - row.kept))
    return max(log((1 - _PROVEN) / _FALL) - (row.kept - share) / _FALL, -8.0)


def _resident(row: Profile, count: int, size_bytes: int) -> float:
    if row.shared is None:
        return _BROAD["resident"]
    away = abs(count - groups(row.shared, size_bytes))
    return (-0.1, -3.0)[away] if away < 2 else -5.0  # noqa: PLR2004 - 0 or 1


def _candidates(
    every: Sequence[Profile], shares: Sequence[float], table: Table
) -> tuple[Candidate, ...]:
    """Return the chips, the likeliest first; what nothing tells apart as one."""
    same = twins(table)
    by_build: dict[tuple[str, ...], list[int]] = {}
    for place, one in enumerate(every):
        by_build.setdefault(same[one.row.chip], []).append(place)
    groups_ = sorted(
        (
            _Group(places, sum(shares[place] for place in places), build)
            for build, places in by_build.items()
        ),
        key=lambda group: (-group.share, group.build),
    )
    merged = _merged(groups_[:_LOOKED_AT], every, shares)
    kept = [group for group in merged[:_SHOWN] if group.share >= _LEAST_SHOWN]
    return tuple(_candidate(group, every, shares) for group in kept or merged[:1])


class _Group(NamedTuple):
    """Rows that are one answer."""

    places: list[int]
    share: float
    build: tuple[str, ...]


def _merged(
    ranked: list[_Group], every: Sequence[Profile], shares: Sequence[float]
) -> list[_Group]:
    """Return the groups with those joined that look alike, until an answer is firm."""
    left, found = list(ranked), []
    while left:
        first = left.pop(0)
        best = _best(first, shares)
        for other in tuple(left):
            if first.share >= _KEPT or other.share < _NOTABLE / 10:
                break
            if every[best].alike == every[_best(other, shares)].alike:
                left.remove(other)
                first = _Group(
                    [*first.places, *other.places],
                    first.share + other.share,
                    (*first.build, *other.build),
                )
        found.append(first)
    return sorted(found, key=lambda group: (-group.share, group.build))


def _best(group: _Group, shares: Sequence[float]) -> int:
    return max(group.places, key=lambda place: shares[place])


def _candidate(
    group: _Group, every: Sequence[Profile], shares: Sequence[float]
) -> Candidate:
    places, total = group.places, group.share
    chips: dict[str, float] = {}
    models: dict[str, float] = {}
    for place in places:
        row = every[place].row
        chips[row.chip] = chips.get(row.chip, 0.0) + shares[place]
        models[row.model] = models.get(row.model, 0.0) + shares[place]
    names = sorted(chips, key=lambda name: (-chips[name], name))
    kept = _covering(models, total)
    rows = sorted(
        (place for place in places if every[place].row.model in kept),
        key=lambda place: (-shares[place], every[place].row.id),
    )
    told = [place for place in rows if shares[place] >= _NOTABLE * shares[rows[0]]]
    return Candidate(
        chip=names[0],
        twins=tuple(name for name in names[1:] if chips[name] >= _LEAST_TWIN * total),
        probability=min(1.0, total),
        alone=min(1.0, chips[names[0]]),
        models=tuple(kept),
        variants=tuple(every[place].row.id for place in told[:_MOST_ROWS]),
        lanes=_distinct(every[place].row.shaders for place in told),
        memory_bytes=_distinct(every[place].row.memory_bytes for place in told),
    )


def _covering(models: dict[str, float], total: float) -> list[str]:
    """Return the fewest models that together hold nearly all of the probability."""
    ranked = sorted(models, key=lambda name: (-models[name], name))
    kept, held = [], 0.0
    for name in ranked[:_MOST_ROWS]:
        kept.append(name)
        held += models[name]
        if held >= _KEPT * total:
            break
    return kept


def _distinct(values: Iterable[int]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(values))


def _sentence(chips: Sequence[Candidate], away: float) -> str:
    if not chips or away >= LIKELY:
        return "No card of the table fits what was measured."
    first = chips[0]
    sure = percent(first.probability, 1.0)
    what = (
        f"{a(named(first))}{_cut_down(first)}, sold as {either(first.models, _NAMES)}"
    )
    if first.probability >= SURE:
        return f"It is {what}, {sure} sure."
    others = [
        f"{a(chip_names(one))} {percent(one.probability, 1.0)}"
        for one in chips[1:3]
        if one.probability >= _NOTABLE
    ]
    rest = f"; {' and '.join(others)}" if others else ""
    if first.probability >= LIKELY:
        return f"Most likely it is {what}, {sure} sure{rest}."
    return (
        "What was measured does not settle which chip it is: "
        f"{a(chip_names(first))} {sure}{rest}."
    )


def _cut_down(one: Candidate) -> str:
    """Return the chips that are rarely, but cannot be told from the one named."""
    if chip_names(one) != one.chip or not one.twins:
        return ""
    return f" (or {a(either(one.twins, 3))} cut down to the same)"
