"""Raw figures of what was measured of the chip and under lasting load, as tables."""

from reports import words
from reports.lasting import Soak
from reports.record import Structure
from reports.summary import clean
from reports.tables import COUNTS, NONE, Table, counts, pairs, shown


def structure(built: Structure) -> tuple[Table, ...]:
    """Return what time told of the chip: its figures, staircase, levels and curve."""
    steps = Table(
        title="Staircase of units",
        heads=("Work-groups at once", "Time, µs"),
        rows=tuple(
            (f"{stair.groups:,}", f"{1e6 * stair.seconds:.5g}")
            for stair in built.stairs
        ),
    )
    curve = Table(
        title="Latency of memory",
        heads=("Memory, bytes", "One hop, ns"),
        rows=tuple(
            (f"{point.footprint_bytes:,}", f"{point.hop_ns:.5g}")
            for point in built.latencies
        ),
    )
    levels = Table(
        title="Levels of memory",
        heads=("Reaches, bytes", "From, bytes", "To, bytes", "One hop, ns"),
        rows=tuple(
            (
                shown(level.reaches_bytes),
                shown(level.low_bytes),
                shown(level.high_bytes),
                f"{level.hop_ns:.5g}",
            )
            for level in built.levels
        ),
    )
    skip = {"stairs", "latencies", "levels"}
    return pairs(built, "How the chip is built", skip=skip), steps, levels, curve


def soaked(soak: Soak) -> tuple[Table, ...]:
    """Return what came of a soak."""
    skip = {"tests", "spots", "series", "cells"}
    tests = Table(
        title="Soak: results",
        heads=("Work", "Launches", "Checked", "Wrong"),
        rows=tuple(
            (
                words.RATE.get(test.name) or clean(test.name) or NONE,
                f"{test.launches:,}",
                f"{test.checked:,}",
                f"{test.wrong:,}",
            )
            for test in soak.tests
        ),
    )
    cells = Table(
        title="Soak: cells read",
        heads=COUNTS,
        rows=(counts(soak.cells),) if soak.cells else (),
    )
    series = Table(
        title="Soak: over time",
        heads=("At, s", "FLOP/s", "Core MHz", "°C", "W", "Wrong"),
        rows=tuple(
            (
                f"{point.at_seconds:.3f}",
                shown(point.rate),
                shown(point.core_mhz),
                shown(point.temperature_c),
                shown(point.power_w),
                f"{point.wrong:,}",
            )
            for point in soak.series
        ),
    )
    return pairs(soak, "Soak", skip=skip), tests, cells, _spots(soak), series


def _spots(soak: Soak) -> Table:
    return Table(
        title="Soak: where it was wrong",
        heads=(
            *("Work", "First, s", "Last, s", "Times", "Wrong", "Scrambled", "Group"),
            *("From byte", "To byte", "Flips", "°C", "MHz"),
        ),
        rows=tuple(
            (
                words.RATE.get(spot.test) or clean(spot.test) or NONE,
                f"{spot.at_seconds:.3f}",
                f"{spot.last_seconds:.3f}",
                f"{spot.times:,}",
                f"{spot.wrong:,}",
                f"{spot.scrambled:,}",
                shown(spot.group),
                shown(spot.first_byte),
                shown(spot.last_byte),
                NONE
                if spot.flips is None
                else " ".join(f"{word:08x}" for word in spot.flips.any_mask),
                shown(spot.temperature_c),
                shown(spot.core_mhz),
            )
            for spot in soak.spots
        ),
    )
