"""Firmware images that the PC already holds: ACPI's VFCT, and an image's own ids. Pure.

Layouts: the kernel's amdgpu atombios.h (UEFI_ACPI_VFCT, VFCT_IMAGE_HEADER); the PCI
Firmware Specification for an expansion ROM's first image. Images themselves are judged
elsewhere: here they only say for which card they were made.
"""

import hashlib
import struct
from dataclasses import dataclass

from probe.identity.address import join, pair
from reports.layers import FirmwareImage

_TABLE = struct.Struct("<4sI28s16sI")
"""Signature, length, rest of ACPI's header, UUID, offset of the first image."""
_HEAD = struct.Struct("<IIIHHHHII")
_MOST = 64


@dataclass(frozen=True, kw_only=True)
class KeptImage:
    """One image of the table VFCT, and the function that it is for."""

    address: str | None
    vendor: int
    device: int
    data: bytes


def vfct(table: bytes | None) -> tuple[KeptImage, ...]:
    """Return the images of an ACPI table VFCT; nothing where it is none, or broken.

    Images follow each other from the offset given; what would reach past the table's
    end is left out.
    """
    if table is None or len(table) < _TABLE.size:
        return ()
    signature, length, _, _, at = _TABLE.unpack_from(table)
    if signature != b"VFCT":
        return ()
    table = table[:length]
    found: list[KeptImage] = []
    while len(found) < _MOST and _TABLE.size <= at <= len(table) - _HEAD.size:
        bus, slot, function, vendor, device, _, _, _, size = _HEAD.unpack_from(
            table, at
        )
        start = at + _HEAD.size
        if not size or size > len(table) - start:
            break
        found.append(
            KeptImage(
                address=join(bus >> 8, bus & 0xFF, slot, function),
                vendor=vendor,
                device=device,
                data=table[start : start + size],
            )
        )
        at = start + size
    return tuple(found)


def kept_for(
    kept: tuple[KeptImage, ...], address: str | None, vendor: int, device: int
) -> KeptImage | None:
    """Return the one image kept for a function: by its place, else by its ids.

    Systems renumber buses after the table was written, as the kernel's readers know;
    where several fit, none is taken.
    """
    own = [one for one in kept if one.vendor == vendor]
    here = [one for one in own if address is not None and one.address == address]
    alike = [one for one in own if one.device == device]
    for fitting in (here, alike):
        if len(fitting) == 1:
            return fitting[0]
    return None


def made_for(image: bytes) -> str | None:
    """Return the `vendor:device` that an expansion ROM's first image names."""
    if image[:2] != b"\x55\xaa" or len(image) < 0x1A:  # noqa: PLR2004 - its header
        return None
    at = int.from_bytes(image[0x18:0x1A], "little")
    if image[at : at + 4] != b"PCIR" or len(image) < at + 8:
        return None
    vendor, device = struct.unpack_from("<HH", image, at + 4)
    return pair(vendor, device)


def described(image: bytes, source: str) -> FirmwareImage:
    """Return what a record keeps of an image: no bytes of it."""
    return FirmwareImage(
        source=source,
        size_bytes=len(image),
        sha256=hashlib.sha256(image).hexdigest(),
        pci_id=made_for(image),
    )
