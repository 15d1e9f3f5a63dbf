"""What OpenCL's vendor queries return, taken apart. Pure.

Sources: the Khronos extension texts cl_khr_pci_bus_info and cl_khr_device_uuid; AMD's
and NVIDIA's device attribute queries as their public headers lay them out; hwloc's
opencl.h for the packing of NVIDIA's slot number.
"""

import re
import struct

from probe.identity.address import join
from reports.text import plain

_PCIE_TOPOLOGY = 1
_DEVICES = 32
"""Devices on one PCI bus."""
_CHIP_WORD = re.compile(r"(?:gfx[0-9a-f]{3,4}|NV[0-9A-F]{2,3})(?![0-9a-zA-Z])\S*")
_MESA = re.compile(r"^(.*?) \((.*)\)$")
_MESA_DRIVERS = ("radeonsi", "r600", "nouveau", "iris", "crocus", "zink")


def bus_info(data: bytes) -> str | None:
    """Address from cl_device_pci_bus_info_khr: domain, bus, device, function."""
    size = struct.calcsize("=4I")
    return join(*struct.unpack("=4I", data[:size])) if len(data) >= size else None


def nvidia_address(bus: int, slot: int, domain: int | None) -> str | None:
    """Address from NVIDIA's attributes: the slot is the number of the device.

    So a real card says (an H100 at 00:06.0: 6, driver 580); hwloc takes device and
    function to be packed in it. What no device number can be is read that way.
    """
    if slot < _DEVICES:
        return join(domain or 0, bus, slot, 0)
    return join(domain or 0, bus, slot >> 3, slot & 7)


def amd_address(bus: int, device: int, function: int, kind: int = 1) -> str | None:
    """Address from AMD's topology, whose parts are signed characters; no domain."""
    if kind != _PCIE_TOPOLOGY:
        return None
    return join(0, bus & 0xFF, device & 0xFF, function & 0xFF)


def uuid(data: bytes | None) -> bytes | None:
    """Sixteen bytes that name one device; None for all zeros or another length."""
    return data if data and len(data) == 16 and any(data) else None  # noqa: PLR2004


def names(name: str, board: str | None) -> tuple[str | None, str | None]:
    """Return the model and the chip that a device's two names hold.

    AMD's own drivers put the chip into the device name and the model into the board
    name. Mesa puts model, driver and chip into one: `AMD Radeon RX 580 Series
    (radeonsi, polaris10, LLVM 15.0.7, …)`.
    """
    name = plain(name)
    if board is not None:
        board = plain(board)
        if board and board != name:
            return board, name or None
    if _CHIP_WORD.fullmatch(name):
        return None, name
    mesa = _MESA.match(name)
    parted = _mesa_names(mesa[1], mesa[2]) if mesa else None
    return parted or (name or None, None)


def _mesa_names(name: str, words: str) -> tuple[str | None, str | None] | None:
    """Take apart what Mesa writes behind a name; None where Mesa did not write it."""
    parts = [part.strip() for part in words.split(",")]
    if parts[0] in _MESA_DRIVERS:
        chip = parts[1] if len(parts) > 1 and " " not in parts[1] else None
        return name or None, chip
    if not any(part.startswith(("DRM ", "LLVM ")) for part in parts):
        return None
    chip = None if " " in parts[0] else parts[0]
    first, _, rest = name.partition(" ")
    if chip is None and first == "AMD" and rest.isupper():
        return None, rest
    return name, chip
