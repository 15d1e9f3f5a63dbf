"""Every OpenCL device of every platform, and what its driver claims.

Reads through pyopencl, imported at the first call. A broken platform is noted, never
fatal. What a device calls itself is only a claim, and every string of it is hostile.
"""

import importlib
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from probe.identity import opencl_parse, opencl_raw
from probe.identity.address import count
from probe.identity.bus import AMD, INTEL, NVIDIA
from reports.record import CardKind, Claim
from reports.text import plain

VENDORS_FOLDER: Final = "/etc/OpenCL/vendors"
_NATIVE = {
    NVIDIA: ("nvidia",),
    AMD: ("amd accelerated", "rocm"),
    INTEL: ("intel(r) opencl",),
}
_MESA = ("rusticl", "clover", "mesa")
_ERRORS: tuple[type[Exception], ...] = (
    AttributeError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
    MemoryError,
)


@dataclass(frozen=True, kw_only=True)
class OpenClDevice:
    """One device of one platform."""

    handle: Any = field(repr=False)
    """The pyopencl.Device."""
    platform: str
    rank: int
    """0: the vendor's own platform, 1: Mesa, 2: any other."""
    kind: CardKind
    label: str
    vendor_id: int
    address: str | None = None
    address_rule: str | None = None
    """Where the address is from."""
    domain_known: bool = True
    pci_device: int | None = None
    uuid: bytes | None = field(repr=False, default=None)
    unified_memory: bool = False
    largest_block_bytes: int | None = None
    claim: Claim


@dataclass(frozen=True, kw_only=True)
class OpenClSight:
    """Every device, and where drivers were looked for."""

    devices: tuple[OpenClDevice, ...] = ()
    notes: tuple[str, ...] = ()
    loader: str | None = None
    vendors_folder: str | None = None
    registered: tuple[str, ...] = ()
    """Drivers registered in that folder."""


def read(
    module: Any = None,  # noqa: ANN401
    loader: Callable[[], opencl_raw.Loader | None] | None = None,
    environment: dict[str, str] | None = None,
) -> OpenClSight:
    """Return every device. `module` stands in for pyopencl, `loader` for its loader."""
    folder, registered = _vendors(environment)
    if module is None:
        try:
            module = importlib.import_module("pyopencl")
        except (ImportError, OSError) as error:
            return OpenClSight(
                notes=(f"OpenCL cannot be used: {plain(str(error))}.",),
                vendors_folder=folder,
                registered=registered,
            )
    package = getattr(module, "__file__", None)
    raw = (
        loader()
        if loader is not None
        else opencl_raw.loader(Path(package).parent if package else None)
    )
    devices, notes = _devices(module, raw)
    return OpenClSight(
        devices=tuple(devices),
        notes=tuple(notes),
        loader=None if raw is None else raw.path,
        vendors_folder=folder,
        registered=registered,
    )


def _vendors(environment: dict[str, str] | None) -> tuple[str | None, tuple[str, ...]]:
    """Where the loader looks for drivers, and which are registered there."""
    given = (os.environ if environment is None else environment).get("OCL_ICD_VENDORS")
    if sys.platform == "win32" and not given:
        return None, ()
    folder = given or VENDORS_FOLDER
    try:
        names = sorted(path.name for path in Path(folder).glob("*.icd"))
    except OSError:
        names = []
    return plain(folder), tuple(plain(name) for name in names)


def _devices(
    module: Any,  # noqa: ANN401
    raw: opencl_raw.Loader | None,
) -> tuple[list[OpenClDevice], list[str]]:
    errors = (*_ERRORS, module.Error)
    try:
        platforms = module.get_platforms()
    except errors as error:
        if "PLATFORM_NOT_FOUND" in str(error):
            return [], ["OpenCL finds no driver at all."]
        return [], [f"OpenCL's platforms cannot be listed: {plain(str(error))}."]
    devices: list[OpenClDevice] = []
    notes: list[str] = []
    for platform in platforms:
        name = "an unnamed platform"
        try:
            name = plain(platform.name)
            handles = platform.get_devices()
        except errors as error:
            notes.append(f"OpenCL platform {name} is broken: {plain(str(error))}.")
            continue
        devices.extend(_device(module, raw, name, handle) for handle in handles)
    return devices, notes


class _Asked:
    """One device, each of its attributes optional."""

    def __init__(self, module: Any, handle: Any, raw: opencl_raw.Loader | None) -> None:  # noqa: ANN401
        self._errors = (*_ERRORS, module.Error)
        self._handle = handle
        self._raw = raw

    def get(self, attribute: str) -> Any:  # noqa: ANN401
        try:
            return getattr(self._handle, attribute)
        except self._errors:
            return None

    def number(self, attribute: str) -> int | None:
        return count(self.get(attribute))

    def text(self, attribute: str) -> str | None:
        value = self.get(attribute)
        return (plain(value) or None) if isinstance(value, (str, bytes)) else None

    def raw(self, code: int) -> bytes | None:
        handle = self.get("int_ptr")
        if self._raw is None or not isinstance(handle, int):
            return None
        return self._raw.ask(handle, code)


