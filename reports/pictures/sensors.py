"""Sensor readings as small lines over the time of the run, its phases shaded in turn.

One line a sensor, all on the same time axis; phases are numbered and named in the key.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from reports import words
from reports.record import Sample, Telemetry
from reports.summary import clean
from reports.svg import box, element, label, line, number, picture, share
from reports.units import duration, link_rate, link_words, quantity, span

_HEIGHT: Final = 64
_STRIP: Final = 16
"""Below the lines, where phases carry their numbers."""
_FOOT: Final = 12
"""Height of the ticks at the foot."""
_CALM: Final = 0.08
"""Share of a value left free above and below, so that a steady line looks steady."""
_UNITS: Final = 1000
"""Width of the inner drawing, which stretches to the page."""
_LEAST_BAND: Final = 0.05
"""Share of the width under which a phase gets no number."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """One phase's stretch of the time axis, as shares of it."""

    number: int
    name: str
    start: float
    end: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One sensor's picture and what stands beside it."""

    title: str
    figures: str
    svg: str


_Reading = Callable[[Sample], float | None]
_SENSORS: Final[tuple[tuple[str, str, str, _Reading], ...]] = (
    ("temperature", "Temperature", "°C", lambda sample: sample.temperature_c),
    ("core", "Core clock", "MHz", lambda sample: sample.core_mhz),
    ("memory", "Memory clock", "MHz", lambda sample: sample.memory_mhz),
    ("power", "Power", "W", lambda sample: sample.power_w),
    ("fan", "Fan", "%", lambda sample: sample.fan_percent),
    (
        "link",
        "Link to the PC",
        "B/s",
        lambda sample: link_rate(sample.link_generation, sample.link_width),
    ),
)


def bands_of(telemetry: Telemetry) -> tuple[Band, ...]:
    """Return the run's phases as far as readings were taken in them."""
    samples = sorted(telemetry.samples, key=lambda sample: sample.at_seconds)
    start, width = _extent(samples)
    bands: list[Band] = []
    for sample in samples:
        name = words.RATE.get(sample.phase) or clean(sample.phase)
        place = (sample.at_seconds - start) / width
        if bands and bands[-1].name == name:
            continue
        if bands:
            last = bands.pop()
            bands.append(
                Band(number=last.number, name=last.name, start=last.start, end=place)
            )
        bands.append(Band(number=len(bands) + 1, name=name, start=place, end=1.0))
    return tuple(bands)


def sensor_lines(telemetry: Telemetry) -> tuple[Line, ...]:
    """Return a picture for every sensor that gave a reading."""
    samples = sorted(telemetry.samples, key=lambda sample: sample.at_seconds)
    bands = bands_of(telemetry)
    limits = {"temperature": telemetry.slowdown_c, "power": telemetry.power_limit_w}
    return tuple(
        trace(
            f"sensor-{ident}",
            title,
            unit,
            [(s.at_seconds, read(s)) for s in samples],
            bands,
            limits.get(ident),
            figures=link_figures(samples) if ident == "link" else None,
        )
        for ident, title, unit, read in _SENSORS
        if any(read(sample) is not None for sample in samples)
    )


def link_figures(samples: list[Sample]) -> str:
    """Return what the link ran at: at rest and at work where its speed alone changed.

    `PCIe 1.0 x16 at rest, 3.0 x16 at work`; 15.8 GB/s each way at best.
    """
    seen = {
        (rate, sample.link_generation or 0, sample.link_width or 0)
        for sample in samples
        if (rate := link_rate(sample.link_generation, sample.link_width)) is not None
    }
    least, most = min(seen), max(seen)
    best = f"PCIe {link_words(*most[1:])}"
    if len(seen) == 1:
        told = best
    elif len({width for _, _, width in seen}) == 1:
        told = f"PCIe {link_words(*least[1:])} at rest, {link_words(*most[1:])} at work"
    else:
        told = f"between PCIe {link_words(*least[1:])} and {link_words(*most[1:])}"
    return f"{told}: {quantity(most[0], 'B/s')} each way"


