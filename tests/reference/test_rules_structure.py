"""The rules on how the chip is built: what they say, and what keeps them silent."""

import pytest
from made_records import GIB, built, genuine, one, telemetry, with_claims
from msgspec.structs import replace

from reference.judge import judge


@pytest.fixture(scope="module")
def row(table):
    return one(table, "GeForce GTX 1070", form="desktop", memory_bytes=8 * GIB)


@pytest.fixture(scope="module")
def record(row, table):
    return built(genuine(row, table), row, table)


def findings(record, table, rule):
    return [found for found in judge(record, table).findings if found.rule == rule]


def said(record, table, rule):
    return [(one.strength, one.bearing) for one in findings(record, table, rule)]


def changed(record, **fields):
    return replace(record, structure=replace(record.structure, **fields))


def counting(record, units, low=None, high=None, **fields):
    return changed(
        record, units=units, units_low=low or units, units_high=high or units, **fields
    )


def test_a_genuine_card_only_agrees(record, table):
    rules = {
        "counted-units",
        "lane-cycles",
        "warp-width",
        "resident-groups",
        "measured-chip",
    }
    found = [one for one in judge(record, table).findings if one.rule in rules]
    assert {one.rule for one in found} == rules
    assert {(one.strength, one.bearing) for one in found} == {("supporting", "agrees")}


@pytest.mark.parametrize(
    ("count", "what"),
    [
        ({"units": 10}, ("strong", "contradicts")),  # its rates are those of 15
        ({"units": 20}, ("decisive", "contradicts")),
        ({"units": 30}, ("strong", "contradicts")),  # pairs or halves prove nothing
        ({"units": 10, "low": 9, "high": 10}, ("strong", "contradicts")),
        ({"units": 12, "low": 12, "high": 16}, ("supporting", "agrees")),
        ({"units": 10, "step": 1.5}, ("supporting", "open")),
        ({"units": 10, "second_step": False}, ("supporting", "open")),
        ({"units": 10, "second_step": None}, ("strong", "open")),
        ({"units": 10, "step": None}, ("supporting", "open")),
    ],
)
def test_only_a_clear_staircase_decides(record, table, count, what):
    assert said(counting(record, **count), table, "counted-units") == [what]


def test_the_sentence_of_a_wrong_count(record, table):
    (found,) = findings(counting(record, 10), table, "counted-units")
    assert found.sentence == (
        "The chip itself runs 10 streaming multiprocessors at a time; a GeForce GTX "
        "1070 has 15 or 16."
    )


@pytest.mark.parametrize("factor", [0.4, 2.0])
def test_a_neighbour_may_bend_lane_cycles_either_way(record, table, factor):
    bent = replace(
        record,
        structure=replace(
            record.structure, lane_cycles=factor * record.structure.lane_cycles
        ),
    )
    assert said(bent, table, "lane-cycles") == [("strong", "contradicts")]
    busy = replace(bent, telemetry=telemetry(1683.0, busy=60.0))
    assert said(busy, table, "lane-cycles") == [("strong", "open")]
    unsteady = replace(bent, structure=replace(bent.structure, link_ns_spread=3.0))
    assert said(unsteady, table, "lane-cycles") == [("supporting", "open")]


def test_a_busy_card_is_not_accused_by_its_count(record, table):
    busy = replace(counting(record, 10), telemetry=telemetry(1683.0, busy=60.0))
    (found,) = findings(busy, table, "counted-units")
    assert (found.strength, found.bearing) == ("strong", "open")
    assert "60 % busy before the test" in found.sentence
    judged = judge(busy, table)
    assert judged.verdict.outcome == "undetermined"
    assert not findings(busy, table, "told-units")


def test_a_part_of_a_card_is_not_counted(record, table):
    part = with_claims(counting(record, 2), layers=("nvml",), model="GRID P4-2Q")
    assert not findings(part, table, "counted-units")


