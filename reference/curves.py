"""How likely a measurement is beside an expectation: two curves over logarithms.

Arithmetic alone; nothing here knows cards. All figures are natural logarithms, so that
a factor of two too much and one of two too little are as far off.
"""

from dataclasses import dataclass
from math import log, pi, sqrt

_LIKELIEST = 0.65
"""Where in a band, on a logarithmic scale, healthy cards gather."""
_EDGES = 1.8
"""Standard deviations from there to either edge."""
_ROOT = sqrt(2 * pi)


@dataclass(frozen=True, slots=True)
class Bell:
    """A bell over a logarithm, with its own width to either side."""

    centre: float
    low: float
    """1 / (2 x variance) below the centre."""
    high: float
    peak: float
    """Logarithm of the density at the centre."""


@dataclass(frozen=True, slots=True)
class Plateau:
    """All values between two logarithms alike, a bell's flank outside."""

    least: float
    most: float
    low: float
    high: float
    peak: float


def bell(low: float, high: float, at: float | None = None) -> Bell:
    """Return the bell whose edges lie at `low` and `high`, both as plain values."""
    first, last = log(low), log(high)
    centre = first + _LIKELIEST * (last - first) if at is None else log(at)
    below, above = (centre - first) / _EDGES, (last - centre) / _EDGES
    return Bell(
        centre, 1 / (2 * below**2), 1 / (2 * above**2),
        log(2 / (_ROOT * (below + above))),
    )  # fmt: skip


def plateau(low: float, high: float, below: float, above: float) -> Plateau:
    """Return the plateau between two plain values, with flanks of these deviations."""
    least, most = log(low), log(max(high, low))
    width = most - least + _ROOT / 2 * (below + above)
    return Plateau(least, most, 1 / (2 * below**2), 1 / (2 * above**2), -log(width))


def moved(bell: Bell, by: float) -> Bell:
    """Return a bell over shares of `by` as one over plain values."""
    return Bell(bell.centre + log(by), bell.low, bell.high, bell.peak)


def on_bell(bell: Bell, value: float, below: float, above: float) -> float:
    """Return the logarithm of the density at a value, never below these floors."""
    away = value - bell.centre
    if away < 0:
        return max(bell.peak - away * away * bell.low, below)
    return max(bell.peak - away * away * bell.high, above)


def on_plateau(flat: Plateau, value: float, floor: float) -> float:
    """Return the logarithm of the density at a value, never below `floor`."""
    if value < flat.least:
        away = value - flat.least
        return max(flat.peak - away * away * flat.low, floor)
    if value > flat.most:
        away = value - flat.most
        return max(flat.peak - away * away * flat.high, floor)
    return flat.peak
