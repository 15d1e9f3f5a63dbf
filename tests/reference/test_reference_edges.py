"""Memory that ends at a sharp edge, and results that memory spoils."""

import made_records as made
import pytest
from msgspec.structs import replace
from sample_parts import blocks

from reference.judge import judge
from reports.record import CellCounts

GIB = 2**30
CELLS = 8 * GIB // 16
EIGHTH = CELLS // 8
GONE = {
    "scrambled": {"scrambled": 2 * EIGHTH},
    "hollow": {"hollow": 2 * EIGHTH},
}


def reading(**wrong):
    return CellCounts(cells=CELLS, intact=CELLS - sum(wrong.values()), **wrong)


def with_proof(record, states, *readings):
    taken = blocks(8, GIB, states)
    passes = tuple(
        made.a_pass(name, 8 * GIB, counts)
        for name, counts in zip(("verify", "turn"), readings, strict=True)
    )
    least = min(counts.intact for counts in readings) * 16
    proof = replace(
        made.capacity(8 * GIB),
        passes=passes,
        blocks=taken,
        covered_bytes=8 * GIB,
        proven_bytes=least,
    )
    return replace(record, capacity=proof)


def bits(record, table):
    judged = judge(record, table)
    (one,) = [each for each in judged.findings if each.rule == "memory-bits"]
    return one, judged.verdict


@pytest.fixture
def gtx_1070(table):
    return made.genuine(made.one(table, "GTX 1070", units=15), table)


@pytest.mark.parametrize("where", [6, 0])
def test_whole_blocks_of_nonsense_are_no_memory(table, gtx_1070, where):
    states = ["proven"] * 8
    states[where : where + 2] = ["scrambled"] * 2
    wrong = reading(**GONE["scrambled"])
    one, verdict = bits(with_proof(gtx_1070, tuple(states), wrong, wrong), table)
    assert (one.strength, one.bearing) == ("decisive", "contradicts")
    assert verdict.outcome == "not as claimed"
    assert "only 6.00 GiB answer" in one.sentence


def test_nonsense_in_one_pass_alone_is_a_fault(table, gtx_1070):
    states = ("proven",) * 6 + ("scrambled",) * 2
    record = with_proof(
        gtx_1070, states, reading(**GONE["scrambled"]), reading(scrambled=EIGHTH // 99)
    )
    one, verdict = bits(record, table)
    assert one.bearing == "fault"
    assert verdict.outcome == "faulty"


def test_a_data_line_that_is_stuck_everywhere_is_a_fault(table, gtx_1070):
    states = ("proven",) * 6 + ("failing",) * 2
    wrong = reading(failing=2 * EIGHTH)
    record = with_proof(gtx_1070, states, wrong, wrong)
    all_failing = CellCounts(cells=EIGHTH, failing=EIGHTH)
    taken = [
        replace(block, counts=all_failing) if block.state == "failing" else block
        for block in record.capacity.blocks
    ]
    record = replace(record, capacity=replace(record.capacity, blocks=tuple(taken)))
    one, verdict = bits(record, table)
    assert one.bearing == "fault"
    assert verdict.outcome == "faulty"


def test_what_missing_memory_spoils_is_no_fault_of_its_own(table, gtx_1070):
    states = ("proven",) * 6 + ("hollow",) * 2
    wrong = reading(**GONE["hollow"])
    record = with_proof(gtx_1070, states, wrong, wrong)
    record = made.with_rate(record, "memory_read", wrong=9)
    verdict = bits(record, table)[1]
    assert verdict.outcome == "not as claimed"
    assert "faulty" not in verdict.sentence


def test_memory_that_spoils_results_is_called_memory(table, gtx_1070):
    record = made.with_rate(gtx_1070, "memory_read", wrong=9)
    verdict = judge(record, table).verdict
    assert verdict.outcome == "faulty"
    assert "Found: memory that gives back wrong data (9 of" in verdict.sentence


def test_a_test_of_which_nothing_is_right_did_not_run(table, gtx_1070):
    checked = next(r.checked for r in gtx_1070.rates if r.name == "fp32")
    record = made.with_rate(gtx_1070, "fp32", wrong=checked)
    verdict = judge(record, table).verdict
    assert verdict.outcome == "undetermined"
    assert "its driver seems not to run all tests" in verdict.sentence
    assert "another driver" in " ".join(verdict.settle)
