"""A run that was stopped so that the card takes no harm: said, and held against nobody.

A worn cooler is no counterfeit, and what was proven before the stop stands. But a card
that could not be tested to the end is not passed either.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.rules._say import find
from reports.record import Finding

_NAME = 200
"""At most so much of the card's name stands before the reason."""


def stop(case: Case) -> tuple[str, str] | None:
    """Return why a guard stopped the run, a clause, and the next step, a sentence."""
    telemetry = case.record.telemetry
    said = telemetry.stopped if telemetry else None
    if not said:
        return None
    said = said.removeprefix(f"{case.record.card.label[:_NAME]}: ")
    what, _, step = said.partition("; ")
    step = f"{step[:1].upper()}{step[1:].rstrip('.')}." if step else ""
    return what.rstrip("."), step


def guarded(case: Case) -> Iterator[Finding]:
    """Tell that the run was stopped to protect the card."""
    told = stop(case)
    if told is None:
        return
    samples = case.record.telemetry.samples if case.record.telemetry else ()
    heats = [one.temperature_c for one in samples if one.temperature_c is not None]
    yield find(
        "guarded",
        "strong",
        "open",
        measured=f"{heats[-1]:.0f} °C" if heats else "stopped",
        envelope="a test that can run to its end",
        sentence=sentence(told[0]),
    )


def sentence(what: str) -> str:
    """Return the clause as a sentence of its own."""
    return f"The test was {what}."
