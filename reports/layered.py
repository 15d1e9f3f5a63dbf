"""The further layers of a card as short lines: what, what is told, where it was read.

Words alone; nothing is judged here.
"""

from typing import Final

from reports.layers import DriverPackage, FirmwareImage, Function, Layers

Line = tuple[str, str, str]
"""What it is, what is told, where it was read."""

_KINDS: Final = {
    "0403": "audio",
    "0c03": "USB",
    "0c80": "USB-C",
    "0300": "display",
    "0302": "display",
    "0380": "display",
}
"""Classes of the PCI ID repository that a card's functions have."""
_SLOT: Final = "the slot, through the operating system"
_SYSTEM: Final = "the operating system"


def short(layers: Layers) -> tuple[tuple[str, str], ...]:
    """Return what a list of cards has room for."""
    rows = []
    if layers.functions:
        told = ", ".join(f"{_kind(one)} {one.pci_id}" for one in layers.functions)
        rows.append(("Beside", told))
    if layers.outputs:
        rows.append(("Outputs", ", ".join(layers.outputs)))
    if layers.package is not None:
        rows.append(("Package", _line(layers.package)))
    made = [one for one in layers.images if one.pci_id]
    if made:
        ids = " and ".join(dict.fromkeys(one.pci_id or "" for one in made))
        rows.append(("Image", f"made for {ids}"))
    return tuple(rows)


def lines(layers: Layers | None) -> tuple[Line, ...]:
    """Return everything, a line each."""
    if layers is None:
        return ()
    found: list[Line] = [
        (f"function .{one.number}, {_kind(one)}", one.pci_id, _SLOT)
        for one in layers.functions
    ]
    if layers.outputs:
        found.append(("outputs", ", ".join(layers.outputs), "the display driver"))
    if layers.package is not None:
        found.append(("driver package", _line(layers.package), _SYSTEM))
    found += [("firmware image", _image(one), one.source) for one in layers.images]
    if layers.virtual_machine is not None:
        here = "yes" if layers.virtual_machine else "no"
        found.append(("in a virtual machine", here, _SYSTEM))
    found += [(one.name, one.value, one.source) for one in layers.further]
    return tuple(found)


def _kind(one: Function) -> str:
    return _KINDS.get(one.device_class, f"class {one.device_class}")


def _line(package: DriverPackage) -> str:
    named = f"line {package.line}" if package.line else None
    matched = f"for {package.matching_id}" if package.matching_id else None
    return " ".join(part for part in (named, matched) if part) or "no line named"


def _image(one: FirmwareImage) -> str:
    made = f"made for {one.pci_id}, " if one.pci_id else ""
    return f"{made}{one.size_bytes} bytes, sha256 {one.sha256}"
