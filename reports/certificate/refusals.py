"""Which records must not be certified, and why. Pure; all reasons at once."""

from datetime import datetime, timedelta
from typing import Final

from reports import words
from reports.record import Record
from reports.text import plain
from reports.units import moment_of

MAX_AGE_DAYS: Final = 30
"""Oldest record certified unless asked otherwise."""
LONGEST_AGE_DAYS: Final = 3650
SKEW: Final = timedelta(minutes=5)
"""By so much two PCs' clocks may differ."""


def refusals(
    record: Record, now: datetime, max_age_days: int = MAX_AGE_DAYS
) -> tuple[str, ...]:
    """Return why a record is not certified, as sentences; empty: nothing is against it.

    `now` carries its zone.
    """
    return tuple(
        reason
        for reason in (
            _practice(record),
            _unfinished(record),
            _outcome(record),
            _depth(record),
            _incidents(record),
            _soak(record),
            _age(record, now, max_age_days),
        )
        if reason
    )


def _practice(record: Record) -> str:
    return "It is a practice run: no real card was tested." if record.practice else ""


def _unfinished(record: Record) -> str:
    if record.interrupted or any(one.outcome == "interrupted" for one in record.phases):
        return "The test was stopped before its end."
    return ""


def _outcome(record: Record) -> str:
    if record.verdict is None:
        return "It has no verdict."
    if record.verdict.outcome != "as claimed":
        said = words.OUTCOME[record.verdict.outcome][1]
        return f"Its verdict is “{said}”; only “as claimed” is certified."
    return ""


def _depth(record: Record) -> str:
    if record.depth == "quick":
        return "It was tested at quick depth; check again at standard depth or deeper."
    return ""


def _incidents(record: Record) -> str:
    if not record.incidents:
        return ""
    first = words.INCIDENT[record.incidents[0].kind]
    return f"The run was cut off on its way ({first}); check the card again."


def _soak(record: Record) -> str:
    soak = record.soak
    if soak is None:
        return ""
    cells = soak.cells
    if soak.wrong or soak.spots or soak.more_spots:
        return "Under lasting load something came out wrong."
    if cells is not None and cells.intact != cells.cells:
        return "Under lasting load its memory did not keep what was written."
    if soak.stopped_by is not None:
        return f"The soak ended before its time: {plain(soak.stopped_by)}."
    return ""


def _age(record: Record, now: datetime, max_age_days: int) -> str:
    began = moment_of(record.started)
    if began is None:
        return "It does not say when the card was tested."
    age = now - began
    if age < -SKEW:
        return (
            f"It says it was made at {began:%Y-%m-%d %H:%M} UTC, which is still to "
            "come by this PC's clock; set the clock right."
        )
    if age > timedelta(days=max_age_days):
        return (
            f"It is {age.days} days old, and {max_age_days} are allowed; check the "
            "card again, or allow more with --max-age."
        )
    return ""
