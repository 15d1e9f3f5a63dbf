"""Whether another listed card would have been measured alike: `as claimed` is earned.

Names, ids and counts can be written. Set aside all that, and what was measured may fit
a lesser or another card as well as the claimed one: because units or rates were not
measured, or because a driver shows only a part of the memory. Then nothing speaks
against the card, but nothing shows it to be the claimed one either.

What no measurement tells apart is not held against a card: see `Doubt`.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from reference.case import Case
from reference.evidence import is_clear
from reference.likelihood import BROAD
from reference.match import Ranking
from reference.profile import Profile, twins
from reference.rows import Variant
from reference.rules._say import a, either, find
from reports.record import Finding, Structure
from reports.units import gib

SAME_SIZE = 0.93
"""Drivers show from so much of its memory on: sizes nearer than that are one."""
PROVEN = 1.003
"""Over a card's memory: more cannot be proven on it."""
NEARLY = 0.95
"""Below this share of a rated figure a card is the lesser one."""


class Doubt(NamedTuple):
    """From where on a rival counts; both logarithms of how many times likelier."""

    as_well: float
    """The rival fits what was measured so much better than the claimed one."""
    tells: float
    """A whole test of the rival would fit it so much better than the claimed one."""


LACKS = 2.0
"""A rate that the rival would have shown was not to be had, as a logarithm."""
LESSER = Doubt(-0.5, 4.0)
OTHER = Doubt(0.0, 8.0)
"""Who buys a card that is better in everything is not cheated: so more is asked for."""
BETTER = Doubt(2.0, 2.0)
"""Any that fits so much better than the claimed card."""
UNCOUNTED = 1.0
"""So much worse may it fit where no units were counted: rates alone tell little."""
# All by the truth bench: with more doubt, genuine cards measured wholly are held
# back (now one in two hundred); with less, forged ones pass (now one in a thousand).
# `tells` is also what sets apart cards that cannot be told from each other: where a
# whole test of a typical one would not show which it is, no verdict can wait for it.


def other_card(case: Case) -> Iterator[Finding]:
    """Look for a card of another build that fits all that was measured as well."""
    if case.identified is None or not case.rows or case.is_part:
        return
    ranking = case.ranking
    if ranking is None:
        return
    found = _rival(case, ranking)
    if found is None:
        return
    rival, better = found
    gaps = _gaps(case, ranking)
    than = "better than" if better >= BETTER.as_well else "as well as"
    said = f"What was measured fits {a(rival.model)} ({rival.chip}) {than} "
    said += f"{a(case.model)}, whatever the card says of itself"
    said += f": {gaps}." if gaps else "."
    yield find(
        "other-card", "strong", "open", claim=a(case.model), measured=a(rival.model),
        envelope="no other card fits as well", sentence=said,
        sources=case.sources,
    )  # fmt: skip


def lesser_memory(case: Case) -> Iterator[Finding]:
    """Look for the same card with less memory, where not all of it was reached."""
    if case.identified is None or not case.rows or case.is_part:
        return
    proven, shown = case.proven_bytes, case.reported_bytes
    least = min(row.memory_bytes for row in case.rows)
    if not proven or not shown or shown >= SAME_SIZE * least:
        return  # all is shown: how much of that was proven is another rule's matter
    same, built = twins(case.table), case.record.structure
    builds = {same[row.chip] for row in case.all_rows}
    counted = {row.units for row in case.all_rows}
    every = built is None or not is_clear(built)
    smaller = [
        row.memory_bytes
        for row in case.table.variants
        if same[row.chip] in builds
        and (every or row.units in counted)
        and shown <= PROVEN * row.memory_bytes
        and row.memory_bytes < SAME_SIZE * least
    ]
    if not smaller:
        return
    yield find(
        "lesser-memory", "strong", "open", claim=gib(least), measured=gib(proven),
        envelope=gib(least),
        sentence=f"{a(case.model)[:1].upper()}{a(case.model)[1:]} has {gib(least)}; "
        f"only {gib(proven)} of it could be reached. The same chip was sold with "
        f"{either([gib(size) for size in sorted(set(smaller))])} too, and that would "
        "look the same.",
        sources=case.sources,
    )  # fmt: skip


