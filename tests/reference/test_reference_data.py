"""Self-checks over every row of the table, whatever it says."""

import time
from collections import Counter, defaultdict

import pytest

from reference import names, plausibility
from reference.table import load

CHANNEL_BITS = {"DDR2": 32, "DDR3": 32, "DDR4": 32} | dict.fromkeys(
    ("HBM", "HBM2", "HBM2e", "HBM3", "HBM3e"), 64
)
RATES = {
    "DDR2": (600, 1200), "DDR3": (900, 2400), "DDR4": (1800, 3600),
    "GDDR3": (900, 2600), "GDDR5": (2000, 9100), "GDDR5X": (8000, 12000),
    "GDDR6": (9000, 20100), "GDDR6X": (18000, 24100), "GDDR7": (18000, 36000),
    "HBM": (900, 1100), "HBM2": (1300, 2500), "HBM2e": (2400, 3700),
    "HBM3": (4000, 6500), "HBM3e": (5800, 9700),
}  # fmt: skip
"""Transfers a second by memory type in MT/s, JEDEC and makers' catalogues, from
memory."""


def test_there_is_enough_of_it(table):
    assert len(table.variants) >= 500
    assert len({row.model for row in table.variants}) >= 200
    assert {row.vendor for row in table.variants} == {"NVIDIA", "AMD", "Intel"}


def test_ids_are_unique_and_names_are_known(table):
    counted = Counter(row.id for row in table.variants)
    assert [one for one, count in counted.items() if count > 1] == []
    for row in table.variants:
        for name in (row.model, *row.aliases):
            assert row in table.resolve(name), name


@pytest.mark.parametrize("check", ["sizes", "twins", "shared_ids", "order", "dates"])
def test_rows_are_plausible_or_say_why_not(table, check):
    assert list(getattr(plausibility, check)(table.variants)) == []


def test_no_chip_or_architecture_or_source_is_an_orphan(table):
    assert list(plausibility.orphans(table)) == []


def test_lanes_times_units_are_the_shaders_and_units_fit_the_chip(table):
    for row in table.variants:
        kind = table.architecture(row)
        assert row.shaders == kind.lanes * row.units
        assert row.units <= table.chip(row).units
        assert row.bus_bits <= table.chip(row).bus_bits


def test_memory_is_possible(table):
    for row in table.variants:
        low, high = RATES[row.memory_type]
        assert low <= row.rate_mtps <= high, row.id
        assert row.bus_bits % CHANNEL_BITS.get(row.memory_type, 32) == 0, row.id


def test_clocks_are_in_order(table):
    for row in table.variants:
        assert row.boost_mhz is None or row.base_mhz <= row.boost_mhz, row.id
        shader = row.architecture.startswith("fermi")
        assert (row.shader_mhz is not None) == shader, row.id
        if shader:
            assert row.shader_mhz == pytest.approx(2 * row.base_mhz, rel=0.01), row.id


def test_ids_lie_in_their_chips_windows(table):
    for row in table.variants:
        for pci in row.pci:
            owner = table.chip_by_window(pci)
            assert owner in {row.chip, None} or row.outside_window, (row.id, pci)
    for one in table.seen:
        assert table.chip_by_window(one.pci) in {one.chip, None}


def test_an_nvidia_id_belongs_to_one_chip(table):
    chips = defaultdict(set)
    for row in table.variants:
        if row.vendor == "NVIDIA":
            for pci in row.pci:
                chips[pci].add(row.chip)
    assert {pci: found for pci, found in chips.items() if len(found) > 1} == {}


def test_a_revision_of_an_id_names_one_model(table):
    models = defaultdict(set)
    for row in table.variants:
        for pci in row.pci:
            for revision in row.revisions:
                models[pci, revision].add(row.model)
    assert {one: found for one, found in models.items() if len(found) > 1} == {}


def test_every_row_can_be_judged(table):
    for row in table.variants:
        kind = table.architecture(row)
        assert row.memory_type in kind.memory
        assert row.vendor == kind.vendor


def test_families_agree_on_the_chips_target(table):
    for name, chip in table.chips.items():
        vendor = table.architectures[chip.architecture].vendor
        assert bool(chip.compute_capability) == (vendor == "NVIDIA"), name
        assert not chip.gfx or vendor == "AMD", name


def test_keys_never_join_models_that_differ(table):
    chips = defaultdict(set)
    for row in table.variants:
        chips[names.key(row.model)].add(row.model)
    assert {key: found for key, found in chips.items() if len(found) > 1} == {}


def test_loading_is_quick():
    """At most 40 ms is asked for; the bound here only catches a change of order."""
    best = min(_timed() for _ in range(3))
    assert best < 0.4


def _timed():
    start = time.perf_counter()
    load()
    return time.perf_counter() - start
