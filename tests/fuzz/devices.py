"""Drivers played by JSON: what OpenCL, NVML, sysfs and the registry answer.

`whole` asks every layer of an invented PC, and makes of the answers what a run makes of
them: a listing and a record. Whatever a driver answers, both must come out, and hold
nothing that a terminal or a page could take for an order.
"""

import json
import unicodedata
from types import SimpleNamespace

import msgspec

from probe import commands
from probe.identity import cards, nvml, opencl, pci_names, pci_registry, pci_sysfs
from probe.identity.bus import BusSight
from probe.identity.pci_registry import PciEntry
from probe.identity.sensors import NvmlSensors
from reports import codec, listing
from reports.record import Host, Program, Record, Telemetry

UNWANTED = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp", "Cn"})
"""Categories of characters that no text from a driver keeps (Unicode, chapter 4)."""

PLAYED = {
    "opencl": [
        {
            "name": "NVIDIA GeForce GTX 1070",
            "vendor": "NVIDIA Corporation",
            "vendor_id": 4318,
            "type": 4,
            "global_mem_size": 8589934592,
            "max_mem_alloc_size": 2147483648,
            "max_compute_units": 15,
            "max_clock_frequency": 1784,
            "driver_version": "535.183.01",
            "extensions": "cl_khr_fp64 cl_khr_pci_bus_info cl_khr_device_uuid "
            "cl_intel_device_attribute_query",
            "compute_capability_major_nv": 6,
            "compute_capability_minor_nv": 1,
            "pci_bus_id_nv": 1,
            "pci_slot_id_nv": 0,
            "board_name_amd": "AMD Radeon RX 580",
            "host_unified_memory": 0,
            "int_ptr": 4711,
        }
    ],
    "platform": "NVIDIA CUDA",
    "raw": {
        "16655": "00000000010000000000000000000000",
        "4202": "00" * 16,
        "16977": "811b",
    },
    "nvml": {
        "nvmlSystemGetDriverVersion": "535.183.01",
        "nvmlDeviceGetCount": 1,
        "nvmlDeviceGetHandleByIndex": "handle",
        "nvmlDeviceGetPciInfo": {
            "busId": "00000000:01:00.0",
            "pciDeviceId": 461443294,
            "pciSubSystemId": 922817624,
        },
        "nvmlDeviceGetUUID": "GPU-00112233-4455-6677-8899-aabbccddeeff",
        "nvmlDeviceGetDisplayActive": 1,
        "nvmlDeviceGetMigMode": [0, 0],
        "nvmlDeviceGetName": "NVIDIA GeForce GTX 1070",
        "nvmlDeviceGetMemoryInfo": {"total": 8589934592, "free": 8117878784, "used": 1},
        "nvmlDeviceGetCudaComputeCapability": [6, 1],
        "nvmlDeviceGetNumGpuCores": 1920,
        "nvmlDeviceGetMemoryBusWidth": 256,
        "nvmlDeviceGetMaxClockInfo": 1911,
        "nvmlDeviceGetClockInfo": 1800,
        "nvmlDeviceGetVbiosVersion": "86.04.26.00.80",
        "nvmlDeviceGetTemperatureThreshold": 96,
        "nvmlDeviceGetEnforcedPowerLimit": 151000,
        "nvmlDeviceGetPowerUsage": 98500,
        "nvmlDeviceGetTemperature": 71,
        "nvmlDeviceGetFanSpeed": 44,
        "nvmlDeviceGetUtilizationRates": {"gpu": 97},
        "nvmlDeviceGetCurrentClocksThrottleReasons": 4,
    },
    "sysfs": {
        "vendor": "0x10de",
        "device": "0x1b81",
        "class": "0x030000",
        "subsystem_vendor": "0x1458",
        "subsystem_device": "0x3701",
        "revision": "0xa1",
        "current_link_speed": "2.5 GT/s PCIe",
        "max_link_speed": "8.0 GT/s PCIe",
        "max_link_width": "16",
        "boot_vga": "1",
        "mem_info_vram_total": "8589934592",
        "mem_info_vram_used": "34603008",
        "vbios_version": "113-D00034-L01",
        "product_name": "GeForce",
        "driver": "nvidia",
        "information": "Model: \t NVIDIA GeForce GTX 1070\nVideo BIOS: \t 86.04\n",
        "pci.ids": "10de  NVIDIA\n\t1b81  GP104 [GeForce GTX 1070]\n",
    },
    "registry": {
        "key": "VEN_10DE&DEV_1B81&SUBSYS_37011458&REV_A1",
        "values": {
            "HardwareID": ["PCI\\VEN_10DE&DEV_1B81&CC_030000"],
            "LocationInformation": "PCI bus 1, device 0, function 0",
            "Service": "nvlddmkm",
            "ClassGUID": "{4d36e968-e325-11ce-bfc1-08002be10318}",
        },
        "adapter": {
            "DriverDesc": "NVIDIA GeForce GTX 1070",
            "DriverVersion": "31.0.15.3623",
            "ProviderName": "NVIDIA",
            "HardwareInformation.AdapterString": "NVIDIA GeForce GTX 1070",
            "HardwareInformation.qwMemorySize": 8589934592,
            "HardwareInformation.MemorySize": 4293918720,
        },
        "link": 3,
    },
}
WORDS = 2**64 - 1


