"""Display functions on Windows: reads the registry and cfgmgr32, without rights.

Parses nothing. `winreg` and `cfgmgr32` are handed in by tests; both are optional in
every part: a key that may not be read is left out.
"""

import ctypes
import sys
import uuid
from dataclasses import replace
from typing import Any

from probe.identity import pci_registry, surroundings
from probe.identity.bus import BusSight
from probe.identity.firmware_image import described, kept_for, vfct
from probe.identity.pci_registry import PciEntry
from reports.text import plain

_ENUM = r"SYSTEM\CurrentControlSet\Enum\PCI"
_CLASSES = r"SYSTEM\CurrentControlSet\Control\Class"
_ENUM_VALUES = (
    "HardwareID",
    "CompatibleIDs",
    "DeviceDesc",
    "Driver",
    "LocationInformation",
    "Service",
    "ClassGUID",
)
_ADAPTER_VALUES = (
    "DriverDesc",
    "DriverVersion",
    "ProviderName",
    "MatchingDeviceId",
    "HardwareInformation.AdapterString",
    "HardwareInformation.BiosString",
    "HardwareInformation.qwMemorySize",
    "HardwareInformation.MemorySize",
)
_BOARD = r"HARDWARE\DESCRIPTION\System\BIOS"
_BOARD_VALUES = ("SystemManufacturer", "SystemProductName")
_PCI_PROPERTIES = uuid.UUID("3ab22e31-8264-4b4e-9af5-a8d2d8e33e62").bytes_le
"""The format id of PCI device properties in pciprop.h."""
_LINK_SPEED, _LINK_WIDTH, _MAX_LINK_SPEED, _MAX_LINK_WIDTH = 9, 10, 11, 12
"""Numbers of the link properties in pciprop.h; from memory."""
_UINT32 = 7
_IMAGE_OF_ACPI = "image in ACPI's table VFCT"


def read(
    registry: Any = None,  # noqa: ANN401  modules of another system
    manager: Any = None,  # noqa: ANN401
    kernel: Any = None,  # noqa: ANN401
) -> BusSight:
    """Return every display function that is present."""
    if registry is None:
        if sys.platform != "win32":
            return BusSight(notes=("This is not Windows: no registry to read.",))
        import winreg as registry  # noqa: PLC0415  exists on Windows alone
    if manager is None and sys.platform == "win32":
        manager = ctypes.WinDLL("cfgmgr32")
    try:
        entries = [
            _entry(registry, manager, key, instance)
            for key in _subkeys(registry, _ENUM)
            for instance in _subkeys(registry, rf"{_ENUM}\{key}")
        ]
    except OSError as error:
        return BusSight(
            notes=(
                f"Windows' list of PCI devices cannot be read: {plain(str(error))}.",
            )
        )
    kept = vfct(surroundings.vfct_windows(kernel))
    board = _values(registry, _BOARD, _BOARD_VALUES)
    words = [text for each in board.values() if (text := pci_registry.text(each))]
    devices = []
    for device in pci_registry.devices(tuple(entries)):
        one = kept_for(kept, device.address, device.vendor, device.device)
        images = () if one is None else (described(one.data, _IMAGE_OF_ACPI),)
        devices.append(replace(device, images=images))
    return BusSight(
        devices=tuple(devices),
        virtual_machine=surroundings.is_virtual_board(words) if words else None,
    )


def _subkeys(registry: Any, path: str) -> list[str]:  # noqa: ANN401
    with registry.OpenKey(registry.HKEY_LOCAL_MACHINE, path) as key:
        return [
            registry.EnumKey(key, index)
            for index in range(registry.QueryInfoKey(key)[0])
        ]


def _values(registry: Any, path: str, names: tuple[str, ...]) -> dict[str, object]:  # noqa: ANN401
    values: dict[str, object] = {}
    try:
        key = registry.OpenKey(registry.HKEY_LOCAL_MACHINE, path)
    except OSError:
        return values
    with key:
        for name in names:
            try:
                values[name] = registry.QueryValueEx(key, name)[0]
            except OSError:
                continue
    return values


def _entry(registry: Any, manager: Any, key: str, instance: str) -> PciEntry:  # noqa: ANN401
    values = _values(registry, rf"{_ENUM}\{key}\{instance}", _ENUM_VALUES)
    driver = values.get("Driver")
    adapter: dict[str, object] = {}
    if isinstance(driver, str) and driver.lower().startswith(
        pci_registry.DISPLAY_CLASS
    ):
        adapter = _values(registry, rf"{_CLASSES}\{driver}", _ADAPTER_VALUES)
    node = _node(manager, rf"PCI\{key}\{instance}")
    return PciEntry(
        key=key,
        instance=instance,
        values=values,
        present=node != 0,
        adapter=adapter,
        link_speed=_property(manager, node, _LINK_SPEED),
        link_width=_property(manager, node, _LINK_WIDTH),
        max_link_speed=_property(manager, node, _MAX_LINK_SPEED),
        max_link_width=_property(manager, node, _MAX_LINK_WIDTH),
    )


def _node(manager: Any, device_id: str) -> int | None:  # noqa: ANN401
    """Return Windows' handle of a device; 0: it is gone, None: nobody can say."""
    if manager is None:
        return None
    node = ctypes.c_uint32()
    answer = manager.CM_Locate_DevNodeW(
        ctypes.byref(node), ctypes.c_wchar_p(device_id), 0
    )
    return node.value if answer == 0 else 0


class _PropertyKey(ctypes.Structure):
    _fields_ = (("format", ctypes.c_ubyte * 16), ("number", ctypes.c_uint32))


def _key(number: int) -> _PropertyKey:
    return _PropertyKey((ctypes.c_ubyte * 16)(*_PCI_PROPERTIES), number)


def _property(manager: Any, node: int | None, number: int) -> int | None:  # noqa: ANN401
    if manager is None or not node:
        return None
    kind, value = ctypes.c_uint32(), ctypes.c_uint32()
    size = ctypes.c_uint32(ctypes.sizeof(value))
    answer = manager.CM_Get_DevNode_PropertyW(
        ctypes.c_uint32(node),
        ctypes.byref(_key(number)),
        ctypes.byref(kind),
        ctypes.byref(value),
        ctypes.byref(size),
        0,
    )
    return value.value if answer == 0 and kind.value == _UINT32 else None
