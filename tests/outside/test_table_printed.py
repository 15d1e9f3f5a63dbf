"""Names, sizes and unit counts that real drivers printed fit a row of the table."""

import re

import pytest

from reference.envelope import shown

NOT_NAMED = re.compile(r"^Device [0-9a-f]{4}$|^\s*$")
"""What is no name: the id alone."""
OLD = re.compile(r"GTX 2\d\d|Hawaii LE")
"""Older than the table begins."""

REASONS_OF_NAMES = {
    "AMD Radeon Graphics": "the brand alone: no model is named",
}
REASONS_OF_FIGURES = {
    "Pitcairn:  MiB, 10": "an old runtime counted half the units of a Pitcairn",
    "AMD Radeon HD 7800 Series:  MiB, 10": "the same card under its board's name",
    "NVIDIA GeForce RTX 3090: 3779.7 MiB": "a 32-bit print: less 20 GiB exactly",
}


@pytest.fixture(scope="module")
def cards(extract):
    """Desktop cards, as (name, line): the board's name where the driver gives one."""
    found = []
    for line in extract("printed_cards.csv"):
        for name in dict.fromkeys((line["device_name"], line["board_name"])):
            usable = not NOT_NAMED.search(name) and not OLD.search(name)
            if line["kind"].startswith("desktop") and usable:
                found.append((name, line))
    return found


def test_printed_names_are_known(table, cards, agreement):
    broken = {name: line["implementation"] for name, line in cards
              if not table.resolve(name)}  # fmt: skip
    total = len({name for name, _ in cards})
    agreement("names that drivers printed", total, broken, REASONS_OF_NAMES, 0.98)


def test_printed_figures_fit_one_of_the_rows(table, cards, agreement):
    broken, total = {}, 0
    for name, line in cards:
        rows = table.resolve(name)
        if rows:
            total += 1
            if not any(_fits(line, row, table) for row in rows):
                broken[
                    f"{name}: {line['global_mem_mib']} MiB, {line['compute_units']}"
                ] = line["remark"]
    agreement("sizes and units printed", total, broken, REASONS_OF_FIGURES, 0.98)


def _fits(line, row, table):
    kind, chip = table.architecture(row), table.chip(row)
    units, memory = line["compute_units"], line["global_mem_mib"]
    counted = {row.units * by for by in kind.units_as}
    if units not in {"", "0"} and int(units) not in counted:  # 0: an old runtime
        return False
    capability = line["cc_or_gfx"]
    wanted = chip.compute_capability
    if wanted and re.fullmatch(r"\d+\.\d", capability) and capability != wanted:
        return False
    low, high = shown(row, kind)
    return not memory or low <= float(memory) * 2**20 / row.memory_bytes <= high
