"""What sentences say of the further layers: found, open, and what would settle it.

Words alone, by the rules of `reference/rules/layers.py`, the most telling first.
"""

from collections.abc import Callable
from typing import Final

from reports.record import Finding


def _owner(measured: str) -> str:
    """Return `a GF106 (0c3)` of `0c3, a GF106`."""
    number, _, owner = measured.partition(", ")
    return f"{owner} ({number})" if owner else number


FOUND: Final[dict[str, Callable[[Finding], str]]] = {
    "silicon-id": lambda one: f"a chip that says it is {_owner(one.measured)}",
    "sibling-function": lambda one: f"functions of {_owner(one.measured)} beside it",
}
CLAUSES: Final[dict[str, Callable[[Finding], str]]] = {
    "silicon-id": lambda one: f"its chip says that it is {_owner(one.measured)}",
    "sibling-function": lambda one: (
        f"its other functions are those of {_owner(one.measured)}"
    ),
    "firmware-version": lambda one: f"its firmware is {one.measured}",
    "firmware-image": lambda one: (
        f"its firmware is made for {_owner(one.measured)}, not {one.envelope}"
    ),
    "driver-package": lambda one: (
        f"its driver package takes it for {_owner(one.measured)}"
    ),
    "eye-die-marking": lambda one: f"its die is marked as {_owner(one.measured)}",
    "eye-memory-size": lambda one: f"its memory chips hold {one.measured}",
    "eye-bus-width": lambda one: (
        f"its memory chips make a bus of {one.measured}, not {one.envelope}"
    ),
    "eye-power-plugs": lambda one: (
        f"it has {one.measured} where a genuine one draws {one.claim}"
    ),
    "eye-analog-output": lambda one: f"it has an analog output ({one.measured})",
    "read-version-chip": lambda one: (
        f"the firmware read from it is of version {one.measured}"
    ),
    "read-id": lambda one: f"the firmware read from it is for {one.measured}",
    "read-texts": lambda one: f"the firmware read from it names {one.measured}",
    "read-built": lambda one: f"its firmware was built on {one.measured}",
    "read-measured-chip": lambda one: (
        f"the firmware read from it is {_owner(one.measured)}'s"
    ),
    **dict.fromkeys(
        (
            *("read-card-id", "read-class", "read-chips", "read-image-ids"),
            *("read-versions", "read-checksum", "read-table-sum"),
        ),
        lambda _: "the firmware read from it does not fit",
    ),
}
SETTLE: Final[dict[str, str]] = {
    "silicon-id": "Read the chip's marking, under its cooler.",
    "sibling-function": "Test again outside a virtual machine, and read the chip's "
    "marking.",
    "firmware-version": "Read the chip's marking: firmware may be another card's.",
    "firmware-image": "Read the firmware chip itself, and the chip's marking.",
    "driver-package": "Install the maker's own driver afresh and test again.",
    "eye-die-marking": "Have a second person read the die's marking, and photograph "
    "it.",
    "eye-memory-size": "Count the memory chips on both sides again, and look their "
    "part number up with their maker.",
    "eye-bus-width": "Count the memory chips on both sides again.",
    "eye-power-plugs": "Look at all edges of the board for power connectors.",
    "eye-analog-output": "Test the card under its maker's driver: a converter on the "
    "board may explain the socket.",
    **dict.fromkeys(
        (
            *("read-version-chip", "read-id", "read-texts", "read-built"),
            *("read-measured-chip", "read-card-id", "read-class", "read-chips"),
            *("read-image-ids", "read-versions", "read-checksum", "read-table-sum"),
        ),
        "Read the chip's marking: firmware may be another card's.",
    ),
}
