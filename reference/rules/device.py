"""What is being tested at all: only a graphics card can be compared with one."""

from collections.abc import Iterator

from reference.case import Case
from reference.rules._say import find
from reports.record import Finding


def graphics_card(case: Case) -> Iterator[Finding]:
    """Tell of a device that is no card, or whose memory is the PC's."""
    card = case.record.card
    if case.is_card:
        return
    if card.unified_memory:
        said = (
            "This device works in the PC's own memory: it is part of a processor, not "
            "a card, and its memory proves nothing about one."
        )
    else:
        said = (
            f"This is no graphics card but another device ({card.kind}): it can be "
            "measured, but there is no genuine card to compare it with."
        )
    yield find(
        "graphics-card",
        "strong",
        "open",
        claim=case.model,
        measured="unified memory" if card.unified_memory else card.kind,
        envelope="a graphics card",
        sentence=said,
    )
