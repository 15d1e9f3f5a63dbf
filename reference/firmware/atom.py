"""AMD images: the ATOM header, texts, connector and memory tables.

Sources: Linux, drivers/gpu/drm/amd/include/{atombios,atomfirmware,ObjectID}.h (layouts
and places) and amdgpu/{atom,amdgpu_atomfirmware}.c (texts, dates, memory width).
"""

from typing import Final

from reference.firmware import vram
from reference.firmware.view import View
from reports.firmware_report import Atom, Chain, FirmwareString

VENDOR: Final = 0x1002
_MAGIC: Final = b" 761295520"
_MAGIC_AT: Final = 0x30
_HEADER_AT: Final = 0x48
_DATE_AT: Final = 0x50
_COUNT_AT: Final = 0x2F
_STRINGS_AT: Final = 0x6E
_PART_AT: Final = 0x80
_VERSION_SKIP: Final = 18
_PREFIX: Final = b"ATOMBIOSBK-AMD VER"
_SEARCHED: Final = 1024
_LONGEST: Final = 128
_MOST_STRINGS: Final = 8
_NAMES: Final = ("part number", "ASIC", "bus", "memory type")
"""What the first texts are, by atom.c."""
_OBJECTS: Final = 22
_VRAM: Final = 28
"""Places in the master data table: Object_Header or displayobjectinfo, VRAM_Info."""
_CONNECTOR: Final = 3
_MOST: Final = 16
_SOCKETS: Final = {
    0x01: "DVI-I",
    0x02: "DVI-I",
    0x03: "DVI-D",
    0x04: "DVI-D",
    0x05: "VGA",
    0x06: "composite",
    0x07: "S-Video",
    0x0C: "HDMI",
    0x0D: "HDMI",
    0x0E: "LVDS",
    0x13: "DP",
    0x14: "eDP",
    0x17: "USB-C",
}


def is_atom(data: bytes, chain: Chain) -> bool:
    """Whether the first image carries AMD's mark."""
    place = chain.images[0].offset_bytes + _MAGIC_AT
    return data[place : place + len(_MAGIC)] == _MAGIC


def parse(data: bytes, chain: Chain) -> Atom:
    """Return what the first image of a chain holds. Never fails."""
    view = View(data, chain.images[0].offset_bytes)
    header = view.u16(_HEADER_AT) or 0
    right = header > 0 and view.raw(header + 4, 4) == b"ATOM"
    texts = _texts(view)
    tables = view.u16(header + 0x20) if right else None
    connectors, objects = _connectors(view, _table(view, tables, _OBJECTS))
    memory, revision = vram.modules(view, _table(view, tables, _VRAM))
    return Atom(
        header_offset=header,
        signature_right=right,
        header_revision=_revision(view, header) if right else None,
        part_number=_part(view, texts),
        version=_version(view),
        date=view.text(_DATE_AT, 14),
        config_file=view.text(view.u16(header + 0xC), 64) if right else None,
        subsystem=_pair(view, header) if right else None,
        strings=(*texts, *_boot_message(view, header, right=right)),
        object_revision=objects,
        connectors=connectors,
        vram_revision=revision,
        memory=memory,
    )


def _revision(view: View, table: int) -> str | None:
    major, minor = view.u8(table + 2), view.u8(table + 3)
    return None if major is None or minor is None else f"{major}.{minor}"


def _table(view: View, tables: int | None, number: int) -> int | None:
    return view.u16(tables + 4 + 2 * number) if tables else None


def _pair(view: View, header: int) -> str | None:
    vendor, device = view.u16(header + 0x18), view.u16(header + 0x1A)
    return f"{vendor:04x}:{device:04x}" if vendor and device is not None else None


def _texts(view: View) -> tuple[FirmwareString, ...]:
    """Return the texts one behind the other, then the name that follows them."""
    count, place = view.u8(_COUNT_AT) or 0, view.u16(_STRINGS_AT)
    found: list[FirmwareString] = []
    if not count or not place:
        return ()
    for number in range(min(count, _MOST_STRINGS)):
        raw = view.raw(place, _LONGEST).split(b"\0", 1)[0]
        text = view.text(place, _LONGEST)
        name = _NAMES[number] if number < len(_NAMES) else f"text {number + 1}"
        if text:
            found.append(FirmwareString(name=name, text=text))
        place += len(raw) + 1
    text = view.text(place + 2, _LONGEST)  # two signs end the line before it
    if count <= _MOST_STRINGS and text:
        found.append(FirmwareString(name="name", text=text))
    return tuple(found)


def _boot_message(
    view: View, header: int, *, right: bool
) -> tuple[FirmwareString, ...]:
    place = view.u16(header + 0x10) if right else None
    raw = view.raw(place or 0, _LONGEST).lstrip(b"\r\n")
    skipped = len(view.raw(place or 0, _LONGEST)) - len(raw)
    text = view.text(place + skipped, _LONGEST) if place else None
    return (FirmwareString(name="boot message", text=text),) if text else ()


def _part(view: View, texts: tuple[FirmwareString, ...]) -> str | None:
    if texts and texts[0].name == _NAMES[0]:
        return texts[0].text
    return view.text(_PART_AT, 32) if not view.u8(_COUNT_AT) else None


def _version(view: View) -> str | None:
    head = view.raw(0, _SEARCHED)
    place = head.find(_PREFIX)
    return view.text(place + _VERSION_SKIP, 32) if place > 0 else None


def _connectors(view: View, table: int | None) -> tuple[tuple[str, ...], str | None]:
    """Return the sockets by kind, and the revision of the table."""
    if not table:
        return (), None
    revision = _revision(view, table)
    major, minor = view.u8(table + 2), view.u8(table + 3)
    if major != 1 or minor is None:
        return (), revision
    if minor >= 4:  # noqa: PLR2004 - display_object_info_table_v1_4 and v1_5
        count, place, size = view.u8(table + 6), table + 8, 16
    else:
        start = table + (view.u16(table + 6) or 0)
        count, place, size = view.u8(start), start + 4, 8
    found = []
    for number in range(min(count or 0, _MOST)):
        word = view.u16(place + number * size)
        if word is not None and word >> 12 & 7 == _CONNECTOR:
            found.append(_SOCKETS.get(word & 0xFF, f"type {word & 0xFF:#x}"))
    return tuple(found), revision
