"""AMD's VRAM table: which memory arrangements a firmware can run.

Sources: Linux, drivers/gpu/drm/amd/include/atombios.h (VRAM_Info 2.1 and 2.2, modules
7 and 8) and atomfirmware.h (2.3 to 2.5, modules 9 to 11); amdgpu_atomfirmware.c for the
width, which is channels x 2^width from 2.3 on.
"""

from typing import Final, NamedTuple

from reference.firmware.view import View
from reports.firmware_report import MemoryModule

_MOST: Final = 16


class _Layout(NamedTuple):
    """Where the fields of one module lie."""

    first: int
    """First module, from the start of the table."""
    modules: int
    module_size: int
    kind: int
    channels: int
    width: int
    density: int
    size: tuple[int, int] | None
    """Place and length of the memory size in MiB."""
    part: tuple[int, int]
    wide: bool
    """The width is stated as amdgpu_atomfirmware.c reads it."""


_LAYOUTS: Final = {
    (2, 1): _Layout(20, 16, 4, 11, 12, 13, 14, None, (32, 20), wide=False),
    (2, 2): _Layout(20, 16, 4, 11, 12, 13, 14, (20, 2), (44, 20), wide=False),
    (2, 3): _Layout(24, 20, 20, 23, 24, 25, 26, (0, 4), (32, 20), wide=True),
    (2, 4): _Layout(24, 20, 20, 23, 24, 25, 26, (0, 4), (40, 20), wide=True),
    (2, 5): _Layout(24, 20, 10, 13, 14, 15, 16, (0, 4), (44, 40), wide=True),
}
_TYPES: Final = {
    0x10: "DDR",
    0x20: "DDR2",
    0x30: "DDR3",
    0x40: "GDDR4",
    0x50: "GDDR5",
    0x60: "HBM",
    0x61: "HBM2e",
    0x70: "GDDR6",
    0x80: "HBM3",
}
_WIDTHS: Final = {1: 8, 2: 16, 3: 32, 5: 128}
_DENSEST: Final = 7
_WIDEST: Final = 10


def modules(
    view: View, table: int | None
) -> tuple[tuple[MemoryModule, ...], str | None]:
    """Return the modules of the table at `table`, and its revision."""
    major, minor = (view.u8((table or 0) + place) for place in (2, 3))
    if not table or major is None or minor is None:
        return (), None
    revision = f"{major}.{minor}"
    layout = _LAYOUTS.get((major, minor))
    if layout is None:
        return (), revision
    found, place = [], table + layout.first
    for _ in range(min(view.u8(table + layout.modules) or 0, _MOST)):
        size = view.u16(place + layout.module_size)
        if not size or view.u8(place + layout.part[0]) is None:
            break
        found.append(_module(view, place, layout))
        place += size
    return tuple(found), revision


def _module(view: View, place: int, layout: _Layout) -> MemoryModule:
    kind = view.u8(place + layout.kind)
    channels = view.u8(place + layout.channels)
    width = view.u8(place + layout.width)
    size = view.number(place + layout.size[0], layout.size[1]) if layout.size else None
    bus = None
    if layout.wide and channels and width is not None and width <= _WIDEST:
        bus = channels << width
    return MemoryModule(
        type=None if kind is None else _TYPES.get(kind, f"type {kind:#x}"),
        size_mib=size or None,
        part_number=view.text(place + layout.part[0], layout.part[1]),
        device=_device(view.u8(place + layout.density)),
        channels=channels,
        bus_bits=bus,
    )


def _device(density: int | None) -> str | None:
    """Return one memory device as atombios.h writes it: `_256Mx32` is 0x63."""
    if not density:
        return None
    width = _WIDTHS.get(density & 0xF)
    if width is None or density >> 4 > _DENSEST:
        return None
    return f"{4 << (density >> 4)}M x {width}"
