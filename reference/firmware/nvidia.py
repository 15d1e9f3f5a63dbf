"""NVIDIA images: the BIOS information table, version, texts, straps, memory.

Sources: NVIDIA's "BIOS Information Table" specification (header, tokens, B, S, M);
nouveau's nvkm/subdev/bios (token `i`, M0203, pointers behind the first image);
envytools' docs/hw/io/pstraps.rst (strap words, NV18 to Fermi).
"""

from typing import Final

from reference.firmware.dcb import device_control_block
from reference.firmware.view import View
from reports.firmware_report import Chain, FirmwareString, Nvidia, RomImage, Straps

VENDOR: Final = 0x10DE
_BIT: Final = b"\xff\xb8BIT\0"
_MOST_TOKENS: Final = 64
_LONGEST: Final = 192
_EXTENSION: Final = 0xE0
_BOARD: Final = 0x54
_STRAPS: Final = 0x58
_VERSION_BYTES: Final = 5
_MOST_STRAPS: Final = 16
_STRINGS: Final = {
    1: ("sign-on", "OEM", "OEM vendor", "OEM product", "OEM revision"),
    2: (
        *("sign-on", "version", "copyright", "OEM", "OEM vendor"),
        *("OEM product", "OEM revision"),
    ),
}
_MEMORY: Final = {
    0x0: "DDR2",
    0x1: "DDR3",
    0x2: "GDDR3",
    0x3: "GDDR5",
    0x6: "HBM2",
    0x8: "GDDR5X",
    0x9: "GDDR6",
}
"""nouveau, include/nvkm/subdev/bios/M0203.h."""
_UNUSED: Final = 0xF
_ID_BITS: Final = (10, 11, 12, 13, 28, 30)
"""Bits of strap set 0 that are bits 0 to 5 of the device id (envytools, pstraps)."""
_ID_WIDTH: Final = {"60": 4, "62": 5, "70": 5, "75": 6}
"""Low id bits that straps set, by major version: 4 on G80, 5 from G92, 6 on GF119."""

Token = tuple[int, int, int]
"""Version, size and offset of the data of a BIT token."""


class Window(View):
    """An image by its own pointers: what lies behind image 0 is in image 0xE0."""

    def __init__(self, data: bytes, chain: Chain) -> None:
        super().__init__(data, chain.images[0].offset_bytes)
        self._first = chain.images[0].length_bytes
        self._more = next(
            (i.offset_bytes for i in chain.images[1:] if i.code_type == _EXTENSION),
            None,
        )

    def raw(self, offset: int, size: int) -> bytes:
        """Return `size` bytes at a pointer of the image."""
        if self._more is not None and offset >= self._first:
            offset += self._more - self.base - self._first
        return super().raw(offset, size)


def parse(data: bytes, chain: Chain) -> Nvidia:
    """Return what the first image of a chain holds. Never fails."""
    view = Window(data, chain)
    image = chain.images[0]
    whole = data[image.offset_bytes : image.offset_bytes + _size(image, data)]
    place = whole.find(_BIT)
    offset = place if place >= 0 else None
    tokens = _tokens(view, offset)
    version = _version(view, tokens.get("i"))
    other = _version(view, tokens.get("B"))
    dcb = device_control_block(view)
    types, straps = _memory(view, tokens.get("M"))
    return Nvidia(
        bit_offset=offset,
        bit_checksum_right=_header_right(view, offset),
        tokens="".join(tokens),
        version=version or other,
        other_version=other if version and other and other != version else None,
        date=_date(view, tokens.get("i")),
        subsystem=_pair(view),
        strings=_strings(view, tokens.get("S")),
        straps=_straps(view, version or other),
        dcb_version=dcb.version,
        outputs=dcb.outputs,
        connectors=dcb.connectors,
        memory_types=types,
        memory_straps=straps,
    )


def _size(image: RomImage, data: bytes) -> int:
    return min(image.length_bytes or image.header_length_bytes, len(data))


