"""Finding cards: every layer asked, the same card's layers put together.

Opens nothing and starts no kernel. NVML is asked first, so that its free memory is
read before anything holds a context on the card.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from probe.device import Facts
from probe.errors import HostError
from probe.identity import bus as bus_types
from probe.identity import bus_linux, bus_windows
from probe.identity import nvml as nvml_layer
from probe.identity import opencl as opencl_layer
from probe.identity.bus import BusDevice, BusSight
from probe.identity.layers import layers
from probe.identity.nvml import Nvml, NvmlSight
from probe.identity.opencl import OpenClSight
from probe.identity.pairing import Group, pair
from probe.identity.sensors import AmdSensors, NvmlSensors, Sensors
from reports.record import CardIdentity, CardKind, Claim

if TYPE_CHECKING:
    import pyopencl

_ORDER: dict[CardKind, int] = {"gpu": 0, "accelerator": 1, "cpu": 2, "other": 3}


@dataclass(frozen=True, kw_only=True)
class Found:
    """One card and everything that its layers say of it."""

    identity: CardIdentity
    claims: tuple[Claim, ...]
    """In the order OpenCL, NVML, driver, PCI."""
    memory_bytes: int | None
    """The most that any layer reports; a stand-in platform is believed last."""
    free_bytes: int | None
    """What the driver calls free, read before any context existed."""
    largest_block_bytes: int | None
    """Largest single allocation that OpenCL's driver promises."""
    opencl_device: "pyopencl.Device | None" = field(repr=False, compare=False)
    """None: seen on the bus or through NVML alone, cannot be tested."""
    sensors: Callable[[], Sensors | None] = field(repr=False, compare=False)
    """Makes the card's sensors; None where it has none, see `sensors_missing`."""
    sensors_missing: str | None
    bus: BusDevice | None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Inventory:
    """All cards of this PC, GPUs first; a card's index is its place here."""

    cards: tuple[Found, ...]
    notes: tuple[str, ...] = ()
    opencl: OpenClSight = field(default_factory=OpenClSight)
    bus: BusSight = field(default_factory=BusSight)


def find(
    opencl: Callable[[], OpenClSight] | None = None,
    nvml: Callable[[], NvmlSight] | None = None,
    bus: Callable[[], BusSight] | None = None,
) -> Inventory:
    """Return every card. The three readers are replaced by tests alone."""
    nvml_sight = (nvml or nvml_layer.read)()
    bus_sight = (bus or bus_of_this_system)()
    opencl_sight = (opencl or opencl_layer.read)()
    groups, pairing_notes = pair(
        opencl_sight.devices, nvml_sight.devices, bus_sight.devices
    )
    virtual = bus_sight.virtual_machine
    cards = sorted(
        (_found(group, nvml_sight.library, virtual) for group in groups), key=_place
    )
    asked_in_vain = nvml_sight.notes if _nvidia_here(cards) else ()
    return Inventory(
        cards=tuple(
            replace(card, identity=_numbered(card.identity, index))
            for index, card in enumerate(cards)
        ),
        notes=(
            *opencl_sight.notes,
            *asked_in_vain,
            *bus_sight.notes,
            *pairing_notes,
        ),
        opencl=opencl_sight,
        bus=bus_sight,
    )


def facts(found: Found, timer: str) -> Facts:
    """Return what the measuring needs of a card. Raises HostError without OpenCL."""
    label = found.identity.label
    if found.opencl_device is None:
        raise HostError(f"{label}: no OpenCL driver shows this card")
    if found.memory_bytes is None:
        raise HostError(f"{label}: its OpenCL driver gives no possible memory size")
    largest = found.largest_block_bytes
    if largest is None:  # none, or nonsense: OpenCL promises a quarter of memory
        largest = found.memory_bytes // 4
    return Facts(
        identity=found.identity,
        claims=found.claims,
        memory_bytes=found.memory_bytes,
        free_bytes=found.free_bytes,
        largest_block_bytes=largest,
        timer=timer,
    )


def bus_of_this_system() -> BusSight:
    """Return what the bus of this operating system shows."""
    import sys  # noqa: PLC0415

    if sys.platform == "win32":
        return bus_windows.read()
    return bus_linux.read()


def _nvidia_here(cards: list[Found]) -> bool:
    """Tell whether NVML's silence means anything on this PC."""
    return any(
        (card.bus is not None and card.bus.vendor == bus_types.NVIDIA)
        or any("nvidia" in (each.vendor or "").lower() for each in card.claims)
        for card in cards
    )


