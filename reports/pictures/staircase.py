"""The staircase of units: time against work-groups that run at once.

Points are what was measured. The line joins only what they bear out: flat between two
that took the same, up between two neighbours of which one took longer. Drawn in shares
of its width, so that words stay readable on a narrow page.
"""

import math
from typing import Final

from reports.record import Genuine, Record, Stair, Structure
from reports.svg import box, element, label, line, number, picture, share
from reports.units import duration, significant

_HEIGHT: Final = 196
_TOP: Final = 26
"""Above it stands what a genuine one shows."""
_FLOOR: Final = 162
_INNER: Final = 1000
"""Width of the inner drawing, which stretches to the page."""
_FEWEST: Final = 3
_MOST: Final = 512
"""No run looks at more points."""
_MOST_UNITS: Final = 1e6
_FLAT: Final = 1.1
"""Times of one flat differ by less than this factor."""
_LEVELS: Final = ("", "twice that", "three times", "four times")
_FARTHEST: Final = 4
"""Beyond so many times what was looked at, a genuine card's step is only told."""
_TICKS: Final = 6
_EDGE: Final = 0.05
_HALF: Final = 0.55
_STEEP: Final = 0.18
"""A first step this near to the left leaves no room for words before it."""


def staircase(record: Record) -> str | None:
    """Return the staircase as SVG; None where too few points were looked at."""
    built = record.structure
    points = _points(built.stairs) if built else []
    if built is None or len(points) < _FEWEST:
        return None
    units = built.units or None
    genuine = _genuine(record.genuine, built, record)
    last = points[-1][0]
    far = genuine is not None and genuine[1] > _FARTHEST * last
    if genuine is not None and not far:
        last = max(last, math.ceil(1.06 * genuine[1] + 1))
    across = _Across(last, logarithmic=units is None)
    flat = min(seconds for _, seconds in points)
    up = _Up(flat, max(seconds for _, seconds in points))
    steep = units is not None and across.place(units + 0.5) < _STEEP
    parts = [*_levels(up, steep=steep), *_ticks(across)]
    if genuine is not None:
        parts += _claimed(genuine, across, up, far=far)
    parts.append(_line(points, across, up))
    if units is not None:
        parts += _steps(built, across, up)
    for groups, seconds in points:
        parts.append(
            element(
                "circle",
                cx=share(across.place(groups)),
                cy=up.place(seconds),
                r=2.4,
                fill="currentColor",
                class_="point",
            )
        )
    return picture(
        "staircase",
        "Staircase of units",
        describe(record),
        *parts,
        width="100%",
        height=_HEIGHT,
        class_="staircase",
    )


def describe(record: Record) -> str:
    """Return in words what the staircase shows; empty where none was climbed."""
    built = record.structure
    points = _points(built.stairs) if built else []
    if built is None or not points:
        return ""
    told = _counted(built, points)
    genuine = _genuine(record.genuine, built, record)
    if genuine is not None:
        told += f" A genuine one (dashed) steps after {_either(genuine)}."
    return told


def _counted(built: Structure, points: list[tuple[int, float]]) -> str:
    flat = duration(min(seconds for _, seconds in points))
    units = built.units
    if not units:
        most = points[-1][0]
        if all(seconds < _FLAT * points[0][1] for _, seconds in points):
            return (
                f"Up to {most:,} work-groups together take no longer than one, "
                f"{flat}: without a step the units cannot be counted."
            )
        return "The units could not be counted."
    low, high = _bounds(built)
    told = f"Up to {low:,} work-groups together take {flat}"
    if low == 1:
        told = f"One work-group takes {flat}"
    times = f" {significant(built.step)} times as long" if built.step else " longer"
    if low == high:
        told += f", one more takes{times}: {_counting(built)} work at a time."
        told = told.replace(": 1 unit work ", ": 1 unit works ")
    else:
        told += f", and somewhere up to {high + 1:,} it takes{times}."
    if built.second_step:
        told += f" With more than twice {low:,} it steps again."
    elif built.second_step is False:
        told += " What comes after is not regular."
    return told


