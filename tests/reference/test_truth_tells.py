"""Which pairs of cards a test can tell apart, by the truth bench's own figures.

Facts of the rows as their makers published them.
"""

import pytest
from made_records import GIB, one
from truth.tells import telling


@pytest.mark.parametrize(
    ("true", "claimed", "what"),
    [
        ("GeForce GTX 1070", "GeForce GTX 1080", "units"),
        ("GeForce GTX 650", "GeForce GTX 1070", "lanes and cycles"),
        ("Radeon RX 570", "Radeon RX 580", "units"),
        ("H100 80GB HBM3", "H200", "memory size"),
        ("Radeon HD 6670", "GeForce GT 630", "warp width"),
    ],
)
def test_what_tells(table, true, claimed, what):
    assert what in telling(one(table, true), one(table, claimed), table)


def test_more_memory_than_it_says_cannot_be_told(table):
    large, small = (one(table, f"Tesla V100-SXM2-{size}GB") for size in (32, 16))
    assert telling(large, small, table) == ()
    assert telling(small, large, table) == ("memory size",)


def test_clocks_tell_nothing_between_cards_of_one_chip(table):
    """GeForce GT 730 and 710 of chip GK208: units tell, where they differ."""
    fast = one(table, "Tesla V100S-PCIE-32GB")
    slow = one(table, "Tesla V100-FHHL-16GB")
    assert telling(fast, slow, table) == ()


def test_a_card_is_like_itself(table):
    alone = [row.id for row in table.variants if telling(row, row, table)]
    assert alone == []


def test_the_same_units_and_size_of_two_chips(table):
    """GT 740 on GK106 and GT 640 on GK107: both with two multiprocessors."""
    cut = one(table, "GeForce GT 740", chip="GK106", memory_bytes=GIB)
    whole = one(table, "GeForce GT 640", chip="GK107", memory_bytes=GIB)
    assert telling(cut, whole, table) == ()