class RefusedError(Exception):
    """What a library raises for whatever it does not answer."""

    value = 3


class _Handle:
    """A device or platform of pyopencl: attributes that may raise."""

    def __init__(self, answers):
        self.__dict__.update(answers)

    def __getattr__(self, name):
        raise RefusedError(name)


class _Library:
    """A pynvml that answers what it was given and refuses the rest."""

    NVMLError = RefusedError

    def __init__(self, answers):
        self._answers = answers

    def nvmlInit(self):  # noqa: N802 - pynvml's name
        """Begin."""

    def __getattr__(self, name):
        def call(*_):
            if name not in self._answers:
                raise RefusedError(name)
            return self._answers[name]

        return call


def whole(data: bytes) -> Record | None:
    """Ask every layer, list what is found, make its record; return the last."""
    try:
        asked = json.loads(data.decode("utf-8", "replace"))
    except (ValueError, RecursionError):
        return None
    if not isinstance(asked, dict):
        return None
    inventory = cards.find(
        opencl=lambda: _opencl(asked),
        nvml=lambda: nvml.read(_Library(_nvml(asked))),
        bus=lambda: _bus(asked),
    )
    view = commands.as_listing(inventory)
    _harmless(listing.encode_inventory(view))
    record = None
    for found in inventory.cards:
        sensors = found.sensors()
        record = Record(
            program=Program(version="0"),
            practice=False,
            started="2026-11-25T12:00:00+00:00",
            depth="quick",
            host=Host(system="Linux", release="6", machine="x86_64", python="3"),
            card=found.identity,
            claims=found.claims,
            telemetry=_telemetry(sensors),
        )
        _harmless(codec.encode(record))
    return record


def _telemetry(sensors):
    if not isinstance(sensors, NvmlSensors):
        return None
    return Telemetry(
        source=sensors.source,
        slowdown_c=sensors.slowdown_c,
        power_limit_w=sensors.power_limit_w,
        samples=(sensors.read(0.0, "soak"),),
    )


def _harmless(data: bytes) -> None:
    for text in _texts(json.loads(data)):
        assert text.isprintable() or not any(
            unicodedata.category(char) in UNWANTED for char in text
        ), text


def _texts(value):
    if isinstance(value, dict):
        for key, one in value.items():
            yield key
            yield from _texts(one)
    elif isinstance(value, list):
        for one in value:
            yield from _texts(one)
    elif isinstance(value, str):
        yield value


def _part(asked, name):
    value = asked.get(name)
    return value if isinstance(value, dict) else {}


def _word(value):
    """Return what ctypes would: machine words, text, bytes; for all else a refusal."""
    return value & WORDS if isinstance(value, int) else value


