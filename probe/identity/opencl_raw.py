"""Device queries for which pyopencl has no accessor, through the loader it uses.

ctypes alone; the codes are those of the Khronos headers cl_ext.h.
"""

import ctypes
import sys
from pathlib import Path
from typing import Any, Final

PCI_BUS_INFO: Final = 0x410F
DEVICE_UUID: Final = 0x106A
DEVICE_NAME: Final = 0x102B
INTEL_DEVICE_ID: Final = 0x4251
AMD_DEVICE_ID: Final = 0x4034
"""CL_DEVICE_PCIE_ID_AMD of AMD's cl_ext.h."""
_LARGEST_ANSWER = 65536


class Loader:
    """The OpenCL loader of this process."""

    def __init__(self, library: Any, path: str) -> None:  # noqa: ANN401
        self.path = path
        self._get = library.clGetDeviceInfo
        self._get.restype = ctypes.c_int32
        self._get.argtypes = (
            ctypes.c_void_p,
            ctypes.c_uint32,
            ctypes.c_size_t,
            ctypes.c_void_p,
            ctypes.c_void_p,
        )

    def ask(self, device: int, code: int) -> bytes | None:
        """Return a device's raw answer to one query; None where it has none."""
        size = ctypes.c_size_t()
        if self._get(device, code, 0, None, ctypes.byref(size)) != 0:
            return None
        if not 0 < size.value <= _LARGEST_ANSWER:
            return None
        answer = ctypes.create_string_buffer(size.value)
        if self._get(device, code, size.value, answer, None) != 0:
            return None
        return answer.raw


def loader(
    package: Path | None = None, maps: Path = Path("/proc/self/maps")
) -> Loader | None:
    """Return the loader that is loaded already; None where it cannot be found.

    `package` is pyopencl's directory: its wheels bring a loader of their own.
    """
    for path in _places(package, maps):
        try:
            return Loader(_load(path), path)
        except (OSError, AttributeError):
            continue
    return None


def _load(path: str) -> Any:  # noqa: ANN401
    if sys.platform == "win32":
        return ctypes.WinDLL(path)
    return ctypes.CDLL(path)


def _places(package: Path | None, maps: Path) -> list[str]:
    if sys.platform == "win32":
        beside = [] if package is None else [package, package.parent / "pyopencl.libs"]
        own = [
            str(path)
            for place in beside
            for path in place.glob("**/[Oo]pen[Cc][Ll]*.dll")
        ]
        return [*own, "OpenCL.dll"]
    try:
        lines = maps.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ["libOpenCL.so.1"]
    places = (line.split(maxsplit=5)[-1] for line in lines if "libOpenCL" in line)
    return list(dict.fromkeys(places))
