"""Linux's PCI files, read as text: pure parsing.

Formats: the kernel's Documentation/ABI/testing/sysfs-bus-pci and sysfs-pci.rst; the
`information` file as NVIDIA's driver README describes its /proc interface.
"""

import re
from collections.abc import Mapping

from probe.identity.address import count, link_generation
from probe.identity.bus import BusDevice, DriverWord, Sibling
from reports.text import plain

FILES = (
    "vendor",
    "device",
    "class",
    "subsystem_vendor",
    "subsystem_device",
    "revision",
    "current_link_speed",
    "current_link_width",
    "max_link_speed",
    "max_link_width",
    "boot_vga",
    "mem_info_vram_total",
    "mem_info_vram_used",
    "vbios_version",
    "product_name",
)
"""Files of a function's directory that are read, each optional but the first three."""

_WORD = 0xFFFF
_WIDEST_LINK = 32
_MODEL = re.compile(r"^Model:[ \t]*(.+)$", re.MULTILINE)
_UUID = re.compile(r"^GPU UUID:[ \t]*GPU-([0-9a-fA-F-]{36})[ \t]*$", re.MULTILINE)
_FIRMWARE = re.compile(r"^Video BIOS:[ \t]*([0-9a-fA-F.]+)[ \t]*$", re.MULTILINE)


def number(text: str | None) -> int | None:
    """Return a number as sysfs prints it, decimal or `0x…`; else None."""
    try:
        return None if text is None else count(int(text.strip(), 0))
    except ValueError:
        return None


def sibling(address: str, files: Mapping[str, str]) -> Sibling | None:
    """Return another function of the slot; None where its ids cannot be read."""
    vendor, device = number(files.get("vendor")), number(files.get("device"))
    kind = number(files.get("class"))
    if vendor is None or device is None or kind is None:
        return None
    return Sibling(address=address, vendor=vendor, device=device, device_class=kind)


def drives_display(
    boot_vga: str | None, connectors: tuple[tuple[str, str], ...]
) -> bool | None:
    """Tell whether the card shows a picture: the boot console's or on any output.

    None where neither is known: some drivers show no outputs.
    """
    if (boot_vga or "").strip() == "1":
        return True
    if connectors:
        return any(state == "connected" for _, state in connectors)
    return None


def device(  # noqa: PLR0913  one argument a kind of file
    address: str,
    files: Mapping[str, str],
    *,
    driver: str | None = None,
    driver_version: str | None = None,
    siblings: tuple[Sibling, ...] = (),
    connectors: tuple[tuple[str, str], ...] = (),
    information: str | None = None,
    name: str | None = None,
    name_source: str | None = None,
    folder: str | None = None,
    render_node: str | None = None,
    obstacle: str | None = None,
) -> BusDevice | None:
    """Put one function together; None where vendor, device or class is unreadable."""
    own = sibling(address, files)
    if own is None:
        return None
    return BusDevice(
        address=address,
        vendor=own.vendor & _WORD,
        device=own.device & _WORD,
        device_class=own.device_class & 0xFFFFFF,
        source="PCI configuration, through Linux's sysfs",
        subsystem_vendor=number(files.get("subsystem_vendor")),
        subsystem_device=number(files.get("subsystem_device")),
        revision=number(files.get("revision")),
        link_generation=link_generation(files.get("current_link_speed", "")),
        link_width=lanes(files.get("current_link_width")),
        max_link_generation=link_generation(files.get("max_link_speed", "")),
        max_link_width=lanes(files.get("max_link_width")),
        driver=driver,
        drives_display=drives_display(files.get("boot_vga"), connectors),
        siblings=siblings,
        connectors=connectors,
        name=name,
        name_source=name_source,
        word=_word(files, driver, driver_version, information),
        uuid=_board(information),
        folder=folder,
        render_node=render_node,
        obstacle=obstacle,
    )


def _board(information: str | None) -> bytes | None:
    """Return the board's UUID, for pairing alone."""
    match = _UUID.search(information or "")
    try:
        return bytes.fromhex(match[1].replace("-", "")) if match else None
    except ValueError:
        return None


def lanes(text: str | None) -> int | None:
    """Return a link's lanes; the kernel prints 0 or 255 where the port gives none."""
    lanes = number(text)
    return lanes if lanes is not None and 0 < lanes <= _WIDEST_LINK else None


def _word(
    files: Mapping[str, str],
    driver: str | None,
    version: str | None,
    information: str | None,
) -> DriverWord | None:
    named = f"{driver} {version}" if driver and version else driver
    if information is not None:
        model, firmware = _MODEL.search(information), _FIRMWARE.search(information)
        if model or firmware:
            return DriverWord(
                source="NVIDIA's kernel driver, /proc/driver/nvidia",
                model=plain(model[1]) if model else None,
                firmware=firmware[1] if firmware else None,
                driver=named,
            )
    total = number(files.get("mem_info_vram_total"))
    firmware_text = plain(files.get("vbios_version", "")) or None
    model_text = plain(files.get("product_name", "")) or None
    if total is None and firmware_text is None and model_text is None:
        return None
    used = number(files.get("mem_info_vram_used"))
    free = None
    if total is not None and used is not None and used <= total:
        free = total - used
    return DriverWord(
        source=f"kernel driver {driver or 'unknown'}, through Linux's sysfs",
        model=model_text,
        memory_bytes=total,
        free_bytes=free,
        firmware=firmware_text,
        driver=named,
    )