def test_pairs_of_units_are_no_contradiction_on_amd(table):
    """Two compute units may be seen as one (AMD, RDNA whitepaper): twice the lanes."""
    row = one(table, "Radeon RX 6700 XT")
    whole = built(genuine(row, table), row, table)
    half = counting(whole, row.units // 2)
    paired = changed(half, lane_cycles=2 * whole.structure.lane_cycles)
    assert said(paired, table, "counted-units") == [("supporting", "agrees")]
    assert not findings(paired, table, "told-units")
    assert judge(paired, table).verdict.outcome == "as claimed"


@pytest.mark.parametrize(
    ("model", "by"),
    [("Radeon RX 6700 XT", 0.5), ("Radeon RX 580", 0.5), ("Radeon RX 580", 2)],
)
def test_half_or_twice_the_units_with_the_lanes_of_one_are_another_count(
    table, model, by
):
    """Lanes times cycles say how many compute units one counted unit is."""
    row = one(table, model)
    record = counting(built(genuine(row, table), row, table), int(row.units * by))
    assert said(record, table, "counted-units") == [("strong", "contradicts")]
    assert judge(record, table).verdict.outcome == "undetermined"
    untimed = changed(record, lane_cycles=None)
    assert said(untimed, table, "counted-units") == [("supporting", "agrees")]


def test_amd_units_switched_on_are_explained(table):
    """Spare units of a Radeon HD 6950 can be switched on: its chip has 24."""
    row = one(table, "Radeon HD 6950")
    record = counting(built(genuine(row, table), row, table), 24)
    assert said(record, table, "counted-units") == [("supporting", "explains")]


def test_a_driver_that_counts_otherwise_is_doubted(record, table):
    lie = with_claims(record, layers=("opencl",), compute_units=20)
    (found,) = findings(lie, table, "told-units")
    assert (found.strength, found.bearing) == ("strong", "contradicts")
    assert found.sentence == "OpenCL counts 20 units, but only 15 run at a time."


def test_a_stand_in_driver_may_count_what_it_likes(record, table):
    mesa = replace(
        record,
        card=replace(record.card, platform="rusticl"),
        claims=tuple(
            replace(claim, source="OpenCL, platform rusticl", compute_units=16)
            if claim.layer == "opencl"
            else claim
            for claim in record.claims
        ),
    )
    assert not findings(mesa, table, "told-units")


@pytest.mark.parametrize(
    ("lane_cycles", "what"),
    [
        (192 * 9.0, ("strong", "contradicts")),  # Kepler: Volkov 2016
        (128 * 4.0, ("supporting", "agrees")),  # within the leeway of power limits
        (128 * 6.0, ("supporting", "agrees")),
        (64 * 4.0, ("strong", "contradicts")),  # Volta: CUDA C++ Programming Guide
    ],
)
def test_another_generation_shows_in_lanes_and_cycles(record, table, lane_cycles, what):
    assert said(changed(record, lane_cycles=lane_cycles), table, "lane-cycles") == [
        what
    ]


def test_a_clock_held_back_under_load_explains_few_lane_cycles(record, table):
    held = replace(
        changed(record, lane_cycles=0.45 * 768),
        telemetry=telemetry(750.0, throttle=("power cap",)),
    )
    (found,) = findings(held, table, "lane-cycles")
    assert found.bearing == "explains"
    assert "power cap" in found.sentence


@pytest.mark.parametrize(
    ("width", "what"),
    [(32, ("supporting", "agrees")), (64, ("strong", "contradicts"))],
)
def test_warp_width(record, table, width, what):
    assert said(changed(record, warp_width=width), table, "warp-width") == [what]


def test_work_groups_on_a_unit_only_support(record, table):
    """96 KiB a unit on compute capability 6.1 hold two of 48 (CUDA guide)."""
    assert said(changed(record, resident_groups=1), table, "resident-groups") == [
        ("supporting", "contradicts")
    ]
    assert (
        judge(changed(record, resident_groups=1), table).verdict.outcome == "as claimed"
    )


def test_slow_for_a_cause_never_makes_it_another_chip(record, row, table):
    slow = replace(
        built(genuine(row, table, clock=0.6), row, table, clock=0.6),
        telemetry=telemetry(1000.0, temperature=94.0, throttle=("thermal slowdown",)),
    )
    judged = judge(slow, table)
    assert judged.verdict.outcome in {"as claimed", "undetermined"}
    assert not [
        one
        for one in judged.findings
        if one.rule in {"measured-chip", "own-word"} and one.bearing == "contradicts"
    ]
