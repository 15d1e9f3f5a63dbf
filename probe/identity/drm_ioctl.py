"""Asks the open kernel drivers about a card, through its render node: reads alone.

Needs the right to open the node (group render, or a seat), not root. Parses nothing:
see `drm_parse.py`. Whatever is refused is left out.
"""

import ctypes
import os
import struct
import sys
from collections.abc import Callable
from pathlib import Path

from probe.identity import drm_parse
from probe.identity.drm_parse import KernelWord

Ioctl = Callable[[int, int, bytearray], object]
"""File, request, argument: what the kernel writes back lies in the argument."""


def read(
    node: Path, driver: str | None, ioctl: Ioctl | None = None
) -> KernelWord | None:
    """Return what `driver` tells of the card behind `node`; None for other drivers.

    `ioctl` stands in for the system's, in tests.
    """
    ask = {"amdgpu": _amdgpu, "nouveau": _nouveau, "radeon": _radeon}.get(driver or "")
    if ask is None or (ioctl is None and not sys.platform.startswith("linux")):
        return None
    if ioctl is None:
        import fcntl  # noqa: PLC0415  exists on Unix alone

        ioctl = fcntl.ioctl
    try:
        file = os.open(node, os.O_RDWR | getattr(os, "O_CLOEXEC", 0))
    except OSError:
        return None
    try:
        return ask(file, ioctl)
    finally:
        os.close(file)


def _amdgpu(file: int, ioctl: Ioctl) -> KernelWord | None:
    def ask(size: int, query: int, *more: int) -> bytes | None:
        answer = ctypes.create_string_buffer(size)
        pointer = ctypes.addressof(answer)
        request = drm_parse.amdgpu_request(pointer, size, query, *more)
        try:
            ioctl(file, drm_parse.AMDGPU_INFO, bytearray(request))
        except OSError:
            return None
        return answer.raw

    size = ask(4, drm_parse.VBIOS, drm_parse.VBIOS_SIZE)
    length = int.from_bytes(size, "little") if size else 0
    image = None
    if 0 < length <= drm_parse.IMAGE_LIMIT:
        image = ask(length, drm_parse.VBIOS, drm_parse.VBIOS_IMAGE)
    return drm_parse.amdgpu(
        ask(drm_parse.DEVICE_INFO_BYTES, drm_parse.DEVICE_INFO),
        ask(drm_parse.MEMORY_BYTES, drm_parse.MEMORY),
        ask(drm_parse.VBIOS_INFO_BYTES, drm_parse.VBIOS, drm_parse.VBIOS_INFO),
        image,
    )


def _nouveau(file: int, ioctl: Ioctl) -> KernelWord | None:
    wanted = (
        drm_parse.NOUVEAU_VENDOR,
        drm_parse.NOUVEAU_DEVICE,
        drm_parse.NOUVEAU_MEMORY,
        drm_parse.NOUVEAU_CHIP,
    )
    answers = {}
    for number in wanted:
        argument = bytearray(struct.pack("=QQ", number, 0))
        try:
            ioctl(file, drm_parse.NOUVEAU_GETPARAM, argument)
        except OSError:
            continue
        answers[number] = struct.unpack("=QQ", argument)[1]
    return drm_parse.nouveau(answers)


def _radeon(file: int, ioctl: Ioctl) -> KernelWord | None:
    wanted = (
        drm_parse.RADEON_DEVICE,
        drm_parse.RADEON_ACTIVE_UNITS,
        drm_parse.RADEON_MAX_CLOCK,
    )
    answers = {}
    for number in wanted:
        value = ctypes.create_string_buffer(8)
        argument = struct.pack("=IIQ", number, 0, ctypes.addressof(value))
        try:
            ioctl(file, drm_parse.RADEON_INFO, bytearray(argument))
        except OSError:
            continue
        answers[number] = int.from_bytes(value.raw[:4], "little")
    memory: bytearray | None = bytearray(24)
    try:
        ioctl(file, drm_parse.RADEON_GEM_INFO, memory or bytearray(24))
    except OSError:
        memory = None
    return drm_parse.radeon(answers, bytes(memory) if memory else None)
