"""OpenCL's devices: real ones, and stand-ins for those this machine lacks.

Layouts of the vendor queries: the Khronos texts of cl_khr_pci_bus_info and
cl_khr_device_uuid, AMD's cl_device_topology_amd, hwloc's opencl.h for NVIDIA's slot.
Names as drivers print them: public device listings.
"""

import struct
from types import SimpleNamespace

import pytest

from probe.identity import cards, opencl, opencl_parse, opencl_raw, select


class Error(Exception):
    pass


class Refusing:
    """An object whose unset attributes raise what pyopencl raises."""

    def __init__(self, **attributes):
        self.__dict__.update(attributes)

    def __getattr__(self, name):
        raise Error(f"clGetDeviceInfo failed: INVALID_VALUE ({name})")


class Loader:
    path = "libOpenCL.so.1"

    def __init__(self, answers=None):
        self.answers = answers or {}

    def ask(self, device, code):
        return self.answers.get((device, code))


def pyopencl(*platforms, error=None):
    def get_platforms():
        if error is not None:
            raise error
        return list(platforms)

    return SimpleNamespace(
        Error=Error,
        get_platforms=get_platforms,
        device_type=SimpleNamespace(GPU=4, CPU=2, ACCELERATOR=8),
    )


def platform(name, *devices, error=None):
    def get_devices():
        if error is not None:
            raise error
        return list(devices)

    return Refusing(name=name, get_devices=get_devices)


def gtx_1070(**more):
    return Refusing(
        **{
            "name": "NVIDIA GeForce GTX 1070",
            "vendor": "NVIDIA Corporation",
            "vendor_id": 0x10DE,
            "type": 4,
            "global_mem_size": 8589934592,
            "max_mem_alloc_size": 2147483648,
            "max_compute_units": 15,
            "max_clock_frequency": 1784,
            "driver_version": "535.183.01",
            "extensions": "cl_khr_fp64 cl_nv_device_attribute_query",
            "host_unified_memory": 0,
            "compute_capability_major_nv": 6,
            "compute_capability_minor_nv": 1,
            "pci_bus_id_nv": 1,
            "pci_slot_id_nv": 0,
            "int_ptr": 4711,
        }
        | more
    )


def read(module, loader=None, environment=None):
    return opencl.read(module, lambda: loader, environment or {})


def test_nvidia_without_domain():
    sight = read(pyopencl(platform("NVIDIA CUDA", gtx_1070())))
    (device,) = sight.devices
    assert device.address == "0000:01:00.0"
    assert device.address_rule == "address from NVIDIA's OpenCL attributes"
    assert not device.domain_known
    assert (device.rank, device.kind) == (0, "gpu")
    assert device.largest_block_bytes == 2147483648
    assert not device.unified_memory
    claim = device.claim
    assert claim.model == "NVIDIA GeForce GTX 1070"
    assert (claim.memory_bytes, claim.compute_units) == (8589934592, 15)
    assert (claim.compute_capability, claim.clock_mhz) == ("6.1", 1784)
    assert claim.driver == "535.183.01"
    assert claim.source == "OpenCL, platform NVIDIA CUDA"


def test_standard_address_and_uuid_go_before_the_vendors():
    device = gtx_1070(extensions="cl_khr_pci_bus_info cl_khr_device_uuid")
    uuid = bytes(range(16))
    loader = Loader(
        {
            (4711, opencl_raw.PCI_BUS_INFO): struct.pack("=4I", 0x10000, 0x65, 0, 0),
            (4711, opencl_raw.DEVICE_UUID): uuid,
        }
    )
    (found,) = read(pyopencl(platform("NVIDIA CUDA", device)), loader).devices
    assert found.address == "10000:65:00.0"
    assert found.address_rule == "address from cl_khr_pci_bus_info"
    assert found.domain_known
    assert found.uuid == uuid
    assert "uuid" not in repr(found)


def test_extension_not_named_is_not_asked():
    loader = Loader({(4711, opencl_raw.DEVICE_UUID): bytes(range(16))})
    (found,) = read(pyopencl(platform("NVIDIA CUDA", gtx_1070())), loader).devices
    assert found.uuid is None


