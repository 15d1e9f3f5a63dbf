"""Variants of a name may not lend each other parts: one has to fit everything."""

import made_records as made
import pytest

from reference.judge import judge


def one_variant(record, table):
    judged = judge(record, table)
    return [one for one in judged.findings if one.rule == "one-variant"], judged


@pytest.fixture
def gt_630(table):
    """A genuine GT 630 on a GK208: capability 3.5, two units, 64 bits."""
    return made.genuine(made.one(table, "GT 630", chip="GK208"), table)


def test_a_genuine_card_is_one_of_its_variants(table):
    for row in table.variants[::9]:
        if row.form != "server":
            found, _ = one_variant(made.genuine(row, table), table)
            assert not found, row.id


def test_parts_of_several_variants_are_doubted(table, gt_630):
    """One unit as on a GK107, but a GK208's capability and bus: no such board."""
    card = made.with_claims(gt_630, compute_units=1)
    card = made.with_claims(card, ("nvml",), cores=192)
    found, judged = one_variant(card, table)
    assert [one.strength for one in found] == ["strong"]
    assert judged.verdict.outcome != "as claimed"
    assert "compute capability 3.5" in found[0].sentence
    assert "192 lanes" in found[0].sentence


def test_a_fact_that_fits_none_is_left_to_its_own_rule(table, gt_630):
    card = made.with_claims(gt_630, ("nvml",), bus_width_bits=512)
    assert one_variant(card, table)[0] == []
