"""What tables of raw figures are made of: the table, and how a value is shown in one.

Everything is text already cleaned. Knows no part of a record but its base.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from reports.base import Base
from reports.summary import clean
from reports.units import duration

NONE = "—"


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """One table: its title, its heads, its rows; `count` says what it holds."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def count(self) -> str:
        return f"{len(self.rows)} {'row' if len(self.rows) == 1 else 'rows'}"


COUNTS = ("Cells", "Intact", "Mirrored", "Hollow", "Failing", "Scrambled")


def counts(found: object) -> tuple[str, ...]:
    """Return how many cells were in which state, in the order of COUNTS."""
    return tuple(
        shown(getattr(found, name.lower(), None)) if found is not None else NONE
        for name in COUNTS
    )


def pairs(part: Base, title: str, skip: Iterable[str] = ()) -> Table:
    """Return the set fields of one part of a record, name and value."""
    left_out = set(skip)
    rows = tuple(
        (name.replace("_", " "), shown(getattr(part, name)))
        for name in part.__struct_fields__
        if name not in left_out and shown(getattr(part, name)) != NONE
    )
    return Table(title=title, heads=("", "Value"), rows=rows)


def shown(value: object) -> str:
    """Return a value in full; NONE for what is absent."""
    match value:
        case None:
            return NONE
        case bool():
            return "yes" if value else "no"
        case int():
            return f"{value:,}"
        case float():
            return f"{value:.6g}"
        case tuple():
            parts = [shown(part) for part in value]
            return ", ".join(text for text in parts if text != NONE) or NONE
        case _:
            return clean(str(value)) or NONE


def joined(*texts: str) -> str:
    """Return the texts that say anything, in one."""
    return "; ".join(filter(None, map(clean, texts))) or NONE


def lasted(seconds: float | None) -> str:
    """Return a time, where there is one."""
    return NONE if seconds is None else duration(seconds)


def milliseconds(seconds: tuple[float, ...]) -> str:
    """Return times in ms, one after another."""
    return ", ".join(f"{1e3 * each:.5g}" for each in seconds) or NONE