def test_amd_board_name_and_chip():
    device = Refusing(
        name="gfx803",
        board_name_amd="AMD Radeon RX 580 Series",
        vendor="Advanced Micro Devices, Inc.",
        vendor_id=0x1002,
        type=4,
        global_mem_size=8573157376,
        max_compute_units=36,
        topology_amd=SimpleNamespace(type=1, bus=-125, device=0, function=0),
    )
    module = pyopencl(platform("AMD Accelerated Parallel Processing", device))
    (found,) = read(module).devices
    assert found.claim.model == "AMD Radeon RX 580 Series"
    assert found.claim.gfx_target == "gfx803"
    assert found.address == "0000:83:00.0"  # a signed character
    assert found.rank == 0


def test_intel_device_id():
    device = Refusing(
        name="Intel(R) Arc(TM) A750 Graphics",
        vendor_id=0x8086,
        type=4,
        extensions="cl_intel_device_attribute_query",
        int_ptr=7,
    )
    loader = Loader({(7, opencl_raw.INTEL_DEVICE_ID): struct.pack("=I", 0x56A1)})
    module = pyopencl(platform("Intel(R) OpenCL Graphics", device))
    (found,) = read(module, loader).devices
    assert found.pci_device == 0x56A1


@pytest.mark.parametrize(
    ("name", "board", "expected"),
    [
        ("NVIDIA GeForce GTX 1070", None, ("NVIDIA GeForce GTX 1070", None)),
        ("Ellesmere", "Radeon RX 580 Series", ("Radeon RX 580 Series", "Ellesmere")),
        ("gfx1030", None, (None, "gfx1030")),
        ("gfx90a:sramecc+:xnack-", None, (None, "gfx90a:sramecc+:xnack-")),
        ("NV136", None, (None, "NV136")),
        (
            "AMD Radeon RX 580 Series (radeonsi, polaris10, LLVM 15.0.7, DRM 3.54)",
            None,
            ("AMD Radeon RX 580 Series", "polaris10"),
        ),
        (
            "AMD HAWAII (DRM 2.46.0 / 4.8.2-1-ARCH, LLVM 3.8.1)",
            None,
            (None, "HAWAII"),
        ),
        (
            "Radeon RX 560 Series (POLARIS11, DRM 3.35.0, 5.4.0, LLVM 9.0.0)",
            None,
            ("Radeon RX 560 Series", "POLARIS11"),
        ),
        (
            "AMD Radeon RX 6700 XT (navi22, LLVM 15.0.7, DRM 3.54, 6.5.0-1-rt-amd64)",
            None,
            ("AMD Radeon RX 6700 XT", "navi22"),
        ),
        ("GeForce GTX 1060 (Notebook)", None, ("GeForce GTX 1060 (Notebook)", None)),
        ("", None, (None, None)),
    ],
)
def test_names(name, board, expected):
    assert opencl_parse.names(name, board) == expected


@pytest.mark.parametrize(
    ("bus", "slot", "domain", "address"),
    [
        (1, 0, None, "0000:01:00.0"),
        (0, 6, 0, "0000:00:06.0"),
        (0x65, (5 << 3) | 1, 1, "0001:65:05.1"),
        (300, 0, 0, None),
    ],
)
def test_nvidias_slot(bus, slot, domain, address):
    assert opencl_parse.nvidia_address(bus, slot, domain) == address


def test_short_and_empty_answers():
    assert opencl_parse.bus_info(b"\0" * 15) is None
    assert opencl_parse.bus_info(struct.pack("=4I", 0, 999, 0, 0)) is None
    assert opencl_parse.uuid(bytes(16)) is None
    assert opencl_parse.uuid(b"short") is None
    assert opencl_parse.uuid(None) is None
    assert opencl_parse.amd_address(1, 0, 0, kind=2) is None


def test_broken_platform_is_noted_and_the_rest_goes_on():
    sight = read(
        pyopencl(
            platform("Rusty\x1b[0m", error=Error("OUT_OF_HOST_MEMORY")),
            platform("NVIDIA CUDA", gtx_1070()),
        )
    )
    assert len(sight.devices) == 1
    assert sight.notes == ("OpenCL platform Rusty�[0m is broken: OUT_OF_HOST_MEMORY.",)


def test_no_driver_at_all(tmp_path):
    (tmp_path / "other.icd").touch()
    (tmp_path / "readme").touch()
    sight = read(
        pyopencl(error=Error("clGetPlatformIDs failed: PLATFORM_NOT_FOUND_KHR")),
        Loader(),
        {"OCL_ICD_VENDORS": str(tmp_path)},
    )
    assert sight.devices == ()
    assert sight.notes == ("OpenCL finds no driver at all.",)
    assert sight.loader == "libOpenCL.so.1"
    assert (sight.vendors_folder, sight.registered) == (str(tmp_path), ("other.icd",))


