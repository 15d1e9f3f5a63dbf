"""`As claimed` is earned: what else would have been measured alike, and what would not.

Rows of the table whose facts are published: AMD's and NVIDIA's product pages.
"""

import pytest
from made_records import GIB, capacity, genuine, one, structure, with_claims
from msgspec.structs import replace

from reference.case import Case
from reference.judge import judge
from reference.likelihood import rows
from reference.rules.rivals import other_card

NEW = {"other-card", "lesser-memory"}


def findings(judged, *names):
    return [found for found in judged.findings if found.rule in (names or NEW)]


@pytest.fixture(scope="module")
def gtx1070(table):
    row = one(table, "GeForce GTX 1070", form="desktop", memory_bytes=8 * GIB)
    return genuine(row, table)


def test_cards_measured_wholly_are_as_claimed(table):
    """All but one in fifty rows, each with everything measured at its rated clock.

    The rest: where bands are wide (TeraScale, RDNA 3) or the table says little.
    """
    doubted = [
        row.id
        for row in table.variants
        if judge(genuine(row, table), table).verdict.outcome != "as claimed"
    ]
    assert len(doubted) <= len(table.variants) / 50, doubted


def test_a_whole_test_finds_no_other_card(gtx1070, table):
    judged = judge(gtx1070, table)
    assert judged.verdict.outcome == "as claimed"
    assert not findings(judged)


def test_without_the_chips_structure_its_name_is_not_earned(table):
    """A GeForce GTX 1070 overclocked computes as much as a 1070 Ti that is not."""
    row = one(table, "GeForce GTX 1070 Ti")
    card = genuine(row, table, clock=0.85)
    assert judge(card, table).verdict.outcome == "as claimed"
    judged = judge(replace(card, structure=None), table)
    (found,) = findings(judged)
    assert judged.verdict.outcome == "undetermined"
    assert (found.rule, found.strength, found.bearing) == (
        "other-card",
        "strong",
        "open",
    )
    assert "as well as a GeForce GTX 1070 Ti, whatever the card says" in found.sentence
    assert "the chip's structure was not measured" in found.sentence
    assert "would have been measured alike" in judged.verdict.sentence
    assert any("whole test at standard depth" in said for said in judged.verdict.settle)


def test_a_card_that_fits_worse_is_not_said_to_fit_as_well(gtx1070, table):
    """The silicon of a GeForce GTX 650 under the name of a GTX 1070."""
    made = genuine(one(table, "GeForce GTX 650", chip="GK107"), table)
    lie = replace(gtx1070, rates=made.rates, structure=made.structure)
    (found,) = findings(judge(lie, table), "other-card")
    assert "better than a GeForce GTX 1070" in found.sentence
    assert "as well" not in found.sentence


def test_a_reduced_card_under_the_full_ones_name_is_open_without_a_count(table):
    """Radeon R9 380X and 380: one chip, Tonga, with 32 and 28 compute units."""
    less = one(table, "Radeon R9 380", memory_bytes=4 * GIB)
    full = one(table, "Radeon R9 380X")
    made = genuine(less, table)
    lie = replace(genuine(full, table), rates=made.rates, structure=None)
    judged = judge(lie, table)
    assert judged.verdict.outcome == "undetermined"
    assert findings(judged, "other-card")
    counted = replace(lie, structure=made.structure)
    assert judge(counted, table).verdict.outcome == "undetermined"


def test_units_switched_on_make_it_another_card(table):
    """Radeon HD 6950 and 6970: 22 and 24 compute units of one chip."""
    row = one(table, "Radeon HD 6950", memory_bytes=2 * GIB)
    more = one(table, "Radeon HD 6970", memory_bytes=2 * GIB)
    card = genuine(row, table)
    opened = replace(
        card,
        structure=structure(row, table, units=more.units),
        rates=genuine(more, table).rates,
    )
    judged = judge(opened, table)
    assert judged.verdict.outcome == "undetermined"
    assert findings(judged, "other-card")


def test_memory_that_no_driver_hands_out_is_not_asked_for(table):
    """A V100 with 32 GB that says 16: nobody is cheated, and nothing can show it."""
    small = one(table, "Tesla V100-SXM2-16GB")
    large = one(table, "Tesla V100-SXM2-32GB")
    card = genuine(small, table)
    lie = replace(card, rates=genuine(large, table).rates)
    assert judge(lie, table).verdict.outcome == "as claimed"


def test_half_of_the_memory_shown_is_half_of_the_memory_proven(table):
    """Old AMD drivers show a part; the 1 GiB card of the same chip would look alike."""
    row = one(table, "Radeon HD 6950", memory_bytes=2 * GIB)
    card = with_claims(genuine(row, table), memory_bytes=GIB)
    card = replace(card, capacity=capacity(GIB))
    judged = judge(card, table)
    (found,) = findings(judged, "lesser-memory")
    assert judged.verdict.outcome == "undetermined"
    assert found.sentence.startswith(
        "A Radeon HD 6950 has 2.00 GiB; only 1010 MiB of it could be reached."
    )
    assert any("newer driver" in said for said in judged.verdict.settle)
    assert "1010 MiB of 2.00 GiB could be reached" in judged.verdict.sentence


def test_a_part_of_a_card_or_an_unknown_one_has_no_rivals(table):
    row = one(table, "GeForce GTX 1070 Ti")
    bare = replace(genuine(row, table, clock=0.85), structure=None)
    unknown = with_claims(
        replace(bare, claims=bare.claims[1:]), model="GeForce GTX 1077"
    )
    assert not findings(judge(unknown, table))
    part = with_claims(bare, layers=("nvml",), model="GRID P4-2Q")
    assert not list(other_card(Case(part, table)))


def test_what_tells_two_cards_apart_by_a_whole_test(table):
    laid = rows(table)
    place = {row.id: at for at, row in enumerate(table.variants)}

    def apart(true, claimed):
        first, second = (one(table, name) for name in (true, claimed))
        return laid.apart(place[first.id], place[second.id])

    assert apart("GeForce GTX 1080", "GeForce GTX 1070") > 8
    assert apart("GeForce GTX 650", "GeForce GTX 1070") > 30
    assert apart("Tesla V100-SXM2-32GB", "Tesla V100-SXM2-16GB") == 0
