"""All measurements together against the claim, and against the card's own word.

The ranking of chips is `reference/match.py`'s; here it is only compared. It never
decides alone: a table that lacks a card, or a neighbour on it, may lead it astray.
"""

from collections.abc import Iterator

from reference import profile
from reference.case import Case
from reference.causes import causes
from reference.evidence import SURE
from reference.rules._say import a, chip_names, either, find, named
from reports.record import Finding
from reports.units import percent

BELIED = 1e-3
"""Below this probability the silicon belies what is claimed."""
FIRM = 0.99
"""How sure the measured chip must be before it speaks against a claim."""
ENOUGH = 6
"""So many measurements have to agree on it."""


def measured_chip(case: Case) -> Iterator[Finding]:
    """Compare the chip that everything measured together tells with the claimed."""
    found = case.identified
    if found is None or not case.rows or not found.chips:
        return
    first = found.chips[0]
    claimed = profile.build(case.table, case.rows)
    sure = percent(first.probability, 1.0)
    fits = f"Everything measured together fits {a(chip_names(first))}"
    if {first.chip, *first.twins} & claimed:
        if first.probability >= SURE:
            yield find(
                "measured-chip", "supporting", "agrees",
                claim=either(sorted(case.chips)), measured=first.chip,
                envelope=either(sorted(case.chips)),
                sentence=f"{fits}, as {a(case.model)} is made of ({sure} sure).",
            )  # fmt: skip
        return
    left = found.others + sum(
        one.probability for one in found.chips if {one.chip, *one.twins} & claimed
    )
    if first.probability < FIRM or left > BELIED or len(found.used) < ENOUGH:
        return
    slow = _hindered(case)
    yield find(
        "measured-chip",
        "strong",
        "open" if slow or case.on_rare_chip else "contradicts",
        claim=either(sorted(case.chips)),
        measured=named(first),
        envelope=either(sorted(case.chips)),
        sentence=f"{fits} ({sure} sure), which no {case.model} is made of."
        + (" But something else was at work on the card meanwhile." if slow else ""),
    )


def own_word(case: Case) -> Iterator[Finding]:
    """Tell where the card's word and its silicon are of different cards."""
    found = case.identified
    if found is None or found.honest is None or not found.differ or not found.chips:
        return
    first = found.chips[0]
    if first.probability < SURE:
        return
    slow = _hindered(case)
    firm = found.honest < BELIED and first.probability >= FIRM
    enough = len(found.used) >= ENOUGH
    yield find(
        "own-word",
        "strong" if firm and enough else "supporting",
        "open" if slow else "contradicts",
        claim=case.reported_name or case.model,
        measured=named(first),
        envelope="silicon and word of one card",
        sentence=f"What the card says of itself does not fit its silicon, which is "
        f"that of {a(named(first))}.",
    )


def _hindered(case: Case) -> bool:
    return any(causes(case, rate) for rate in case.rates.values())
