"""The latency curve: the time of a hop against the memory it is taken through.

Both scales are logarithmic. Each plateau is one level of the hierarchy, from a unit's
own cache to the memory; where one ends is marked. Readable without colour. Drawn in
shares of its width, so that words stay readable on a narrow page.
"""

import math
from typing import Final

from reports.record import CacheLevel, Structure
from reports.svg import element, label, line, number, picture, share
from reports.units import gib, significant

_HEIGHT: Final = 206
_TOP: Final = 8
_FLOOR: Final = 172
_INNER: Final = 1000
"""Width of the inner drawing, which stretches to the page."""
_COARSE: Final = (1, 2, 5)
_FINE: Final = (1, 1.5, 2, 3, 4, 5, 7)
_DECADES: Final = range(5)
_SIZES: Final = tuple(4096 << (2 * step) for step in range(14))
_FEWEST: Final = 3
_CLEAR: Final = 16
"""Pixels under the curve's right end that a label needs for itself."""
_EDGE: Final = 0.06


def latency_curve(structure: Structure) -> str | None:
    """Return the curve as SVG; None where too few points were taken."""
    points = [
        (each.footprint_bytes, each.hop_ns)
        for each in structure.latencies
        if each.footprint_bytes > 0 and each.hop_ns > 0
    ]
    if len(points) < _FEWEST:
        return None
    across = _Axis([size for size, _ in points], 0.0, 1.0)
    up = _Axis([ns for _, ns in points], _FLOOR, _TOP, room=0.08)
    parts = [*_heights(up, points[-1][1]), *_sizes(across)]
    parts += _ends(structure.levels, across)
    path = " ".join(
        f"{number(_INNER * across.place(size))},{number(up.place(ns))}"
        for size, ns in points
    )
    curve = element(
        "polyline",
        points=path,
        fill="none",
        stroke="currentColor",
        stroke_width=1.8,
        vector_effect="non-scaling-stroke",
        class_="accent",
    )
    parts.append(
        element(
            "svg",
            curve,
            viewBox=f"0 0 {_INNER} {_HEIGHT}",
            width="100%",
            height=_HEIGHT,
            preserveAspectRatio="none",
        )
    )
    return picture(
        "latency",
        "Latency of memory",
        describe(structure.levels),
        *parts,
        width="100%",
        height=_HEIGHT,
        class_="latency",
    )


def describe(levels: tuple[CacheLevel, ...]) -> str:
    """Return the levels in words."""
    told = []
    for level in levels:
        where = "beyond that"
        if level.reaches_bytes:
            where = f"up to about {gib(level.reaches_bytes)}"
        told.append(f"{significant(level.hop_ns)} ns {where}")
    if not told:
        return "No level of the memory stands out."
    return "A hop takes " + ", ".join(told) + "."


class _Axis:
    """One logarithmic axis from place `start` to place `end`."""

    def __init__(
        self, values: list[float] | list[int], start: float, end: float, room: float = 0
    ) -> None:
        low, high = math.log(min(values)), math.log(max(values))
        more = max(high - low, 0.1) * room
        self.low, self.high = low - more, max(high + more, low + 0.1)
        self.start, self.end = start, end

    def holds(self, value: float) -> bool:
        return self.low <= math.log(value) <= self.high

    def place(self, value: float) -> float:
        share = (math.log(value) - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def _heights(up: _Axis, last: float) -> list[str]:
    """Return faint lines at round times, told at the right, where the curve is high."""
    ticks: list[float] = []
    for steps in (_COARSE, _FINE):
        ticks = [by * 10.0**power for power in _DECADES for by in steps]
        ticks = [tick for tick in ticks if up.holds(tick)]
        if len(ticks) > 1:
            break
    parts = [line("0%", _FLOOR, "100%", _FLOOR, "faint")]
    for tick in ticks:
        y = up.place(tick)
        parts.append(line("0%", y, "100%", y, "faint"))
        if y > up.place(last) + _CLEAR:
            words = f"{tick:g} ns"
            parts.append(label("100%", y - 4, words, "small", "end"))
    return parts


def _sizes(across: _Axis) -> list[str]:
    """Return faint lines at sizes, every other one told."""
    parts = []
    for turn, size in enumerate(_SIZES):
        if not across.holds(size):
            continue
        place = across.place(size)
        parts.append(line(share(place), _TOP, share(place), _FLOOR, "faint"))
        if turn % 2 == 0:
            words = gib(size).replace(".00", "").replace(".0", "")
            at = share(place)
            parts.append(label(at, _FLOOR + 14, words, "small", _anchor(place)))
    words = "memory gone through, at random"
    return [*parts, label("100%", _FLOOR + 29, words, "small", "end")]


def _ends(levels: tuple[CacheLevel, ...], across: _Axis) -> list[str]:
    """Return a mark where each cache ends, with its size."""
    ends = [
        level.reaches_bytes
        for level in levels
        if level.reaches_bytes and across.holds(level.reaches_bytes)
    ]
    parts = []
    for turn, size in enumerate(ends):
        place = across.place(size)
        parts.append(line(share(place), _TOP, share(place), _FLOOR, "mark"))
        near = place < 3 * _EDGE
        parts.append(
            element(
                "text",
                gib(size),
                x=share(place),
                dx=5 if near else -5,
                y=_TOP + 10 + 14 * (turn % 2),
                text_anchor="start" if near else "end",
                class_="label small",
            )
        )
    return parts


def _anchor(place: float) -> str:
    if place < _EDGE:
        return "start"
    return "end" if place > 1 - _EDGE else "middle"
