"""Sample soaks: a clean one, and ways in which one may end. All figures invented."""

from msgspec.structs import replace

from reports.lasting import Soak, SoakPoint, SoakTest, Spot
from reports.record import CellCounts, Flips

GIB = 2**30
TIB = 2**40


def series(top_c=78.0, low_c=64.0, drop=0.98, count=60, seconds=600.0):
    """Points of a card that warms up; every tenth is one of rest."""
    return tuple(
        SoakPoint(
            at_seconds=seconds * (turn + 1) / count,
            rate=None if turn % 10 == 9 else 6.2e12 * (1 - (1 - drop) * turn / count),
            core_mhz=300.0 if turn % 10 == 9 else 1823.0 - 40.0 * turn / count,
            temperature_c=top_c - (top_c - low_c) * 0.9**turn,
            power_w=10.0 if turn % 10 == 9 else 148.0,
        )
        for turn in range(count)
    )


def clean():
    """Ten minutes, nothing wrong."""
    cells = 6 * TIB // 5 // 16
    return Soak(
        asked_seconds=600.0,
        seconds=600.02,
        launches=20_000,
        checked=4_100_000_000_000,
        tests=(
            SoakTest(name="fp32", launches=18_000, checked=4_000_000_000_000),
            SoakTest(name="int32", launches=2_000, checked=100_000_000_000),
        ),
        steps=225,
        held_bytes=8 * GIB - 64 * 2**20,
        memory_bytes=cells * 16,
        passes=154,
        cells=CellCounts(cells=cells, intact=cells),
        series=series(),
        rate_start=6.2e12,
        rate_end=0.98 * 6.2e12,
    )


def with_tests(soak, **wrong):
    """The same soak with so many wrong results of each kind."""
    tests = tuple(replace(one, wrong=wrong.get(one.name, 0)) for one in soak.tests)
    return replace(soak, tests=tests, wrong=sum(one.wrong for one in tests))


def with_cells(soak, **wrong):
    """The same soak with so many readings of cells wrong."""
    counts = CellCounts(
        cells=soak.cells.cells, intact=soak.cells.cells - sum(wrong.values()), **wrong
    )
    return replace(soak, cells=counts)


RESULTS = Spot(
    kind="results",
    test="fp32",
    at_seconds=200.0,
    last_seconds=580.0,
    times=3,
    wrong=12,
    group=37,
    temperature_c=78.0,
    core_mhz=1797.0,
)
MEMORY = Spot(
    kind="memory",
    test="turn",
    at_seconds=120.0,
    last_seconds=590.0,
    times=40,
    wrong=40,
    block_bytes=5 * GIB // 2,
    first_byte=3_135_037_712,
    last_byte=3_135_037_712,
    flips=Flips(
        any_mask=(0, 1 << 14, 0, 0),
        all_mask=(0, 1 << 14, 0, 0),
        first_byte=3_135_037_712,
        last_byte=3_135_037_712,
    ),
    temperature_c=76.0,
)


def computing_wrong():
    return replace(with_tests(clean(), fp32=12), spots=(RESULTS,))


def failing_when_hot():
    return replace(with_cells(clean(), failing=40), spots=(MEMORY,))
