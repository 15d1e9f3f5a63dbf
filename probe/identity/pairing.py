"""Which OpenCL device, NVML GPU and bus function are one card. Pure.

Rules in order, the one used kept beside the result: the PCI address that a layer gives;
the device UUID; the PCI device id where one function alone has it; the only card of
its maker. What more than one card could be is left unpaired and noted: never guessed.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from probe.identity.address import slot_of, without_domain
from probe.identity.bus import NVIDIA, VENDORS, BusDevice, vendor_name
from probe.identity.nvml import NvmlDevice
from probe.identity.opencl import OpenClDevice

_CARDS = ("gpu", "accelerator")


@dataclass(frozen=True, kw_only=True)
class Group:
    """What belongs to one card. At least one layer is there."""

    opencl: tuple[OpenClDevice, ...] = ()
    """The same card through several platforms, the vendor's own first."""
    nvml: NvmlDevice | None = None
    bus: BusDevice | None = None
    address: str | None = None
    rule: str | None = None


@dataclass(frozen=True, kw_only=True)
class _Placed:
    device: OpenClDevice
    address: str | None
    rule: str | None


def pair(
    opencl: Sequence[OpenClDevice],
    nvml: Sequence[NvmlDevice],
    bus: Sequence[BusDevice],
) -> tuple[tuple[Group, ...], tuple[str, ...]]:
    """Return one group a card, and what had to be left unpaired."""
    notes: list[str] = []
    placed = _place(opencl, nvml, bus, notes)
    groups = _fold(placed, notes)
    groups = _with_nvml(groups, nvml, notes)
    return _with_bus(groups, bus), tuple(notes)


def _place(
    opencl: Sequence[OpenClDevice],
    nvml: Sequence[NvmlDevice],
    bus: Sequence[BusDevice],
    notes: list[str],
) -> list[_Placed]:
    """Give every OpenCL device its address where a rule finds exactly one."""
    known = _known_addresses(nvml, bus)
    first = [_by_own_word(device, known, notes) for device in opencl]
    for each in first:
        if each.address is not None:
            known.setdefault(each.address, each.device.vendor_id)
    second = [
        each if each.address else _by_uuid(each.device, (*nvml, *bus), known)
        for each in first
    ]
    return [
        each if each.address else _by_exclusion(each.device, opencl, bus, known)
        for each in second
    ]


def _known_addresses(
    nvml: Iterable[NvmlDevice], bus: Iterable[BusDevice]
) -> dict[str, int]:
    known = {device.address: device.vendor for device in bus if device.address}
    slots = {slot_of(address) for address in known}
    for device in nvml:
        if device.address and slot_of(device.address) not in slots:
            known[device.address] = NVIDIA
    return known


def _by_own_word(
    device: OpenClDevice, known: dict[str, int], notes: list[str]
) -> _Placed:
    address, rule = device.address, device.address_rule
    if device.kind not in _CARDS or address is None:
        return _Placed(device=device, address=None, rule=None)
    if not device.domain_known:
        matches = [
            other
            for other, vendor in known.items()
            if without_domain(other) == without_domain(address)
            and vendor == device.vendor_id
        ]
        if len(matches) > 1:
            notes.append(
                f"{device.label} ({device.platform}) is left unpaired: its driver "
                f"gives no PCI domain, and {_and(matches)} both fit."
            )
            return _Placed(device=device, address=None, rule=None)
        address = matches[0] if matches else address
    vendor = known.get(address)
    if vendor is not None and not _agree(device.vendor_id, vendor):
        notes.append(
            f"{device.label} ({device.platform}) is left unpaired: its driver puts it "
            f"at {address}, where the bus shows a card of {vendor_name(vendor)}."
        )
        return _Placed(device=device, address=None, rule=None)
    return _Placed(device=device, address=address, rule=rule)


def _by_uuid(
    device: OpenClDevice,
    others: Sequence[NvmlDevice | BusDevice],
    known: dict[str, int],
) -> _Placed:
    """By the UUID that NVML, or NVIDIA's kernel driver, tells of one place."""
    matches = {
        slot_of(other.address): other.address
        for other in others
        if device.uuid is not None
        and other.uuid == device.uuid
        and other.address
        and _agree(device.vendor_id, known.get(other.address, NVIDIA))
    }
    if len(matches) == 1:
        (address,) = matches.values()
        return _Placed(device=device, address=address, rule="device UUID")
    return _Placed(device=device, address=None, rule=None)


def _by_exclusion(
    device: OpenClDevice,
    everything: Sequence[OpenClDevice],
    bus: Sequence[BusDevice],
    known: dict[str, int],
) -> _Placed:
    """By the PCI device id, or as the only card of its maker on both sides."""
    peers = [
        other
        for other in everything
        if other.platform == device.platform
        and other.kind in _CARDS
        and other.vendor_id == device.vendor_id
    ]
    nothing = _Placed(device=device, address=None, rule=None)
    if device.kind not in _CARDS or not device.vendor_id:
        return nothing
    if device.pci_device is not None:
        same = [
            other.address
            for other in bus
            if (other.vendor, other.device) == (device.vendor_id, device.pci_device)
        ]
        twins = [other for other in peers if other.pci_device == device.pci_device]
        if len(same) == 1 and len(twins) == 1 and same[0]:
            return _Placed(device=device, address=same[0], rule="PCI device id")
        return nothing
    own = [address for address, vendor in known.items() if vendor == device.vendor_id]
    if len(own) == 1 and len(peers) == 1:
        maker = vendor_name(device.vendor_id)
        return _Placed(device=device, address=own[0], rule=f"only card of {maker}")
    return nothing


