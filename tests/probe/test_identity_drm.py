"""What open kernel drivers answer: buffers made up, as the kernel's headers lay out.

Layouts: include/uapi/drm/{amdgpu,nouveau,radeon}_drm.h of Linux, written out here as
C structures of their own. No card is asked.
"""

import ctypes
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe.identity import bus, drm_ioctl, drm_parse

U32, U64 = ctypes.c_uint32, ctypes.c_uint64
GIB = 2**30


class DeviceInfo(ctypes.Structure):
    """struct drm_amdgpu_info_device, its beginning."""

    _fields_ = (
        ("device_id", U32), ("chip_rev", U32), ("external_rev", U32),
        ("pci_rev", U32), ("family", U32), ("num_shader_engines", U32),
        ("num_shader_arrays_per_engine", U32), ("gpu_counter_freq", U32),
        ("max_engine_clock", U64), ("max_memory_clock", U64),
        ("cu_active_number", U32), ("cu_ao_mask", U32), ("cu_bitmap", U32 * 16),
        ("enabled_rb_pipes_mask", U32), ("num_rb_pipes", U32),
        ("num_hw_gfx_contexts", U32), ("pcie_gen", U32), ("ids_flags", U64),
        ("virtual_address_offset", U64), ("virtual_address_max", U64),
        ("virtual_address_alignment", U32), ("pte_fragment_size", U32),
        ("gart_page_size", U32), ("ce_ram_size", U32), ("vram_type", U32),
        ("vram_bit_width", U32),
    )  # fmt: skip


class Heap(ctypes.Structure):
    _fields_ = (
        ("total_heap_size", U64),
        ("usable_heap_size", U64),
        ("heap_usage", U64),
        ("max_allocation", U64),
    )


class MemoryInfo(ctypes.Structure):
    _fields_ = (("vram", Heap), ("cpu_accessible_vram", Heap), ("gtt", Heap))


class Vbios(ctypes.Structure):
    _fields_ = (
        ("name", ctypes.c_char * 64), ("vbios_pn", ctypes.c_char * 64),
        ("version", U32), ("pad", U32), ("vbios_ver_str", ctypes.c_char * 32),
        ("date", ctypes.c_char * 32),
    )  # fmt: skip


class Info(ctypes.Structure):
    """struct drm_amdgpu_info."""

    _fields_ = (
        ("return_pointer", U64),
        ("return_size", U32),
        ("query", U32),
        ("more", U32 * 4),
    )


DEVICE = DeviceInfo(
    device_id=0x67DF, pci_rev=0xE7, family=130, max_engine_clock=1366000,
    max_memory_clock=2000000, cu_active_number=36, vram_type=5, vram_bit_width=256,
)  # fmt: skip
MEMORY = MemoryInfo(vram=Heap(total_heap_size=8 * GIB, heap_usage=GIB))
VBIOS = Vbios(
    name=b"POLARIS10",
    vbios_pn=b"113-D0000000-100",
    vbios_ver_str=b"015.050.000.000.000000",
    date=b"2018/01/02 03:04",
)
IMAGE = b"\x55\xaa" + bytes(65534)


def test_requests_are_what_the_headers_compute():
    def iowr(direction, size, number):
        return direction << 30 | size << 16 | ord("d") << 8 | 0x40 + number

    assert ctypes.sizeof(Info) == 32
    assert iowr(1, ctypes.sizeof(Info), 0x05) == drm_parse.AMDGPU_INFO
    assert iowr(3, 16, 0x00) == drm_parse.NOUVEAU_GETPARAM
    assert iowr(3, 16, 0x27) == drm_parse.RADEON_INFO
    assert iowr(3, 24, 0x1C) == drm_parse.RADEON_GEM_INFO


