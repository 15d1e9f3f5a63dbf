"""The expansion ROM's chain, field by field as the PCI Firmware Specification says."""

import struct

import made_firmware as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference.firmware.rom import chains, preface

KIB = 1024


def whole(image):
    return made.seal(image, len(image) - 1)


def test_every_field_lies_where_the_specification_puts_it():
    image = made.x86(0x1234, 0x5678, size=4 * KIB)
    # PCI data structure, revision 3: list of further ids, run-time length
    structure = b"PCIR" + struct.pack(
        "<HHHHB3sHHBBHH",
        *(0x1234, 0x5678, 0x1C, 0x1C, 3, b"\x01\x02\x03", 8, 0xBEEF, 0, 0x80, 8, 0),
    )
    made.put(image, 0x180, structure)
    made.put(image, 0x180 + 0x1C, struct.pack("<HHH", 0x5679, 0x567A, 0))
    (chain,) = chains(whole(image))
    (one,) = chain.images
    assert (one.vendor_id, one.device_id) == (0x1234, 0x5678)
    assert one.class_code == 0x030201
    assert one.structure_revision == 3
    assert one.code_revision == 0xBEEF
    assert one.code_type == 0
    assert one.last
    assert one.length_bytes == one.header_length_bytes == 4 * KIB
    assert one.further_ids == (0x5679, 0x567A)
    assert (one.checksum, one.checksum_right) == (0, True)
    assert chain.complete
    assert chain.problems == ()


def test_an_efi_image_follows():
    first = whole(made.x86(0x10DE, 0x0FC6, size=8 * KIB, last=False))
    (chain,) = chains(first + made.efi(0x10DE, 0x0FC6, size=4 * KIB))
    legacy, efi = chain.images
    assert not legacy.last
    assert efi.last
    assert efi.code_type == 3
    assert efi.offset_bytes == 8 * KIB
    # UEFI specification: 0x8664 is x64, 11 a boot service driver
    assert (efi.efi.machine, efi.efi.subsystem, efi.efi.compression) == (0x8664, 11, 1)
    assert efi.efi.pe_offset == 0x100
    assert efi.checksum_right is None
    assert chain.complete


def test_the_sum_of_an_x86_image_must_be_nothing():
    image = bytearray(whole(made.x86(0x10DE, 0x0FC6)))
    image[0x2222] ^= 0x01
    (chain,) = chains(bytes(image))
    assert chain.images[0].checksum_right is False
    assert chain.images[0].checksum in {1, 0xFF}


def test_a_cut_image():
    data = made.nvidia()
    (chain,) = chains(data[: 70 * KIB])
    assert not chain.complete
    assert chain.problems == (
        "Image 2 ends at 0x15000, the file at 0x11800: the rest is cut off.",
    )
    assert chain.images[1].checksum is None


def test_nothing_follows_where_something_should():
    (chain,) = chains(whole(made.x86(0x10DE, 0x0FC6, last=False)) + bytes(4 * KIB))
    assert not chain.complete
    assert chain.problems == (
        "No image follows at 0xf000, though image 1 is not marked as the last.",
    )


def test_a_length_of_nothing():
    image = made.x86(0x10DE, 0x0FC6)
    made.put(image, 0x190, b"\0\0")
    (chain,) = chains(bytes(image))
    assert chain.problems == ("Image 1 states a length of nothing.",)
    assert not chain.complete


def test_a_header_of_the_makers_own_before_the_first_image():
    data = made.nvidia(header=b"NVGI" + bytes(0x5FC))
    (chain,) = chains(data)
    assert chain.offset_bytes == 0x600
    assert chain.complete
    assert preface(data, (chain,)) == "NVGI"
    assert preface(made.nvidia(), chains(made.nvidia())) is None


@pytest.mark.parametrize("signature", [b"NPDS", b"RGIS"])
def test_nvidias_own_structures(signature):
    """nouveau, nvkm/subdev/bios/pcir.c: NPDS and RGIS stand where PCIR does."""
    second = made.x86(0x10DE, 0x0FC6, size=2 * KIB)
    made.put(second, 0, b"NV")
    made.put(second, 0x180, signature)
    made.put(second, 0x180 + 0x14, b"\xe0")
    first = whole(made.x86(0x10DE, 0x0FC6, size=8 * KIB, last=False))
    (chain,) = chains(first + bytes(second))
    assert [one.signature for one in chain.images] == ["55AA", "NV"]
    assert chain.images[1].structure == signature.decode()
    assert chain.images[1].code_type == 0xE0
    assert chain.images[1].checksum_right is None
    assert chain.complete


def test_nvidias_extension_has_the_last_word():
    """nouveau, nvkm/subdev/bios/{npde,image}.c: length and last bit are from NPDE."""
    image = made.x86(0x10DE, 0x0FC6, size=8 * KIB)
    made.put(image, 0x1A0, b"NPDE" + bytes(4) + struct.pack("<HB", 4, 0))
    data = bytes(image[: 2 * KIB]) + made.efi(0x10DE, 0x0FC6, size=4 * KIB)
    (chain,) = chains(data)
    assert chain.images[0].extended
    assert chain.images[0].length_bytes == 2 * KIB
    assert not chain.images[0].last
    assert len(chain.images) == 2
    assert chain.complete


def test_a_second_firmware_behind_the_first():
    data = made.nvidia() + made.pascal()
    first, second = chains(data)
    assert (first.offset_bytes, second.offset_bytes) == (0, 256 * KIB)
    assert second.images[0].device_id == 0x1B81


def test_a_header_without_ids():
    image = bytearray(4 * KIB)
    made.put(image, 0, b"\x55\xaa\x08")
    (chain,) = chains(made.seal(image, 5))
    assert chain.images[0].structure is None
    assert chain.images[0].device_id is None
    assert chain.images[0].checksum_right
    assert "no PCI data structure" in chain.problems[0]
    assert chains(bytes(512) + made.seal(image, 5)) == ()


def test_no_more_images_than_can_be():
    tiny = bytearray(512)
    made.put(tiny, 0, b"\x55\xaa\x01")
    made.put(tiny, 0x18, struct.pack("<H", 0x40))
    made.put(tiny, 0x40, made.pcir(0x10DE, 0x0FC6, 512, last=False))
    found = chains(bytes(tiny) * 5000)
    assert len(found) == 16
    assert all(len(chain.images) == 32 for chain in found)
    assert not any(chain.complete for chain in found)


@given(
    st.dictionaries(
        st.sampled_from([*range(0x1C), *range(0x180, 0x1A8), 0xF000, 0xF018, 0xF02C]),
        st.integers(0, 255),
        max_size=6,
    )
)
def test_a_header_of_any_kind_is_walked(changes):
    data = bytearray(made.nvidia())
    for place, value in changes.items():
        data[place] = value
    for chain in chains(bytes(data)):
        end = 0
        for image in chain.images:
            assert image.offset_bytes >= end
            end = image.offset_bytes + image.length_bytes
        assert chain.complete == (not chain.problems) or chain.images[0].structure is (
            None
        )
