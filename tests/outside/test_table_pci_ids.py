"""Each row's PCI ids exist in the PCI ID repository, with the same chip."""

import re

OTHER_NAMES = {
    "Cedar": ("Park",),
    "Ellesmere": ("Polaris 20",),
    "Pitcairn": ("Curacao",),
    "Bonaire": ("Tobago",),
    "ACM-G10": ("DG2",),
    "ACM-G11": ("DG2",),
    "ACM-G12": ("DG2",),
    "BMG-G21": ("Battlemage G21",),
}
"""What the repository calls a chip beside the names in chips.toml."""

REASONS = {
    "10de:109b Quadro 7000": "all 16 units run, and the id lies among GF110's",
}


def test_ids_belong_to_the_same_chip(table, extract, agreement):
    known = dict(extract("pci_ids.tsv"))
    broken, total = {}, 0
    for row in table.variants:
        names = (row.chip, *OTHER_NAMES.get(row.chip, ()), *table.chip(row).names)
        for pci in row.pci:
            total += 1
            printed = known.get(pci, "")
            if not any(_says(name, printed) for name in names):
                broken[f"{pci} {row.model}"] = f"{row.chip}, there: {printed or 'none'}"
    agreement("PCI ids, PCI ID repository", total, broken, REASONS, 0.99)


def test_seen_ids_belong_to_the_same_chip(table, extract):
    known = dict(extract("pci_ids.tsv"))
    for one in table.seen:
        names = (one.chip, *OTHER_NAMES.get(one.chip, ()), *table.chips[one.chip].names)
        assert any(_says(name, known[one.pci]) for name in names), one


def _says(name, printed):
    pattern = re.escape(name).replace(r"\ ", " ?")
    return bool(re.search(rf"\b{pattern}(?![0-9])", printed, re.IGNORECASE))
