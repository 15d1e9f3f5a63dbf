"""What gives a chip away, against what operating systems printed and the PCI ID list.

Printed: slots, firmware versions and chip registers of real cards, from public sources.
No genuine card among them may be held against itself; the one relabelled card of the
collection must be found out.
"""

import re
from collections import Counter, defaultdict

import made_records as made
import pytest
from msgspec.structs import replace

from reference.case import Case
from reference.judge import judge
from reference.rules import layers as rules
from reports.layers import Function, Layers
from reports.record import Claim

NVIDIA_CHIP = re.compile(r"^(GB\d{3}|GT\d{3}|G[A-Z]\d{3}|G\d{2}|TU\d{3}|AD\d{3})")
SAME = {"GK110B": "GK110", "GK180": "GK110", "GK208B": "GK208", "GK120": "GK210"}
"""Later steppings of the same silicon; the kernel's GK120 is GK210."""
MIXED = {"2e0", "400", "1020", "1080", "13a0"}
"""Blocks of 32 ids in which the PCI ID repository knows several chips."""
GF100_BY_NAME = {"10de:109a", "10de:109b"}
"""Quadro 5010M and 7000: the repository says GF100, their ids lie among GF110's."""


def chip_of(name):
    found = NVIDIA_CHIP.match(name.removeprefix("(text: ").removeprefix("Device "))
    return SAME.get(found[1], found[1]) if found else None


@pytest.fixture(scope="module")
def known(extract):
    return dict(extract("pci_ids.tsv")) | dict(extract("pci_older.tsv"))


@pytest.fixture(scope="module")
def slots(extract):
    found = []
    for row in extract("printed_slots.csv"):
        vendor = row["display_vendor"]
        ids = [
            f"{vendor}:{row[key]}"
            for key in ("sibling1_device", "sibling2_device", "sibling3_device")
            if row[key]
        ]
        display = f"{vendor}:{row['display_device']}"
        found.append((display, row["printed_name"], tuple(ids)))
    return found


def owners(display, printed, table, known):
    """Chips of a display function: by the table's rows, the repository, the print."""
    chips = {row.chip for row in table.by_pci(display)}
    for name in (known.get(display, ""), printed):
        code = chip_of(name)
        chips |= {code} if code else set()
        word = name.partition(" [")[0].strip()
        chips |= set(table.chips_named(word)) | set(
            table.chips_named(word.rpartition(" ")[0])
        )
    return chips


def test_printed_functions_belong_to_the_printed_chip(slots, table, known, agreement):
    broken, total, unlisted = {}, 0, Counter()
    for display, printed, ids in slots:
        chips = owners(display, printed, table, known)
        for one in ids:
            told = set(table.chips_by_function(one))
            if not told:
                unlisted[one] += 1
            elif chips:
                total += 1
                if not told & chips:
                    broken[f"{display} {one}"] = f"{printed}: {told}, not {chips}"
    assert total > 250
    agreement("Functions of a slot, printed", total, broken, {}, 0.99)
    assert sum(unlisted.values()) <= 5, unlisted


def test_no_printed_card_is_held_against_itself(slots, table):
    """Every printed slot as the claim of the card itself, through the rule."""
    judged = 0
    for display, _, ids in sorted(set(slots)):
        for row in table.by_pci(display):
            record = made.with_claims(
                made.genuine(row, table), ("nvml", "pci"), pci_id=display
            )
            record = with_functions(record, ids)
            told = list(rules.sibling_function(Case(record, table)))
            judged += len(told)
            assert [one for one in told if one.bearing != "agrees"] == [], row.id
    assert judged > 100


def with_functions(record, ids):
    told = Layers(
        functions=tuple(
            Function(
                number=place, pci_id=one, device_class="0403" if place == 1 else "0c03"
            )
            for place, one in enumerate(ids, 1)
        )
    )
    return replace(record, card=replace(record.card, layers=told))


def test_printed_ids_lie_in_their_chips_windows(slots, table, known):
    checked = 0
    for display, printed, _ in slots:
        window = table.chip_by_window(display)
        chips = owners(display, printed, table, known)
        if window and chips:
            checked += 1
            assert window in chips, (display, printed)
    assert checked > 180


def test_windows_hold_in_the_repository(known, table):
    """Every NVIDIA id with a chip's code, G80 to Blackwell; exceptions are named."""
    blocks = defaultdict(Counter)
    wrong = {}
    for pci, name in known.items():
        code = chip_of(name) if pci.startswith("10de") else None
        if code is None:
            continue
        blocks[int(pci[5:], 16) >> 5][code] += 1
        window = table.chip_by_window(pci)
        if window and window != code:
            wrong[pci] = f"{window}, there: {name}"
    several = {f"{block << 5:x}" for block, codes in blocks.items() if len(codes) > 1}
    assert several <= MIXED
    assert len(blocks) > 140
    assert set(wrong) == GF100_BY_NAME, wrong
    without = {
        f"{block << 5:x}": set(codes)
        for block, codes in blocks.items()
        if table.chip_by_window(f"10de:{block << 5:04x}") is None
    }
    strange = {block: codes for block, codes in without.items() if block not in MIXED}
    assert set().union(*strange.values()) <= {"GB102", "GB110", "GB112", "GB120"}


OTHER_CHIPS = {
    "10de:109b": "Quadro 7000 is GF110: all 16 units run",
}


