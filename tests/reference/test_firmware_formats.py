"""What NVIDIA's and AMD's images hold, each place as its published format has it."""

import struct

import made_firmware as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference.firmware import atom, dates, nvidia
from reference.firmware.rom import chains


def green(data):
    return nvidia.parse(data, chains(data)[0])


def red(data):
    return atom.parse(data, chains(data)[0])


def test_bit():
    """NVIDIA, BIOS Information Table: header, tokens B, S, M; nouveau: token i."""
    found = green(made.nvidia())
    assert found.bit_offset == 0x200
    assert found.bit_checksum_right
    assert found.tokens == "BSiM"
    assert found.version == "80.07.95.00.07"
    assert found.other_version is None
    assert found.date == "06/21/12"
    assert found.subsystem == "1462:2800"
    assert {one.name: one.text for one in found.strings} == {
        "sign-on": "GK107 Board - 20100010",
        "version": "Version 80.07.95.00.07",
        "copyright": "Copyright (C) 1996-2012 NVIDIA Corp.",
        "OEM": "NVIDIA",
        "OEM vendor": "NVIDIA",
        "OEM product": "GK107 Board",
        "OEM revision": "NVIDIA",
    }


def test_memory_types_by_strap():
    """BIT token M, version 2: memory information table; nouveau, M0203.{c,h}."""
    found = green(made.nvidia(memory=(1, 3, 1, 0xF)))
    assert found.memory_types == ("DDR3", "GDDR5")
    assert found.memory_straps == 4


def test_device_control_block():
    """NVIDIA, DCB 4.0: paths 0 analog, 2 TMDS, 6 DP; sockets by connector table."""
    found = green(made.nvidia(outputs=(0, 2, 6), sockets=(0x30, 0x61, 0x46)))
    assert found.dcb_version == "4.0"
    assert found.outputs == ("analog", "TMDS", "DisplayPort")
    assert found.connectors == ("DVI-I", "HDMI", "DP")


def test_straps_that_set_the_device_id():
    """envytools, pstraps.rst: bits 10-13, 28 and 30 of set 0; 5 id bits on GF106."""
    select = 0x7FFFFFFF & ~(1 << 10 | 1 << 12 | 1 << 28)
    straps = (select, 1 << 12 | 1 << 28, 0xFFFFFFFF, 0)
    found = green(made.nvidia(version="70.06.41.00.06", straps=straps)).straps
    assert found.select == (select, 0xFFFFFFFF)
    assert (found.id_bits, found.id_value) == (0b10101, 0b10100)


def test_straps_of_a_later_chip_are_shown_and_not_read():
    found = green(made.nvidia()).straps
    assert found.select[0] == 0x7FFFFFFF
    assert found.id_bits is None
    assert green(made.pascal()).straps is None


def test_a_table_in_the_image_behind():
    """nouveau, bios/base.c: pointers behind image 0 go to the image of type E0."""
    data = bytearray(made.nvidia(with_efi=False))
    data[0x195] = 0  # not the last
    second = made.x86(0x10DE, 0x0FC6, size=2048)
    made.put(second, 0x194, b"\xe0")
    made.put(second, 0x140, bytes([0x10, 7, 2, 1, 0, 0, 0, 9, 0]))
    made.put(data, 60 * 1024, bytes(second))
    made.put(data, 0x9C3, struct.pack("<H", 60 * 1024 + 0x140))
    assert green(bytes(data)).memory_types == ("GDDR6",)


def test_two_versions_that_disagree():
    data = bytearray(made.nvidia())
    made.put(data, 0x980, bytes([0x00, 0x41, 0x04, 0x86, 0x80]))
    found = green(bytes(data))
    assert (found.version, found.other_version) == ("80.07.95.00.07", "86.04.41.00.80")


def test_a_broken_header_of_the_table():
    data = bytearray(made.nvidia())
    data[0x20B] ^= 1
    assert green(bytes(data)).bit_checksum_right is False


