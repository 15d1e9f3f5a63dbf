"""A soak as small lines over its time: rate, clock, temperature, power.

Drawn as the sensors are, all on one axis; a tick stands where something was wrong.
"""

from collections.abc import Callable
from typing import Final

from reports.lasting import Soak, SoakPoint
from reports.pictures.sensors import Line, trace
from reports.record import Telemetry
from reports.soaked import steady_clock

_Reading = Callable[[SoakPoint], float | None]


_LINES: Final[tuple[tuple[str, str, str, _Reading], ...]] = (
    ("rate", "Rate, fp32", "FLOP/s", lambda point: point.rate),
    ("core", "Core clock under steady load", "MHz", steady_clock),
    ("temperature", "Temperature", "°C", lambda point: point.temperature_c),
    ("power", "Power", "W", lambda point: point.power_w),
)


def soak_lines(soak: Soak, telemetry: Telemetry | None) -> tuple[Line, ...]:
    """Return a picture for everything that was read; limits are the telemetry's."""
    points = sorted(soak.series, key=lambda point: point.at_seconds)
    limits = {
        "temperature": telemetry.slowdown_c if telemetry else None,
        "power": telemetry.power_limit_w if telemetry else None,
    }
    marks = tuple(point.at_seconds for point in points if point.wrong)
    return tuple(
        trace(
            f"soak-{ident}",
            title,
            unit,
            [(point.at_seconds, read(point)) for point in points],
            limit=limits.get(ident),
            marks=marks,
            joined=True,
        )
        for ident, title, unit, read in _LINES
        if any(read(point) is not None for point in points)
    )
