"""Windows' registry entries of PCI devices, as plain values: pure parsing.

Formats: Microsoft's "Identifiers for PCI devices" and "Registering hardware
information". The 64-bit memory size is written by drivers but documented nowhere.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from probe.identity.address import count, join
from probe.identity.bus import BusDevice, DriverWord, Sibling, is_card_class
from reports.text import plain

DISPLAY_CLASS = "{4d36e968-e325-11ce-bfc1-08002be10318}"
"""Windows' setup class of display adapters."""

_IDS = re.compile(
    r"VEN_([0-9A-F]{4})&DEV_([0-9A-F]{4})"
    r"(?:&SUBSYS_([0-9A-F]{4})([0-9A-F]{4}))?(?:&REV_([0-9A-F]{2}))?",
    re.IGNORECASE,
)
_CLASS = re.compile(r"[&\\]CC_([0-9A-F]{4})([0-9A-F]{2})?\b", re.IGNORECASE)
_PLACE = re.compile(r"\((\d{1,8}),(\d{1,3}),(\d{1,2})\)\s*$")
_PLACE_IN_WORDS = re.compile(r"PCI bus (\d{1,8}), device (\d{1,3}), function (\d)")
_LINE = re.compile(r"^@[^,;]*,%([^%;]*)%")
"""How Windows writes a text that lies in a driver package: `@oem7.inf,%name%;text`."""
_WIDEST_LINK = 32
_FASTEST_LINK = 6
_OLD_SIZE_LIMIT = 0xFFF00000
"""The 32-bit size saturates near 4 GiB: from here on it says nothing."""


@dataclass(frozen=True, kw_only=True)
class PciEntry:
    """One instance under the registry's list of PCI devices."""

    key: str
    """`VEN_10DE&DEV_1B81&SUBSYS_37011458&REV_A1`."""
    instance: str
    values: Mapping[str, object]
    present: bool = True
    """False: Windows remembers a device that is gone."""
    max_link_speed: int | None = None
    """Windows' number for it, which is the generation."""
    max_link_width: int | None = None
    link_speed: int | None = None
    link_width: int | None = None
    adapter: Mapping[str, object] = field(default_factory=dict)
    """Values of the display class key that `Driver` names."""


@dataclass(frozen=True, kw_only=True)
class _Parsed:
    entry: PciEntry
    vendor: int
    device: int
    device_class: int
    address: str | None


def devices(entries: tuple[PciEntry, ...]) -> tuple[BusDevice, ...]:
    """Return the display functions among the devices present, with their siblings."""
    parsed = [own for entry in entries if entry.present and (own := _parse(entry))]
    cards: dict[str, _Parsed] = {}
    for own in parsed:
        slot = _slot(own) or f"{own.entry.key}\\{own.entry.instance}"
        first = cards.get(slot)
        if is_card_class(own.device_class, own.vendor) and (
            first is None or (own.address or "") < (first.address or "")
        ):
            cards[slot] = own
    found = (_device(own, parsed) for own in cards.values())
    return tuple(sorted(found, key=lambda device: device.address or "~"))


def text(value: object) -> str | None:
    """Return a registry text, whether written as text or as UTF-16 bytes; else None."""
    if isinstance(value, bytes):
        value = value.decode("utf-16-le", "replace").split("\0", 1)[0]
    if isinstance(value, list):
        value = value[0] if value else None
    return (plain(value) or None) if isinstance(value, str) else None


def number(value: object) -> int | None:
    """Return a registry number, written as a number or as little-endian bytes."""
    if isinstance(value, bytes):
        value = int.from_bytes(value[:8], "little") if value else None
    return count(value)


def memory_bytes(adapter: Mapping[str, object]) -> int | None:
    """Return the driver's memory size: 64-bit, else 32-bit while that is true.

    Drivers write bytes into a field documented as megabytes; a number too small for
    bytes is taken as megabytes.
    """
    size = number(adapter.get("HardwareInformation.qwMemorySize"))
    if size:
        return size
    size = number(adapter.get("HardwareInformation.MemorySize"))
    if not size or size >= _OLD_SIZE_LIMIT:
        return None
    return size if size >= 2**20 else size * 2**20


