"""The truth bench in small: the whole judge over simulated cards, every row once.

The large runs are a command, `python tests/truth_bench.py`; here it must work, stay
independent of how the work is shared out, and find no genuine card accused.
"""

import dataclasses

import pytest
import truth_bench
from truth.habits import HABITS
from truth.pairs import Pairs

SEED = 7


@pytest.fixture(scope="module")
def tally(table):
    return truth_bench.bench(len(table.variants), 1000, SEED, workers=1, matching=False)


@pytest.fixture(scope="module")
def matched():
    return truth_bench.bench(60, 60, SEED, workers=1)


def test_no_genuine_card_is_accused(tally):
    assert not tally.accused, tally.cases


def test_every_row_had_its_run(tally, table):
    assert len(tally.rows) == len(table.variants)
    assert tally.genuine.total() == len(table.variants)


def test_most_forgeries_are_not_passed(tally):
    assert tally.forged.total() == 1000
    assert tally.forged["not as claimed"] > 500
    assert tally.forged["as claimed"] < 60


def test_with_the_match_hardly_any_is(matched):
    assert not matched.accused, matched.cases
    assert matched.tellable["missed"] == 0, matched.cases
    assert matched.tellable["all"] > 50


def test_runs_are_counted_by_how_they_were_measured(tally):
    genuine = {
        way: number
        for (kind, way, _), number in tally.by_depth.items()
        if kind == "genuine"
    }
    assert {"quick, complete", "standard, complete", "thorough, complete"} <= set(
        genuine
    )
    assert sum(tally.by_depth.values()) == tally.genuine.total() + 1000


def test_what_cannot_be_told_is_counted_apart(tally):
    apart = [why for why in tally.not_tellable if not why.startswith("missed: ")]
    counted = sum(tally.not_tellable[why] for why in apart)
    assert counted + tally.tellable["all"] == tally.forged.total()
    assert any("more memory than it says" in why for why in apart)


def test_leaving_out_the_match_leaves_nothing_behind(tally, matched):
    assert tally.named["genuine chip of"] == 0
    assert matched.named["genuine chip of"] > 50
    assert matched.named["genuine chip"] > 40


def test_every_architecture_has_habits(table):
    assert {row.architecture for row in table.variants} <= set(HABITS)


def test_a_run_is_always_the_same(table):
    one, two = (truth_bench.simulate("forged", 11, SEED) for _ in range(2))
    assert one == two
    assert one != truth_bench.simulate("forged", 12, SEED)


def test_tallies_add_up():
    whole = truth_bench.bench(40, 40, SEED, workers=1, matching=False)
    parts = truth_bench.Tally()
    for kind, first, last in (
        ("genuine", 0, 40),
        ("forged", 0, 25),
        ("forged", 25, 40),
    ):
        parts.add(truth_bench.work_off((kind, first, last, SEED, False)))
    assert dataclasses.asdict(parts) == dataclasses.asdict(whole)


def test_a_pair_of_one_names_variants_is_no_forgery(table):
    pairs = Pairs(table)
    rows = table.resolve("GTX 1060 6GB")
    assert not pairs.counts(rows[0], rows[-1])
    other = table.resolve("GTX 1070")[0]
    assert pairs.counts(rows[0], other)
    true, claimed = pairs.draw(truth_bench.Random(3), 17)
    assert true is table.variants[17]
    assert pairs.counts(true, claimed)


def test_the_report_names_what_fell_short(tally):
    lines = "\n".join(truth_bench.report(tally, 1.0, 1))
    assert "false accusations  0 of" in lines
    assert (
        "misses by true chip and claimed chip" in lines
        or tally.forged["as claimed"] == 0
    )
