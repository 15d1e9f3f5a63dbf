"""Units, memory, caches and targets of AMD's cards, against ROCm's published table."""

import re

REASONS = {
    "MI250X memory": "two processors, 64 GiB each: a row is one of them",
    "MI250 memory": "as above",
    "Radeon Pro W5500 L2": "Navi 14 has 2 MiB in Linux's kfd_crat.c; 4 for others too",
}
"""Disagreements, each with the reason why the table keeps its figure."""


def test_units_memory_and_caches(table, extract, agreement):
    """Each fact of a card there is that of one of the rows of its name."""
    broken, total = {}, 0
    for card in extract("rocm_specifications.csv"):
        rows = [row for row in table.resolve(card["Model"]) if row.vendor == "AMD"]
        found = [dict(_wrong(card, row, table)) for row in rows]
        for fact in ("target", "units", "memory", "L2", "last-level cache"):
            total += bool(rows)
            if rows and all(fact in wrong for wrong in found):
                broken[f"{card['Model']} {fact}"] = found[0][fact]
    assert total >= 60
    agreement("AMD facts, ROCm's table", total, broken, REASONS, 0.97)


def _wrong(card, row, table):
    target = card["LLVM target name"]
    if target not in table.chip(row).gfx:
        yield "target", f"{target} there, {table.chip(row).gfx} here"
    units = _each(card["Compute Units"])
    if units and row.units not in units:
        yield "units", f"{units} there, {row.units} here"
    sizes = _each(card["VRAM (GiB)"])
    if sizes and not any(size * 2**30 == row.memory_bytes for size in sizes):
        yield "memory", f"{sizes} there, {row.memory_bytes / 2**30:g} here"
    caches = _each(card["L2 Cache (MiB)"])
    if row.l2_kib and caches and row.l2_kib / 1024 not in caches:
        yield "L2", f"{caches} there, {row.l2_kib / 1024:g} here"
    last = _each(card["Infinity Cache (MiB)"] or card["L3 Cache (MiB)"])
    if row.llc_mib and last and row.llc_mib not in last:
        yield "last-level cache", f"{last} there, {row.llc_mib} here"


def _each(text):
    """All figures: `220 (110 per GCD)` means the whole and one die of it."""
    return [float(one) for one in re.findall(r"\d+(?:\.\d+)?", text)]
