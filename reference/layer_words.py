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
}
SETTLE: Final[dict[str, str]] = {
    "silicon-id": "Read the chip's marking, under its cooler.",
    "sibling-function": "Test again outside a virtual machine, and read the chip's "
    "marking.",
    "firmware-version": "Read the chip's marking: firmware may be another card's.",
    "firmware-image": "Read the firmware chip itself, and the chip's marking.",
    "driver-package": "Install the maker's own driver afresh and test again.",
}
