"""NVIDIA's device control block: what a board's firmware can show a picture on.

Sources: NVIDIA's "Device Control Block 4.0 Specification"; nouveau's
nvkm/subdev/bios/{dcb,conn}.c and include/nvkm/subdev/bios/{dcb,conn}.h.
"""

from typing import Final, NamedTuple

from reference.firmware.view import View

_POINTER: Final = 0x36
_SIGNATURE: Final = 0x4EDCBDCB
_VERSIONS: Final = range(0x30, 0x50)
_MOST: Final = 32
_SKIP: Final = 0xF
_END: Final = 0xE
_OUTPUTS: Final = {0: "analog", 1: "TV", 2: "TMDS", 3: "LVDS", 6: "DisplayPort"}
_CONNECTORS: Final = {
    0x00: "VGA",
    0x10: "TV",
    0x11: "TV",
    0x13: "TV",
    0x30: "DVI-I",
    0x31: "DVI-D",
    0x38: "DMS-59",
    0x39: "DMS-59",
    0x40: "LVDS",
    0x41: "LVDS",
    0x46: "DP",
    0x47: "eDP",
    0x48: "mini-DP",
    0x60: "HDMI",
    0x61: "HDMI",
    0x63: "mini-HDMI",
    0x64: "DMS-59",
    0x65: "DMS-59",
    0x70: "wireless",
    0x71: "USB-C",
}


class DeviceControlBlock(NamedTuple):
    """Display paths and sockets, by kind, in the order listed."""

    version: str | None = None
    outputs: tuple[str, ...] = ()
    connectors: tuple[str, ...] = ()


def device_control_block(view: View) -> DeviceControlBlock:
    """Return the block that the image points to; empty where there is none known."""
    table = view.u16(_POINTER)
    if not table or view.u32(table + 6) != _SIGNATURE:
        return DeviceControlBlock()
    version, header, count, size = (view.u8(table + place) or 0 for place in range(4))
    if version not in _VERSIONS:
        return DeviceControlBlock()
    outputs, used = _outputs(view, table + header, count, size)
    return DeviceControlBlock(
        version=f"{version >> 4}.{version & 0xF}",
        outputs=outputs,
        connectors=_connectors(view, table, header, used),
    )


def _outputs(
    view: View, place: int, count: int, size: int
) -> tuple[tuple[str, ...], frozenset[int]]:
    """Return the display paths, and the connectors that they lead to."""
    found, used = [], set()
    for number in range(min(count, _MOST)):
        word = view.u32(place + number * size)
        if word is None or word in {0, 0xFFFFFFFF} or word & 0xF == _END:
            break
        if word & 0xF == _SKIP:
            continue
        found.append(_OUTPUTS.get(word & 0xF, f"type {word & 0xF}"))
        used.add(word >> 12 & 0xF)
    return tuple(found), frozenset(used)


def _connectors(
    view: View, table: int, header: int, used: frozenset[int]
) -> tuple[str, ...]:
    place = view.u16(table + 0x14) if header >= 0x16 else None  # noqa: PLR2004
    if not place or view.u8(place) not in {0x30, 0x40}:
        return ()
    start, count, size = (view.u8(place + at) or 0 for at in (1, 2, 3))
    found = []
    for number in sorted(used):
        kind = view.u8(place + start + number * size)
        if number < count and kind is not None and kind in _CONNECTORS:
            found.append(_CONNECTORS[kind])
    return tuple(found)