def _header_right(view: View, offset: int | None) -> bool | None:
    if offset is None:
        return None
    header = view.raw(offset, view.u8(offset + 8) or 0)
    return bool(header) and not sum(header) & 0xFF


def _tokens(view: View, offset: int | None) -> dict[str, Token]:
    """Return the tokens by id; the first of an id counts, as in nouveau."""
    if offset is None:
        return {}
    header, size, count = (view.u8(offset + place) or 0 for place in (8, 9, 10))
    found: dict[str, Token] = {}
    for number in range(min(count, _MOST_TOKENS)):
        place = offset + header + number * size
        name, version = view.u8(place), view.u8(place + 1)
        length, data = view.u16(place + 2), view.u16(place + 4)
        if name is None or version is None or length is None or data is None:
            break
        if name and chr(name).isascii() and chr(name).isprintable():
            found.setdefault(chr(name), (version, length, data))
    return found


def _version(view: View, token: Token | None) -> str | None:
    if token is None or token[1] < _VERSION_BYTES - 1:
        return None
    raw = view.raw(token[2], min(token[1], _VERSION_BYTES))
    if len(raw) < _VERSION_BYTES - 1 or not any(raw):
        return None
    return ".".join(f"{byte:02X}" for byte in (*raw[3::-1], *raw[4:5]))


def _date(view: View, token: Token | None) -> str | None:
    reach = 0x0F + 8
    return view.text(token[2] + 0x0F, 8) if token and token[1] >= reach else None


def _pair(view: View) -> str | None:
    vendor, device = view.u16(_BOARD), view.u16(_BOARD + 2)
    if not vendor or device is None or vendor == 0xFFFF:  # noqa: PLR2004 - erased
        return None
    return f"{vendor:04x}:{device:04x}"


def _strings(view: View, token: Token | None) -> tuple[FirmwareString, ...]:
    if token is None:
        return ()
    version, size, data = token
    found = []
    for number, name in enumerate(_STRINGS.get(version, ())):
        place = data + 3 * number
        if 3 * (number + 1) > size:
            break
        length = view.u8(place + 2) or 0
        text = view.text(view.u16(place), min(length + 1, _LONGEST))
        if text:
            found.append(FirmwareString(name=name, text=text))
    return tuple(found)


def _straps(view: View, version: str | None) -> Straps | None:
    words = [view.u32(_STRAPS + 4 * number) for number in range(4)]
    if None in words or set(words) <= {0, 0xFFFFFFFF}:
        return None
    select, secondary, select_1, secondary_1 = (word or 0 for word in words)
    width = _ID_WIDTH.get((version or "")[:2])
    mask = value = None
    if width:
        bits = [1 << bit for bit in _ID_BITS[:width]]
        mask = sum(1 << at for at, bit in enumerate(bits) if not select & bit)
        value = sum(
            1 << at
            for at, bit in enumerate(bits)
            if not select & bit and secondary & bit
        )
    return Straps(
        select=(select, select_1),
        secondary=(secondary, secondary_1),
        id_bits=mask,
        id_value=value,
    )


def _memory(view: View, token: Token | None) -> tuple[tuple[str, ...], int | None]:
    """Return the memory types its straps select, and how many straps there are."""
    if token is None or token[0] != 2 or token[1] < 5:  # noqa: PLR2004 - as published
        return (), None
    count, table = view.u8(token[2]), view.u16(token[2] + 3)
    if not table or view.u8(table) != 0x10:  # noqa: PLR2004 - the version known
        return (), count
    header, size, entries = (view.u8(table + place) or 0 for place in (1, 2, 3))
    found: dict[str, None] = {}
    for number in range(min(entries, _MOST_STRAPS)):
        first = view.u8(table + header + number * size)
        if first is None or first & 0xF == _UNUSED:
            continue
        found[_MEMORY.get(first & 0xF, f"type {first & 0xF:#x}")] = None
    return tuple(found), count
