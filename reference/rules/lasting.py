"""How the card lasted under load: wrong results, wrong cells, and the rate it kept.

A soak says whether a card works, never what card it is: nothing here contradicts a
claim. Heat explains a slower rate. Memory that is not there cannot fail; the capacity
proof tells of it.
"""

from collections.abc import Iterator

from reference.case import Case
from reference.rules._say import find
from reference.rules.memory import FOREIGN, memory_bits
from reports.lasting import Soak, SoakTest
from reports.record import Bearing, CellCounts, Finding, Sample, Strength
from reports.soaked import place_of
from reports.units import duration, many, moved, percent, quantity

KEPT = 0.90
"""Share of the first rate below which the drop is worth a word: boost clocks fall by a
few percent as any card warms up."""
NEAR_SLOWDOWN_C = 3.0
SOAK = "soak"
"""The phase that a soak's sensor readings belong to."""
_HEAT = "thermal"
_POWER = "power"


def soak(case: Case) -> Iterator[Finding]:
    """Judge what a soak came to."""
    soaked = case.record.soak
    if soaked is None:
        return
    wrong = [*_results(soaked), *_memory(case, soaked)]
    yield from wrong
    yield from _kept(case, soaked)
    if not wrong and soaked.checked:
        yield _clean(case, soaked)


def _results(soaked: Soak) -> Iterator[Finding]:
    """Tell of arithmetic that came out wrong."""
    broken = [one for one in soaked.tests if one.wrong]
    none_right = [one for one in broken if one.wrong >= one.checked]
    if none_right and len(none_right) == len(broken):
        yield _not_run(none_right[0])
        return
    if not soaked.wrong:
        return
    share = f"{many(soaked.wrong)} of {many(soaked.checked)}"
    first = next((one for one in soaked.spots if one.kind == "results"), None)
    said = f"Under lasting load the card computes wrong: {share} results"
    said += f" differ from what they must be. {place_of(first)}" if first else "."
    yield find(
        "soak-results",
        "decisive",
        "fault",
        measured=f"{share} results wrong under lasting load",
        envelope="none wrong",
        sentence=said,
    )


def _not_run(test: SoakTest) -> Finding:
    return find(
        "soak-results",
        "strong",
        "open",
        measured=f"{test.checked:,} of {test.checked:,} results wrong",
        envelope="none wrong",
        sentence=f"Not one of {many(test.checked)} results of the {test.name} test was "
        "right under lasting load: more likely the driver did not run it than that "
        "nothing works.",
    )


def _memory(case: Case, soaked: Soak) -> Iterator[Finding]:
    """Tell of memory that gave back something else than was written."""
    cells = soaked.cells
    if cells is None or not cells.cells or cells.intact == cells.cells:
        return
    bad = cells.failing + cells.scrambled
    absent = _is_absent(case)
    if absent and not bad:
        return  # as the proof tells
    strength, bearing, said = _weighed(cells, soaked, absent=absent)
    first = next((one for one in soaked.spots if one.kind == "memory"), None)
    if bearing == "fault" and first is not None:
        said += f" {place_of(first)}"
    yield find(
        "memory-soak",
        strength,
        bearing,
        measured=f"{many(bad or cells.cells - cells.intact)} readings of cells wrong "
        "under lasting load",
        envelope="every cell keeps its own data",
        sentence=said,
    )


def _weighed(
    cells: CellCounts, soaked: Soak, *, absent: bool
) -> tuple[Strength, Bearing, str]:
    """Return what wrong cells count for, and in which words."""
    bad = cells.failing + cells.scrambled
    gone = cells.mirrored + cells.hollow
    read = moved(soaked.memory_bytes)
    if absent:
        said = (
            f"Under lasting load {many(bad)} readings of cells were wrong in other "
            "ways, too: a part of the memory is not there."
        )
        return "supporting", "explains", said
    if not cells.intact:
        said = (
            "Under lasting load not one cell came back right: more likely the driver "
            "did not run the test than that no memory works."
        )
        return "strong", "open", said
    if not bad or gone >= FOREIGN * cells.cells:
        said = (
            f"Under lasting load {many(gone)} readings of cells, "
            f"{percent(gone, cells.cells)}, showed no data or another place's, which "
            "the proof of the memory did not find."
        )
        return "strong", "open", said
    if bad + gone == 1:
        said = (
            f"One cell was wrong once in {read} read under lasting load: it may "
            "happen once in years on a healthy card."
        )
        return "strong", "open", said
    said = (
        f"Memory gives back wrong data under lasting load: {many(bad)} readings of "
        f"cells in {read}."
    )
    return "decisive", "fault", said


def _is_absent(case: Case) -> bool:
    """Whether the proof tells that memory is not there, however surely."""
    return any(one.bearing == "contradicts" for one in memory_bits(case))


def _readings(case: Case) -> tuple[Sample, ...]:
    telemetry = case.record.telemetry
    return tuple(
        one for one in (telemetry.samples if telemetry else ()) if one.phase == SOAK
    )


def _kept(case: Case, soaked: Soak) -> Iterator[Finding]:
    """Tell of a rate that fell under load, and why as far as that was seen."""
    first, last = soaked.rate_start, soaked.rate_end
    if not first or last is None or last >= KEPT * first:
        return
    cause = _cause(case, soaked)
    said = (
        f"Under lasting load its fp32 rate fell from {quantity(first, 'FLOP/s')} to "
        f"{quantity(last, 'FLOP/s')}"
    )
    said += f": {cause}." if cause else ", and nothing that was read says why."
    yield find(
        "rate-kept",
        "supporting",
        "explains" if cause else "open",
        measured=f"{percent(last, first)} of the rate kept",
        envelope=f"at least {percent(KEPT, 1.0)}",
        sentence=said,
    )


def _cause(case: Case, soaked: Soak) -> str | None:
    """Return what slowed the card meanwhile."""
    hottest = max((one.temperature_c or 0.0 for one in soaked.series), default=0.0)
    readings = _readings(case)
    words = {word for one in readings for word in one.throttle}
    limit = case.record.telemetry.slowdown_c if case.record.telemetry else None
    if any(_HEAT in word for word in words) or (
        limit and hottest >= limit - NEAR_SLOWDOWN_C
    ):
        return (
            f"it became {hottest:.0f} °C hot and slowed itself; its cooler, or the "
            "paste below it, wants looking after"
        )
    if any(_POWER in word for word in words):
        return "it held itself within its power limit"
    return None


def _clean(case: Case, soaked: Soak) -> Finding:
    """Tell of a soak in which nothing was wrong."""
    what = f"{many(soaked.checked)} results"
    if soaked.memory_bytes and not _is_absent(case):
        what += f" and {moved(soaked.memory_bytes)} of memory"
    lasted = duration(soaked.seconds)
    return find(
        "soak",
        "supporting",
        "agrees",
        measured=f"none wrong in {lasted}",
        envelope="none wrong",
        sentence=f"Under full load for {lasted}, {what} came back right.",
    )
