"""Range bars: what a genuine card shows as a bracket, what was measured as a tick.

All bars share one logarithmic scale, so a card of another class is seen at once. A bar
is drawn in shares of its width: words stay readable however narrow the page is.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reports.summary import RateRow
from reports.svg import box, element, label, line, picture, share

_HEIGHT: Final = 26
_MIDDLE: Final = _HEIGHT / 2
_PREFIXES: Final = {3: "k", 6: "M", 9: "G", 12: "T", 15: "P"}
_MOST_LABELS: Final = 6


@dataclass(frozen=True, slots=True)
class Scale:
    """Whole decades from `low` to `high`, as powers of ten."""

    low: int
    high: int

    def place(self, value: float) -> float:
        """Return where a positive value lies, 0 (left) to 1 (right)."""
        raw = (math.log10(value) - self.low) / (self.high - self.low)
        return min(max(raw, 0.0), 1.0)


def scale_of(rows: Sequence[RateRow]) -> Scale | None:
    """Return the decades that hold every figure of these rows; None without any."""
    figures = [
        figure
        for row in rows
        for figure in (row.value, row.low, row.high, *(row.genuine or ()))
        if figure is not None and figure > 0
    ]
    if not figures:
        return None
    low = math.floor(math.log10(min(figures)))
    high = math.ceil(math.log10(max(figures)))
    return Scale(low, max(high, low + 1))


def rate_axis(scale: Scale) -> str:
    """Return the scale's labels, one a decade or fewer."""
    step = -(-(scale.high - scale.low) // _MOST_LABELS)
    parts = []
    for decade in range(scale.low, scale.high + 1, step):
        place = (decade - scale.low) / (scale.high - scale.low)
        anchor = "start" if not place else "end" if place > 0.99 else "middle"  # noqa: PLR2004 - the last one
        parts.append(label(share(place), 11, _decade(decade), "small", anchor))
    return element(
        "svg",
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        width="100%",
        height=16,
        class_="axis",
        aria_hidden="true",
    )


def rate_bar(row: RateRow, scale: Scale, ident: str) -> str:
    """Return one rate's bar."""
    parts = [
        line(share(place), 3, share(place), _HEIGHT - 3, "grid")
        for place in _decades(scale)
    ]
    parts.append(line("0%", _MIDDLE, "100%", _MIDDLE, "grid"))
    if row.genuine is not None:
        left, right = (scale.place(end) for end in row.genuine)
        parts += [
            box(share(left), 5, share(right - left), _HEIGHT - 10, "envelope"),
            line(share(left), 4, share(left), _HEIGHT - 4, "bracket"),
            line(share(right), 4, share(right), _HEIGHT - 4, "bracket"),
        ]
    if row.value is not None and row.value > 0:
        if row.low and row.high:
            ends = share(scale.place(row.low)), share(scale.place(row.high))
            parts.append(line(ends[0], _MIDDLE, ends[1], _MIDDLE, "spread"))
        at = share(scale.place(row.value))
        parts.append(
            line(at, 1, at, _HEIGHT - 1, "tick outside" if row.outside else "tick")
        )
    return picture(
        ident,
        row.title,
        _in_words(row),
        *parts,
        width="100%",
        height=_HEIGHT,
        class_="bar",
    )


def _decades(scale: Scale) -> list[float]:
    width = scale.high - scale.low
    return [step / width for step in range(width + 1)]


def _decade(power: int) -> str:
    if not min(_PREFIXES) <= power < max(_PREFIXES) + 3:
        return f"10^{power}"
    base = power - power % 3
    return f"{10 ** (power - base)} {_PREFIXES[base]}"


def _in_words(row: RateRow) -> str:
    genuine = (
        f"A genuine card shows {row.genuine_text}."
        if row.genuine_text
        else "No genuine range is known."
    )
    measured = f"Measured: {row.text}." if row.value is not None else f"{row.text}."
    return f"{measured} {genuine} {row.outside}".strip()