def _device(
    module: Any,  # noqa: ANN401
    raw: opencl_raw.Loader | None,
    platform: str,
    handle: Any,  # noqa: ANN401
) -> OpenClDevice:
    asked = _Asked(module, handle, raw)
    name = asked.text("name")
    if name is None:  # pyopencl refuses a name that is no UTF-8
        name = plain(asked.raw(opencl_raw.DEVICE_NAME) or b"")
    model, chip = opencl_parse.names(name, asked.text("board_name_amd"))
    vendor_id = asked.number("vendor_id") or 0
    extensions = (asked.get("extensions") or "").split()
    address, rule, domain_known = _address(asked, extensions)
    pci_device = _pci_device(asked, extensions)
    identifier = None
    if "cl_khr_device_uuid" in extensions:
        identifier = opencl_parse.uuid(asked.raw(opencl_raw.DEVICE_UUID))
    kind = _kind(module, asked.number("type") or 0)
    return OpenClDevice(
        handle=handle,
        platform=platform,
        rank=_rank(platform, vendor_id),
        kind=kind,
        label=model or chip or f"unnamed device of {platform}",
        vendor_id=vendor_id,
        address=address,
        address_rule=rule,
        domain_known=domain_known,
        pci_device=pci_device,
        uuid=identifier,
        unified_memory=bool(
            asked.get("host_unified_memory") or asked.get("integrated_memory_nv")
        ),
        largest_block_bytes=asked.number("max_mem_alloc_size"),
        claim=_claim(asked, platform, model, chip, vendor_id),
    )


def _claim(
    asked: _Asked, platform: str, model: str | None, chip: str | None, vendor_id: int
) -> Claim:
    major = asked.number("compute_capability_major_nv")
    minor = asked.number("compute_capability_minor_nv")
    capability = None
    if vendor_id == NVIDIA and major is not None and minor is not None:
        capability = f"{major}.{minor}"
    return Claim(
        layer="opencl",
        source=f"OpenCL, platform {platform}",
        model=model,
        vendor=asked.text("vendor"),
        memory_bytes=asked.number("global_mem_size"),
        compute_units=asked.number("max_compute_units"),
        compute_capability=capability,
        gfx_target=chip,
        clock_mhz=asked.number("max_clock_frequency"),
        driver=asked.text("driver_version"),
    )


def _address(
    asked: _Asked, extensions: list[str]
) -> tuple[str | None, str | None, bool]:
    """Return the PCI address, the rule that gave it, whether its domain is known."""
    if "cl_khr_pci_bus_info" in extensions:
        answer = asked.raw(opencl_raw.PCI_BUS_INFO)
        found = opencl_parse.bus_info(answer) if answer else None
        if found is not None:
            return found, "address from cl_khr_pci_bus_info", True
    bus, slot = asked.number("pci_bus_id_nv"), asked.number("pci_slot_id_nv")
    if bus is not None and slot is not None:
        domain = asked.number("pci_domain_id_nv")
        found = opencl_parse.nvidia_address(bus, slot, domain)
        if found is not None:
            return found, "address from NVIDIA's OpenCL attributes", domain is not None
    topology = asked.get("topology_amd")
    if topology is not None:
        try:
            found = opencl_parse.amd_address(
                topology.bus,
                topology.device,
                topology.function,
                getattr(topology, "type", 1),
            )
        except (AttributeError, TypeError):
            found = None
        if found is not None:
            return found, "address from AMD's OpenCL topology", False
    return None, None, False


def _pci_device(asked: _Asked, extensions: list[str]) -> int | None:
    """Return the PCI device id that a vendor's query gives."""
    for extension, code in (
        ("cl_intel_device_attribute_query", opencl_raw.INTEL_DEVICE_ID),
        ("cl_amd_device_attribute_query", opencl_raw.AMD_DEVICE_ID),
    ):
        answer = asked.raw(code) if extension in extensions else None
        device = int.from_bytes(answer[:4], "little") if answer else 0
        if 0 < device <= 0xFFFF:  # noqa: PLR2004 - a PCI id's sixteen bits
            return device
    return None


def _kind(module: Any, bits: int) -> CardKind:  # noqa: ANN401
    kinds: tuple[tuple[str, CardKind], ...] = (
        ("GPU", "gpu"),
        ("ACCELERATOR", "accelerator"),
        ("CPU", "cpu"),
    )
    for name, kind in kinds:
        if bits & getattr(module.device_type, name):
            return kind
    return "other"


def _rank(platform: str, vendor_id: int) -> int:
    lowered = platform.lower()
    if lowered.startswith(_NATIVE.get(vendor_id, ("\0",))):
        return 0
    return 1 if any(word in lowered for word in _MESA) else 2
