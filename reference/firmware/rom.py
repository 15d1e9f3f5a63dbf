"""The expansion ROM: images, how they follow one another, what each says of itself.

Fields as in the PCI Firmware Specification 3.x (chapter 5, expansion ROMs), as Linux's
drivers/pci/rom.c reads them; NVIDIA's own signatures and its extension of the PCI data
structure (NPDE) as in nouveau's nvkm/subdev/bios/{pcir,npde,image}.c.
"""

from typing import Final, Literal

from reference.firmware.view import View
from reports.firmware_report import Chain, EfiHeader, RomImage
from reports.text import plain

_UNIT: Final = 512
_POINTER: Final = 0x18
_SIGNATURES: Final[dict[bytes, Literal["55AA", "NV", "77BB"]]] = {
    b"\x55\xaa": "55AA",
    b"NV": "NV",
    b"\x77\xbb": "77BB",
}
_STRUCTURES: Final[dict[bytes, Literal["PCIR", "NPDS", "RGIS"]]] = {
    b"PCIR": "PCIR",
    b"NPDS": "NPDS",
    b"RGIS": "RGIS",
}
X86: Final = 0
EFI: Final = 3
_FWSEC: Final = 0x70
"""Ends a chain whatever its last-image bit says (nouveau, image.c)."""
_LAST: Final = 0x80
_EFI_SIGNATURE: Final = 0x0EF1
_MOST_IMAGES: Final = 32
_MOST_CHAINS: Final = 16
_MOST_IDS: Final = 32
_REVISION_3: Final = 3


def chains(data: bytes) -> tuple[Chain, ...]:
    """Return every chain of images that begins at a multiple of 512 bytes.

    A header without a PCI data structure counts only at the very beginning, where
    there is nothing better.
    """
    starts = _starts(data)
    found: list[Chain] = []
    end = 0
    for start in starts:
        if start < end or len(found) == _MOST_CHAINS:
            continue
        if not _is_structured(data, start):
            continue
        first = _image(data, start)
        if first is not None:
            found.append(_walk(data, first))
            end = max(found[-1].end_bytes, start + _UNIT)
    if not found and starts[:1] == [0]:
        bare = _image(data, 0)
        found = [_bare(data, bare)] if bare else []
    return tuple(found)


def preface(data: bytes, found: tuple[Chain, ...]) -> str | None:
    """Return the first four characters of what lies before the first chain, if any."""
    if not found or not found[0].offset_bytes:
        return None
    return plain(data[:4].decode("latin-1"), 8) or None


def _starts(data: bytes) -> list[int]:
    """Return where 55 AA stands at a multiple of 512."""
    first, second = data[0::_UNIT], data[1::_UNIT]
    starts, place = [], first.find(b"\x55")
    while place >= 0:
        if second[place : place + 1] == b"\xaa":
            starts.append(place * _UNIT)
        place = first.find(b"\x55", place + 1)
    return starts


def _is_structured(data: bytes, start: int) -> bool:
    """Whether a header points to a PCI data structure."""
    pointer = int.from_bytes(data[start + _POINTER : start + _POINTER + 2], "little")
    return data[start + pointer : start + pointer + 4] in _STRUCTURES and pointer > 0


def _walk(data: bytes, first: RomImage) -> Chain:
    images, problems, complete = [first], [], False
    while True:
        image = images[-1]
        end = image.offset_bytes + image.length_bytes
        if not image.length_bytes:
            problems.append(f"Image {len(images)} states a length of nothing.")
            end = image.offset_bytes + image.header_length_bytes
            break
        if end > len(data):
            problems.append(
                f"Image {len(images)} ends at {end:#x}, the file at {len(data):#x}: "
                "the rest is cut off."
            )
            break
        if image.last or image.code_type == _FWSEC:
            complete = True
            break
        following = _image(data, end)
        if following is None or following.structure is None:
            problems.append(
                f"No image follows at {end:#x}, though image {len(images)} is not "
                "marked as the last."
            )
            break
        if len(images) == _MOST_IMAGES:
            problems.append(f"More than {_MOST_IMAGES} images follow one another.")
            break
        images.append(following)
    return Chain(
        offset_bytes=first.offset_bytes,
        end_bytes=min(end, len(data)),
        images=tuple(images),
        complete=complete,
        problems=tuple(problems),
    )


