"""Boards that carry several processors: sellers name the board's memory."""

import re

import made_records as made
import pytest
from made_records import GIB

from reference.judge import judge
from reference.table import load

BOARDS = [row for row in load().variants if row.processors > 1]


@pytest.mark.parametrize("row", BOARDS, ids=lambda row: row.id)
def test_a_board_sold_with_all_its_memory_is_as_claimed(table, row):
    card = made.genuine(row, table)
    for size in (row.memory_bytes, row.memory_bytes * row.processors):
        sold = made.listed_as(card, row.model, size)
        judged = judge(sold, table)
        doubts = {
            one.rule
            for one in judged.findings
            if one.strength == "strong" and one.bearing != "agrees"
        }
        alike = {"other-card"} if row.architecture.startswith("terascale") else set()
        assert doubts <= alike, doubts
        assert doubts or judged.verdict.outcome == "as claimed"


def test_the_sentence_says_both_sizes(table):
    card = made.genuine(made.one(table, "Tesla K80"), table)
    judged = judge(made.listed_as(card, "Tesla K80", 24 * GIB), table)
    assert judged.verdict.sentence.startswith("Sold as a Tesla K80 with 24.0 GiB.")
    said = next(one.sentence for one in judged.findings if one.rule == "listing-memory")
    assert said == (
        "Sold with 24.0 GiB, 12.0 GiB for each processor; the card reports 11.8 GiB."
    )


def test_more_than_the_board_has_is_not_as_claimed(table):
    card = made.genuine(made.one(table, "Tesla K80"), table)
    sold = made.listed_as(card, "Tesla K80", 48 * GIB)
    assert judge(sold, table).verdict.outcome == "not as claimed"


def test_a_board_with_half_its_memory_is_not_as_claimed(table):
    row = made.one(table, "GeForce GTX 690")
    card = made.genuine(row, table, shown=0.49)
    sold = made.listed_as(card, "GeForce GTX 690", 4 * GIB)
    assert judge(sold, table).verdict.outcome == "not as claimed"


def test_one_size_may_be_a_boards_and_anothers_processors(table):
    """FirePro S10000: twice 3 GB, and twice 6 GB under the same name."""
    for each in (3, 6):
        row = made.one(table, "FirePro S10000", memory_bytes=each * GIB)
        card = made.genuine(row, table)
        for size in (3, 6, 12):
            sold = made.listed_as(card, "FirePro S10000", size * GIB)
            genuine = size in (each, 2 * each)
            outcome = judge(sold, table).verdict.outcome
            assert (outcome == "as claimed") == genuine, (each, size)


def test_a_name_may_carry_the_boards_memory(table):
    assert {row.model for row in table.resolve("Tesla K80 24GB")} == {"Tesla K80"}
    assert {row.model for row in table.resolve("Tesla K80 12GB")} == {"Tesla K80"}
    assert table.resolve("Tesla K80 48GB") == ()


def test_a_row_that_speaks_of_several_processors_counts_them(table):
    for row in table.variants:
        said = " ".join(row.remarks)
        if re.search(r"\b(Two|Four) (graphics )?processors\b", said):
            assert row.processors > 1, row.id
