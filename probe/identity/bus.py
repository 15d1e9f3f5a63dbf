"""What the bus and the operating system know of a display function: the types.

Pure. Readers (`bus_linux`, `bus_windows`) fill these; claims are made here. What is
known only to some systems is None elsewhere, never a default.
"""

from dataclasses import dataclass, field
from typing import Final

from probe.identity.address import pair
from probe.identity.drm_parse import KernelWord
from reports.layers import FirmwareImage
from reports.record import CardKind, Claim

NVIDIA: Final = 0x10DE
AMD: Final = 0x1002
INTEL: Final = 0x8086

VENDORS: Final = {NVIDIA: "NVIDIA", AMD: "AMD", INTEL: "Intel"}
"""Makers of the cards that this program is for."""

STAND_INS: Final = {
    0x1013: "Cirrus Logic",
    0x102B: "Matrox",
    0x1234: "QEMU",
    0x1414: "Microsoft",
    0x15AD: "VMware",
    0x1A03: "ASPEED",
    0x1AF4: "virtio",
    0x1B36: "Red Hat",
    0x80EE: "VirtualBox",
}
"""Makers of a virtual machine's or a server board's display function (pci.ids)."""

DISPLAY: Final = 0x03
ACCELERATOR: Final = 0x12
_INTEL_OWN = "0000:00:02.0"


@dataclass(frozen=True, kw_only=True)
class Sibling:
    """Another function of the same card: audio, USB. Its ids belong to the chip."""

    address: str
    vendor: int
    device: int
    device_class: int


@dataclass(frozen=True, kw_only=True)
class DriverWord:
    """What the card's own driver says through the operating system."""

    source: str
    model: str | None = None
    memory_bytes: int | None = None
    free_bytes: int | None = None
    firmware: str | None = None
    driver: str | None = None


@dataclass(frozen=True, kw_only=True)
class BusDevice:
    """One display function on the bus."""

    address: str | None
    """`0000:01:00.0`; None where the system does not say."""
    vendor: int
    device: int
    device_class: int
    """24 bits: base class, sub-class, programming interface."""
    source: str
    """Where it was read, for a person."""
    subsystem_vendor: int | None = None
    subsystem_device: int | None = None
    revision: int | None = None
    link_generation: int | None = None
    link_width: int | None = None
    """The link as it runs now: sleeping cards run it slow."""
    max_link_generation: int | None = None
    max_link_width: int | None = None
    """What the card's own port can do."""
    driver: str | None = None
    """Name of the driver in charge; None: none."""
    drives_display: bool | None = None
    siblings: tuple[Sibling, ...] = ()
    connectors: tuple[tuple[str, str], ...] = ()
    """Output and its state, as `("HDMI-A-1", "connected")`."""
    name: str | None = None
    """The ids looked up in the system's table."""
    name_source: str | None = None
    word: DriverWord | None = None
    matching_id: str | None = None
    """Windows: the line of the driver package that matched the card."""
    hardware_ids: tuple[str, ...] = ()
    """Windows: every id the system made from the card's own."""
    package_line: str | None = None
    """Windows: the name of that line's text in the package, `nvidia_dev.1b81`."""
    kernel: KernelWord | None = None
    """Linux: what an open driver tells through the card's render node."""
    images: tuple[FirmwareImage, ...] = ()
    """Firmware images that the driver or the PC's own firmware keeps."""
    uuid: bytes | None = field(repr=False, default=None)
    """For pairing alone, never stored: it names one single board."""
    folder: str | None = None
    """Linux: the function's directory in sysfs."""
    render_node: str | None = None
    obstacle: str | None = None
    """Why this user's programs cannot reach the card, where that is known."""


@dataclass(frozen=True, kw_only=True)
class BusSight:
    """Every display function that the system shows."""

    devices: tuple[BusDevice, ...] = ()
    notes: tuple[str, ...] = ()
    virtual_machine: bool | None = None


def is_card_class(device_class: int, vendor: int) -> bool:
    """Tell whether a function is a card: a display, or an accelerator of AMD's."""
    base = device_class >> 16
    return base == DISPLAY or (base == ACCELERATOR and vendor == AMD)


def kind_of(device: BusDevice) -> CardKind:
    """Tell a graphics processor from a stand-in that only draws a console."""
    return "other" if device.vendor in STAND_INS else "gpu"


def may_be_built_in(device: BusDevice) -> bool:
    """Tell whether this is part of the processor: Intel's sits at a fixed place."""
    return device.vendor == INTEL and device.address == _INTEL_OWN


def vendor_name(vendor: int) -> str:
    """Return the maker's name, or its number."""
    return VENDORS.get(vendor) or STAND_INS.get(vendor) or f"vendor {vendor:04x}"


def describe(device: BusDevice) -> str:
    """Return one line about a function, for messages."""
    what = device.name or "device"
    ids = pair(device.vendor, device.device)
    driver = f"driver {device.driver}" if device.driver else "no driver"
    place = device.address or "place unknown"
    return f"{place}: {vendor_name(device.vendor)} {what} ({ids}), {driver}"


def claims(device: BusDevice) -> tuple[Claim, ...]:
    """Return what the driver's word and the bus itself claim, in that order."""
    ids = pair(device.vendor, device.device)
    subsystem = None
    if device.subsystem_vendor is not None and device.subsystem_device is not None:
        subsystem = pair(device.subsystem_vendor, device.subsystem_device)
    source = device.source
    if device.name_source:
        source += f"; name looked up in {device.name_source}"
    found = [
        Claim(
            layer="pci",
            source=source,
            model=device.name,
            vendor=vendor_name(device.vendor),
            pci_id=ids,
            subsystem=subsystem,
            revision=None if device.revision is None else f"{device.revision:02x}",
            link_generation=device.max_link_generation,
            link_width=device.max_link_width,
            driver=device.driver,
        )
    ]
    word = device.word
    if word is not None:
        found.insert(
            0,
            Claim(
                layer="driver",
                source=word.source,
                model=word.model,
                memory_bytes=word.memory_bytes,
                free_bytes=word.free_bytes,
                firmware=word.firmware,
                driver=word.driver,
            ),
        )
    if device.kernel is not None:
        found.insert(-1, kernel_claim(device.kernel))
    return tuple(found)


def kernel_claim(word: KernelWord) -> Claim:
    """Return what an open kernel driver tells, much of it from the chip's registers."""
    ids = None
    if word.vendor is not None and word.device is not None:
        ids = pair(word.vendor & 0xFFFF, word.device & 0xFFFF)
    total, used = word.memory_bytes, word.memory_used_bytes
    return Claim(
        layer="driver",
        source=f"kernel driver {word.driver}, asked through the card's render node",
        pci_id=ids,
        chip_id=None if word.chip_id is None else f"{word.chip_id:03x}",
        compute_units=None if word.virtual else word.units,  # a part is lent
        memory_bytes=None if word.virtual else total,
        free_bytes=total - used
        if total and used is not None and used <= total
        else None,
        bus_width_bits=word.bus_width_bits,
        clock_mhz=word.clock_mhz,
        memory_clock_mhz=word.memory_clock_mhz,
        firmware=word.firmware,
        driver=word.driver,
    )
