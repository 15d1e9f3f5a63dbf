"""What is being tested: no graphics card at all, or one that is too hot.

Only a graphics card can be compared with one. Heat is named where it spoils no rate,
too. Nothing here speaks for or against the claim.
"""

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


def heat(case: Case) -> Iterator[Finding]:
    """Name a card that became as hot as its own limit."""
    telemetry = case.record.telemetry
    if telemetry is None or not telemetry.slowdown_c:
        return
    limit = telemetry.slowdown_c
    hottest = max((one.temperature_c or 0.0 for one in telemetry.samples), default=0.0)
    if hottest < limit:
        return
    yield find(
        "heat",
        "supporting",
        "explains",
        measured=f"{hottest:.0f} °C",
        envelope=f"below {limit:.0f} °C",
        sentence=f"It became {hottest:.0f} °C hot and slows itself from {limit:.0f} °C "
        "on: its cooler, or the paste below it, wants looking after.",
    )
