"""What a soak says of a card: whether it works, never what card it is."""

import pytest
import sample_soak as soaks
from hypothesis import given
from made_records import GIB, built, capacity, genuine, one, telemetry
from msgspec import convert, inspect
from msgspec.structs import replace
from record_strategies import of

from reference.case import Case
from reference.judge import judge
from reference.rules.lasting import soak as rule
from reports.lasting import Soak
from reports.record import Sample

RULES = {"soak", "soak-results", "memory-soak", "rate-kept"}


@pytest.fixture(scope="module")
def row(table):
    return one(table, "GeForce GTX 1070", form="desktop", memory_bytes=8 * GIB)


@pytest.fixture(scope="module")
def record(row, table):
    return built(genuine(row, table), row, table)


def soaked(record, soak, **fields):
    return replace(record, soak=soak, depth="thorough", **fields)


def said(record, table):
    """Return what the soak's rules say: rule, strength, bearing."""
    found = [one for one in judge(record, table).findings if one.rule in RULES]
    return [(one.rule, one.strength, one.bearing) for one in found]


def sentence(record, table, name):
    (found,) = [one for one in judge(record, table).findings if one.rule == name]
    return found.sentence


def test_without_a_soak_nothing_is_said(record, table):
    assert said(record, table) == []


def test_a_clean_soak_agrees_and_decides_nothing(record, table):
    tested = soaked(record, soaks.clean())
    assert said(tested, table) == [("soak", "supporting", "agrees")]
    assert sentence(tested, table, "soak") == (
        "Under full load for 10 min, 4.10 trillion results and 1.20 TiB of memory came "
        "back right."
    )
    before, after = judge(record, table).verdict, judge(tested, table).verdict
    assert after == before
    assert after.outcome == "as claimed"


def test_wrong_results_are_a_fault_with_place_and_time(record, table):
    tested = soaked(record, soaks.computing_wrong())
    assert said(tested, table) == [("soak-results", "decisive", "fault")]
    assert sentence(tested, table, "soak-results") == (
        "Under lasting load the card computes wrong: 12 of 4.10 trillion results "
        "differ from what they must be. Single precision (fp32), work-group 37: 12 "
        "results in 3 launches wrong, first after 3 min 20 s at 78 °C and 1797 MHz, "
        "last after 9 min 40 s."
    )
    verdict = judge(tested, table).verdict
    assert verdict.outcome == "faulty"
    assert "arithmetic that comes out wrong (12 of 4.10 trillion results wrong" in (
        verdict.sentence
    )


def test_wrong_results_that_nobody_placed_are_a_fault_as_well(record, table):
    tested = soaked(record, soaks.with_tests(soaks.clean(), int32=1))
    assert said(tested, table) == [("soak-results", "decisive", "fault")]


def test_not_one_right_result_is_the_drivers(record, table):
    clean = soaks.clean()
    whole = clean.tests[1].checked
    tested = soaked(record, soaks.with_tests(clean, int32=whole))
    assert said(tested, table) == [("soak-results", "strong", "open")]
    assert judge(tested, table).verdict.outcome == "undetermined"
    both = soaks.with_tests(clean, int32=whole, fp32=3)
    assert said(soaked(record, both), table) == [("soak-results", "decisive", "fault")]


def test_cells_that_fail_only_when_hot_are_a_fault_with_place_and_bit(record, table):
    tested = soaked(record, soaks.failing_when_hot())
    assert said(tested, table) == [("memory-soak", "decisive", "fault")]
    assert sentence(tested, table, "memory-soak") == (
        "Memory gives back wrong data under lasting load: 40 readings of cells in 1.20 "
        "TiB. Memory at 2.92 GiB (bit 46 of the cell): 40 readings of a cell in 40 "
        "walks wrong, first after 2 min at 76 °C, last after 9 min 50 s."
    )
    verdict = judge(tested, table).verdict
    assert verdict.outcome == "faulty"
    assert "memory that gives back wrong data (40 readings of cells" in verdict.sentence


@pytest.mark.parametrize(
    ("wrong", "what"),
    [
        # One in 22 months and GB on healthy cards (Tiwari et al., HPCA 2015).
        ({"failing": 1}, ("strong", "open")),
        ({"scrambled": 1}, ("strong", "open")),
        ({"failing": 2}, ("decisive", "fault")),
        ({"scrambled": 10**9}, ("decisive", "fault")),
        ({"failing": 5, "mirrored": 5}, ("decisive", "fault")),
        # Gone under load, there in the proof: not known why, so nobody is accused.
        ({"mirrored": 5}, ("strong", "open")),
        ({"hollow": 10**9}, ("strong", "open")),
        ({"hollow": 10**10, "scrambled": 7}, ("strong", "open")),
    ],
)
def test_what_wrong_cells_count_for(record, table, wrong, what):
    tested = soaked(record, soaks.with_cells(soaks.clean(), **wrong))
    assert said(tested, table) == [("memory-soak", *what)]
    outcome = "faulty" if what[1] == "fault" else "undetermined"
    assert judge(tested, table).verdict.outcome == outcome


