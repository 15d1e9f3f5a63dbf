"""NVIDIA's management library: the only importer of pynvml.

Every call is optional, because old drivers lack many and consumer boards answer few:
what is not answered is None, with the library's own word kept in `Nvml.refused`.
Serial-like numbers (the UUID) pair layers and are never stored.

The library is not shut down: sensors may be read until the process ends, and it holds
nothing that outlives the process.
"""

import importlib
from dataclasses import dataclass, field
from typing import Any, Final

from probe.identity.address import count, normal, pair
from reports.layers import Sighting
from reports.record import Claim
from reports.text import plain

SOURCE: Final = "NVIDIA's management library (NVML)"
SM_CLOCK: Final = 1
MEMORY_CLOCK: Final = 2
"""nvmlClockType_t of nvml.h."""
_ARCHITECTURES: Final = {
    2: "Kepler", 3: "Maxwell", 4: "Pascal", 5: "Volta", 6: "Turing", 7: "Ampere",
    8: "Ada", 9: "Hopper", 10: "Blackwell",
}  # fmt: skip
_BRANDS: Final = {
    1: "Quadro", 2: "Tesla", 3: "NVS", 4: "GRID", 5: "GeForce", 6: "Titan",
    14: "NVIDIA", 15: "GeForce RTX", 16: "Titan RTX",
}  # fmt: skip
_BUSES: Final = {1: "PCI", 2: "PCI Express", 3: "FPCI", 4: "AGP"}
"""nvmlDeviceArchitecture_t, nvmlBrandType_t and nvmlBusType_t of nvml.h."""
_MIG_ON = 1
_SUBSYSTEM_UNKNOWN = 0
_MOST = 256
"""GPUs that are asked: a broken library may count billions."""


@dataclass(kw_only=True)
class Nvml:
    """An initialised library, asked one thing at a time."""

    library: Any
    refused: dict[str, str] = field(default_factory=dict)
    """Function name and why it gave no answer, for the first card that refused."""

    def ask(self, function: str, *arguments: object) -> Any:  # noqa: ANN401
        """Return what a function of the library answers, or None.

        pynvml raises its own error, AttributeError for names that its version lacks,
        and UnicodeDecodeError for strings that are no text: each is a refusal.
        """
        try:
            return getattr(self.library, function)(*arguments)
        except (self.library.NVMLError, AttributeError, ValueError, OSError) as error:
            self.refused.setdefault(function, plain(str(error)))
            return None

    def number(self, function: str, *arguments: object) -> int | None:
        """Return a count that a function answers, or None."""
        return count(self.ask(function, *arguments))

    def text(self, function: str, *arguments: object) -> str | None:
        """Return a text that a function answers, made plain, or None."""
        value = self.ask(function, *arguments)
        return (plain(value) or None) if isinstance(value, (str, bytes)) else None


