"""Firmware images kept by the PC, edited driver packages, virtual machines: made up.

Layouts: the kernel's amdgpu atombios.h for VFCT; PCI Firmware Specification for an
expansion ROM; Microsoft's documentation for DeviceDesc and MatchingDeviceId.
"""

import struct
from types import SimpleNamespace

import made_records as made
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from probe.identity import (
    bus_linux,
    firmware_image,
    nvml,
    pci_registry,
    pci_sysfs,
    surroundings,
)
from probe.identity.bus import AMD, NVIDIA, BusDevice, Sibling
from probe.identity.cards import find
from probe.identity.drm_parse import KernelWord
from probe.identity.layers import layers
from probe.identity.nvml import Nvml, NvmlSight
from probe.identity.opencl import OpenClSight
from reference.table import load
from reports.codec import decode, encode
from reports.record import Record


def rom(vendor=AMD, device=0x67DF, size=1024):
    head = bytearray(size)
    head[:3] = b"\x55\xaa" + bytes([size // 512])
    head[0x18:0x1A] = struct.pack("<H", 0x40)
    head[0x40:0x48] = b"PCIR" + struct.pack("<HH", vendor, device)
    return bytes(head)


def kept(*images, lie=0):
    body = b"".join(
        struct.pack("<IIIHHHHII", bus, slot, function, AMD, device, 0, 0, 0, len(data))
        + data
        for bus, slot, function, device, data in images
    )
    head = struct.pack("<4sI28s16sIIIIII", b"VFCT", 76 + len(body) + lie, b"", b"",
                       76, 0, 0, 0, 0, 0)  # fmt: skip
    return head + body


def test_every_image_of_the_table_is_found():
    table = kept((3, 0, 0, 0x67DF, rom()), (0x0A, 0, 0, 0x1638, rom(device=0x1638)))
    first, second = firmware_image.vfct(table)
    assert (first.address, first.device) == ("0000:03:00.0", 0x67DF)
    assert first.data == rom()
    assert second.address == "0000:0a:00.0"
    assert firmware_image.made_for(second.data) == "1002:1638"


@pytest.mark.parametrize(
    "table",
    [
        None,
        b"",
        b"VFCT",
        b"DSDT" + kept((3, 0, 0, 0x67DF, rom()))[4:],
        kept((3, 0, 0, 0x67DF, b"")),
        kept((3, 0, 0, 0x67DF, rom()))[:-1],
        kept((3, 0, 0, 0x67DF, rom()), lie=-1),
    ],
)
def test_broken_tables_hold_no_image(table):
    assert firmware_image.vfct(table) == ()


@given(st.binary(max_size=300), st.integers(0, 400))
def test_no_table_breaks_the_parser(noise, cut):
    for table in (noise, kept((3, 0, 0, 1, rom()))[:cut] + noise, b"VFCT" + noise):
        for one in firmware_image.vfct(table):
            firmware_image.made_for(one.data)


def test_an_image_is_a_cards_by_its_place_or_by_its_ids():
    images = firmware_image.vfct(
        kept((3, 0, 0, 0x67DF, rom()), (4, 0, 0, 0x6759, rom(device=0x6759)))
    )
    here = firmware_image.kept_for(images, "0000:03:00.0", AMD, 0x67DF)
    assert here is images[0]
    moved = firmware_image.kept_for(images, "0000:07:00.0", AMD, 0x6759)
    assert moved is images[1]
    assert firmware_image.kept_for(images, "0000:07:00.0", AMD, 0x1234) is None
    assert firmware_image.kept_for(images, "0000:03:00.0", NVIDIA, 0x67DF) is None
    twins = (images[0], images[0])
    assert firmware_image.kept_for(twins, "0000:07:00.0", AMD, 0x67DF) is None


@pytest.mark.parametrize("data", [b"", b"\x55\xaa", rom()[:0x41], bytes(1024)])
def test_what_is_no_rom_is_made_for_nothing(data):
    assert firmware_image.made_for(data) is None


def test_a_record_keeps_no_byte_of_an_image():
    told = firmware_image.described(rom(), "made up")
    assert (told.size_bytes, told.pci_id, len(told.sha256)) == (1024, "1002:67df", 64)


def amd_folder(root, driver="amdgpu"):
    folder = root / "sys/bus/pci/devices/0000:03:00.0"
    (folder / "drm/renderD128").mkdir(parents=True)
    (folder / "drm/card0/card0-HDMI-A-1").mkdir(parents=True)
    (folder / "drm/card0/card0-HDMI-A-1/status").write_text("connected\n")
    for name, text in {
        "vendor": "0x1002",
        "device": "0x67df",
        "class": "0x030000",
    }.items():
        (folder / name).write_text(text + "\n")
    module = root / f"sys/bus/pci/drivers/{driver}"
    module.mkdir(parents=True)
    (folder / "driver").symlink_to(module)
    tables = root / "sys/firmware/acpi/tables"
    tables.mkdir(parents=True)
    (tables / "VFCT").write_bytes(kept((3, 0, 0, 0x67DF, rom())))
    (root / "proc").mkdir()
    (root / "proc/cpuinfo").write_text("flags\t\t: fpu sse\n\nflags\t\t: fpu sse\n")
    return folder


def test_linux_asks_the_driver_behind_the_render_node(tmp_path):
    amd_folder(tmp_path)
    asked = []

    def ask(node, driver):
        asked.append((node.name, driver))
        return KernelWord(driver="amdgpu", vendor=AMD, device=0x67DF, units=36,
                          image=rom(), memory_type="GDDR5")  # fmt: skip

    sight = bus_linux.read(tmp_path, names=(), ask=ask)
    assert asked == [("renderD128", "amdgpu")]
    assert sight.virtual_machine is False
    (device,) = sight.devices
    assert [one.source for one in device.images] == [
        "image that the kernel driver keeps",
        "image in ACPI's table VFCT",
    ]
    assert {one.pci_id for one in device.images} == {"1002:67df"}
    told = layers(device, None, virtual=sight.virtual_machine)
    assert told.outputs == ("HDMI-A-1",)
    assert ("memory type", "GDDR5") in [(one.name, one.value) for one in told.further]
    (card,) = find(OpenClSight, NvmlSight, lambda: sight).cards
    assert [claim.layer for claim in card.claims] == ["driver", "pci"]
    assert card.claims[0].compute_units == 36
    assert card.identity.layers == told


def test_virtual_machines_say_so(tmp_path):
    assert surroundings.virtual_linux(tmp_path) is None
    (tmp_path / "proc").mkdir()
    (tmp_path / "proc/cpuinfo").write_text("flags : fpu hypervisor lahf_lm\n")
    assert surroundings.virtual_linux(tmp_path) is True
    assert surroundings.is_virtual_board(["QEMU", "Standard PC"])
    assert surroundings.is_virtual_board(["Microsoft Corporation", "Virtual Machine"])
    assert not surroundings.is_virtual_board(["ASUSTeK COMPUTER INC.", "PRIME B350"])


class Firmware:
    """GetSystemFirmwareTable, played: asked for a size first, then for the bytes."""

    def __init__(self, table, grows=0):
        self.table, self.grows = table, grows

    def GetSystemFirmwareTable(self, provider, table, buffer, size):  # noqa: N802
        assert (provider, table) == (0x41435049, 0x54434656)
        if buffer is None:
            return len(self.table)
        buffer[: len(self.table)] = self.table
        return len(self.table) + self.grows


def test_windows_hands_out_the_table_without_rights():
    table = kept((3, 0, 0, 0x67DF, rom()))
    assert surroundings.vfct_windows(Firmware(table)) == table
    assert surroundings.vfct_windows(Firmware(table, grows=1)) is None
    assert surroundings.vfct_windows(Firmware(b"")) is None


def windows_card(description, matching):
    return pci_registry.PciEntry(
        key="VEN_10DE&DEV_1244&SUBSYS_35001458&REV_A1",
        instance="4&1A2B3C4D&0&0008",
        values={
            "HardwareID": [r"PCI\VEN_10DE&DEV_1244&SUBSYS_35001458&REV_A1"],
            "CompatibleIDs": [r"PCI\CC_030000"],
            "LocationInformation": "@x,#65536;PCI bus %1, device %2;(1,0,0)",
            "DeviceDesc": description,
        },
        adapter={
            "MatchingDeviceId": matching,
            "DriverDesc": "NVIDIA GeForce GTX 1050 Ti",
            "HardwareInformation.qwMemorySize": (4 * 2**30).to_bytes(8, "little"),
        },
    )


def test_windows_package_line_is_read():
    description = "@oem7.inf,%nvidia_dev.1c82%;NVIDIA GeForce GTX 1050 Ti"
    (device,) = pci_registry.devices(
        (windows_card(description, r"pci\ven_10de&dev_1244"),)
    )
    assert device.package_line == "nvidia_dev.1c82"
    assert device.word.memory_bytes == 4 * 2**30
    told = layers(device, None, virtual=None).package
    assert (told.line, told.matching_id) == (
        "nvidia_dev.1c82",
        r"pci\ven_10de&dev_1244",
    )
    assert told.hardware_ids == (r"PCI\VEN_10DE&DEV_1244&SUBSYS_35001458&REV_A1",)


@pytest.mark.parametrize(
    "description",
    ["NVIDIA GeForce GTX 1050 Ti", "@oem7.inf,%%;x", "", None, b"\xff", ["a"], 7],
)
def test_windows_descriptions_without_a_line(description):
    (device,) = pci_registry.devices((windows_card(description, None),))
    assert device.package_line is None


class Library:
    """pynvml with a board that answers all, or an old driver that answers nothing."""

    class NVMLError(Exception):
        pass

    def __init__(self, *, old):
        self.old = old

    def __getattr__(self, name):
        answers = {
            "nvmlDeviceGetBoardPartNumber": b"900-00000-0000-000",
            "nvmlDeviceGetInforomImageVersion": "G500.0200.00.05",
            "nvmlDeviceGetArchitecture": 9,
            "nvmlDeviceGetBrand": 99,
            "nvmlDeviceGetBusType": 2,
            "nvmlDeviceGetBAR1MemoryInfo": SimpleNamespace(bar1Total=256 * 2**20),
            "nvmlDeviceGetPowerManagementDefaultLimit": 150000,
            "nvmlDeviceGetMaxPcieLinkWidth": 16,
            "nvmlDeviceGetMaxPcieLinkGeneration": 4,
        }
        if self.old or name not in answers:
            raise AttributeError(name)
        return lambda *_: answers[name]


def test_nvml_tells_what_it_knows_and_no_serial_number():
    told = nvml._further(Nvml(library=Library(old=False)), object())
    assert {one.name: one.value for one in told} == {
        "board part number": "900-00000-0000-000",
        "InfoROM image": "G500.0200.00.05",
        "architecture": "Hopper",
        "brand": "number 99",
        "bus": "PCI Express",
        "memory window": "256 MiB",
        "default power limit": "150 W",
        "link of card and slot at most": "PCIe 4.0 x16",
    }
    assert nvml._further(Nvml(library=Library(old=True)), object()) == ()


def test_the_kernel_drivers_file_names_the_board_for_pairing_alone():
    text = "Model: \t GeForce\nGPU UUID: \t GPU-01020304-0506-0708-090a-0b0c0d0e0f10\n"
    files = {"vendor": "0x10de", "device": "0x1b81", "class": "0x030000"}
    device = pci_sysfs.device("0000:01:00.0", files, information=text)
    assert device.uuid == bytes(range(1, 17))
    assert "01020304" not in repr(device)
    hidden = text.replace("01020304", "????????")
    assert pci_sysfs.device("0000:01:00.0", files, information=hidden).uuid is None


def test_functions_of_the_slot_are_kept_in_a_record():
    table = load()
    device = BusDevice(
        address="0000:01:00.0", vendor=NVIDIA, device=0x1F08, device_class=0x030000,
        source="sysfs",
        siblings=(
            Sibling(address="0000:01:00.2", vendor=NVIDIA, device=0x1ADA,
                    device_class=0x0C0330),
            Sibling(address="0000:01:00.1", vendor=NVIDIA, device=0x10F9,
                    device_class=0x040300),
        ),
    )  # fmt: skip
    told = layers(device, None, virtual=False)
    assert [(one.number, one.pci_id, one.device_class) for one in told.functions] == [
        (1, "10de:10f9", "0403"),
        (2, "10de:1ada", "0c03"),
    ]
    record = made.genuine(made.one(table, "GeForce RTX 2060"), table)
    record = replace(record, card=replace(record.card, layers=told))
    assert isinstance(record, Record)
    assert decode(encode(record)) == record
    assert layers(None, None, virtual=True) is None
