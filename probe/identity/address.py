"""PCI addresses, and the numbers that layers give. Pure: nothing is read here."""

import re
from typing import Final

COUNT_LIMIT: Final = 2**63 - 1
"""Largest count that a record holds."""

_ADDRESS = re.compile(
    r"(?:([0-9a-f]{4,8}):)?([0-9a-f]{1,2}):([0-9a-f]{1,2})(?:\.([0-7]))?",
    re.IGNORECASE,
)
_BUS_LIMIT = 0x100
_SLOT_LIMIT = 0x20
_DOMAIN_LIMIT = 2**32
_GENERATIONS = {
    "2.5": 1, "5.0": 2, "8.0": 3, "16.0": 4, "32.0": 5, "64.0": 6,
    "5": 2, "8": 3, "16": 4,  # as kernels before 4.17 print them
}  # fmt: skip


def join(domain: int, bus: int, slot: int, function: int) -> str | None:
    """Return `0000:01:00.0`; None where a part is out of the bus's range."""
    inside = (
        0 <= domain < _DOMAIN_LIMIT
        and 0 <= bus < _BUS_LIMIT
        and 0 <= slot < _SLOT_LIMIT
        and function in range(8)
    )
    return f"{domain:04x}:{bus:02x}:{slot:02x}.{function}" if inside else None


def normal(text: str) -> str | None:
    """Return an address as people and drivers write it in the form `0000:01:00.0`.

    Takes it with or without domain (four to eight digits) and function; None where
    the text is no address.
    """
    match = _ADDRESS.fullmatch(text.strip())
    if match is None:
        return None
    domain, bus, slot, function = (int(part or "0", 16) for part in match.groups())
    return join(domain, bus, slot, function)


def slot_of(address: str) -> str:
    """Return the address without its function: all functions of a card share it."""
    return address.rsplit(".", 1)[0]


def without_domain(address: str) -> str:
    """Return `01:00.0` of `0000:01:00.0`, for layers that know no domain."""
    return address.split(":", 1)[1]


def count(value: object) -> int | None:
    """Return a number that a record can hold; None for any other value."""
    if isinstance(value, bool) or not isinstance(value, int):
        return None
    return value if 0 <= value <= COUNT_LIMIT else None


def pair(vendor: int, device: int) -> str:
    """Return `10de:1b81`, the way PCI ids are written."""
    return f"{vendor:04x}:{device:04x}"


def link_generation(speed: str) -> int | None:
    """Return the PCI Express generation of a speed as Linux prints it: `8.0 GT/s PCIe`.

    Speeds a lane by generation: PCI Express Base Specification, 2.5 to 64 GT/s.
    """
    return _GENERATIONS.get(speed.split(" ", 1)[0]) if speed else None