@dataclass(frozen=True, kw_only=True)
class NvmlDevice:
    """One GPU as the library sees it."""

    handle: object
    address: str | None
    uuid: bytes | None = field(repr=False, default=None)
    """Sixteen bytes, for pairing alone: it names one single board."""
    drives_display: bool | None = None
    partitioned: bool = False
    """The board is cut into instances: its memory is not what a program gets."""
    claim: Claim
    further: tuple[Sighting, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NvmlSight:
    """Every GPU of the library; `library` is None where it could not be used."""

    library: Nvml | None = None
    devices: tuple[NvmlDevice, ...] = ()
    notes: tuple[str, ...] = ()


def read(module: Any = None) -> NvmlSight:  # noqa: ANN401
    """Return every GPU that the library shows. `module` stands in for pynvml."""
    if module is None:
        try:
            module = importlib.import_module("pynvml")
        except ImportError as error:
            return NvmlSight(notes=(f"NVML was not asked: {plain(str(error))}.",))
    try:
        _initialise(module)
    except (module.NVMLError, AttributeError, OSError) as error:
        return NvmlSight(notes=(f"NVML was not asked: {plain(str(error))}.",))
    library = Nvml(library=module)
    driver = library.text("nvmlSystemGetDriverVersion")
    devices = []
    notes = []
    for index in range(min(library.number("nvmlDeviceGetCount") or 0, _MOST)):
        handle = library.ask("nvmlDeviceGetHandleByIndex", index)
        if handle is None:
            why = library.refused.pop("nvmlDeviceGetHandleByIndex", "no reason given")
            notes.append(f"NVML gives no access to its GPU {index}: {why}.")
            continue
        devices.append(_device(library, handle, driver))
    return NvmlSight(library=library, devices=tuple(devices), notes=tuple(notes))


def _initialise(module: Any) -> None:  # noqa: ANN401
    """Initialise the library, by its older entry where the newer one is missing."""
    try:
        module.nvmlInit()
    except (module.NVMLError, AttributeError) as error:
        missing = getattr(module, "NVML_ERROR_FUNCTION_NOT_FOUND", 13)
        if getattr(error, "value", missing) != missing:
            raise
        module._LoadNvmlLibrary()  # noqa: SLF001  the only way to an old driver
        answer = module.nvmlLib.nvmlInit_v2()
        if answer != 0:
            raise module.NVMLError(answer) from None


def _device(library: Nvml, handle: object, driver: str | None) -> NvmlDevice:
    place = library.ask("nvmlDeviceGetPciInfo", handle)
    address = _address(place)
    mode = library.ask("nvmlDeviceGetMigMode", handle)
    partitioned = isinstance(mode, (list, tuple)) and mode[0] == _MIG_ON
    active = library.ask("nvmlDeviceGetDisplayActive", handle)
    return NvmlDevice(
        handle=handle,
        address=address,
        uuid=_uuid(library.ask("nvmlDeviceGetUUID", handle)),
        drives_display=None if active is None else bool(active),
        partitioned=partitioned,
        claim=_claim(library, handle, place, driver, partitioned=partitioned),
        further=_further(library, handle),
    )


def _further(library: Nvml, handle: object) -> tuple[Sighting, ...]:
    """Return what else the library tells of a board, without its serial number."""
    told: list[tuple[str, str | None]] = [
        ("board part number", library.text("nvmlDeviceGetBoardPartNumber", handle)),
        ("InfoROM image", library.text("nvmlDeviceGetInforomImageVersion", handle)),
    ]
    for name, function, words in (
        ("architecture", "nvmlDeviceGetArchitecture", _ARCHITECTURES),
        ("brand", "nvmlDeviceGetBrand", _BRANDS),
        ("bus", "nvmlDeviceGetBusType", _BUSES),
    ):
        number = library.number(function, handle)
        if number is not None:
            told.append((name, words.get(number, f"number {number}")))
    window = library.ask("nvmlDeviceGetBAR1MemoryInfo", handle)
    size = count(getattr(window, "bar1Total", None))
    limit = library.number("nvmlDeviceGetPowerManagementDefaultLimit", handle)
    lanes = library.number("nvmlDeviceGetMaxPcieLinkWidth", handle)
    generation = library.number("nvmlDeviceGetMaxPcieLinkGeneration", handle)
    told += [
        ("memory window", f"{size // 2**20} MiB" if size else None),
        ("default power limit", f"{limit / 1000:.0f} W" if limit else None),
        (
            "link of card and slot at most",
            f"PCIe {generation}.0 x{lanes}" if generation and lanes else None,
        ),
    ]
    return tuple(
        Sighting(source=SOURCE, name=name, value=value) for name, value in told if value
    )


def _claim(
    library: Nvml,
    handle: object,
    place: Any,  # noqa: ANN401
    driver: str | None,
    *,
    partitioned: bool,
) -> Claim:
    memory = None if partitioned else library.ask("nvmlDeviceGetMemoryInfo", handle)
    capability = library.ask("nvmlDeviceGetCudaComputeCapability", handle)
    fastest = "nvmlDeviceGetMaxClockInfo"
    return Claim(
        layer="nvml",
        source=SOURCE + ("; the board is cut into instances" if partitioned else ""),
        model=library.text("nvmlDeviceGetName", handle),
        vendor="NVIDIA",
        memory_bytes=count(getattr(memory, "total", None)),
        free_bytes=count(getattr(memory, "free", None)),
        pci_id=_ids(getattr(place, "pciDeviceId", None)),
        subsystem=_ids(getattr(place, "pciSubSystemId", None)),
        cores=library.number("nvmlDeviceGetNumGpuCores", handle),
        compute_capability=(
            f"{capability[0]}.{capability[1]}" if capability is not None else None
        ),
        clock_mhz=library.number(fastest, handle, SM_CLOCK),
        memory_clock_mhz=library.number(fastest, handle, MEMORY_CLOCK),
        bus_width_bits=library.number("nvmlDeviceGetMemoryBusWidth", handle),
        link_generation=library.number("nvmlDeviceGetGpuMaxPcieLinkGeneration", handle),
        link_width=library.number("nvmlDeviceGetMaxPcieLinkWidth", handle),
        driver=driver,
        firmware=library.text("nvmlDeviceGetVbiosVersion", handle),
    )


def _address(place: Any) -> str | None:  # noqa: ANN401
    text = getattr(place, "busId", None)
    if isinstance(text, bytes):
        text = text.decode("ascii", "replace")
    return normal(text) if isinstance(text, str) else None


def _ids(word: object) -> str | None:
    """NVML packs device in the high half, vendor in the low (nvmlPciInfo_t)."""
    number = count(word)
    if number is None or number == _SUBSYSTEM_UNKNOWN:
        return None
    return pair(number & 0xFFFF, number >> 16 & 0xFFFF)


def _uuid(text: object) -> bytes | None:
    if isinstance(text, bytes):
        text = text.decode("ascii", "replace")
    if not isinstance(text, str) or not text.startswith("GPU-"):
        return None
    try:
        found = bytes.fromhex(text.removeprefix("GPU-").replace("-", ""))
    except ValueError:
        return None
    return found if len(found) == 16 and any(found) else None  # noqa: PLR2004  a UUID
