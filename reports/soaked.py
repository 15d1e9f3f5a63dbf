"""What a soak came to, in the few lines that every rendering shows.

Words alone, clean and for people; which of it counts for or against a card is the
judge's.
"""

from collections.abc import Callable
from dataclasses import dataclass

from reports import words
from reports.lasting import Soak, SoakPoint, Spot
from reports.text import plain
from reports.units import duration, gib, many, moved, percent, quantity, span

LONGEST = 1024
SHOWN = 4
"""Places that are told one by one."""
RISING_SECONDS = 1.5
"""How long clocks may take to rise once the soak has begun."""
_BITS = 32
_CELL_BITS = 4 * _BITS
_FEW = 4
"""Up to so many bits are named one by one."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SoakView:
    """A soak as it is shown."""

    line: str
    """All of it in one line."""
    wrong: tuple[str, ...]
    """Where it was wrong, a line a place."""
    stopped: str | None
    """What ended it before its time."""


def view_of(soak: Soak) -> SoakView:
    """Return the lines of a soak."""
    places = [place_of(spot) for spot in soak.spots[:SHOWN]]
    left = len(soak.spots) - len(places)
    if left > 0:
        or_more = " or more" if soak.more_spots else ""
        places.append(f"{left}{or_more} further places were wrong as well.")
    stopped = None
    if soak.stopped_by:
        stopped = (
            f"Stopped after {duration(soak.seconds)} of "
            f"{duration(soak.asked_seconds)}: {plain(soak.stopped_by, LONGEST)}."
        ).replace("..", ".")
    return SoakView(line=_line(soak), wrong=tuple(places), stopped=stopped)


def place_of(spot: Spot) -> str:
    """Return where, how often and when a place was wrong, as one sentence."""
    when = f"first after {duration(spot.at_seconds)}"
    if spot.temperature_c is not None:
        when += f" at {spot.temperature_c:.0f} °C"
    if spot.core_mhz is not None:
        when += f" and {spot.core_mhz:.0f} MHz"
    if spot.times > 1:
        when += f", last after {duration(spot.last_seconds)}"
    return f"{_where(spot)} {_times(spot)} wrong, {when}."


def steady_clock(point: SoakPoint) -> float | None:
    """Return the clock of a moment under steady load, once it has risen, or None."""
    if point.rate is None or point.at_seconds < RISING_SECONDS:
        return None
    return point.core_mhz


def bits_of(mask: tuple[int, ...]) -> tuple[int, ...]:
    """Return the numbers of the bits set, of the cell's 128."""
    return tuple(
        place * _BITS + bit
        for place, word in enumerate(mask)
        for bit in range(_BITS)
        if word >> bit & 1
    )


def _line(soak: Soak) -> str:
    cells = soak.cells
    proved = [f"{many(soak.checked)} results"]
    if soak.memory_bytes:
        proved.append(f"{moved(soak.memory_bytes)} of memory")
    bad = soak.wrong + (cells.failing + cells.scrambled if cells else 0)
    told = f"Soak, {duration(soak.seconds)}: {' and '.join(proved)} verified"
    parts = [f"{told}, {many(bad) if bad else 'none'} wrong"]
    absent = cells.mirrored + cells.hollow if cells else 0
    if absent and cells:
        share = percent(absent, cells.cells)
        parts.append(f"{share} of the memory read was mirrored or hollow")
    for unit, read in _READINGS:
        ends = _ends(soak.series, read)
        parts += [span(*ends, unit)] if ends else []
    if soak.rate_start and soak.rate_end is not None:
        kept = percent(soak.rate_end, soak.rate_start)
        parts.append(f"{kept} of the rate kept ({quantity(soak.rate_end, 'FLOP/s')})")
    if soak.steps:
        parts.append(f"{soak.steps:,} load steps")
    return "; ".join(parts) + "."


_READINGS: tuple[tuple[str, Callable[[SoakPoint], float | None]], ...] = (
    ("°C", lambda point: point.temperature_c),
    ("MHz", steady_clock),
)
"""What is told as a range."""


def _ends(
    series: tuple[SoakPoint, ...], read: Callable[[SoakPoint], float | None]
) -> tuple[float, float] | None:
    values = [value for point in series if (value := read(point)) is not None]
    return (min(values), max(values)) if values else None


def _where(spot: Spot) -> str:
    if spot.kind == "results":
        name = words.RATE.get(spot.test) or plain(spot.test, LONGEST)
        group = "" if spot.group is None else f", work-group {spot.group}"
        return f"{name}{group}:"
    where = "Memory"
    if spot.first_byte is not None and spot.last_byte is not None:
        where += f" at {span(spot.first_byte, spot.last_byte, 'B')}"
    elif spot.block_bytes is not None:
        where += f" from {gib(spot.block_bytes)} on"
    bits = bits_of(spot.flips.any_mask) if spot.flips else ()
    if not bits or spot.scrambled:
        return f"{where}:"
    if len(bits) > _FEW:
        return f"{where} ({len(bits)} of the cell's {_CELL_BITS} bits):"
    named = ", ".join(map(str, bits))
    return f"{where} ({'bit' if len(bits) == 1 else 'bits'} {named} of the cell):"


def _times(spot: Spot) -> str:
    one = spot.wrong == 1
    if spot.kind == "results":
        what, often = "result" if one else "results", "launch"
    else:
        cell = "a cell" if spot.first_byte == spot.last_byte else "cells"
        what, often = f"{'reading' if one else 'readings'} of {cell}", "walk"
    often = often if spot.times == 1 else _PLURALS[often]
    return f"{spot.wrong:,} {what} in {spot.times:,} {often}"


_PLURALS = {"launch": "launches", "walk": "walks"}