def _bare(data: bytes, image: RomImage) -> Chain:
    end = image.offset_bytes + image.length_bytes
    problems = ["The header has no PCI data structure: no ids, no chain."]
    if end > len(data):
        problems.append(
            f"The image ends at {end:#x}, the file at {len(data):#x}: the rest is cut "
            "off."
        )
    return Chain(
        offset_bytes=image.offset_bytes,
        end_bytes=min(end, len(data)),
        images=(image,),
        complete=bool(image.length_bytes) and end <= len(data),
        problems=tuple(problems),
    )


def _image(data: bytes, offset: int) -> RomImage | None:
    view = View(data, offset)
    signature = _SIGNATURES.get(view.raw(0, 2))
    if signature is None:
        return None
    size = (view.u8(2) or 0) * _UNIT
    pointer = view.u16(_POINTER) or 0
    structure = _STRUCTURES.get(view.raw(pointer, 4)) if pointer else None
    if structure is None:
        if signature != "55AA":
            return None
        total = _sum(data, offset, size)
        return RomImage(
            offset_bytes=offset,
            signature=signature,
            length_bytes=size,
            header_length_bytes=size,
            last=True,
            checksum=total,
            checksum_right=None if total is None else not total,
        )
    code_type = view.u8(pointer + 0x14)
    length = (view.u16(pointer + 0x10) or 0) * _UNIT
    last = bool((view.u8(pointer + 0x15) or 0) & _LAST)
    beyond = _extension(view, pointer) if code_type != _FWSEC else None
    if beyond:
        length, last = beyond
    revision = view.u8(pointer + 0xC)
    total = _sum(data, offset, length)
    return RomImage(
        offset_bytes=offset,
        signature=signature,
        structure=structure,
        vendor_id=view.u16(pointer + 4),
        device_id=view.u16(pointer + 6),
        further_ids=_further(view, pointer, revision),
        class_code=view.number(pointer + 0xD, 3),
        structure_revision=revision,
        code_revision=view.u16(pointer + 0x12),
        code_type=code_type,
        last=last,
        length_bytes=length,
        header_length_bytes=size,
        extended=beyond is not None,
        efi=_efi(view) if code_type == EFI else None,
        checksum=total,
        checksum_right=None if total is None or code_type != X86 else not total,
    )


def _extension(view: View, pointer: int) -> tuple[int, bool] | None:
    """Return length and last-image bit as NVIDIA's extension states them."""
    place = (pointer + (view.u16(pointer + 0xA) or 0) + 0x0F) & ~0x0F
    units, flags = view.u16(place + 8), view.u8(place + 0xA)
    if view.raw(place, 4) != b"NPDE" or units is None or flags is None:
        return None
    return units * _UNIT, bool(flags & _LAST)


def _further(view: View, pointer: int, revision: int | None) -> tuple[int, ...]:
    """Return the device list of a revision 3 structure: words up to a zero."""
    start = view.u16(pointer + 8) if (revision or 0) >= _REVISION_3 else None
    found: list[int] = []
    while start and len(found) < _MOST_IDS:
        one = view.u16(pointer + start + 2 * len(found))
        if not one:
            break
        found.append(one)
    return tuple(found)


def _efi(view: View) -> EfiHeader | None:
    fields = [view.u16(place) for place in (0x8, 0xA, 0xC, 0x16)]
    if view.u32(4) != _EFI_SIGNATURE or None in fields:
        return None
    subsystem, machine, compression, start = (one or 0 for one in fields)
    return EfiHeader(
        subsystem=subsystem, machine=machine, compression=compression, pe_offset=start
    )


def _sum(data: bytes, offset: int, length: int) -> int | None:
    """Return the sum of an image's bytes modulo 256; None where it is cut off."""
    if not length or offset + length > len(data):
        return None
    return sum(data[offset : offset + length]) & 0xFF
