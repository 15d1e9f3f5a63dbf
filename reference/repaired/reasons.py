"""Reasons why a card is not called honest now: how one is made, whatever it says."""

from reference.repaired.view import View
from reports.compared.value import Reason


def unsettled(sentence: str, step: str) -> Reason:
    """Return that not enough is known, and what would settle it."""
    return Reason(sentence=sentence, step=step, wrong=False)


def is_wrong(after: View) -> bool:
    """Whether the judge found it wrong: one stray cell may happen to any card."""
    return after.outcome in ("not as claimed", "faulty")
