"""What a card really is: the likelihood of all measurements together, row by row.

Every row of the table, and one card that the table lacks, starts alike. Each
measurement multiplies in how likely it is on a genuine card of that row; a missing one
multiplies nothing. The first ranking uses only what firmware cannot write. The second
adds the card's own word, as that of a card which is either honest or, rarely, a liar:
a liar's word fits anything. So a word that its silicon belies shows as a low `honest`.
How likely a measurement is on a row, `reference/likelihood.py` says.
"""

from collections.abc import Iterable, Sequence
from math import exp, log
from typing import NamedTuple

from reference.case import Case
from reference.evidence import SURE, Evidence, Word, evidence
from reference.likelihood import Rows, rows, unknown
from reference.profile import Profile
from reference.rules._say import a, chip_names, either, named
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
_LEAST_LOOKED_AT = 1e-6

_UNLISTED = log(0.5)
"""A card that the table lacks, beside one of its rows."""
_CAUTION = 0.85
"""Measurements of one card err together, so they weigh less than so many alone: with 1
the truth bench finds probabilities of 0.93 right in 0.82 of runs, so in 0.88."""
_FAINT = 36.0
"""So far below the likeliest, as a logarithm, a row counts for nothing: 2e-16 of it."""
_LIES = 1e-3
"""Share of tested cards that say of themselves what they are not."""


class Ranking(NamedTuple):
    """Logarithms of how likely everything measured is, without the card's word."""

    seen: Evidence
    rows: Rows
    likely: list[float]
    """One a row of the table, in its order."""
    chip: list[float]
    """The same of the chip alone, however much memory there is, and uncautioned."""
    unlisted: float
    """Of a card that the table lacks."""


def weigh(case: Case) -> Ranking | None:
    """Return how likely each row is; None where too little was measured."""
    seen = evidence(case)
    if not case.is_card or case.sliced or len(seen.used) < LEAST_EVIDENCE:
        return None
    every = rows(case.table)
    whole, chip = every.likelihoods(seen)
    likely = [_CAUTION * one for one in whole]
    return Ranking(seen, every, likely, chip, _UNLISTED + _CAUTION * unknown(seen))


def identify(case: Case) -> Identified | None:
    """Return what the card is; None where too little was measured. Never raises."""
    ranking = case.ranking
    if ranking is None:
        return None
    shares, away = _normal(ranking.likely, ranking.unlisted)
    chips = _candidates(ranking.rows, shares)
    word = Word(case)
    second: tuple[Candidate, ...] = ()
    honest = None
    if not word.silent and shares:
        second, honest = _with_word(ranking, word)
    return Identified(
        chips=chips[:_SHOWN],
        others=max(0.0, 1 - away - sum(one.probability for one in chips[:_SHOWN])),
        unlisted=away,
        sentence=_sentence(chips, away),
        used=ranking.seen.used,
        with_claims=second,
        honest=honest,
        differ=honest is not None and honest < LIKELY,
    )


def _with_word(ranking: Ranking, word: Word) -> tuple[tuple[Candidate, ...], float]:
    """Return the second ranking, and how surely the card's word is an honest one's."""
    likely = ranking.likely
    lie = log(_LIES / len(likely))
    told = log(1 - _LIES)
    top = max(likely)
    shares = [0.0] * len(likely)
    honest = total = 0.0
    for place, one in enumerate(likely):
        below = one - top
        if below > -_FAINT:
            true = exp(below + told + word(place))
            shares[place] = both = true + exp(below + lie)
            honest += true
            total += both
    whole = total + exp(max(ranking.unlisted + lie - top, -700.0))
    second = _candidates(ranking.rows, [one / whole for one in shares])
    return second[:_SHOWN], min(1.0, honest / total)


def _normal(likely: Sequence[float], unlisted: float) -> tuple[list[float], float]:
    """Return probabilities of the rows, and of a card that the table lacks."""
    top = max([unlisted, *likely])
    weights = [exp(one - top) if one > top - _FAINT else 0.0 for one in likely]
    rest = exp(max(unlisted - top, -700.0))
    total = sum(weights) + rest
    return [one / total for one in weights], rest / total


def _candidates(rows: Rows, shares: Sequence[float]) -> tuple[Candidate, ...]:
    """Return the chips, the likeliest first; what nothing tells apart as one."""
    every = rows.profiles
    found = [
        _Group(places, share, build)
        for build, places in rows.builds
        if (share := sum([shares[place] for place in places])) > _LEAST_LOOKED_AT
    ]
    found.sort(key=lambda group: (-group.share, group.build))
    merged = _merged(found[:_LOOKED_AT], every, shares)
    kept = [group for group in merged[:_SHOWN] if group.share >= _LEAST_SHOWN]
    return tuple(_candidate(group, every, shares) for group in kept or merged[:1])


class _Group(NamedTuple):
    """Rows that are one answer."""

    places: Sequence[int]
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
