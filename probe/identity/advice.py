"""What a PC lacks before a card can be tested, and how to get it. Words alone.

Package names are those of Debian's and Ubuntu's archives.
"""

import sys
from typing import Final

from probe.identity.bus import (
    AMD,
    INTEL,
    NVIDIA,
    BusDevice,
    claims,
    describe,
    kind_of,
    vendor_name,
)
from probe.identity.cards import Found, Inventory

_LINUX: Final = {
    NVIDIA: (
        "install NVIDIA's own driver with its OpenCL part (Debian: nvidia-driver and "
        "nvidia-opencl-icd; Ubuntu: ubuntu-drivers install); an old chip needs the "
        "last driver series that knows it"
    ),
    AMD: (
        "install an OpenCL driver for AMD (Debian, Ubuntu: mesa-opencl-icd, used with "
        "RUSTICL_ENABLE=radeonsi in the environment; or AMD's own ROCm)"
    ),
    INTEL: "install Intel's OpenCL driver (Debian, Ubuntu: intel-opencl-icd)",
}
_WINDOWS: Final = (
    "install the display driver from {vendor}'s own site (not from the seller): it "
    "brings OpenCL along"
)
_NO_CARD: Final = (
    "check that the card sits firmly in its slot and that its power plugs are in; in a "
    "virtual machine, hand the card through to it"
)


def no_card(inventory: Inventory) -> str:
    """Return why no graphics card here can be tested, what is seen, what to do."""
    on_bus = [device for device in inventory.bus.devices if kind_of(device) == "gpu"]
    steps = list(dict.fromkeys(_step(device) for device in on_bus)) or [_NO_CARD]
    return "\n".join(
        (
            f"No graphics card here can be tested: {_reason(inventory)}",
            *(f"  {line}" for line in _looked_at(inventory)),
            *(f"  {line}" for device in on_bus for line in _seen(device)),
            *(() if on_bus else (f"  {_nothing_seen(inventory)}",)),
            f"Next: {'; or '.join(steps)}.",
        )
    )


def no_processor(inventory: Inventory) -> str:
    """Return why the processor cannot be tested, and what to do."""
    why = " ".join(inventory.opencl.notes)
    if not why:
        return (
            "No OpenCL driver for the processor is here.\n"
            "Next: install one (Debian, Ubuntu: pocl-opencl-icd)."
        )
    return (
        f"The processor cannot be tested: {why}\n"
        "Next: test again; if it stays so, install another OpenCL driver for it "
        "(Debian, Ubuntu: pocl-opencl-icd)."
    )


def untestable(found: Found, inventory: Inventory) -> str:
    """Return why this one card cannot be tested, what is seen, what to do."""
    device = found.bus
    where = found.identity.pci_address
    label = found.identity.label + (f" at {where}" if where else "")
    step = _vendor_step(NVIDIA) if device is None else _step(device)
    return "\n".join(
        (
            f"{label} cannot be tested: no OpenCL driver shows it.",
            *(f"  {note}" for note in inventory.opencl.notes),
            *(f"  {line}" for line in _looked_at(inventory)),
            *(f"  {line}" for line in (_seen(device) if device else ())),
            f"Next: {step}.",
        )
    )


def _reason(inventory: Inventory) -> str:
    if inventory.opencl.notes:
        return " ".join(inventory.opencl.notes)
    others = [device.label for device in inventory.opencl.devices]
    if others:
        return f"OpenCL shows no graphics card, only {', '.join(others)}."
    return "OpenCL's drivers show no device."


def _looked_at(inventory: Inventory) -> tuple[str, ...]:
    sight = inventory.opencl
    lines = []
    if sight.loader:
        lines.append(f"OpenCL's loader: {sight.loader}")
    if sight.vendors_folder:
        drivers = ", ".join(sight.registered) or "none"
        lines.append(f"OpenCL drivers registered in {sight.vendors_folder}: {drivers}")
    return tuple(lines)


def _seen(device: BusDevice) -> tuple[str, ...]:
    lines = [f"PCI shows {describe(device)}"]
    if device.obstacle:
        lines.append(f"Not reachable: {device.obstacle}")
    for claim in claims(device):
        if claim.layer != "driver":
            continue
        size = claim.memory_bytes
        words = [
            claim.model,
            None if size is None else f"{size / 2**30:.1f} GiB",
            f"firmware {claim.firmware}" if claim.firmware else None,
            claim.driver,
        ]
        said = ", ".join(word for word in words if word)
        lines.append(f"Its driver says: {said}")
    return tuple(lines)


def _nothing_seen(inventory: Inventory) -> str:
    if inventory.bus.notes:
        return " ".join(inventory.bus.notes)
    stand_ins = [vendor_name(device.vendor) for device in inventory.bus.devices]
    if stand_ins:
        return f"PCI shows no graphics card, only a display of {', '.join(stand_ins)}."
    return "PCI shows no graphics card."


def _step(device: BusDevice) -> str:
    return device.obstacle or _vendor_step(device.vendor)


def _vendor_step(vendor: int) -> str:
    if sys.platform == "win32":
        return _WINDOWS.format(vendor=vendor_name(vendor))
    return _LINUX.get(
        vendor, f"install the OpenCL driver that {vendor_name(vendor)} offers"
    )