def _rival(case: Case, ranking: Ranking) -> tuple[Variant, float] | None:
    """Return the row of another card that fits best, if it counts, and how much better.

    As a logarithm of how many times likelier it is than the claimed one.
    """
    every, fits = case.table.variants, ranking.chip
    ids = {row.id for row in case.rows}
    best = max(
        (place for place, row in enumerate(every) if row.id in ids),
        key=lambda place: fits[place],
    )
    claimed, known = every[best], _figures(case.all_rows, case)
    same, proven = twins(case.table), case.proven_bytes
    slack = UNCOUNTED if ranking.seen.units is None else 0.0
    least = fits[best] + min(LESSER.as_well, OTHER.as_well) - slack
    profiles = ranking.rows.profiles
    ranked = sorted(
        (place for place, fit in enumerate(fits) if fit >= least),
        key=lambda place: (-fits[place], every[place].id),
    )
    for place in ranked:
        row = every[place]
        own = known.get((same[row.chip], row.units), ())
        small = row.memory_bytes < SAME_SIZE * claimed.memory_bytes
        narrow = row.bandwidth < NEARLY * claimed.bandwidth
        if row.memory_bytes in own or (own and not narrow):
            continue
        if proven > PROVEN * row.memory_bytes:
            continue
        better = fits[place] - fits[best] + slack
        better -= _unsaid(profiles[place], profiles[best], ranking)
        doubts = (LESSER if small or _is_less(row, claimed) else OTHER, BETTER)
        needed = min(
            (one.tells for one in doubts if better >= one.as_well), default=None
        )
        if needed is not None and (small or ranking.rows.apart(place, best) >= needed):
            return row, better
    return None


def _unsaid(rival: Profile, claimed: Profile, ranking: Ranking) -> float:
    """Return how much better a rival fits only because the table says more of it.

    Where nobody tells what the claimed card does, it does as the rival; and where no
    rate could be measured, as its driver offers none, a rival that has it fits less.
    """
    found = 0.0
    pairs = zip(rival.ratios, claimed.ratios, ranking.seen.ratios, strict=False)
    for own, other, seen in pairs:
        if own is not None and other is None:
            found += max(own.peak - BROAD["ratio"], 0.0) if seen is not None else LACKS
    return found


def _figures(
    rows: Sequence[Variant], case: Case
) -> Mapping[tuple[tuple[str, ...], int], list[int]]:
    """Return memory sizes by build and units."""
    same = twins(case.table)
    found: dict[tuple[tuple[str, ...], int], list[int]] = {}
    for row in rows:
        found.setdefault((same[row.chip], row.units), []).append(row.memory_bytes)
    return found


def _is_less(row: Variant, claimed: Variant) -> bool:
    """Whether a card has less of anything that a buyer pays for."""
    return (
        row.fp32 < NEARLY * claimed.fp32
        or row.bandwidth < NEARLY * claimed.bandwidth
        or (row.architecture == claimed.architecture and row.units < claimed.units)
    )


def _gaps(case: Case, ranking: Ranking) -> str:
    """Return what a whole test would have measured and this one has not."""
    seen, built = ranking.seen, case.record.structure
    told = built is not None and built != Structure()
    gaps = [
        name
        for name, missing in (
            ("the chip's structure was not measured", not told),
            ("its units were not counted for sure", told and not seen.clear),
            ("its lanes and clocks were not timed", told and seen.link is None),
            ("not every rate was measured", None in (*seen.ratios, seen.fp32)),
            ("its caches were not measured", told and seen.cache is None),
            ("something slowed it", seen.hindered),
        )
        if missing
    ]
    return ", ".join(gaps)
