"""Firmware held against what others publish: real ROMs, printed versions.

Real expansion ROMs: Debian's packages seabios (SeaBIOS's VGA BIOS) and ipxe-qemu, read
by file(1) as an independent reader (`data/outside/debian_roms.csv`). Versions and chips
printed side by side: `data/outside/printed_firmware.csv` and `printed_chip_ids.csv`.
"""

import hashlib
import shutil

import made_firmware as made
import pytest
from extract_roms import FOLDERS, told

from reference.firmware.look import look
from reference.firmware.parse import chips_of_id
from reference.firmware.rom import chains

ROMS = [path for _, folder, pattern in FOLDERS for path in sorted(folder.glob(pattern))]
MISSING = "apt-get install seabios ipxe-qemu: real expansion ROMs to read"
_AGAINST = {"fault", "contradicts"}
VGA = 0x030000
"""PCI Code and ID Assignment: a VGA compatible controller."""


@pytest.fixture(scope="module")
def listed(extract):
    return {row["path"]: row for row in extract("debian_roms.csv")}


def test_the_extract_knows_both_packages(listed):
    assert {row["package"] for row in listed.values()} == {"seabios", "ipxe-qemu"}
    assert len(listed) >= 20


@pytest.mark.skipif(not ROMS, reason=MISSING)
def test_real_roms_are_read_as_another_reader_reads_them(listed):
    """file(1): length, place of the PCI data structure, device, last-image bit."""
    compared = 0
    for path in ROMS:
        data = path.read_bytes()
        row = listed.get(str(path))
        if row is None or row["sha256"] != hashlib.sha256(data).hexdigest():
            row = told(path) if shutil.which("file") else None
        if row is None:
            continue
        (chain,) = chains(data)
        first = chain.images[0]
        assert first.header_length_bytes == 512 * int(row["units"]), path
        assert f"{first.device_id or 0:04x}" == (row["device"] or "0000"), path
        assert (first.structure is not None) == bool(row["place"]), path
        if first.structure:
            assert data[int(row["place"], 16) :][:4] == b"PCIR"
            assert first.last == (row["last"] == "yes"), path
        compared += 1
    assert compared


@pytest.mark.skipif(not ROMS, reason=MISSING)
@pytest.mark.parametrize("path", ROMS, ids=lambda path: path.name)
def test_every_chain_and_sum_is_right(path, table):
    """PCI Firmware Specification: images end with the file, x86 sums are 0."""
    data = path.read_bytes()
    (chain,) = chains(data)
    assert chain.complete
    assert chain.offset_bytes == 0
    assert chain.end_bytes == len(data)
    assert chain.images[0].checksum == sum(data[: chain.images[0].length_bytes]) % 256
    assert chain.images[0].checksum_right
    report = look([(path.name, data)] * 3, table, version="test")
    assert not [one for one in report.findings if one.bearing in _AGAINST]
    display = chain.images[0].class_code == VGA
    assert report.outcome == ("nothing against it" if display else "undetermined")


@pytest.mark.skipif(not ROMS, reason=MISSING)
def test_efi_images_follow_legacy_ones():
    """iPXE's efi-*.rom: an x86 image, then an EFI image for x64."""
    found = [path for path in ROMS if path.name.startswith("efi-")]
    assert found
    for path in found:
        (chain,) = chains(path.read_bytes())
        assert [one.code_type for one in chain.images] == [0, 3]
        assert chain.images[1].efi.machine == 0x8664
        assert chain.images[0].device_id == chain.images[1].device_id
        assert chain.images[1].checksum_right is None


@pytest.mark.skipif(not ROMS, reason=MISSING)
def test_a_real_rom_is_not_a_graphics_cards(table):
    """Neither a network card's nor SeaBIOS's old Radeon ROM is a GTX 1070's."""
    for path in ROMS:
        report = look([("a", path.read_bytes())], table, version="t", claim="GTX 1070")
        if report.image.pci_id not in {None, "0000:0000"}:
            assert any(one.bearing == "contradicts" for one in report.findings), path


@pytest.mark.skipif(not ROMS, reason=MISSING)
@pytest.mark.parametrize("cut", [512, 4096, 20_000])
def test_a_real_rom_cut_short_is_found_out(table, cut):
    for path in ROMS:
        data = path.read_bytes()[:-cut]
        report = look([("a", data)], table, version="test")
        assert report.outcome == "faulty", path


def test_no_printed_version_accuses_a_genuine_card(table, extract):
    """Each row is a real card: version and PCI id are of one chip, and its name's."""
    judged = 0
    for row in extract("printed_firmware.csv"):
        if not row["pci_id"]:
            continue
        chips = table.chips_by_firmware(row["firmware_version"])
        if chips:
            assert set(chips) & set(chips_of_id(row["pci_id"], table)), row
            judged += 1
    assert judged >= 25


def test_images_of_printed_cards_speak_for_themselves(table, extract):
    """An image with a real card's printed id and version is at one with itself."""
    judged = 0
    for row in extract("printed_firmware.csv"):
        version = row["firmware_version"]
        if not row["pci_id"].startswith("10de:") or version.count(".") != 4:
            continue
        data = made.pascal(
            device=int(row["pci_id"][5:], 16),
            version=version,
            sign_on="x",
            product="y",
        )
        report = look([("a", data)] * 3, table, version="test")
        assert report.outcome == "nothing against it", row
        assert report.image.version == version.upper()
        judged += 1
    assert judged >= 25


def test_the_relabelled_card_among_the_printed_ones(table):
    """Printed as a GeForce GTX 1050 Ti (1c82) with firmware 70.26.37.00.01: GF116's.

    Its register says GF106, from a published kernel log.
    """
    data = made.pascal(
        device=0x1C82, version="70.26.37.00.01", date="08/10/11", sign_on="x"
    )
    report = look([("a", data)] * 3, table, version="test", claim="GTX 1050 Ti")
    assert report.outcome == "not as claimed"
    assert report.sentence.endswith("It is that of a GF116.")
