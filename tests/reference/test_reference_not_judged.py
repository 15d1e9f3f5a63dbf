"""Rates that firmware holds back on a model are held against no card of that name."""

import made_records as made
from msgspec.structs import replace

from reference.envelope import envelopes, ratio
from reference.judge import judge


def test_a_rate_held_back_has_no_envelope_and_no_ratio(table):
    row = made.one(table, "H800", memory_type="HBM3", units=132)
    kind = table.architecture(row)
    assert row.not_judged == ("fp64",)
    assert "fp64" not in {one.quantity for one in envelopes((row,), table)}
    assert "fp32" in {one.quantity for one in envelopes((row,), table)}
    assert ratio("fp64", row, kind) is None
    assert ratio("int32", row, kind) is not None
    told = replace(row, not_judged=())
    assert "fp64" in {one.quantity for one in envelopes((told,), table)}
    assert ratio("fp64", told, kind) is not None


def test_no_ratio_stands_on_an_fp32_that_is_held_back(table):
    row = replace(made.one(table, "H800", units=114), not_judged=("fp32",))
    kind = table.architecture(row)
    assert ratio("fp64", row, kind) is ratio("int32", row, kind) is None


def test_a_board_whose_arithmetic_is_held_back_is_not_accused(table):
    """A CMP 170HX: a thirty-second of the chip's fused multiply-adds, from memory."""
    row = made.one(table, "CMP 170HX")
    card = made.genuine(row, table)
    for rate in card.rates:
        if rate.name in ("fp32", "fp64"):
            card = made.with_rate(card, rate.name, value=rate.value / 32)
    assert judge(card, table).verdict.outcome == "as claimed"


def test_another_board_that_slow_is(table):
    row = made.one(table, "A100-PCIE-40GB")
    card = made.genuine(row, table)
    slow = next(rate.value for rate in card.rates if rate.name == "fp32") / 32
    card = made.with_rate(card, "fp32", value=slow)
    assert judge(card, table).verdict.outcome != "as claimed"


def test_units_of_a_row_from_memory_alone_decide_nothing(table):
    row = made.one(table, "P104-101")
    assert row.sources == ("memory",)
    card = made.with_claims(
        made.genuine(row, table), ("opencl",), compute_units=row.units + 1
    )
    found = [one for one in judge(card, table).findings if one.rule == "compute-units"]
    assert [
        (one.strength, one.bearing) for one in found if one.bearing != "agrees"
    ] == [("strong", "contradicts")]