def _opencl(asked):
    raw = _part(asked, "raw")

    def answer(_, code):
        text = raw.get(str(code))
        try:
            return bytes.fromhex(text) if isinstance(text, str) else None
        except ValueError:
            return text.encode("utf-8", "surrogatepass")

    listed = asked.get("opencl")
    handles = [
        _Handle(
            {name: _word(value) for name, value in one.items() if _plain(name, value)}
        )
        for one in (listed if isinstance(listed, list) else [])
        if isinstance(one, dict)
    ]
    name = asked.get("platform")
    platform = _Handle(
        {"name": name if isinstance(name, str) else "", "get_devices": lambda: handles}
    )
    module = SimpleNamespace(
        Error=RefusedError,
        get_platforms=lambda: [platform],
        device_type=SimpleNamespace(GPU=4, CPU=2, ACCELERATOR=8),
    )
    return opencl.read(module, lambda: SimpleNamespace(path="", ask=answer), {})


_NUMBERS = frozenset(
    {"vendor_id", "type", "global_mem_size", "max_mem_alloc_size", "int_ptr"}
    | {"max_compute_units", "max_clock_frequency", "host_unified_memory"}
    | {"compute_capability_major_nv", "compute_capability_minor_nv"}
    | {"pci_bus_id_nv", "pci_slot_id_nv", "pci_domain_id_nv", "integrated_memory_nv"}
)


def _plain(name, value):
    """Whether pyopencl's type for an attribute allows the value."""
    return isinstance(value, int if name in _NUMBERS else str)


_STRUCTS = {
    "nvmlDeviceGetPciInfo": ("busId", "pciDeviceId", "pciSubSystemId"),
    "nvmlDeviceGetMemoryInfo": ("total", "free", "used"),
    "nvmlDeviceGetUtilizationRates": ("gpu",),
}
_PAIRED = ("nvmlDeviceGetMigMode", "nvmlDeviceGetCudaComputeCapability")


def _nvml(asked):
    """Return answers of the types that pynvml gives: words, texts, pairs, structs."""
    answers = {}
    for name, value in _part(asked, "nvml").items():
        if name in _STRUCTS:
            given = value if isinstance(value, dict) else {}
            answers[name] = SimpleNamespace(
                **{key: _word(given[key]) for key in _STRUCTS[name] if key in given}
            )
        elif name in _PAIRED:
            if (
                isinstance(value, list)
                and len(value) == 2
                and all(isinstance(one, int) for one in value)
            ):
                answers[name] = [_word(one) for one in value]
        elif isinstance(value, int | str):
            answers[name] = _word(value)
    return answers


def _bus(asked):
    files = {
        name: text
        for name, text in _part(asked, "sysfs").items()
        if isinstance(text, str)
    }
    found = []
    own = pci_sysfs.sibling("0000:01:00.0", files)
    if own is not None:
        lines = files.get("pci.ids", "").splitlines(keepends=True)
        names = pci_names.look_up(lines, {(own.vendor, own.device)})
        device = pci_sysfs.device(
            "0000:01:00.0",
            files,
            driver=files.get("driver") and bus_text(files["driver"]),
            information=files.get("information"),
            name=next(iter(names.values()), None),
        )
        found += [device] if device else []
    registry = _part(asked, "registry")
    key, link = registry.get("key"), registry.get("link")
    entry = PciEntry(
        key=key if isinstance(key, str) else "",
        instance="0",
        values=_part(registry, "values"),
        adapter={
            name: value.encode("utf-16-le", "surrogatepass")
            if name.endswith("String") and isinstance(value, str)
            else value
            for name, value in _part(registry, "adapter").items()
        },
        max_link_speed=link if type(link) is int else None,
        max_link_width=link if type(link) is int else None,
    )
    return BusSight(devices=(*found, *pci_registry.devices((entry,))))


def bus_text(text: str) -> str:
    """Return a name as `bus_linux` reads it from a link."""
    from reports.text import plain  # noqa: PLC0415 - beside its use

    return plain(text)


def seeds() -> list[bytes]:
    """Return one PC with everything, and one with each layer alone."""
    layers = ("opencl", "nvml", "sysfs", "registry")
    alone = [
        {name: PLAYED[name] for name in (layer, "raw", "platform")} for layer in layers
    ]
    return [msgspec.json.encode(one) for one in (PLAYED, *alone)]