class Kernel:
    """Plays the ioctls of one driver; `refuses` are the queries it does not know."""

    def __init__(self, answers, refuses=()):
        self.answers = answers
        self.refuses = refuses

    def amdgpu(self, _file, request, argument):
        assert request == drm_parse.AMDGPU_INFO
        info = Info.from_buffer_copy(argument)
        key = (info.query, info.more[0])
        if info.query in self.refuses or key not in self.answers:
            raise OSError(22, "Invalid argument")
        answer = bytes(self.answers[key])[: info.return_size]
        ctypes.memmove(info.return_pointer, answer, len(answer))

    def nouveau(self, _file, request, argument):
        assert request == drm_parse.NOUVEAU_GETPARAM
        number, _ = struct.unpack("=QQ", argument)
        if number not in self.answers:
            raise OSError(22, "Invalid argument")
        argument[:] = struct.pack("=QQ", number, self.answers[number])

    def radeon(self, _file, request, argument):
        if request == drm_parse.RADEON_GEM_INFO:
            argument[:] = struct.pack("=QQQ", GIB, 2 * GIB, GIB // 4)
            return
        number, _, pointer = struct.unpack("=IIQ", argument)
        if number not in self.answers:
            raise OSError(22, "Invalid argument")
        value = struct.pack("=I", self.answers[number])
        ctypes.memmove(pointer, value, 4)


AMDGPU = {
    (0x16, 0): DEVICE,
    (0x19, 0): MEMORY,
    (0x1B, 1): struct.pack("=I", len(IMAGE)),
    (0x1B, 2): IMAGE,
    (0x1B, 3): VBIOS,
}


@pytest.fixture
def node(tmp_path):
    place = tmp_path / "renderD128"
    place.write_bytes(b"")
    return place


def test_amdgpu_tells_units_memory_and_firmware(node):
    word = drm_ioctl.read(node, "amdgpu", Kernel(AMDGPU).amdgpu)
    assert (word.vendor, word.device, word.units) == (0x1002, 0x67DF, 36)
    assert (word.memory_type, word.bus_width_bits) == ("GDDR5", 256)
    assert (word.clock_mhz, word.memory_clock_mhz) == (1366, 2000)
    assert (word.memory_bytes, word.memory_used_bytes) == (8 * GIB, GIB)
    assert word.firmware == "015.050.000.000.000000"
    assert word.firmware_part == "113-D0000000-100"
    assert word.firmware_date == "2018/01/02 03:04"
    assert word.image == IMAGE
    assert not word.virtual
    assert not word.built_in
    claim = bus.kernel_claim(word)
    assert (claim.layer, claim.pci_id, claim.chip_id) == ("driver", "1002:67df", None)
    assert (claim.compute_units, claim.free_bytes) == (36, 7 * GIB)


def test_a_driver_that_knows_less_leaves_out_the_rest(node):
    word = drm_ioctl.read(node, "amdgpu", Kernel(AMDGPU, refuses=(0x19, 0x1B)).amdgpu)
    assert word.units == 36
    assert (word.memory_bytes, word.firmware, word.image) == (None, None, None)
    assert drm_ioctl.read(node, "amdgpu", Kernel({}).amdgpu) is None


def test_a_virtual_function_says_so(node):
    lent = DeviceInfo(device_id=0x73A1, ids_flags=0x100)
    word = drm_ioctl.read(node, "amdgpu", Kernel({(0x16, 0): lent}).amdgpu)
    assert word.virtual
    assert word.units is None


def test_a_part_that_is_lent_claims_no_size():
    part = drm_parse.KernelWord(
        driver="amdgpu", units=9, memory_bytes=GIB, memory_used_bytes=0, virtual=True
    )
    claim = bus.kernel_claim(part)
    assert (claim.compute_units, claim.memory_bytes) == (None, None)


def test_nouveau_tells_the_chips_own_number(node):
    """A card whose PCI id says GP107 and whose register says GF106."""
    answers = {3: 0x10DE, 4: 0x1C82, 8: 4 * GIB, 11: 0x0C3}
    word = drm_ioctl.read(node, "nouveau", Kernel(answers).nouveau)
    claim = bus.kernel_claim(word)
    assert (claim.chip_id, claim.pci_id) == ("0c3", "10de:1c82")
    assert claim.memory_bytes == 4 * GIB


@pytest.mark.parametrize("chip", [0, 0x1FF, 0xFFFFFFFF])
def test_a_card_off_the_bus_has_no_number(node, chip):
    assert drm_ioctl.read(node, "nouveau", Kernel({11: chip}).nouveau) is None


def test_radeon_tells_id_units_and_memory(node):
    answers = {0x00: 0x6759, 0x20: 6, 0x1A: 650000}
    word = drm_ioctl.read(node, "radeon", Kernel(answers).radeon)
    assert (word.device, word.units, word.clock_mhz) == (0x6759, 6, 650)
    assert word.memory_bytes == 2 * GIB
    assert drm_ioctl.read(node, "radeon", Kernel({}).radeon) is None


def test_other_drivers_and_closed_nodes_are_not_asked(tmp_path, node):
    def never(*_):
        raise AssertionError

    assert drm_ioctl.read(node, "nvidia", never) is None
    assert drm_ioctl.read(node, None, never) is None
    assert drm_ioctl.read(tmp_path / "missing", "amdgpu", never) is None


@given(st.binary(max_size=600), st.binary(max_size=96), st.binary(max_size=200))
def test_no_answer_breaks_the_parsers(device, memory, vbios):
    word = drm_parse.amdgpu(device, memory, vbios)
    claim = bus.kernel_claim(word)
    assert claim.memory_bytes is None or claim.memory_bytes > 0
    assert claim.compute_units is None or 0 < claim.compute_units <= 1024


@given(st.dictionaries(st.integers(0, 20), st.integers(0, 2**64 - 1)))
def test_no_parameter_breaks_the_parsers(answers):
    for word in (drm_parse.nouveau(answers), drm_parse.radeon(answers, b"\xff" * 24)):
        assert word is None or bus.kernel_claim(word).layer == "driver"
