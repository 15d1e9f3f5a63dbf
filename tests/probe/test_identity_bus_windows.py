"""Windows' registry and cfgmgr32, played by stand-ins of the same interface.

Formats: Microsoft's "Identifiers for PCI devices", "Registering hardware information";
ids from pci.ids. No Windows machine has run this.
"""

import ctypes
from types import SimpleNamespace

import pytest

from probe.identity import bus, bus_windows, pci_registry
from probe.identity.pci_registry import PciEntry

CLASS = "{4d36e968-e325-11ce-bfc1-08002be10318}"
KEY = "VEN_10DE&DEV_1B81&SUBSYS_37011458&REV_A1"
AUDIO = "VEN_10DE&DEV_10F0&SUBSYS_37011458&REV_A1"
ENUM = r"SYSTEM\CurrentControlSet\Enum\PCI"


def values(place, kind, **more):
    return {
        "HardwareID": [rf"PCI\{KEY}", rf"PCI\VEN_10DE&DEV_1B81&{kind}"],
        "CompatibleIDs": [rf"PCI\VEN_10DE&{kind}", rf"PCI\{kind}"],
        "LocationInformation": (
            r"@System32\drivers\pci.sys,#65536;PCI-Bus %1, Gerät %2, Funktion %3;"
            + place
        ),
        **more,
    }


def card(**more):
    return PciEntry(
        key=KEY,
        instance="4&1A2B3C4D&0&0008",
        values=values("(1,0,0)", "CC_030000", Service="nvlddmkm"),
        **more,
    )


def audio():
    return PciEntry(
        key=AUDIO,
        instance="4&1A2B3C4D&0&0108",
        values=values("(1,0,1)", "CC_040300", Service="HDAudBus"),
    )


def test_card_audio_and_driver():
    adapter = {
        "DriverDesc": "NVIDIA GeForce GTX 1070",
        "DriverVersion": "31.0.15.3623",
        "ProviderName": "NVIDIA",
        "MatchingDeviceId": r"pci\ven_10de&dev_1b81",
        "HardwareInformation.AdapterString": "NVIDIA GeForce GTX 1070\0".encode(
            "utf-16-le"
        ),
        "HardwareInformation.BiosString": "Version86.4.26.0.80",
        "HardwareInformation.qwMemorySize": 8589934592,
        "HardwareInformation.MemorySize": b"\x00\x00\xf0\xff",
    }
    (found,) = pci_registry.devices(
        (audio(), card(adapter=adapter, max_link_speed=3, max_link_width=16))
    )
    assert found.address == "0000:01:00.0"
    assert found.device_class == 0x030000
    assert [each.device for each in found.siblings] == [0x10F0]
    assert found.matching_id == r"pci\ven_10de&dev_1b81"
    assert found.drives_display is None
    driver, pci = bus.claims(found)
    assert driver.model == "NVIDIA GeForce GTX 1070"
    assert driver.memory_bytes == 8 * 2**30
    assert driver.driver == "NVIDIA 31.0.15.3623"
    assert driver.firmware == "Version86.4.26.0.80"
    assert (pci.pci_id, pci.subsystem, pci.revision) == (
        "10de:1b81",
        "1458:3701",
        "a1",
    )
    assert (pci.link_generation, pci.link_width) == (3, 16)


def test_a_card_that_is_gone_is_not_a_card():
    assert pci_registry.devices((card(present=False), audio())) == ()


def test_second_bus_and_segment():
    entry = PciEntry(key=KEY, instance="x", values=values("(257,0,0)", "CC_030200"))
    (found,) = pci_registry.devices((entry,))
    assert found.address == "0001:01:00.0"


def test_place_in_words_and_no_place():
    words = PciEntry(
        key=KEY,
        instance="x",
        values={
            "CompatibleIDs": [r"PCI\CC_0300"],
            "LocationInformation": "PCI bus 1, device 0, function 0",
        },
    )
    lost = PciEntry(key=KEY, instance="y", values={"ClassGUID": CLASS.upper()})
    found = pci_registry.devices((words, lost))
    assert [each.address for each in found] == ["0000:01:00.0", None]


