"""Display functions on Linux: sysfs, /proc, render nodes, without root. Parses nothing.

Every file is optional; one that cannot be read is None.
"""

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from probe.identity import drm_ioctl, pci_names, pci_sysfs, surroundings
from probe.identity.address import pair, slot_of
from probe.identity.bus import BusDevice, BusSight, Sibling, is_card_class
from probe.identity.drm_parse import KernelWord
from probe.identity.firmware_image import KeptImage, described, kept_for, vfct
from reports.layers import FirmwareImage
from reports.text import plain

_FILE_LIMIT = 65536


_IMAGE_OF_DRIVER = "image that the kernel driver keeps"
_IMAGE_OF_ACPI = "image in ACPI's table VFCT"


def read(
    root: Path = Path("/"),
    names: tuple[Path, ...] = pci_names.PLACES,
    ask: Callable[[Path, str | None], KernelWord | None] = drm_ioctl.read,
) -> BusSight:
    """Return every display function; `root` is where /sys and /proc are looked for.

    `ask` stands in for the driver behind a render node, in tests.
    """
    folder = root / "sys/bus/pci/devices"
    try:
        places = sorted(folder.iterdir())
    except OSError as error:
        return BusSight(
            notes=(f"The PCI bus cannot be read: {error.strerror} ({folder}).",)
        )
    functions = {
        place.name: _files(place, ("vendor", "device", "class")) for place in places
    }
    cards = _cards(functions)
    wanted = {(found.vendor, found.device) for found in cards.values()}
    table, table_path = pci_names.from_system(wanted, names)
    kept = vfct(surroundings.vfct_linux(root))
    devices = []
    for address, own in cards.items():
        place = folder / address
        driver = _link_name(place / "driver")
        name = table.get(pair(own.vendor, own.device))
        node = _render_node(place, root)
        found = pci_sysfs.device(
            address,
            _files(place, pci_sysfs.FILES),
            driver=driver,
            driver_version=_module_version(root, driver),
            siblings=_siblings(address, functions),
            connectors=_connectors(place),
            information=_text(root / f"proc/driver/nvidia/gpus/{address}/information"),
            name=name,
            name_source=table_path if name else None,
            folder=str(place),
            render_node=None if node is None else str(node),
            obstacle=_obstacle(node),
        )
        if found is not None:
            word = ask(node, driver) if node is not None else None
            images = _images(found, word, kept)
            devices.append(replace(found, kernel=word, images=images))
    return BusSight(
        devices=tuple(devices), virtual_machine=surroundings.virtual_linux(root)
    )


def _images(
    device: BusDevice, word: KernelWord | None, kept: tuple[KeptImage, ...]
) -> tuple[FirmwareImage, ...]:
    found = []
    if word is not None and word.image:
        found.append(described(word.image, _IMAGE_OF_DRIVER))
    one = kept_for(kept, device.address, device.vendor, device.device)
    if one is not None:
        found.append(described(one.data, _IMAGE_OF_ACPI))
    return tuple(found)


def _cards(functions: dict[str, dict[str, str]]) -> dict[str, Sibling]:
    """Display functions by address, one a slot: a second one is the card's own."""
    cards: dict[str, Sibling] = {}
    slots: set[str] = set()
    for address, files in functions.items():
        own = pci_sysfs.sibling(address, files)
        if own is None or not is_card_class(own.device_class, own.vendor):
            continue
        if slot_of(address) not in slots:
            slots.add(slot_of(address))
            cards[address] = own
    return cards


def _siblings(
    address: str, functions: dict[str, dict[str, str]]
) -> tuple[Sibling, ...]:
    beside = (
        pci_sysfs.sibling(other, files)
        for other, files in functions.items()
        if other != address and slot_of(other) == slot_of(address)
    )
    return tuple(found for found in beside if found is not None)


def _text(path: Path) -> str | None:
    try:
        with path.open("rb") as file:
            return file.read(_FILE_LIMIT).decode("utf-8", "replace")
    except OSError:
        return None


def _files(place: Path, names: tuple[str, ...]) -> dict[str, str]:
    texts = {name: _text(place / name) for name in names}
    return {name: text.strip() for name, text in texts.items() if text is not None}


def _link_name(path: Path) -> str | None:
    try:
        return plain(path.readlink().name) or None
    except OSError:
        return None


def _module_version(root: Path, driver: str | None) -> str | None:
    text = _text(root / f"sys/module/{driver}/version") if driver else None
    return (plain(text) or None) if text else None


def _connectors(place: Path) -> tuple[tuple[str, str], ...]:
    """Return the outputs, from `drm/cardN/cardN-HDMI-A-1/status`."""
    found = []
    for status in sorted(place.glob("drm/card*/card*-*/status")):
        state = _text(status)
        output = plain(status.parent.name.split("-", 1)[1])
        found.append((output, plain(state or "unknown")))
    return tuple(found)


def _render_node(place: Path, root: Path) -> Path | None:
    nodes = sorted(place.glob("drm/renderD*"))
    return root / "dev/dri" / nodes[0].name if nodes else None


def _obstacle(node: Path | None) -> str | None:
    if node is None or not node.exists() or os.access(node, os.R_OK | os.W_OK):
        return None
    return f"this user may not open {node}: add the user to the group render"