def trace(  # noqa: PLR0913  what a picture shows, each by its name
    ident: str,
    title: str,
    unit: str,
    points: list[tuple[float, float | None]],
    bands: tuple[Band, ...] = (),
    limit: float | None = None,
    marks: tuple[float, ...] = (),
    *,
    joined: bool = False,
    figures: str | None = None,
) -> Line:
    """Return one line over time: seconds and values, of which one at least is there.

    `marks` are seconds at which something was wrong: ticks at the picture's foot.
    `joined` draws on where values are missing in between. `figures` stand beside it
    instead of its least and most.
    """
    values = [value for _, value in points if value is not None]
    low, high = min(values), max(values)
    top = max(high, limit) if limit is not None else high
    bottom, top = _room(low, top)
    figures = figures or span(low, high, unit)
    if limit is not None:
        figures += f" (limit {span(limit, limit, unit)})"

    def height(value: float) -> float:
        return 2 + (_HEIGHT - 4) * (top - value) / (top - bottom)

    start = points[0][0]
    width = (points[-1][0] - start) or 1.0
    scaled = [
        None if value is None else (_UNITS * (at - start) / width, height(value))
        for at, value in points
        if value is not None or not joined
    ]
    parts = [*_shades(bands)]
    if limit is not None:
        at = height(limit)
        parts.append(line("0%", at, "100%", at, "limit"))
    for moment in marks:
        at_share = share((moment - start) / width)
        parts.append(line(at_share, _HEIGHT - _FOOT, at_share, _HEIGHT, "wrong"))
    parts.append(
        element(
            "svg",
            *_strokes(scaled),
            viewBox=f"0 0 {_UNITS} {_HEIGHT}",
            width="100%",
            height=_HEIGHT,
            preserveAspectRatio="none",
        )
    )
    told = f"{figures} over {duration(points[-1][0] - start)}"
    if bands:
        told += f" and {len(bands)} phases"
    if marks:
        told += f"; {len(marks)} moments at which something was wrong"
    return Line(
        title=title,
        figures=figures,
        svg=picture(
            ident,
            f"{title} over time",
            f"{told}.",
            *parts,
            width="100%",
            height=_HEIGHT + (_STRIP if bands else 0),
            class_="sensor",
        ),
    )


def _shades(bands: tuple[Band, ...]) -> list[str]:
    parts = []
    for band in bands:
        width = band.end - band.start
        if band.number % 2 == 0:
            parts.append(box(share(band.start), 0, share(width), _HEIGHT, "shade"))
        if width >= _LEAST_BAND:
            middle = share(band.start + width / 2)
            parts.append(
                label(middle, _HEIGHT + 12, str(band.number), "small", "middle")
            )
    return parts


def _strokes(points: list[tuple[float, float] | None]) -> list[str]:
    """Return one stroke for each unbroken run of readings."""
    strokes = []
    run: list[tuple[float, float]] = []
    for point in [*points, None]:
        if point is not None:
            run.append(point)
        elif run:
            if len(run) == 1:
                run.append((run[0][0] + 2, run[0][1]))
            path = " ".join(f"{number(x)},{number(y)}" for x, y in run)
            strokes.append(
                element(
                    "polyline",
                    points=path,
                    fill="none",
                    stroke="currentColor",
                    vector_effect="non-scaling-stroke",
                    class_="trace",
                )
            )
            run = []
    return strokes


def _room(low: float, high: float) -> tuple[float, float]:
    """Return the ends of the value axis: never of no height."""
    margin = max((high - low) * 0.08, abs(high) * _CALM, 1.0)
    return low - margin, high + margin


def _extent(samples: list[Sample]) -> tuple[float, float]:
    if not samples:
        return 0.0, 1.0
    start = samples[0].at_seconds
    return start, (samples[-1].at_seconds - start) or 1.0