def test_not_one_right_cell_is_the_drivers(record, table):
    clean = soaks.clean()
    tested = soaked(record, soaks.with_cells(clean, scrambled=clean.cells.cells))
    assert said(tested, table) == [("memory-soak", "strong", "open")]


@pytest.mark.parametrize("beyond", ["mirrored", "hollow"])
def test_memory_that_is_not_there_is_no_fault(record, table, beyond):
    fake = replace(record, capacity=capacity(8 * GIB, real=2 * GIB, beyond=beyond))
    cells = soaks.clean().cells.cells
    soak = soaks.with_cells(soaks.clean(), **{beyond: cells * 3 // 4})
    tested = soaked(fake, soak)
    assert said(tested, table) == [("soak", "supporting", "agrees")]
    assert "memory" not in sentence(tested, table, "soak")
    verdict = judge(tested, table).verdict
    assert verdict.outcome == "not as claimed"
    assert "faulty" not in verdict.sentence
    stray = soaks.with_cells(soaks.clean(), **{beyond: cells * 3 // 4, "scrambled": 9})
    assert said(soaked(fake, stray), table) == [
        ("memory-soak", "supporting", "explains")
    ]
    assert judge(soaked(fake, stray), table).verdict.outcome == "not as claimed"


# ----------------------------------------------------------------------- the rate kept


def falling(to, top_c=70.0):
    clean = soaks.clean()
    return replace(clean, rate_end=to * clean.rate_start, series=soaks.series(top_c))


def reading(phase, *throttle):
    return Sample(at_seconds=50.0, phase=phase, temperature_c=70.0, throttle=throttle)


def with_readings(record, *samples):
    had = record.telemetry or telemetry()
    return replace(
        record,
        telemetry=replace(had, samples=(*had.samples, *samples), slowdown_c=94.0),
    )


@pytest.mark.parametrize("kept", [0.9, 0.95, 1.0, 1.2])
def test_a_rate_that_holds_is_not_worth_a_word(record, table, kept):
    assert said(soaked(record, falling(kept)), table) == [
        ("soak", "supporting", "agrees")
    ]


@pytest.mark.parametrize(
    ("samples", "top_c", "bearing", "words"),
    [
        ((), 92.0, "explains", "it became 92 °C hot and slowed itself; its cooler"),
        (
            [reading("soak", "thermal slowdown (software)")],
            70.0,
            "explains",
            "it became 70 °C hot and slowed itself",
        ),
        ([reading("soak", "power cap")], 70.0, "explains", "within its power limit"),
        ((), 70.0, "open", "nothing that was read says why"),
        # What slowed it elsewhere says nothing of the soak.
        ([reading("fp32", "power cap")], 70.0, "open", "nothing that was read"),
    ],
)
def test_a_rate_that_fell_is_told_with_its_cause(
    record, table, samples, top_c, bearing, words
):
    tested = soaked(with_readings(record, *samples), falling(0.7, top_c))
    found = said(tested, table)
    assert ("rate-kept", "supporting", bearing) in found
    told = sentence(tested, table, "rate-kept")
    assert told.startswith(
        "Under lasting load its fp32 rate fell from 6.20 TFLOP/s to 4.34 TFLOP/s"
    )
    assert words in told
    assert judge(tested, table).verdict.outcome == "as claimed"


def test_heat_of_the_soak_excuses_no_rate_measured_before(record, row, table):
    slow = replace(
        record,
        rates=tuple(
            replace(rate, value=rate.value / 3) if rate.name == "fp32" else rate
            for rate in record.rates
        ),
    )
    hot = Sample(
        at_seconds=900.0,
        phase="soak",
        temperature_c=95.0,
        core_mhz=600.0,
        throttle=("thermal slowdown (hardware)",),
    )
    bare = replace(slow, telemetry=replace(telemetry(), samples=(), slowdown_c=94.0))
    warm = replace(bare, telemetry=replace(bare.telemetry, samples=(hot,)))

    def rate_of(judged):
        return [
            (one.strength, one.bearing)
            for one in judge(judged, table).findings
            if one.rule == "fp32-rate"
        ]

    assert rate_of(warm) == rate_of(bare) == [("strong", "contradicts")]


@given(values=of(inspect.type_info(Soak)))
def test_no_soak_accuses(values, table):
    record = built_record(table)
    case = Case(replace(record, soak=convert(values, Soak)), table)
    for found in rule(case):
        assert found.bearing != "contradicts"
        assert found.rule in RULES
        assert found.sentence


def built_record(table):
    row = one(table, "GeForce GTX 1070", form="desktop", memory_bytes=8 * GIB)
    return genuine(row, table)
