"""The machine around the cards: ACPI's table of firmware images; whether it is virtual.

Reads, and parses only words. What cannot be read without rights is None.
"""

import ctypes
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

_TABLE_LIMIT = 16 * 2**20
_ACPI = 0x41435049
"""'ACPI', the provider's name as Windows takes it."""
_VFCT = int.from_bytes(b"VFCT", "little")
_MACHINES = (
    "qemu",
    "kvm",
    "vmware",
    "virtualbox",
    "innotek",
    "xen",
    "bochs",
    "virtual machine",
    "parallels",
    "bhyve",
    "amazon ec2",
    "google compute engine",
)
"""How makers of virtual machines name the board that they pretend."""


def vfct_linux(root: Path = Path("/")) -> bytes | None:
    """Return ACPI's table VFCT; mostly only root may read it."""
    try:
        with (root / "sys/firmware/acpi/tables/VFCT").open("rb") as file:
            return file.read(_TABLE_LIMIT)
    except OSError:
        return None


def vfct_windows(kernel: Any = None) -> bytes | None:  # noqa: ANN401  a Windows library
    """Return ACPI's table VFCT through GetSystemFirmwareTable, without rights."""
    if kernel is None:
        if sys.platform != "win32":
            return None
        kernel = ctypes.WinDLL("kernel32")
    size = kernel.GetSystemFirmwareTable(_ACPI, _VFCT, None, 0)
    if not 0 < size <= _TABLE_LIMIT:
        return None
    answer = ctypes.create_string_buffer(size)
    if kernel.GetSystemFirmwareTable(_ACPI, _VFCT, answer, size) != size:
        return None
    return answer.raw


def virtual_linux(root: Path = Path("/")) -> bool | None:
    """Tell whether this system runs in a virtual machine: the processor says so."""
    try:
        with (root / "proc/cpuinfo").open("rb") as file:
            words = file.read(65536).split(b"\n\n", 1)[0].split()
    except OSError:
        return None
    if b"hypervisor" in words:
        return True
    return is_virtual_board(
        text
        for name in ("sys_vendor", "product_name")
        if (text := _text(root / "sys/class/dmi/id" / name))
    )


def is_virtual_board(words: Iterable[str]) -> bool:
    """Tell whether a board's maker or name is a virtual machine's."""
    said = [word.casefold() for word in words]
    return any(name in word for word in said for name in _MACHINES)


def _text(path: Path) -> str | None:
    try:
        return path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return None
