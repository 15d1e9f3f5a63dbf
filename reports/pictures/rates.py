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
_LEAST: Final = 1.2
"""Decades that a scale spans at least."""
_EDGE: Final = 0.06


@dataclass(frozen=True, slots=True)
class Scale:
    """A logarithmic scale; its ends are powers of ten, not always whole ones."""

    low: float
    high: float

    def place(self, value: float) -> float:
        """Return where a positive value lies, 0 (left) to 1 (right)."""
        return self.share(math.log10(value))

    def share(self, power: float) -> float:
        """Return where ten to this power lies."""
        raw = (power - self.low) / (self.high - self.low)
        return min(max(raw, 0.0), 1.0)

    @property
    def decades(self) -> range:
        """The whole powers of ten on the scale."""
        return range(math.ceil(self.low), math.floor(self.high) + 1)


def scale_of(rows: Sequence[RateRow]) -> Scale | None:
    """Return the scale that holds every figure of these rows; None without any."""
    figures = [
        math.log10(figure)
        for row in rows
        for figure in (row.value, row.low, row.high, *(row.genuine or ()))
        if figure is not None and figure > 0
    ]
    if not figures:
        return None
    low, high = min(figures), max(figures)
    middle, half = (low + high) / 2, max((high - low) * 0.53, _LEAST / 2)
    return Scale(middle - half, middle + half)


def rate_axis(scale: Scale) -> str:
    """Return the scale's labels, one a decade or fewer."""
    step = -(-len(scale.decades) // _MOST_LABELS)
    parts = [
        label(share(place), 11, _decade(decade), "small", _anchor(place))
        for decade in scale.decades[:: max(step, 1)]
        for place in [scale.share(decade)]
    ]
    return element(
        "svg",
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        width="100%",
        height=16,
        class_="axis",
        aria_hidden="true",
    )


def _anchor(place: float) -> str:
    """Return how a label hangs so that it stays on the scale."""
    if place < _EDGE:
        return "start"
    return "end" if place > 1 - _EDGE else "middle"


def rate_bar(row: RateRow, scale: Scale, ident: str) -> str:
    """Return one rate's bar."""
    parts = [
        line(share(place), 6, share(place), _HEIGHT - 6, "grid")
        for place in map(scale.share, scale.decades)
    ]
    parts.append(line("0%", _MIDDLE, "100%", _MIDDLE, "grid"))
    if row.genuine is not None:
        left, right = (scale.place(end) for end in row.genuine)
        parts += [
            box(share(left), 5, share(right - left), _HEIGHT - 10, "envelope"),
            _bracket(left, 1),
            _bracket(right, -1),
        ]
    if row.value is not None and row.value > 0:
        if row.low and row.high:
            ends = share(scale.place(row.low)), share(scale.place(row.high))
            parts.append(line(ends[0], _MIDDLE, ends[1], _MIDDLE, "spread"))
        at = share(scale.place(row.value))
        parts.append(
            line(at, 1, at, _HEIGHT - 1, "tick below" if row.below else "tick")
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


def _bracket(place: float, inward: int) -> str:
    """Return one end of a bracket: a stem with two feet that point inward."""
    feet = f"M{4 * inward} 4H0V{_HEIGHT - 4}H{4 * inward}"
    stem = element("path", d=feet, fill="none", stroke="currentColor", class_="bracket")
    return element("svg", stem, x=share(place), overflow="visible")


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
    outside = f"It lies {row.outside}." if row.outside else ""
    return f"{measured} {genuine} {outside}".strip()
