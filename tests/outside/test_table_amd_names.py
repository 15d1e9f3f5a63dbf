"""AMD's names by device and revision, against libdrm's amdgpu.ids."""

import re

import pytest

from reference import names

NOT_A_CARD = re.compile(
    r"\d(M|MX|S|HX)\b|Mobil|Embedded|\bE\d{4}|(?<!RX 4[678]0 )Graphics$"
)

REASONS_OF_ROWS = {}
REASONS_OF_LINES = {
    "1002:6938 00": "the PCI ID repository has this id for the R9 380X alone",
    "1002:6938 f0": "as above",
    "1002:73ff df": "a Navi 22 model's name on Navi 23's id; no other source has it",
}


@pytest.fixture(scope="module")
def lines(extract):
    return {
        (f"1002:{device.lower()}", revision.lower()): name
        for device, revision, name in extract("amdgpu_ids.tsv")
    }


def test_what_rows_claim_is_named_so_there(table, lines, agreement):
    """Every id and revision of a row that libdrm names: the name means that row."""
    broken, total = {}, 0
    for row in table.variants:
        for key in [(pci, one) for pci in row.pci for one in row.revisions]:
            if key in lines:
                total += 1
                if row not in _meant(table, lines[key]):
                    broken[f"{' '.join(key)} {row.model}"] = lines[key]
    agreement("AMD ids with revision, libdrm", total, broken, REASONS_OF_ROWS, 0.97)


def test_what_is_named_there_is_found_by_its_id(table, lines, agreement):
    """Every line whose name the table knows: id and revision lead to that name."""
    broken, total = {}, 0
    for (pci, revision), name in lines.items():
        meant = _meant(table, name)
        if not meant or NOT_A_CARD.search(name) or not table.by_pci(pci):
            continue
        total += 1
        found = table.by_pci(pci, revision=revision)
        if not set(found) & set(meant):
            broken[f"{pci} {revision}"] = f"{name}: {sorted({r.model for r in found})}"
    agreement("libdrm's names of known cards", total, broken, REASONS_OF_LINES, 0.97)


def _meant(table, name):
    """Rows that a name means; where it lists several, `R9 290 / 390`, each of them."""
    rows = list(table.resolve(name))
    for part in re.split(r"\s*/\s*", name):
        rows += table.resolve(part)
        rows += table.resolve(re.sub(r"\s+(Series|Graphics)$", "", part))
    assert names.key(name)
    return rows