def test_atom():
    """Linux: atombios.h (header, object and VRAM tables), amdgpu/atom.c (texts)."""
    found = red(made.amd())
    assert found.signature_right
    assert found.header_offset == 0x300
    assert found.header_revision == "1.1"
    assert found.part_number == "113-MADE-UP01"
    assert found.version == "015.050.002.001.000001"
    assert found.date == "09/20/16 10:11"
    assert found.config_file == "MADEUP.BIN"
    assert found.subsystem == "1682:9480"
    assert {one.name: one.text for one in found.strings} == {
        "part number": "113-MADE-UP01",
        "ASIC": "POLARIS10",
        "bus": "PCI_EXPRESS",
        "memory type": "GDDR5",
        "name": "POLARIS10 A1 GDDR5 256Mx32 8GB 1257e/2000m",
        "boot message": "Radeon RX 480 8GB",
    }
    assert found.connectors == ("HDMI", "DP", "DP", "DVI-D")
    assert found.object_revision == "1.3"
    assert found.vram_revision == "2.2"
    first, second = found.memory
    assert (first.type, first.size_mib, first.part_number) == (
        *("GDDR5", 8192),
        "K4G80325FB",
    )
    assert first.device == "256M x 32"  # atombios.h: _256Mx32 is 0x63
    assert second.part_number == "H5GC8H24AJ"


@pytest.mark.parametrize(
    ("minor", "size_at", "kind_at", "part_at", "module"),
    [(3, 20, 23, 32, 52), (4, 20, 23, 40, 60), (5, 10, 13, 44, 84)],
)
def test_later_vram_tables(minor, size_at, kind_at, part_at, module):
    """Linux: atomfirmware.h; width is channels x 2^width (amdgpu_atomfirmware.c)."""
    data = bytearray(made.amd())
    table = bytearray(24 + module)
    made.put(table, 0, struct.pack("<HBB", len(table), 2, minor))
    table[20] = 1
    made.put(table, 24, struct.pack("<I", 8176))
    made.put(table, 24 + size_at, struct.pack("<H", module))
    made.put(table, 24 + kind_at, bytes([0x70, 16, 4, 0x53]))
    made.put(table, 24 + part_at, b"MT61K256M32\0")
    made.put(data, 0x800, bytes(table))
    (one,) = red(bytes(data)).memory
    assert (one.type, one.size_mib, one.bus_bits) == ("GDDR6", 8176, 256)
    assert one.part_number == "MT61K256M32"


def test_later_connector_tables():
    """Linux: atomfirmware.h, display_object_info_table_v1_4: paths of 16 bytes."""
    data = bytearray(made.amd())
    made.put(data, 0x700, struct.pack("<HBBHBB", 8 + 32, 1, 4, 0, 2, 0))
    made.put(data, 0x708, struct.pack("<H", 0x310C) + bytes(14))
    made.put(data, 0x718, struct.pack("<H", 0x3113) + bytes(14))
    assert red(bytes(data)).connectors == ("HDMI", "DP")


def test_hostile_texts_are_made_harmless():
    data = made.nvidia(sign_on="\x1b]0;x\x07 GTX\r\n\u009b31m 1070")
    text = next(one.text for one in green(data).strings if one.name == "sign-on")
    assert text == "�]0;x� GTX �31m 1070"


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("06/21/12", "2012-06-21"),
        ("05/27/16 10:00", "2016-05-27"),
        ("01/02/98", "1998-01-02"),
        ("02/30/16", None),
        ("00/00/00", None),
        ("soon", None),
        ("", None),
        (None, None),
    ],
)
def test_dates(text, day):
    assert dates.iso(text) == day


@given(
    st.sampled_from([made.nvidia(), made.amd()]),
    st.lists(
        st.tuples(st.integers(0, 0xA40), st.binary(min_size=1, max_size=6)), max_size=12
    ),
)
def test_any_pointer_is_followed_safely(image, changes):
    data = bytearray(image)
    for place, value in changes:
        made.put(data, place, value)
    for chain in chains(bytes(data)):
        nvidia.parse(bytes(data), chain)
        atom.parse(bytes(data), chain)
