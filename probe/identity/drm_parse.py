"""What the open kernel drivers answer about a card, taken apart. Pure.

Layouts and numbers: the kernel's include/uapi/drm, amdgpu_drm.h, nouveau_drm.h and
radeon_drm.h. An answer shorter than its fields, as older kernels give, leaves out what
it lacks.
"""

import struct
from dataclasses import dataclass
from typing import Final

from probe.identity.address import count
from reports.text import plain

AMDGPU_INFO: Final = 0x40206445
"""DRM_IOW(0x40 + 0x05, 32 bytes)."""
NOUVEAU_GETPARAM: Final = 0xC0106440
"""DRM_IOWR(0x40 + 0x00, 16 bytes)."""
RADEON_INFO: Final = 0xC0106467
"""DRM_IOWR(0x40 + 0x27, 16 bytes)."""
RADEON_GEM_INFO: Final = 0xC018645C
"""DRM_IOWR(0x40 + 0x1c, 24 bytes)."""

DEVICE_INFO: Final = 0x16
MEMORY: Final = 0x19
VBIOS: Final = 0x1B
VBIOS_SIZE, VBIOS_IMAGE, VBIOS_INFO = 1, 2, 3
"""Queries of AMDGPU_INFO, and the parts of the query VBIOS."""
DEVICE_INFO_BYTES: Final = 512
MEMORY_BYTES: Final = 96
VBIOS_INFO_BYTES: Final = 200
IMAGE_LIMIT: Final = 4 * 2**20
"""Larger than any card's firmware chip."""

NOUVEAU_VENDOR, NOUVEAU_DEVICE, NOUVEAU_MEMORY, NOUVEAU_CHIP = 3, 4, 8, 11
RADEON_DEVICE, RADEON_ACTIVE_UNITS, RADEON_MAX_CLOCK = 0x00, 0x20, 0x1A

_MEMORY_TYPES: Final = {
    1: "GDDR1", 2: "DDR2", 3: "GDDR3", 4: "GDDR4", 5: "GDDR5", 6: "HBM", 7: "DDR3",
    8: "DDR4", 9: "GDDR6", 10: "DDR5", 11: "LPDDR4", 12: "LPDDR5", 13: "HBM3E",
}  # fmt: skip
_VIRTUAL_FUNCTION: Final = 0x100
"""The mode bits of `ids_flags`: one is a virtual function."""
_MODE_MASK: Final = 0x300
_BUILT_IN: Final = 0x1
_OFF_THE_BUS: Final = 0x1FF
"""All nine bits of the chip's number set: the card does not answer."""
_UNITS_LIMIT: Final = 1024
_WIDEST: Final = 16384


@dataclass(frozen=True, kw_only=True)
class KernelWord:
    """What an open kernel driver tells of one card. None: it does not tell."""

    driver: str
    vendor: int | None = None
    device: int | None = None
    chip_id: int | None = None
    """NVIDIA: bits 28:20 of the chip's register NV_PMC_BOOT_0."""
    units: int | None = None
    """Units that are switched on, from the chip's registers."""
    memory_bytes: int | None = None
    memory_used_bytes: int | None = None
    memory_type: str | None = None
    bus_width_bits: int | None = None
    """AMD: may be the firmware's word."""
    clock_mhz: int | None = None
    memory_clock_mhz: int | None = None
    firmware: str | None = None
    firmware_part: str | None = None
    firmware_date: str | None = None
    firmware_name: str | None = None
    image: bytes | None = None
    """The firmware image as the driver keeps it."""
    virtual: bool = False
    """A virtual function, lent to a virtual machine."""
    built_in: bool = False


def amdgpu_request(pointer: int, size: int, query: int, *more: int) -> bytes:
    """Return `struct drm_amdgpu_info`: where the answer goes, and what is asked."""
    words = (*more, 0, 0, 0, 0)[:4]
    return struct.pack("=QII4I", pointer, size, query, *words)


def amdgpu(
    device: bytes | None,
    memory: bytes | None,
    vbios: bytes | None,
    image: bytes | None = None,
) -> KernelWord | None:
    """Put amdgpu's answers together; None where it answers nothing at all."""
    if device is None and memory is None and vbios is None:
        return None
    own = device or b""
    flags = _u64(own, 136) or 0
    units = _u32(own, 48)
    width = _u32(own, 180)
    total, used = _u64(memory or b"", 0), _u64(memory or b"", 16)
    return KernelWord(
        driver="amdgpu",
        vendor=0x1002 if own else None,
        device=_u32(own, 0),
        units=units if units and units <= _UNITS_LIMIT else None,
        memory_bytes=count(total) or None,
        memory_used_bytes=count(used) if total else None,
        memory_type=_MEMORY_TYPES.get(_u32(own, 176) or 0),
        bus_width_bits=width if width and width <= _WIDEST else None,
        clock_mhz=_mhz(_u64(own, 32)),
        memory_clock_mhz=_mhz(_u64(own, 40)),
        firmware_name=_text(vbios, 0, 64),
        firmware_part=_text(vbios, 64, 64),
        firmware=_text(vbios, 136, 32),
        firmware_date=_text(vbios, 168, 32),
        image=image,
        virtual=flags & _MODE_MASK == _VIRTUAL_FUNCTION,
        built_in=bool(flags & _BUILT_IN),
    )


def nouveau(answers: dict[int, int]) -> KernelWord | None:
    """Put nouveau's parameters together; None without the chip's own number."""
    chip = answers.get(NOUVEAU_CHIP)
    if not chip or chip >= _OFF_THE_BUS:
        return None
    return KernelWord(
        driver="nouveau",
        vendor=answers.get(NOUVEAU_VENDOR),
        device=answers.get(NOUVEAU_DEVICE),
        chip_id=chip,
        memory_bytes=count(answers.get(NOUVEAU_MEMORY)) or None,
    )


def radeon(answers: dict[int, int], memory: bytes | None) -> KernelWord | None:
    """Put radeon's answers together; None where it does not know the card's id."""
    device = answers.get(RADEON_DEVICE)
    if not device:
        return None
    units = answers.get(RADEON_ACTIVE_UNITS)
    return KernelWord(
        driver="radeon",
        vendor=0x1002,
        device=device,
        units=units if units and units <= _UNITS_LIMIT else None,
        memory_bytes=count(_u64(memory or b"", 8)) or None,
        clock_mhz=_mhz(answers.get(RADEON_MAX_CLOCK)),
    )


def _mhz(kilohertz: int | None) -> int | None:
    return kilohertz // 1000 if kilohertz and kilohertz < 10**8 else None


def _u32(data: bytes, at: int) -> int | None:
    found = data[at : at + 4]
    return int.from_bytes(found, "little") if len(found) == 4 else None  # noqa: PLR2004


def _u64(data: bytes, at: int) -> int | None:
    found = data[at : at + 8]
    return int.from_bytes(found, "little") if len(found) == 8 else None  # noqa: PLR2004


def _text(data: bytes | None, at: int, size: int) -> str | None:
    if data is None:
        return None
    return plain(data[at : at + size].split(b"\0", 1)[0]) or None
