"""The host link of a card as Linux shows it at a moment: generation and lanes.

Files: the kernel's Documentation/ABI/testing/sysfs-bus-pci. Newer AMD and Intel boards
carry a switch of their own: the card's function hangs on its inner side, whose speed
says nothing of the slot. Read is the port that looks at the slot.
"""

from pathlib import Path
from typing import Final

from probe.identity.address import link_generation
from probe.identity.pci_sysfs import lanes, number

_BRIDGE: Final = 0x0604
"""Class of a PCI-to-PCI bridge (PCI Code and ID Assignment Specification)."""


class LinkState:
    """A card's link; what cannot be read is not read again."""

    def __init__(self, card: Path) -> None:
        port = slot_port(card)
        self._speed: Path | None = port / "current_link_speed"
        self._width: Path | None = port / "current_link_width"

    def read(self) -> tuple[int | None, int | None]:
        """Return PCI Express generation and lanes, each None where it is not told."""
        generation = link_generation(_text(self._speed))
        width = lanes(_text(self._width))
        if generation is None:
            self._speed = None
        if width is None:
            self._width = None
        return generation, width


def slot_port(card: Path) -> Path:
    """Return the folder of the port that looks at the slot; the card's own mostly.

    Two bridges of the card's own maker, one behind the other and behind a third, are
    the inner and the outer side of its switch.
    """
    try:
        place = card.resolve()
    except OSError:
        return card
    inner, outer, root = place.parents[:3] if len(place.parents) > 3 else (place,) * 3  # noqa: PLR2004
    maker = _number(place / "vendor")
    own = maker is not None and all(
        _number(side / "vendor") == maker and _is_bridge(side)
        for side in (inner, outer)
    )
    return outer if own and _is_bridge(root) else card


def _is_bridge(folder: Path) -> bool:
    kind = _number(folder / "class")
    return kind is not None and kind >> 8 == _BRIDGE


def _number(path: Path) -> int | None:
    return number(_text(path))


def _text(path: Path | None) -> str:
    """Return a file's first line; empty where it cannot be read."""
    if path is None:
        return ""
    try:
        with path.open(encoding="ascii", errors="replace") as file:
            return file.readline(80).strip()
    except (OSError, ValueError):
        return ""
