"""What tables of raw figures are made of: the table, and how a value is shown in one.

Everything is text already cleaned. Knows no part of a record but its base.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reports.base import Base
from reports.summary import clean
from reports.units import duration

if TYPE_CHECKING:
    from collections.abc import Callable

    from markupsafe import Markup

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

    @property
    def body(self) -> "Markup":
        """The rows as HTML, a heading first in each.

        A template would take seconds for those of 65,536 blocks; most of their cells
        say the same as others, and are escaped once.
        """
        from markupsafe import (  # noqa: PLC0415 - start-up: only pages need it
            Markup,
            escape,
        )

        safe = _Escaped(escape)
        rows = [
            f'<tr><th scope="row">{safe[head]}</th>'
            f"{''.join([f'<td>{safe[cell]}</td>' for cell in cells])}</tr>\n"
            for head, *cells in self.rows
        ]
        return Markup("".join(rows))  # noqa: S704 - every cell is escaped


class _Escaped(dict[str, str]):
    """Texts as HTML, each looked at once."""

    def __init__(self, escape: "Callable[[str], Markup]") -> None:
        super().__init__()
        self._escape = escape

    def __missing__(self, text: str) -> str:
        self[text] = made = str(self._escape(text))
        return made


COUNTS = ("Cells", "Intact", "Mirrored", "Hollow", "Failing", "Scrambled")
_COUNTED = tuple(name.lower() for name in COUNTS)


def counts(found: object) -> tuple[str, ...]:
    """Return how many cells were in which state, in the order of COUNTS."""
    told = [getattr(found, name, None) for name in _COUNTED]
    return tuple([NONE if each is None else f"{each:,}" for each in told])


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
