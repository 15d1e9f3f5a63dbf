"""The clocks that both records saw beside one phase: what explains a difference."""

from collections.abc import Callable
from statistics import median
from typing import Literal

from reference.repaired.view import View
from reports.record import Sample

Domain = Literal["core", "memory"]
NOTABLE = 0.05
"""Share by which a clock differs before it is worth a word."""
_READ: dict[Domain, Callable[[Sample], float | None]] = {
    "core": lambda one: one.core_mhz,
    "memory": lambda one: one.memory_mhz,
}


def ends(
    before: View, after: View, phase: str, domain: Domain
) -> tuple[float, float] | None:
    """Return the median clocks, MHz, beside a phase; None where one was not read."""
    old, new = (_median(view, phase, domain) for view in (before, after))
    return (old, new) if old and new else None


def note(domain: Domain, clocks: tuple[float, float]) -> str:
    """Return both in words."""
    return f"Its {domain} ran at {clocks[0]:.0f} MHz, now at {clocks[1]:.0f}."


def core_note(before: View, after: View, phase: str) -> str:
    """Return that the core's clock differs; empty where it does not, or is unknown."""
    found = ends(before, after, phase, "core")
    if found is None or abs(found[1] / found[0] - 1) <= NOTABLE:
        return ""
    return note("core", found)


def _median(view: View, phase: str, domain: Domain) -> float | None:
    telemetry = view.own.telemetry
    values = [
        value
        for one in (telemetry.samples if telemetry else ())
        if one.phase == phase and (value := _READ[domain](one)) and value > 0
    ]
    return median(values) if values else None