def _parse(entry: PciEntry) -> _Parsed | None:
    ids = _IDS.search(entry.key)
    if ids is None:
        return None
    return _Parsed(
        entry=entry,
        vendor=int(ids[1], 16),
        device=int(ids[2], 16),
        device_class=_class_of(entry),
        address=_address_of(entry),
    )


def _class_of(entry: PciEntry) -> int:
    for name in ("CompatibleIDs", "HardwareID"):
        for value in _texts(entry.values.get(name)):
            match = _CLASS.search(value)
            if match:
                return int(match[1] + (match[2] or "00"), 16)
    display = str(entry.values.get("ClassGUID", "")).lower() == DISPLAY_CLASS
    return 0x030000 if display else 0


def _address_of(entry: PciEntry) -> str | None:
    place = str(entry.values.get("LocationInformation", ""))
    match = _PLACE.search(place) or _PLACE_IN_WORDS.search(place)
    if match is None:
        return None
    bus, slot, function = (int(part) for part in match.groups())
    return join(bus >> 8, bus & 0xFF, slot, function)


def _slot(own: _Parsed) -> str | None:
    return own.address.rsplit(".", 1)[0] if own.address else None


def _texts(value: object) -> tuple[str, ...]:
    values = value if isinstance(value, list) else [value]
    return tuple(each for each in values if isinstance(each, str))


def _device(own: _Parsed, everything: list[_Parsed]) -> BusDevice:
    entry, slot = own.entry, _slot(own)
    ids = _IDS.search(entry.key)
    assert ids is not None
    subsystem_device, subsystem_vendor, revision = (
        None if part is None else int(part, 16) for part in ids.groups()[2:]
    )
    siblings = tuple(
        Sibling(
            address=other.address,
            vendor=other.vendor,
            device=other.device,
            device_class=other.device_class,
        )
        for other in everything
        if other is not own and other.address and slot and _slot(other) == slot
    )
    return BusDevice(
        address=own.address,
        vendor=own.vendor,
        device=own.device,
        device_class=own.device_class,
        source="PCI ids, through Windows' registry",
        subsystem_vendor=subsystem_vendor,
        subsystem_device=subsystem_device,
        revision=revision,
        link_generation=_within(entry.link_speed, _FASTEST_LINK),
        link_width=_within(entry.link_width, _WIDEST_LINK),
        max_link_generation=_within(entry.max_link_speed, _FASTEST_LINK),
        max_link_width=_within(entry.max_link_width, _WIDEST_LINK),
        driver=text(entry.values.get("Service")),
        siblings=siblings,
        word=_word(entry.adapter),
        package_line=_line(entry.values.get("DeviceDesc")),
        matching_id=text(entry.adapter.get("MatchingDeviceId")),
        hardware_ids=tuple(
            plain(each) for each in _texts(entry.values.get("HardwareID"))
        ),
    )


def _line(description: object) -> str | None:
    found = _LINE.match(text(description) or "")
    return found[1] or None if found else None


def _within(value: int | None, most: int) -> int | None:
    return value if value is not None and 0 < value <= most else None


def _word(adapter: Mapping[str, object]) -> DriverWord | None:
    if not adapter:
        return None
    version = text(adapter.get("DriverVersion"))
    maker = text(adapter.get("ProviderName"))
    return DriverWord(
        source="display driver's entries in Windows' registry",
        model=text(adapter.get("HardwareInformation.AdapterString"))
        or text(adapter.get("DriverDesc")),
        memory_bytes=memory_bytes(adapter),
        firmware=text(adapter.get("HardwareInformation.BiosString")),
        driver=" ".join(part for part in (maker, version) if part) or None,
    )
