"""What was read of one card beside its claims, put into the record's shape. Pure."""

from probe.identity.address import pair
from probe.identity.bus import BusDevice
from probe.identity.drm_parse import KernelWord
from probe.identity.nvml import NvmlDevice
from reports.layers import DriverPackage, Function, Layers, Sighting


def layers(
    bus: BusDevice | None, nvml: NvmlDevice | None, *, virtual: bool | None
) -> Layers | None:
    """Return one card's further layers; None where neither bus nor NVML shows it."""
    if bus is None and nvml is None:
        return None
    further = list(nvml.further) if nvml is not None else []
    if bus is None:
        return Layers(virtual_machine=virtual, further=tuple(further))
    further += _of_bus(bus)
    if bus.kernel is not None:
        further += _of_kernel(bus.kernel)
    return Layers(
        functions=tuple(
            Function(
                number=int(each.address[-1]),
                pci_id=pair(each.vendor, each.device),
                device_class=f"{each.device_class >> 8:04x}",
            )
            for each in sorted(bus.siblings, key=lambda each: each.address)
        ),
        outputs=tuple(name for name, _ in bus.connectors),
        package=_package(bus),
        images=bus.images,
        virtual_machine=virtual,
        further=tuple(further),
    )


def _package(bus: BusDevice) -> DriverPackage | None:
    if bus.matching_id is None and bus.package_line is None:
        return None
    return DriverPackage(
        hardware_ids=bus.hardware_ids,
        matching_id=bus.matching_id,
        line=bus.package_line,
    )


def _of_bus(bus: BusDevice) -> list[Sighting]:
    told = [("class", f"{bus.device_class:06x}")]
    if bus.link_generation and bus.link_width:
        told.append(("link now", f"PCIe {bus.link_generation}.0 x{bus.link_width}"))
    return [Sighting(source=bus.source, name=name, value=value) for name, value in told]


def _of_kernel(word: KernelWord) -> list[Sighting]:
    told = (
        ("memory type", word.memory_type),
        ("firmware's name", word.firmware_name),
        ("firmware's part number", word.firmware_part),
        ("firmware's date", word.firmware_date),
        ("virtual function", "yes" if word.virtual else None),
    )
    source = f"kernel driver {word.driver}, asked through the card's render node"
    return [
        Sighting(source=source, name=name, value=value) for name, value in told if value
    ]
