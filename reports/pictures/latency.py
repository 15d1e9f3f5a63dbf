"""The latency curve: the time of a hop against the memory it is taken through.

Both scales are logarithmic. Each plateau is one level of the hierarchy, from a unit's
own cache to the memory; where one ends is marked. Readable without colour.
"""

import math
from typing import Final

from reports.record import CacheLevel, Structure
from reports.svg import element, label, line, number, picture
from reports.units import gib, significant

_WIDTH: Final = 600
_HEIGHT: Final = 200
_LEFT: Final = 52
_RIGHT: Final = 12
_TOP: Final = 14
_BOTTOM: Final = 28
_TICKS: Final = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)
_SIZES: Final = tuple(4096 << (2 * step) for step in range(14))
_FEWEST: Final = 3


def latency_curve(structure: Structure) -> str | None:
    """Return the curve as SVG; None where too few points were taken."""
    points = [
        (each.footprint_bytes, each.hop_ns)
        for each in structure.latencies
        if each.footprint_bytes > 0 and each.hop_ns > 0
    ]
    if len(points) < _FEWEST:
        return None
    across = _Axis([size for size, _ in points], _LEFT, _WIDTH - _RIGHT)
    up = _Axis([ns for _, ns in points], _HEIGHT - _BOTTOM, _TOP, room=0.08)
    parts = [*_grid(across, up)]
    for level in structure.levels:
        if level.reaches_bytes and across.holds(level.reaches_bytes):
            x = across.place(level.reaches_bytes)
            parts.append(line(x, _TOP, x, _HEIGHT - _BOTTOM, "mark"))
            words = gib(level.reaches_bytes)
            parts.append(label(x - 3, _TOP + 8, words, "small", "end"))
    path = " ".join(
        f"{number(across.place(size))},{number(up.place(ns))}" for size, ns in points
    )
    parts.append(
        element(
            "polyline",
            points=path,
            fill="none",
            stroke="currentColor",
            stroke_width=1.6,
            class_="accent",
        )
    )
    return picture(
        "latency",
        "Latency of memory",
        describe(structure.levels),
        *parts,
        viewBox=f"0 0 {_WIDTH} {_HEIGHT}",
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


def _grid(across: _Axis, up: _Axis) -> list[str]:
    parts = []
    for tick in _TICKS:
        if up.holds(tick):
            y = up.place(tick)
            parts.append(line(_LEFT, y, _WIDTH - _RIGHT, y, "faint"))
            parts.append(label(_LEFT - 6, y + 3, f"{tick} ns", "small", "end"))
    for size in _SIZES:
        if across.holds(size):
            x = across.place(size)
            parts.append(line(x, _TOP, x, _HEIGHT - _BOTTOM, "faint"))
            words = gib(size).replace(".00", "").replace(".0", "")
            parts.append(label(x, _HEIGHT - 12, words, "small", "middle"))
    return parts
