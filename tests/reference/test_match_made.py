"""The chip told by everything measured together, on records with a known truth.

The H100's figures were measured on a real card; the others are made of rows of the
table with published figures (tests/made_records.py).
"""

import time
from pathlib import Path

import pytest
from made_records import (
    GIB,
    built,
    capacity,
    genuine,
    listed_as,
    one,
    structure,
    with_claims,
)
from msgspec.structs import replace

from reference.case import Case
from reference.judge import judge
from reference.match import identify
from reference.table import Table
from reports import codec
from reports.record import CacheLevel, Structure

GOLDEN = Path(__file__).parent.parent / "data" / "golden" / "h100-sxm.json"
H100 = Structure(
    units=132,
    units_low=132,
    units_high=132,
    step=1.96,
    second_step=True,
    link_ns=2.05,
    link_ns_spread=0.01,
    lane_cycles=506.7,
    warp_width=32,
    resident_groups=4,
    resident_bytes=49152,
    levels=(
        CacheLevel(reaches_bytes=200 * 1024, hop_ns=22.5),
        CacheLevel(reaches_bytes=25 * 2**20, hop_ns=147.0),
        CacheLevel(hop_ns=303.0),
    ),
)
"""As measured on an H100 80GB HBM3: 141.2 us up to 132 groups, 276 us from 133; 65.25
TFLOP/s over 2 x 132 units, times 2.05 ns."""


@pytest.fixture(scope="module")
def h100():
    return replace(codec.load(GOLDEN), structure=H100)


@pytest.fixture(scope="module")
def gtx1070(table):
    row = one(table, "GeForce GTX 1070", form="desktop", memory_bytes=8 * GIB)
    return built(genuine(row, table), row, table)


@pytest.fixture(scope="module")
def relabelled(table, gtx1070):
    """A GK107 with 2 GiB whose firmware and driver say GTX 1070 with 8 GiB."""
    row = one(table, "GeForce GTX 650", chip="GK107", memory_bytes=2 * GIB)
    true = genuine(row, table)
    return replace(
        gtx1070,
        rates=true.rates,
        capacity=capacity(int(7.88 * GIB), real=int(1.97 * GIB)),
        structure=structure(row, table),
    )


def finding(record, rule):
    return next((one for one in record.findings if one.rule == rule), None)


def test_a_real_h100_is_told_by_its_silicon_alone(h100, table):
    judged = judge(h100, table)
    found = judged.identified
    first = found.chips[0]
    assert (first.chip, first.models[0]) == ("GH100", "H100 80GB HBM3")
    assert first.probability >= 0.90
    assert first.lanes == (16896,)
    assert found.sentence.startswith("It is a GH100 with 16896 lanes")
    assert not found.differ
    assert found.honest > 0.99
    assert judged.verdict.outcome == "as claimed"
    against = [one for one in judged.findings if one.bearing == "contradicts"]
    assert not against


@pytest.mark.parametrize(
    ("model", "rules"),
    [
        ("H200", {"listing-model", "reported-model", "memory-size"}),
        ("H100 PCIe", {"counted-units"}),
        ("A100 80GB PCIe", {"counted-units", "measured-chip", "resident-groups"}),
    ],
)
def test_an_h100_sold_as_another_card_is_caught_by_its_silicon_too(
    h100, table, model, rules
):
    judged = judge(listed_as(h100, model), table)
    assert judged.verdict.outcome == "not as claimed"
    against = {one.rule for one in judged.findings if one.bearing == "contradicts"}
    assert against & rules


def test_a_relabelled_gk107_is_named(relabelled, table):
    judged = judge(relabelled, table)
    first = judged.identified.chips[0]
    assert first.chip == "GK107"
    assert first.probability > 0.99
    assert {"GeForce GTX 650", "GeForce GT 640"} <= set(first.models)
    assert judged.identified.sentence.startswith(
        "It is a GK107 with 384 lanes and 2.00 GiB"
    )
    assert judged.verdict.sentence == (
        "Sold as a GeForce GTX 1070 with 8.00 GiB. Found: a GK107 with 2.00 GiB. "
        "Not as claimed."
    )


def test_its_word_and_its_silicon_differ_and_that_is_a_finding(relabelled, table):
    judged = judge(relabelled, table)
    assert judged.identified.differ
    assert judged.identified.honest < 1e-6
    word = finding(judged, "own-word")
    assert (word.strength, word.bearing) == ("strong", "contradicts")
    assert "GK107 with 384 lanes" in word.sentence


def test_nothing_that_firmware_writes_enters_the_first_ranking(relabelled, table):
    said = judge(relabelled, table).identified
    other = with_claims(
        relabelled, model=None, pci_id=None, compute_capability=None,
        compute_units=None, cores=None, bus_width_bits=None,
    )  # fmt: skip
    silent = judge(other, table).identified
    assert silent.chips == said.chips
    assert silent.sentence == said.sentence


def test_a_1070_that_says_1080_is_told_by_its_units(gtx1070, table):
    row = one(table, "GeForce GTX 1080", form="desktop")
    lie = replace(
        genuine(row, table),
        rates=gtx1070.rates,
        capacity=gtx1070.capacity,
        structure=gtx1070.structure,
    )
    judged = judge(lie, table)
    assert judged.verdict.outcome == "not as claimed"
    assert "GeForce GTX 1070" in judged.identified.chips[0].models
    assert "GeForce GTX 1080" not in judged.identified.chips[0].models
    assert judged.identified.chips[0].lanes == (1920,)
    told = finding(judged, "told-units")
    assert told.sentence == "OpenCL counts 20 units, but only 15 run at a time."


def test_what_nothing_tells_apart_is_one_answer(table):
    """GF104 and GF114 are the same chip in two steppings (envytools, hardware docs)."""
    row = one(table, "GeForce GTX 460", chip="GF104", memory_bytes=GIB)
    found = judge(built(genuine(row, table), row, table), table).identified
    assert {found.chips[0].chip, *found.chips[0].twins} >= {"GF104", "GF114"}


def test_every_row_is_recognised_when_measured_well(table):
    """Without noise all but cards whose silicon does the same have their chip told."""
    missed = []
    for row in table.variants[::7]:
        record = built(genuine(row, table), row, table)
        found = identify(Case(record, table))
        chips = {found.chips[0].chip, *found.chips[0].twins}
        if row.chip not in chips:
            missed.append(row.id)
        assert found.honest > 0.5, row.id
    assert len(missed) <= len(table.variants[::7]) * 0.03, missed


def test_a_card_that_the_table_lacks_is_said_to_be_none_of_its(h100, table):
    odd = replace(
        h100,
        structure=replace(
            H100, units=77, units_low=77, units_high=77, warp_width=16,
            lane_cycles=5000.0, resident_groups=9,
        ),
    )  # fmt: skip
    found = judge(odd, table).identified
    assert found.unlisted > 0.5
    assert found.sentence == "No card of the table fits what was measured."


def test_an_empty_table_names_nothing(h100, table):
    empty = Table.__new__(Table)
    empty.__dict__ |= {**table.__dict__, "variants": (), "_names": {}}
    found = identify(Case(h100, empty))
    assert found.chips == ()
    assert found.unlisted == 1.0


def test_judging_over_the_whole_table_is_quick(h100, table):
    """At most 50 ms; asked here with room, as other work may run beside the tests."""
    judge(h100, table)
    seconds = min(_timed(h100, table) for _ in range(5))
    assert seconds < 0.2


def _timed(record, table):
    began = time.perf_counter()
    judge(record, table)
    return time.perf_counter() - began
