"""NVIDIA's CUDA driver by its C interface, as much as a replay needs.

Plain allocations, one for each buffer: a pool would hide accesses past the end of one.
"""

import ctypes
import os
from collections.abc import Sequence
from typing import Any

_LOG_BYTES = 16384
_ERROR_LOG, _ERROR_LOG_BYTES = 5, 6
"""CU_JIT_ERROR_LOG_BUFFER and its size (cuda.h)."""


class CudaError(Exception):
    """What the driver refused, in its words."""


class Cuda:
    """One card's primary context."""

    def __init__(self, card: int = 0) -> None:
        self.library: Any = ctypes.CDLL(
            "nvcuda.dll" if os.name == "nt" else "libcuda.so.1"
        )
        device, context = ctypes.c_int(), ctypes.c_void_p()
        self.call("cuInit", ctypes.c_uint(0))
        self.call("cuDeviceGet", ctypes.byref(device), ctypes.c_int(card))
        self.call("cuDevicePrimaryCtxRetain", ctypes.byref(context), device)
        self.call("cuCtxSetCurrent", context)

    def call(self, function: str, *arguments: Any, told: str = "") -> None:
        """Call the driver. Raises CudaError with the error's name."""
        code = getattr(self.library, function)(*arguments)
        if code:
            name = ctypes.c_char_p()
            self.library.cuGetErrorName(code, ctypes.byref(name))
            word = (name.value or b"?").decode()
            raise CudaError(f"{told or function}: {word} ({code})")

    def load(self, ptx: str) -> ctypes.c_void_p:
        """Return a module. Raises CudaError with the assembler's words."""
        module = ctypes.c_void_p()
        log = ctypes.create_string_buffer(_LOG_BYTES)
        keys = (ctypes.c_int * 2)(_ERROR_LOG, _ERROR_LOG_BYTES)
        values = (ctypes.c_void_p * 2)(
            ctypes.cast(log, ctypes.c_void_p), ctypes.c_void_p(_LOG_BYTES)
        )
        text = ctypes.c_char_p(ptx.encode())
        try:
            self.call(
                "cuModuleLoadDataEx",
                *(ctypes.byref(module), text, ctypes.c_uint(2), keys, values),
            )
        except CudaError as error:
            said = log.value.decode(errors="replace")
            raise CudaError(f"{error}: {said}") from None
        return module

    def function(self, module: ctypes.c_void_p, name: str) -> ctypes.c_void_p:
        found = ctypes.c_void_p()
        encoded = ctypes.c_char_p(name.encode())
        self.call("cuModuleGetFunction", ctypes.byref(found), module, encoded)
        return found

    def take(self, size: int) -> int:
        place = ctypes.c_uint64()
        self.call("cuMemAlloc_v2", ctypes.byref(place), ctypes.c_size_t(size))
        return int(place.value)

    def free(self, place: int) -> None:
        self.call("cuMemFree_v2", ctypes.c_uint64(place))

    def put(self, place: int, content: bytes) -> None:
        size = ctypes.c_size_t(len(content))
        self.call("cuMemcpyHtoD_v2", ctypes.c_uint64(place), content, size)

    def get(self, place: int, size: int) -> bytes:
        content = ctypes.create_string_buffer(size)
        self.call(
            "cuMemcpyDtoH_v2", content, ctypes.c_uint64(place), ctypes.c_size_t(size)
        )
        return content.raw

    def move(self, to: int, source: int, size: int) -> None:
        ends = ctypes.c_uint64(to), ctypes.c_uint64(source)
        self.call("cuMemcpyDtoD_v2", *ends, ctypes.c_size_t(size))
        self.call("cuCtxSynchronize")

    def launch(
        self,
        function: ctypes.c_void_p,
        groups: Sequence[int],
        group: Sequence[int],
        arguments: Sequence[bytes],
    ) -> None:
        """Launch and wait; arguments as the bytes that they are."""
        held = [ctypes.create_string_buffer(one, max(len(one), 8)) for one in arguments]
        places = (ctypes.c_void_p * len(held))(*map(ctypes.addressof, held))
        sizes = map(ctypes.c_uint, (*groups, *group, 0))
        self.call("cuLaunchKernel", function, *sizes, None, places, None)
        self.call("cuCtxSynchronize", told="waiting for a kernel")
