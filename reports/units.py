"""Numbers for people: one wording for every size, rate, time and span.

Binary sizes as GiB, rates with decimal prefixes, three significant figures. Decides
nothing and knows no record; raw values stay raw elsewhere.
"""

import math
from datetime import UTC, datetime
from functools import lru_cache
from typing import Literal

_KIB = 1024
_STEPS = ((_KIB**3, "GiB"), (_KIB**2, "MiB"), (_KIB, "KiB"))
_PREFIXES = ((1e12, "T"), (1e9, "G"), (1e6, "M"), (1e3, "k"))
RateUnit = Literal["FLOP/s", "op/s", "B/s"]
RATE_UNITS: dict[str, RateUnit] = {
    "fp32": "FLOP/s",
    "fp64": "FLOP/s",
    "fp16": "FLOP/s",
    "int32": "op/s",
    "transcendental": "op/s",
    "memory_read": "B/s",
    "memory_write": "B/s",
    "memory_copy": "B/s",
    "local_memory": "B/s",
    "link_up": "B/s",
    "link_down": "B/s",
}
"""What each rate is counted in, by the rate's name."""
_RATES = {"FLOP/s": "FLOP/s", "op/s": " op/s", "B/s": "B/s"}
_GIGABYTES_UNTIL = 1e13
"""Bandwidths stay in GB/s up to here: memory is compared in GB/s by the trade."""
_LANES = {
    1: 2.5e9 * 8 / 10 / 8,
    2: 5e9 * 8 / 10 / 8,
    3: 8e9 * 128 / 130 / 8,
    4: 16e9 * 128 / 130 / 8,
    5: 32e9 * 128 / 130 / 8,
    6: 64e9 * 242 / 256 / 8,
}
"""Bytes a second and lane, each way, by PCI Express generation: its transfers a second
after line coding (PCI Express Base Specification: 8b/10b, 128b/130b, flits of 256
bytes with 242 of payload and headers; from memory)."""
_MOST_LANES = 32
_FIGURES = 3
_MINUTE = 60
_HOUR = 3600
_SHORT = 10
"""Under this many seconds a duration is worth three figures."""


def significant(value: float, figures: int = _FIGURES) -> str:
    """Return `value` with so many significant figures and never an exponent."""
    rounded = _round(value, figures)
    if not rounded:
        return "0"
    places = figures - 1 - math.floor(math.log10(abs(rounded)))
    return f"{rounded:.{max(places, 0)}f}"


@lru_cache(maxsize=256)
def gib(size_bytes: int) -> str:
    """Return a size as `8.00 GiB`; below one GiB as MiB, KiB or bytes."""
    for step, name in _STEPS:
        if _round(size_bytes / step) >= 1:
            return f"{significant(size_bytes / step)} {name}"
    return f"{size_bytes} bytes" if size_bytes != 1 else "1 byte"


def moved(size_bytes: int) -> str:
    """Return an amount of data that went by: as a size, but `1.20 TiB` and `3.41 PiB`.

    A card's memory stays in GiB, whatever its size (`gib`).
    """
    for step, name in ((_KIB**5, "PiB"), (_KIB**4, "TiB")):
        if _round(size_bytes / step) >= 1:
            return f"{significant(size_bytes / step)} {name}"
    return gib(size_bytes)


def many(count: int) -> str:
    """Return a count in words where it is too long to read: `4.10 trillion`."""
    for step, name in ((10**12, "trillion"), (10**9, "billion"), (10**6, "million")):
        if _round(count / step) >= 1:
            return f"{significant(count / step)} {name}"
    return f"{count:,}"


def quantity(value: float, unit: str) -> str:
    """Return a value with its unit, as `64.8 TFLOP/s`, `256 GB/s`, `61.0 °C`.

    `B` is a size and becomes GiB, `s` a duration, the empty unit a plain count.
    """
    if unit == "B":
        return gib(round(value))
    if unit == "s":
        return duration(value)
    if not unit:
        return _count(value)
    scale, name = _scaled(value, unit)
    return f"{significant(value / scale)} {name}"


def link_rate(generation: int | None, lanes: int | None) -> float | None:
    """Return bytes a second each way of a PCI Express link; None for none there is."""
    each = _LANES.get(generation or 0)
    if each is None or lanes is None or not 0 < lanes <= _MOST_LANES:
        return None
    return each * lanes


def link_words(generation: int, lanes: int) -> str:
    """Return a link's state as the trade writes it: `3.0 x16`."""
    return f"{generation}.0 x{lanes}"


def span(low: float, high: float, unit: str) -> str:
    """Return a range in the larger end's unit, as `58.9 to 68.2 TFLOP/s`."""
    if unit in {"B", "s"}:
        left, right = quantity(low, unit), quantity(high, unit)
        if left == right:
            return left
        figure, _, name = left.rpartition(" ")
        if f"{figure} {name}".count(" ") == right.count(" ") == 1 and right.endswith(
            f" {name}"
        ):
            left = figure
        return f"{left} to {right}"
    if not unit:
        ends = _count(low), _count(high)
        return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    scale, name = _scaled(high, unit)
    ends = significant(low / scale), significant(high / scale)
    return (
        f"{ends[0]} {name}" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]} {name}"
    )


def duration(seconds: float) -> str:
    """Return a time as `58.6 µs`, `26.1 ms`, `6.21 s`, `1 min 5 s` or `2 h 14 min`."""
    if seconds <= 0:
        return "0 s"
    rounded = _round(seconds)
    for limit, scale, name in ((1e-3, 1e6, "µs"), (1.0, 1e3, "ms"), (_SHORT, 1, "s")):
        if rounded < limit:
            return f"{significant(seconds * scale)} {name}"
    whole = round(seconds)
    if whole < _MINUTE:
        return f"{whole} s"
    if whole < _HOUR:
        minutes, rest = divmod(whole, _MINUTE)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, minutes = divmod(round(seconds / _MINUTE), _MINUTE)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def percent(part: float, whole: float) -> str:
    """Return a share as `75.0 %`; never 100 % or 0 % unless it is exactly that."""
    if not whole or part <= 0:
        return "0 %"
    if part >= whole:
        return "100 %"
    share = 100.0 * part / whole
    if share < 0.01:  # noqa: PLR2004 - where a plain figure stops saying anything
        return "under 0.01 %"
    text = significant(share)
    return f"{text} %" if float(text) < 100 else "over 99.9 %"  # noqa: PLR2004


def _round(value: float, figures: int = _FIGURES) -> float:
    if not value or not math.isfinite(value):
        return 0.0
    return round(value, figures - 1 - math.floor(math.log10(abs(value))))


def _count(value: float) -> str:
    return str(round(value)) if value == round(value) else significant(value)


def _scaled(value: float, unit: str) -> tuple[float, str]:
    if unit not in _RATES:
        return 1.0, unit
    for scale, prefix in _PREFIXES:
        least = _GIGABYTES_UNTIL if (unit, prefix) == ("B/s", "T") else scale
        if _round(abs(value)) >= least:
            return scale, prefix + _RATES[unit]
    return 1.0, unit


def moment_of(text: str) -> datetime | None:
    """Return when a record says it was begun; None where that is no moment."""
    try:
        moment = datetime.fromisoformat(text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)
    except (ValueError, OverflowError):
        return None