def test_platforms_cannot_be_listed():
    sight = read(pyopencl(error=Error("clGetPlatformIDs failed: OUT_OF_HOST_MEMORY")))
    assert sight.notes == (
        (
            "OpenCL's platforms cannot be listed: "
            "clGetPlatformIDs failed: OUT_OF_HOST_MEMORY."
        ),
    )


def test_no_loader_on_the_machine(monkeypatch):
    def missing(_):
        raise ImportError("libOpenCL.so.1: cannot open shared object file")

    monkeypatch.setattr(opencl.importlib, "import_module", missing)
    sight = opencl.read(environment={})
    assert sight.notes == (
        "OpenCL cannot be used: libOpenCL.so.1: cannot open shared object file.",
    )


def test_hostile_names_and_numbers():
    device = gtx_1070(
        name="\x1b]0;owned\x07\u202egnihtyna\n" + "A" * 9000,
        vendor="\x00",
        global_mem_size=2**64 - 1,
        driver_version="1\r\n2",
    )
    (found,) = read(pyopencl(platform("NVIDIA CUDA", device))).devices
    assert found.label.startswith("�]0;owned��gnihtyna A")
    assert len(found.label) == 256
    assert found.claim.memory_bytes is None
    assert found.claim.driver == "1 2"


def test_name_that_is_no_text_is_read_raw():
    class Device(Refusing):
        def __getattr__(self, name):
            if name == "name":
                raise UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte")
            return super().__getattr__(name)

    device = Device(vendor_id=0x10DE, type=4, int_ptr=7)
    loader = Loader({(7, opencl_raw.DEVICE_NAME): b"GTX \xff 1070\0"})
    (found,) = read(pyopencl(platform("NVIDIA CUDA", device)), loader).devices
    assert found.label == "GTX � 1070"


def test_device_that_answers_nothing():
    (found,) = read(pyopencl(platform("Odd", Refusing()))).devices
    assert found.label == "unnamed device of Odd"
    assert (found.kind, found.address) == ("other", None)


@pytest.mark.parametrize(
    ("name", "vendor_id", "rank"),
    [
        ("NVIDIA CUDA", 0x10DE, 0),
        ("Intel(R) OpenCL HD Graphics", 0x8086, 0),
        ("AMD Accelerated Parallel Processing", 0x1002, 0),
        ("rusticl", 0x1002, 1),
        ("Clover", 0x1002, 1),
        ("NVIDIA CUDA", 0x1002, 2),
        ("Portable Computing Language", 0x10DE, 2),
    ],
)
def test_whose_platform_it_is(name, vendor_id, rank):
    assert opencl._rank(name, vendor_id) == rank


@pytest.mark.opencl
def test_a_real_processor_device():
    sight = opencl.read()
    processors = [device for device in sight.devices if device.kind == "cpu"]
    assert processors
    claim = processors[0].claim
    assert claim.model
    assert claim.memory_bytes
    assert claim.compute_units
    assert processors[0].largest_block_bytes
    assert processors[0].address is None


@pytest.mark.opencl
def test_the_processor_is_found_and_selected():
    inventory = cards.find()
    found = select.select(inventory, "cpu")
    assert inventory.cards[found.identity.index] is found
    facts = cards.facts(found, "OpenCL events")
    assert facts.memory_bytes >= facts.largest_block_bytes > 0
    assert found.sensors() is None
    assert found.sensors_missing == "a processor's sensors are not read"


@pytest.mark.opencl
def test_raw_queries_go_through_pyopencls_loader():
    import pyopencl  # noqa: PLC0415

    loader = opencl_raw.loader()
    assert loader is not None
    assert "OpenCL" in loader.path
    device = pyopencl.get_platforms()[0].get_devices()[0]
    raw = loader.ask(device.int_ptr, opencl_raw.DEVICE_NAME)
    assert raw is not None
    assert raw.rstrip(b"\0").decode() == device.name
    assert loader.ask(device.int_ptr, 0xFFFF) is None


def test_no_loader_in_the_process(tmp_path):
    maps = tmp_path / "maps"
    maps.write_text("00400000-00452000 r-xp 00000000 08:02 1 /no/libOpenCL.so.1\n")
    assert opencl_raw.loader(maps=maps) is None