class _Across:
    """Work-groups from left to right, as shares of the width."""

    def __init__(self, last: int, *, logarithmic: bool) -> None:
        self.last = last
        self.logarithmic = logarithmic
        self._low, self._high = self._scaled(0.5), self._scaled(last + 0.5)

    def place(self, groups: float) -> float:
        at = (self._scaled(groups) - self._low) / (self._high - self._low)
        return 0.005 + 0.985 * min(max(at, 0.0), 1.0)

    def ticks(self) -> list[int]:
        if self.logarithmic:
            powers = math.floor(math.log2(self.last))
            each = -(-powers // _TICKS) or 1
            return [1 << power for power in range(0, powers + 1, each)]
        step = 10 ** max(math.floor(math.log10(self.last / _TICKS)), 0)
        step *= next((by for by in (1, 2, 5) if by * step * _TICKS >= self.last), 10)
        return (
            [1, *range(step, self.last + 1, step)]
            if step > 1
            else [*range(1, self.last + 1)]
        )

    def _scaled(self, groups: float) -> float:
        return math.log(groups) if self.logarithmic else float(groups)


class _Up:
    """Time from the floor upwards, in pixels."""

    def __init__(self, flat: float, most: float) -> None:
        self.flat = flat
        self.most = most
        self._top = 1.05 * max(most, 1.25 * flat)

    def place(self, seconds: float) -> float:
        return _FLOOR - (_FLOOR - _TOP) * min(seconds / self._top, 1.0)

    def between(self, step: int) -> float:
        """Return the middle of a step's riser: 1 is the first."""
        return self.place(min((step + 0.5) * self.flat, self.most))


def _points(stairs: tuple[Stair, ...]) -> list[tuple[int, float]]:
    """Return what can be drawn, by number of groups."""
    found = {
        stair.groups: stair.seconds
        for stair in stairs[:_MOST]
        if stair.groups > 0 and stair.seconds > 0
    }
    return sorted(found.items())


def _genuine(
    genuine: Genuine | None, built: Structure, record: Record
) -> tuple[int, int] | None:
    """Return the units of a genuine card of the claimed model, least and most.

    None also where another count was found to be right for it: a unit may hold two
    groups, and drivers count some units in pairs.
    """
    units = built.units
    for envelope in genuine.envelopes if genuine else ():
        if envelope.quantity != "compute_units":
            continue
        low, high = envelope.low, envelope.high
        if not 1 <= low <= high <= _MOST_UNITS:
            return None
        if units is None or low <= units <= high:
            return round(low), round(high)
        agrees = any(
            finding.rule == "counted-units" and finding.bearing == "agrees"
            for finding in record.findings
        )
        return None if agrees else (round(low), round(high))
    return None


def _levels(up: _Up, *, steep: bool) -> list[str]:
    """Return a faint line for each step's height, and the axis."""
    parts = [line("0%", _FLOOR, "100%", _FLOOR, "grid")]
    times = int(min(up.most / up.flat + 0.1, len(_LEVELS)))
    for step, words in enumerate(_LEVELS[: max(times, 1)], start=1):
        y = up.place(step * up.flat)
        parts.append(line("0%", y, "100%", y, "grid"))
        right = steep and not words
        place, anchor = ("100%", "end") if right else ("0%", "start")
        said = words or duration(up.flat)
        parts.append(label(place, y - 6, said, "small halo", anchor))
    return parts


def _ticks(across: _Across) -> list[str]:
    parts = [
        label(share(place), _FLOOR + 14, f"{tick:,}", "small", _anchor(place))
        for tick in across.ticks()
        for place in [across.place(tick)]
    ]
    words = "work-groups at once"
    return [*parts, label("100%", _FLOOR + 29, words, "small", "end")]


def _claimed(
    genuine: tuple[int, int], across: _Across, up: _Up, *, far: bool
) -> list[str]:
    """Return where a genuine card of the claimed model steps: dashed, and told."""
    words = f"a genuine one: {_either(genuine)}"
    level = up.place(up.flat)
    if far:
        told = label("100%", _TOP - 13, f"{words} →", "small", "end")
        return [line("0%", level, "100%", level, "claimed"), told]
    low, high = (across.place(units + 0.5) for units in genuine)
    ends = dict.fromkeys((low, high))
    parts = [line("0%", level, share(low), level, "claimed")]
    if high > low:
        tall = _FLOOR - _TOP + 8
        parts.append(box(share(low), _TOP - 8, share(high - low), tall, "envelope"))
    parts += [line(share(end), _TOP - 8, share(end), _FLOOR, "claimed") for end in ends]
    place, anchor = (low, "start") if low < _HALF else (high, "end")
    return [*parts, label(share(place), _TOP - 13, words, "small", anchor)]


def _line(points: list[tuple[int, float]], across: _Across, up: _Up) -> str:
    """Return the staircase itself, broken where the points leave open how it goes."""
    runs: list[list[tuple[float, float]]] = []
    before: tuple[int, float] | None = None
    for groups, seconds in points:
        y = up.place(seconds)
        ends = [(across.place(groups + half), y) for half in (-0.5, 0.5)]
        if before is not None and _joined(before, (groups, seconds)):
            runs[-1] += ends
        else:
            runs.append(ends)
        before = groups, seconds
    return element(
        "svg",
        *(
            element(
                "polyline",
                points=" ".join(f"{number(_INNER * x)},{number(y)}" for x, y in run),
                fill="none",
                stroke="currentColor",
                vector_effect="non-scaling-stroke",
                class_="stairs",
            )
            for run in runs
        ),
        viewBox=f"0 0 {_INNER} {_HEIGHT}",
        width="100%",
        height=_HEIGHT,
        preserveAspectRatio="none",
    )


def _joined(left: tuple[int, float], right: tuple[int, float]) -> bool:
    """Whether the line leads from one point to the next.

    More groups never take less time: between two that take the same it is flat. A step
    is where it is only between neighbours.
    """
    slower = right[1] / left[1]
    return 1 / _FLAT < slower < _FLAT or (right[0] == left[0] + 1 and slower >= _FLAT)


def _steps(built: Structure, across: _Across, up: _Up) -> list[str]:
    """Return the marks at the first step and at the second, with their counts."""
    low, _ = _bounds(built)
    marked = [(low, 1, _counting(built))]
    if built.second_step:
        marked.append((2 * low, 2, f"twice {low:,}"))
    parts = []
    for groups, step, words in marked:
        if groups >= across.last:
            continue
        place = across.place(groups + 0.5)
        foot = up.place(step * up.flat)
        parts.append(line(share(place), foot, share(place), _FLOOR, "mark"))
        anchor, aside = ("start", 5) if place < _HALF else ("end", -5)
        parts.append(
            element(
                "text",
                words,
                x=share(place),
                dx=aside,
                y=up.between(step) + 4,
                text_anchor=anchor,
                class_="label count",
            )
        )
    return parts


def _bounds(built: Structure) -> tuple[int, int]:
    units = built.units or 0
    low, high = built.units_low or units, built.units_high or units
    return (low, high) if low <= units <= high else (units, units)


def _counting(built: Structure) -> str:
    low, high = _bounds(built)
    if low != high:
        return f"{low:,} to {high:,} units"
    return "1 unit" if low == 1 else f"{low:,} units"


def _either(genuine: tuple[int, int]) -> str:
    low, high = genuine
    if low == high:
        return f"{low:,}"
    return f"{low:,} {'or' if high == low + 1 else 'to'} {high:,}"


def _anchor(place: float) -> str:
    if place < _EDGE:
        return "start"
    return "end" if place > 1 - _EDGE else "middle"