@pytest.mark.parametrize(
    ("size", "memory"),
    [
        ({"HardwareInformation.qwMemorySize": 2147483648}, 2**31),
        ({"HardwareInformation.qwMemorySize": (2**33).to_bytes(8, "little")}, 2**33),
        ({"HardwareInformation.MemorySize": 0x40000000}, 2**30),
        ({"HardwareInformation.MemorySize": b"\x00\x00\x00\x40"}, 2**30),
        ({"HardwareInformation.MemorySize": 1024}, 2**30),
        ({"HardwareInformation.MemorySize": 0xFFF00000}, None),
        ({"HardwareInformation.MemorySize": "much"}, None),
        ({}, None),
    ],
)
def test_memory_sizes(size, memory):
    assert pci_registry.memory_bytes(size) == memory


def test_entries_that_are_no_pci_device():
    odd = PciEntry(key="ROOT_DEVICE", instance="x", values={})
    hostile = PciEntry(key=KEY, instance="x", values={"CompatibleIDs": 7})
    assert pci_registry.devices((odd, hostile)) == ()


class Key:
    def __init__(self, path, tree):
        self.path = path
        self.values = tree[path]

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None


class Registry:
    """The calls of winreg that are used, over a dict of paths."""

    HKEY_LOCAL_MACHINE = object()

    def __init__(self, tree):
        self.tree = tree

    def OpenKey(self, root, path):  # noqa: N802
        assert root is self.HKEY_LOCAL_MACHINE
        if path not in self.tree:
            raise FileNotFoundError(2, "The system cannot find the file specified")
        return Key(path, self.tree)

    def _under(self, key):
        depth = key.path.count("\\") + 1
        return [
            path.rsplit("\\", 1)[1]
            for path in self.tree
            if path.startswith(key.path + "\\") and path.count("\\") == depth
        ]

    def QueryInfoKey(self, key):  # noqa: N802
        return (len(self._under(key)), len(key.values), 0)

    def EnumKey(self, key, index):  # noqa: N802
        return self._under(key)[index]

    def QueryValueEx(self, key, name):  # noqa: N802
        if name not in key.values:
            raise FileNotFoundError(2, "The system cannot find the file specified")
        return key.values[name], 1


def manager(present, properties):
    def locate(node, name, flags):
        if name.value not in present:
            return 13  # CR_NO_SUCH_DEVNODE of cfgmgr32.h
        ctypes.cast(node, ctypes.POINTER(ctypes.c_uint32))[0] = 42
        return 0

    def ask(node, key, kind, value, size, flags):
        assert node.value == 42
        number = ctypes.cast(key, ctypes.POINTER(ctypes.c_uint32))[4]
        guid = bytes(ctypes.cast(key, ctypes.POINTER(ctypes.c_ubyte))[0:16])
        assert guid.hex() == "312eb23a64824e4b9af5a8d2d8e33e62"
        if number not in properties:
            return 37
        ctypes.cast(kind, ctypes.POINTER(ctypes.c_uint32))[0] = 7
        ctypes.cast(value, ctypes.POINTER(ctypes.c_uint32))[0] = properties[number]
        return 0

    return SimpleNamespace(CM_Locate_DevNodeW=locate, CM_Get_DevNode_PropertyW=ask)


def tree():
    classes = r"SYSTEM\CurrentControlSet\Control\Class"
    gone = "VEN_1002&DEV_67DF&SUBSYS_E3661DA2&REV_E7"
    return {
        ENUM: {},
        rf"{ENUM}\{KEY}": {},
        rf"{ENUM}\{KEY}\4&1&0&0008": values(
            "(1,0,0)",
            "CC_030000",
            Service="nvlddmkm",
            Driver=rf"{CLASS}\0001",
        ),
        rf"{ENUM}\{gone}": {},
        rf"{ENUM}\{gone}\4&1&0&0008": values("(2,0,0)", "CC_030000"),
        rf"{classes}\{CLASS}\0001": {"DriverDesc": "NVIDIA GeForce GTX 1070"},
    }


def test_registry_walk():
    present = {rf"PCI\{KEY}\4&1&0&0008"}
    sight = bus_windows.read(Registry(tree()), manager(present, {11: 3, 12: 16}))
    (found,) = sight.devices
    assert found.address == "0000:01:00.0"
    assert found.driver == "nvlddmkm"
    assert found.word is not None
    assert found.word.model == "NVIDIA GeForce GTX 1070"
    assert (found.max_link_generation, found.max_link_width) == (3, 16)
    assert found.link_width is None


def test_registry_that_may_not_be_read():
    sight = bus_windows.read(Registry({}), manager(set(), {}))
    assert sight.devices == ()
    assert sight.notes[0].startswith("Windows' list of PCI devices cannot be read: ")


def test_elsewhere_there_is_no_registry():
    assert bus_windows.read().devices == ()
