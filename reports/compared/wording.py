"""Fixed words of a comparison, shared by terminal and page: no wording twice."""

from typing import Final

from reports.compared.value import Became, Match, Part, Steadiness

BECAME: Final[dict[Became, tuple[str, str]]] = {
    "became honest": ("=", "became honest"),
    "still wrong": ("≠", "still wrong"),
    "got worse": ("−", "got worse"),  # noqa: RUF001 - a minus, drawn
    "better": ("+", "better"),
    "changed": ("~", "changed"),
    "unchanged": ("·", "unchanged"),
    "only before": ("?", "only before"),
    "only after": ("?", "only after"),
}
"""Mark and words of what became of a thing. Every mark is a plain sign."""

PART: Final[dict[Part, str]] = {
    "claims": "What its layers say",
    "memory": "Memory",
    "lasting": "Under load",
    "chip": "The chip",
    "rates": "How fast it works",
    "further": "What was read or seen beside it",
    "findings": "Every finding, each record held against what the card then reported",
}
STEADY: Final[dict[Steadiness, str]] = {
    "stable": "=",
    "failed": "!",
    "cut short": "?",
    "not tested": "?",
}
MATCH: Final[dict[Match, str]] = {
    "fits": "the same kind of chip",
    "differs": "different chips",
    "unknown": "could not be measured",
}
COLUMNS: Final = ("Before", "After", "What became of it")
ABSENT: Final = "—"
NEXT: Final = "Next"
WHY_NOT: Final = "Why it is not called honest now"
WRONG: Final = "Still wrong"
OPEN: Final = "Not settled"
STABLE: Final = "Is it stable?"
CHANGED: Final = "Side by side"
REMARKS: Final = "When reading the two"

METHOD: Final = (
    (
        "Two records were compared, one from before the repair and one from after it. "
        "Both lie in this page."
    ),
    (
        "Both were judged anew by one table of genuine cards, so that no difference "
        "comes from the table."
    ),
    (
        "The record after the repair was held against what the card now reports "
        "itself: what it was once sold as does not count."
    ),
    (
        "A layer's word is called honest only where the silicon bears it out: units "
        "counted by time, the chip that everything measured fits, memory that kept "
        "its data."
    ),
    (
        "Rates of two runs differ by a few percent on every card. Only what lies "
        "beyond that is told as better or worse, and only where neither heat nor "
        "clocks explain it."
    ),
    (
        "Honest now is said only after a thorough test, run to its end, in which "
        "every cell and every result was right."
    ),
)
CAUTIONS: Final = (
    (
        "Sell it as what it is: by the name and the memory that it reports now. An "
        "old box, an old sticker or an old listing is still false."
    ),
    (
        "Firmware can be rewritten again. The result holds for this card, in this PC,"
        " on that day: keep this page and test again when it changes hands."
    ),
    (
        "A repaired card has no maker's warranty, and an honest report does not say "
        "how long it will last."
    ),
    (
        "Firmware of another board, even with the same chip, may drive fans, voltages"
        " or outputs wrongly: watch temperatures, and try every socket for a display."
    ),
    (
        "Work on a board's power supply or its sockets is for whoever is licensed to "
        "do electrical work where you are."
    ),
    "This sheet is not signed: it is worth as much as the person who made it.",
)
"""What a customer has to bear in mind."""

ADDED: Final = "with rows added by hand"
NOTHING: Final = "Nothing is different."


def unchanged(count: int) -> str:
    """Return the line that stands for all that stayed as it was."""
    if count == 1:
        return "1 thing is as it was."
    return f"{count} things are as they were."
