"""What comparing a card's record before a repair with the one after it came to: types.

JSON-able, frozen, and nothing is decided or formatted here. Texts are those of records
and may be hostile; whoever shows them cleans them.
"""

from typing import Literal

import msgspec

from reports.base import Base, Few, Positive, Real, Text
from reports.record import Depth, Verdict
from reports.text import inert
from reports.uses import Use

SCHEMA: Literal[1] = 1

Became = Literal[
    "became honest",
    "still wrong",
    "got worse",
    "better",
    "changed",
    "unchanged",
    "only before",
    "only after",
]
"""became honest: it was wrong, and is right now. changed: another value, and neither
better nor worse."""
Part = Literal["claims", "memory", "chip", "rates", "lasting", "further", "findings"]
Outcome = Literal["honest now", "not yet"]
Match = Literal["fits", "differs", "unknown"]
Steadiness = Literal["stable", "failed", "cut short", "not tested"]


class Row(Base, frozen=True, kw_only=True):
    """One thing in both records. None: that record does not tell of it."""

    part: Part
    title: Text
    by: Text = ""
    """Which layers say so."""
    before: Text | None = None
    after: Text | None = None
    became: Became
    decides: bool = False
    """Whether the verdict rests on it."""
    note: Text = ""
    """Why, where that was seen."""


class Reason(Base, frozen=True, kw_only=True):
    """Why the card is not called honest now, and the one next step."""

    sentence: Text
    step: Text
    wrong: bool
    """True: something is wrong. False: not enough was tested to say."""


class Side(Base, frozen=True, kw_only=True):
    """One of the two records, in short."""

    sha256: Text | None = None
    """Of its stored bytes; None: they were not given."""
    label: Text
    started: Text
    depth: Depth
    practice: bool
    practice_condition: Text | None = None
    program_version: Text
    table_version: Text | None = None
    """Of the table that judged it at the time."""
    sold_as: Text | None = None
    reported_as: Text | None = None
    chip: Text | None = None
    """What it is by everything measured."""
    verdict: Verdict | None = None
    """Today's table, held against its listing where it has one."""
    own_verdict: Verdict | None = None
    """The same without the listing: as claimed for what it reports itself."""


class Stability(Base, frozen=True, kw_only=True):
    """How the card lasted under load, after the repair."""

    state: Steadiness
    seconds: Positive = 0.0
    hottest_c: Real | None = None
    sentence: Text
    step: Text = ""


class Compared(Base, frozen=True, kw_only=True):
    """What became of a card between two records."""

    schema: Literal[1] = SCHEMA
    practice: bool
    """Whether either is of a simulated card."""
    table_version: Text
    table_sha256: Text
    added_rows: bool = False
    """Whether somebody added rows to the table for this comparison."""
    outcome: Outcome
    settled: bool
    """Whether that is the last word on it: False where more has to be tested."""
    sentence: Text
    reasons: Few[Reason] = ()
    """Why it is not called honest now: what is wrong first. Empty where it is."""
    remarks: Few[Text] = ()
    same_card: Match
    """Whether both can be records of one card, by what was measured."""
    stability: Stability
    before: Side
    after: Side
    uses: Few[Use] = ()
    """What it is good for now, by what was measured after the repair."""
    rows: tuple[Row, ...] = ()
    """Everything beside each other, what decides first."""


def encode_compared(compared: Compared) -> bytes:
    """Return the comparison as indented JSON."""
    return inert(msgspec.json.format(msgspec.json.encode(compared), indent=1)) + b"\n"
