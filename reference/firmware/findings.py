"""What an image says for or against a claim, a card and itself.

Firmware can be rewritten, every byte of it. So nothing here is ever decisive, nothing
that agrees proves a thing, and what is known from memory supports at most. The outcome
follows from the findings by this table, the first line that holds:

| if there is                                              | the outcome is     |
|----------------------------------------------------------|--------------------|
| a strong fault: reads differ, all FF, an image cut off   | faulty             |
| no expansion ROM in it, or one that states no PCI id     | undetermined       |
| strong contradictions of the claim by two rules or more  | not as claimed     |
| one strong contradiction, or a model the table lacks     | undetermined       |
| a class that is no display's                             | undetermined       |
| none of these                                            | nothing against it |
"""

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from reference.firmware import checks_claim, checks_image, checks_record
from reference.rules._say import a
from reference.table import Table
from reports.firmware_report import (
    Comparison,
    FirmwareCard,
    FirmwareContent,
    FirmwareFinding,
    FirmwareOutcome,
)

_BEARINGS: Final = ("fault", "contradicts", "open", "explains", "agrees")
_STRENGTHS: Final = ("strong", "supporting")
_TWO: Final = 2


class Judged(NamedTuple):
    """Findings in order of weight, and what follows."""

    findings: tuple[FirmwareFinding, ...]
    outcome: FirmwareOutcome
    sentence: str


def judge(
    comparison: Comparison,
    image: FirmwareContent,
    table: Table,
    *,
    claim: str | None = None,
    card: FirmwareCard | None = None,
) -> Judged:
    """Judge an image against itself, a claimed model and a card on record. Total."""
    found = _order(
        [
            *checks_image.all_checks(comparison, image),
            *(checks_claim.all_checks(image, table, claim) if claim else ()),
            *(checks_record.all_checks(image, table, card) if card else ()),
        ]
    )
    outcome, sentence = _conclude(found, image, claim)
    return Judged(found, outcome, sentence)


def _order(findings: Iterable[FirmwareFinding]) -> tuple[FirmwareFinding, ...]:
    return tuple(
        sorted(
            findings,
            key=lambda one: (
                _BEARINGS.index(one.bearing),
                _STRENGTHS.index(one.strength),
                one.rule,
                one.sentence,
            ),
        )
    )


def _conclude(
    found: tuple[FirmwareFinding, ...], image: FirmwareContent, claim: str | None
) -> tuple[FirmwareOutcome, str]:
    strong = [one for one in found if one.strength == "strong"]
    faults = [one for one in strong if one.bearing == "fault"]
    if faults:
        return "faulty", faults[0].sentence
    if image.pci_id is None:
        return "undetermined", (
            "The image states no PCI id: which card it is for cannot be told."
            if image.chains
            else "This is no firmware image of a PCI card."
        )
    against = [one for one in strong if one.bearing == "contradicts"]
    rules = {one.rule for one in against}
    if claim and len({rule for rule in rules if rule in checks_claim.RULES}) >= _TWO:
        chips = next(_named(image), None)
        what = f"It is that of {a(chips)}" if chips else "It is another card's"
        return "not as claimed", f"This is not the firmware of {a(claim)}. {what}."
    if against:
        return "undetermined", f"One thing does not fit: {against[0].sentence}"
    unknown = [one.sentence for one in strong if one.bearing == "open"]
    code = checks_claim.foreign_class(image)
    if code is not None:
        unknown.append(checks_claim.no_graphics_card(code))
    if unknown:
        return "undetermined", unknown[0]
    being = f" being that of {a(claim)}" if claim else ""
    sentence = (
        f"Nothing in this firmware speaks against it{being}. Firmware can be "
        "rewritten: this proves nothing of the card."
    )
    return "nothing against it", sentence


def _named(image: FirmwareContent) -> Iterator[str]:
    """Yield what the image says it is for, what is hardest to forget first."""
    for name in image.names:
        yield " or ".join(name.chips)
