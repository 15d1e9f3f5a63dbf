"""Real runs of an H100 beside each other: what one card's noise comes to.

Recorded on H100 80GB HBM3 cards with driver 580.159.04, on two days: two runs at
standard depth, and one at thorough depth with a soak of two minutes. Nothing was
repaired in between, so nothing may be called better or worse.
"""

import re
from itertools import permutations
from pathlib import Path

import pytest
from command_line import shipped

from reference.repaired.compare import compare
from reference.repaired.rates import BAND, LINK_BAND
from reports import codec

DATA = Path(__file__).parents[1] / "data"
RUNS = {
    "first day": DATA / "golden" / "h100-sxm.json",
    "before": DATA / "repair" / "h100-before.json",
    "after": DATA / "repair" / "h100-after.json",
}


@pytest.fixture(scope="module")
def runs():
    return {name: codec.load(path) for name, path in RUNS.items()}


@pytest.mark.parametrize(("first", "last"), [*permutations(RUNS, 2)])
def test_noise_is_neither_better_nor_worse(runs, first, last):
    view = compare(runs[first], runs[last], shipped())
    assert view.same_card == "fits"
    bad = [row for row in view.rows if row.became in
           ("better", "got worse", "still wrong", "became honest")]  # fmt: skip
    assert bad == []
    rates = {row.became for row in view.rows if row.part == "rates"}
    assert rates == {"unchanged"}


def test_the_bands_hold_the_noise_several_times(runs):
    """Measured: arithmetic within 0.5 %, memory 1.2 %, the link 4.2 %."""
    names = {rate.name for rate in runs["after"].rates if rate.value}
    for name in names:
        values = [
            rate.value for run in runs.values() for rate in run.rates
            if rate.name == name
        ]  # fmt: skip
        noise = max(values) / min(values) - 1
        link = name.startswith("link")
        assert noise < (LINK_BAND if link else BAND) / 3, name


def test_a_real_card_is_honest(runs):
    view = compare(runs["before"], runs["after"], shipped())
    assert view.outcome == "honest now"
    assert view.sentence == (
        "It calls itself an H100 80GB HBM3 with 79.6 GiB, as before, and everything "
        "measured bears that out. Honest now, as it was before."
    )
    assert view.stability.state == "stable"
    assert view.stability.seconds == pytest.approx(120, abs=2)


def test_the_records_tell_nothing_of_the_owner():
    for path in RUNS.values():
        text = path.read_text("utf-8").lower()
        for word in ("gpu-", "serial", "/root", "/home", "hostname"):
            assert word not in text
        assert not re.search("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}", text)  # a UUID
