"""NVIDIA's names by device since Turing, against its open kernel modules' list."""

from collections import defaultdict

import pytest

REASONS_OF_ROWS = {
    "10de:2337 H100 64GB HBM2e": "only names of its shares (H100XS) are listed",
    "10de:1e37 Tesla T10": "only names of its shares and of game streaming are listed",
}
REASONS_OF_LINES = {
    "10de:2192 NVIDIA GeForce GTX 1650 Ti": "a laptop's part, on a desktop's chip",
}


@pytest.fixture(scope="module")
def named(extract):
    found = defaultdict(list)
    for device, subsystem, name in extract("nvidia_names.tsv"):
        found[f"10de:{device}"].append((subsystem, name))
    return found


def test_what_rows_claim_is_named_so_there(table, named, agreement):
    """Every id of a row that the list has: one of its names there means that row."""
    broken, total = {}, 0
    for row in table.variants:
        for pci in row.pci:
            if pci in named:
                total += 1
                if not any(row in table.resolve(name) for _, name in named[pci]):
                    names = sorted({name for _, name in named[pci]})
                    broken[f"{pci} {row.model}"] = ", ".join(names)
    agreement("NVIDIA ids, open kernel modules", total, broken, REASONS_OF_ROWS, 0.97)


def test_what_is_named_there_is_found_by_its_id(table, named, agreement):
    """Every device whose name (for any subsystem) the table knows is in its rows."""
    broken, total = {}, 0
    for pci, lines in named.items():
        for subsystem, name in lines:
            meant = table.resolve(name)
            if subsystem == "0000:0000" and meant:
                total += 1
                if not any(pci in row.pci for row in meant):
                    broken[f"{pci} {name}"] = sorted(
                        {one for r in meant for one in r.pci}
                    )
    agreement("NVIDIA's names of known cards", total, broken, REASONS_OF_LINES, 0.97)


def test_subsystems_of_rows_are_those_of_the_list(table, named):
    for row in table.variants:
        for pci in row.pci:
            listed = dict(named.get(pci, ()))
            for one in row.subsystems:
                if one in listed:
                    assert row in table.resolve(listed[one]), (row.id, one)