def test_no_model_is_known_on_a_chip_that_would_accuse_it(known, table):
    """Every NVIDIA name and chip of the repository through the rule of the register."""
    accused, asked = set(), 0
    for pci, name in known.items():
        code = chip_of(name) if pci.startswith("10de") else None
        marked = re.search(r"\[(.*)\]", name)
        if code is None or marked is None or code not in table.marks:
            continue
        if not table.marks[code].silicon:
            continue
        for model in marked[1].split(" / "):
            if not table.resolve(model):
                continue
            log = Claim(layer="driver", source="nouveau", pci_id=pci,
                        chip_id=table.marks[code].silicon[0])  # fmt: skip
            listing = Claim(layer="listing", source="as given", model=model)
            base = made.genuine(table.variants[0], table)
            case = Case(replace(base, claims=(listing, log)), table)
            told = list(rules.silicon_id(case))
            asked += 1
            if [one for one in told if one.bearing != "agrees"]:
                accused.add(pci)
    assert asked > 450
    assert accused == set(OTHER_CHIPS)


REASONS_FUNCTIONS = {
    "10de:10fa": "TU117: printed by operating systems, not in the repository yet",
    "10de:10f2": "GV100: the same",
    "10de:0be3": "the repository does not name the chip; envytools: GT218",
    "10de:0be4": "the same: GT215",
    "1002:73a6": "Navi 21: printed by an operating system",
    "1002:aae0 Lexa": "printed on six Lexa cards; the repository names Baffin alone",
    "1002:aa38 RV730": "named as RV710/730",
    "1002:aab0": "named as Oland/Hainan/Cape Verde/Pitcairn",
    "1002:aac0 Bonaire": "named as Tobago, a later name of Bonaire",
    "1002:ab28": "named as Navi 21/23; printed for Navi 22; Navi 24 from memory",
    "1002:ab30": "named as Navi 31; printed for Navi 32 and 33",
    "1002:ab38": "named as Navi 10; printed for Navi 12 and 14",
    "1002:ab40": "named as Navi 48; printed for Navi 44",
}


def test_functions_carry_the_repositorys_names(extract, table, agreement):
    names = dict(extract("pci_functions.tsv"))
    broken, total = {}, 0
    for chip, mark in table.marks.items():
        for one in (*mark.audio, *mark.usb):
            total += 1
            if not re.match(rf"{re.escape(chip)}(?![0-9])", names.get(one, "")):
                broken[f"{one} {chip}"] = f"there: {names.get(one)}"
    agreement("Functions, PCI ID repository", total, broken, REASONS_FUNCTIONS, 0.75)


def test_no_function_of_a_known_chip_is_left_out(extract, table):
    for pci, name in extract("pci_functions.tsv"):
        code = chip_of(name) if pci.startswith("10de") else None
        if code in table.marks:
            assert code in table.chips_by_function(pci), (pci, name)


def test_printed_firmware_is_made_for_the_printed_chip(
    extract, table, known, agreement
):
    broken, total = {}, 0
    for row in extract("printed_firmware.csv"):
        told = set(table.chips_by_firmware(row["firmware_version"]))
        chips = {SAME.get(row["chip"], row["chip"])} - {""}
        if row["pci_id"]:
            chips |= owners(row["pci_id"], "", table, known)
        if not chips:
            named = row["card_name"].removeprefix("NVIDIA ")
            chips = {one.chip for one in table.resolve(named)}
        if told and chips:
            total += 1
            if not told & chips:
                broken[row["firmware_version"]] = f"{told}, not {chips}"
    assert total > 60
    agreement("Firmware versions, printed", total, broken, {}, 1.0)


def test_printed_registers_name_the_printed_chip(extract, table):
    rows = extract("printed_chip_ids.csv")
    for row in rows:
        number = int(row["chip_id_hex"], 16) >> 20 & 0x1FF
        name = SAME.get(row["chip_name"], row["chip_name"])
        assert table.chips_by_silicon(f"{number:03x}") == (name,), row
        if row["bios_version"]:
            assert name in table.chips_by_firmware(row["bios_version"]), row
    assert len(rows) > 30


def test_the_relabelled_card_is_found_out(table):
    """One published kernel log: the PCI name is GP107 [GeForce GTX 1050 Ti], the chip's
    register 0c3100a1, the firmware 70.26.37.00.01, the memory 4096 MiB of GDDR5.
    """
    row = made.one(table, "GeForce GTX 1050 Ti", memory_bytes=4 * made.GIB)
    record = made.genuine(row, table)
    log = Claim(
        layer="driver",
        source="kernel driver nouveau",
        pci_id="10de:1c82",
        chip_id=f"{0x0C3100A1 >> 20 & 0x1FF:03x}",
        memory_bytes=4096 * 2**20,
        firmware="70.26.37.00.01",
    )
    for listed in (True, False):
        pci = Claim(layer="pci", source="PCI", model="GeForce GTX 1050 Ti",
                    pci_id="10de:1c82")  # fmt: skip
        told = [claim for claim in record.claims if claim.layer == "listing" and listed]
        judged = judge(replace(record, claims=(*told, log, pci)), table)
        assert judged.verdict.outcome == "not as claimed"
        (silicon,) = [one for one in judged.findings if one.rule == "silicon-id"]
        assert (silicon.bearing, silicon.strength) == ("contradicts", "decisive")
        assert "GF106" in judged.verdict.sentence
        (firmware,) = [one for one in judged.findings if one.rule == "firmware-version"]
        assert "GF116" in firmware.sentence
        assert firmware.bearing == "contradicts"