def _place(card: Found) -> tuple[int, bool, str]:
    identity = card.identity
    return (
        _ORDER[identity.kind],
        card.opencl_device is None,
        identity.pci_address or "~",
    )


def _numbered(identity: CardIdentity, index: int) -> CardIdentity:
    import msgspec  # noqa: PLC0415

    return msgspec.structs.replace(identity, index=index)


def _found(group: Group, library: Nvml | None, virtual: bool | None) -> Found:  # noqa: FBT001 - of one caller
    claims = _claims(group)
    main = group.opencl[0] if group.opencl else None
    sensors, missing = _sensors(group, library)
    return Found(
        identity=CardIdentity(
            label=_label(group, claims),
            kind=_kind(group),
            index=0,
            pci_address=group.address,
            platform=main.platform if main else None,
            also_seen_through=tuple(each.platform for each in group.opencl[1:]),
            paired_by=group.rule if _layers(group) > 1 else None,
            unified_memory=main.unified_memory if main else False,
            drives_display=_drives_display(group),
            layers=layers(group.bus, group.nvml, virtual=virtual),
        ),
        claims=claims,
        memory_bytes=_memory(group, claims),
        free_bytes=next(
            (each.free_bytes for each in claims if each.free_bytes is not None), None
        ),
        largest_block_bytes=main.largest_block_bytes if main else None,
        opencl_device=main.handle if main else None,
        sensors=sensors,
        sensors_missing=missing,
        bus=group.bus,
        notes=_notes(group),
    )


def _layers(group: Group) -> int:
    return len(group.opencl) + (group.nvml is not None) + (group.bus is not None)


def _claims(group: Group) -> tuple[Claim, ...]:
    claims = [device.claim for device in group.opencl]
    if group.nvml is not None:
        claims.append(group.nvml.claim)
    if group.bus is not None:
        claims.extend(bus_types.claims(group.bus))
    return tuple(claims)


def _memory(group: Group, claims: tuple[Claim, ...]) -> int | None:
    """Return the most that any layer reports.

    Platforms other than the vendor's own may count the PC's memory, which the card
    may reach too: they are asked only where nobody else says anything.
    """
    guests = {id(each.claim) for each in group.opencl if each.rank > 0}
    sizes = [each.memory_bytes for each in claims if id(each) not in guests]
    known = [size for size in sizes if size]
    if not known:
        known = [each.memory_bytes for each in claims if each.memory_bytes]
    return max(known, default=None)


def _label(group: Group, claims: tuple[Claim, ...]) -> str:
    for each in claims:
        if each.model and each.layer != "pci":
            return each.model
    if group.opencl:
        return group.opencl[0].label
    if group.bus is not None and group.bus.name:
        return group.bus.name
    if group.bus is not None:
        vendor, device = group.bus.vendor, group.bus.device
        return f"{bus_types.vendor_name(vendor)} device {vendor:04x}:{device:04x}"
    return "unnamed card"


def _kind(group: Group) -> CardKind:
    if group.opencl:
        return group.opencl[0].kind
    if group.nvml is not None or group.bus is None:
        return "gpu"
    return bus_types.kind_of(group.bus)


def _drives_display(group: Group) -> bool | None:
    words = (
        group.bus.drives_display if group.bus else None,
        group.nvml.drives_display if group.nvml else None,
    )
    if True in words:
        return True
    return False if False in words else None


def _sensors(
    group: Group, library: Nvml | None
) -> tuple[Callable[[], Sensors | None], str | None]:
    if group.nvml is not None and library is not None:
        asked, handle = library, group.nvml.handle
        return lambda: NvmlSensors(asked, handle), None
    folder = group.bus.folder if group.bus else None
    if folder is not None and any(Path(folder).glob("hwmon/hwmon*")):
        place = Path(folder)
        return lambda: AmdSensors.of(place), None
    if group.opencl and group.opencl[0].kind == "cpu":
        return lambda: None, "a processor's sensors are not read"
    return lambda: None, "neither NVML nor the operating system reads its sensors"


def _notes(group: Group) -> tuple[str, ...]:
    notes = []
    if group.nvml is not None and group.nvml.partitioned:
        notes.append(
            "The board is cut into instances (MIG): NVML's memory size is the whole "
            "board's and was not compared."
        )
    if group.bus is not None and group.bus.obstacle:
        notes.append(f"Not reachable: {group.bus.obstacle}.")
    return tuple(notes)