def _fold(placed: Sequence[_Placed], notes: list[str]) -> list[Group]:
    """Make one group of the same card seen through several platforms."""
    shared = Counter(
        (each.device.platform, each.address) for each in placed if each.address
    )
    vendors: dict[str | None, set[int]] = {}
    for each in placed:
        vendors.setdefault(each.address, set()).add(_known_vendor(each.device))
    bundles: dict[object, list[_Placed]] = {}
    for number, each in enumerate(placed):
        device = each.device
        key: object = number
        if each.address and shared[device.platform, each.address] > 1:
            notes.append(
                f"{device.label} ({device.platform}) is left unpaired: several devices "
                f"of that platform share the address {each.address}."
            )
            bundles[number] = [_Placed(device=device, address=None, rule=None)]
            continue
        if each.address:
            several = len(vendors[each.address] - {0}) > 1
            key = (each.address, _known_vendor(device) if several else 0)
        elif device.uuid is not None and _tells_apart(device, placed):
            key = device.uuid
        bundles.setdefault(key, []).append(each)
    groups = [_bundle(bundle) for bundle in bundles.values()]
    _note_doubles(groups, notes)
    return groups


def _known_vendor(device: OpenClDevice) -> int:
    """Return the maker's PCI id; 0 where OpenCL's number for it is none."""
    return device.vendor_id if device.vendor_id in VENDORS else 0


def _agree(opencl_vendor: int, bus_vendor: int) -> bool:
    """Tell whether OpenCL's number of the maker allows the bus's."""
    return opencl_vendor not in VENDORS or opencl_vendor == bus_vendor


def _tells_apart(device: OpenClDevice, placed: Sequence[_Placed]) -> bool:
    """Whether a UUID is this device's alone within its platform."""
    return not any(
        each.device is not device
        and each.device.platform == device.platform
        and each.device.uuid == device.uuid
        for each in placed
    )


def _bundle(bundle: Sequence[_Placed]) -> Group:
    ordered = sorted(bundle, key=lambda each: each.device.rank)
    rule = ordered[0].rule
    if len(ordered) > 1 and ordered[0].address is None:
        rule = "device UUID"
    return Group(
        opencl=tuple(each.device for each in ordered),
        address=ordered[0].address,
        rule=rule,
    )


def _note_doubles(groups: Sequence[Group], notes: list[str]) -> None:
    """Say which devices may be one card though no rule could tell."""
    for group in groups:
        device = group.opencl[0]
        others = {
            other.opencl[0].platform
            for other in groups
            if other is not group
            and other.opencl[0].kind in _CARDS
            and other.opencl[0].vendor_id == device.vendor_id
            and other.opencl[0].platform != device.platform
        }
        if device.kind in _CARDS and group.address is None and others:
            notes.append(
                f"{device.label} ({device.platform}) gives no PCI address: it may be a "
                f"card that is listed through {_and(sorted(others))} too."
            )


def _with_nvml(
    groups: Sequence[Group], nvml: Sequence[NvmlDevice], notes: list[str]
) -> list[Group]:
    """Add each NVML GPU to its card, or as a card of its own."""
    result = list(groups)
    for gpu in nvml:
        matches = [number for number, group in enumerate(result) if _same(group, gpu)]
        if len(matches) == 1:
            group = result[matches[0]]
            result[matches[0]] = Group(
                opencl=group.opencl,
                nvml=gpu,
                address=group.address or gpu.address,
                rule=_confirmed(group, gpu) if group.rule else "device UUID",
            )
            continue
        result.append(Group(nvml=gpu, address=gpu.address))
        if _unplaced(groups):
            notes.append(
                f"NVML's {gpu.claim.model or 'GPU'} at "
                f"{gpu.address or 'no address'} is listed by itself: "
                "which OpenCL device it is cannot be told."
            )
    return result


def _same(group: Group, gpu: NvmlDevice) -> bool:
    if group.nvml is not None or not group.opencl:
        return False
    if not _agree(group.opencl[0].vendor_id, NVIDIA):
        return False
    if group.address is not None and gpu.address is not None:
        return slot_of(group.address) == slot_of(gpu.address)
    uuid = group.opencl[0].uuid
    return uuid is not None and uuid == gpu.uuid


def _confirmed(group: Group, gpu: NvmlDevice) -> str | None:
    """Return the rule used, and that the UUID bears it out where both tell it."""
    rule = group.rule or ""
    same = gpu.uuid is not None and gpu.uuid == group.opencl[0].uuid
    return f"{rule}, and the device UUID" if same and "UUID" not in rule else group.rule


def _unplaced(groups: Iterable[Group]) -> bool:
    return any(
        group.address is None
        and group.opencl[0].kind in _CARDS
        and group.opencl[0].vendor_id == NVIDIA
        for group in groups
    )


def _with_bus(groups: Sequence[Group], bus: Sequence[BusDevice]) -> tuple[Group, ...]:
    """Add each bus function to its card, or as a card of its own."""
    result = list(groups)
    for function in bus:
        matches = [
            number
            for number, group in enumerate(result)
            if group.bus is None
            and group.address is not None
            and function.address is not None
            and slot_of(group.address) == slot_of(function.address)
            and (group.nvml is None or function.vendor == NVIDIA)
            and all(_agree(each.vendor_id, function.vendor) for each in group.opencl)
        ]
        if matches:
            group = result[matches[0]]
            result[matches[0]] = Group(
                opencl=group.opencl,
                nvml=group.nvml,
                bus=function,
                address=function.address,
                rule=group.rule or "PCI address",
            )
        else:
            result.append(Group(bus=function, address=function.address))
    return tuple(result)


def _and(names: Sequence[str]) -> str:
    return " and ".join(names)
