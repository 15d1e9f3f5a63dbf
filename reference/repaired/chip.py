"""How the chip is built, before and after: firmware changes nothing of it.

So nothing here is better or worse. A latency, or the time of a step, moves with the
clock, which an honest firmware may set lower.
"""

from collections.abc import Callable, Iterator

from reference.repaired.clocks import core_note
from reference.repaired.rows import by_presence, near, told
from reference.repaired.silicon import Silicon
from reference.repaired.view import View
from reference.rules._say import named
from reports.compared.value import Became, Row
from reports.record import Structure
from reports.units import significant

BAND = 0.10
"""Share by which lanes times cycles, or a step's time, differ between two runs."""
LATENCY_BAND = 0.15
"""The same of a latency: the knees between plateaus are not sharp."""


def chip_rows(before: View, after: View) -> Iterator[Row]:
    """Return the chip by everything measured, its units, widths, steps and caches."""
    yield from _identity(before, after)
    old, new = before.own.structure, after.own.structure
    if old is None and new is None:
        return
    for title, field in (
        ("Units that run at a time", "units"),
        ("Work-items that step together", "warp_width"),
        ("Work-groups on a unit", "resident_groups"),
    ):
        first, last = (_text(getattr(one, field, None)) for one in (old, new))
        if first or last:
            yield told("chip", title, (first, last))
    clock = core_note(before, after, "fp32")
    for title, field, unit in (
        ("Lanes times clocks of a step", "lane_cycles", ""),
        ("A dependent step", "link_ns", " ns"),
    ):
        figures = getattr(old, field, None), getattr(new, field, None)
        if figures != (None, None):
            yield near(
                "chip", title, figures,
                _in(unit),
                band=BAND, note=clock if unit else "",
            )  # fmt: skip
    yield from _levels(old or Structure(), new or Structure(), clock)


def _identity(before: View, after: View) -> Iterator[Row]:
    old, new = Silicon(before.case).candidate, Silicon(after.case).candidate
    if old is None and new is None:
        return
    alike = old and new and {old.chip, *old.twins} & {new.chip, *new.twins}
    became: Became = "unchanged" if alike else by_presence(old, new)
    yield Row(
        part="chip",
        title="Chip, by everything measured",
        before=named(old) if old else None,
        after=named(new) if new else None,
        became=became,
        decides=True,
    )


def _levels(old: Structure, new: Structure, clock: str) -> Iterator[Row]:
    """Compare the plateaus of both latency curves, the nearest first."""
    if len(old.levels) != len(new.levels):
        first, last = (_text(len(one.levels) or None) for one in (old, new))
        yield told("chip", "Levels of its memory", (first, last))
        return
    count = len(old.levels)
    for place, (one, other) in enumerate(zip(old.levels, new.levels, strict=True), 1):
        yield near(
            "chip",
            "A hop to its memory" if place == count else f"A hop to cache {place}",
            (one.hop_ns, other.hop_ns),
            _in(" ns"),
            band=LATENCY_BAND,
            note=clock,
        )


def _in(unit: str) -> Callable[[float], str]:
    return lambda value: f"{significant(value)}{unit}"


def _text(value: int | None) -> str | None:
    return None if value is None else str(value)
