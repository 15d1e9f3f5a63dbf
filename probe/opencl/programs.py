"""Building kernels: OpenCL C 1.1, no extensions; the compiler's words in the error."""

import re
import sys
import tempfile
import warnings
from contextlib import suppress
from functools import cache
from importlib.resources import files
from pathlib import Path

import pyopencl as cl

from probe.chains import STEPS
from probe.errors import CardError
from probe.opencl.calls import calling, error_name, is_drivers
from reports.text import plain

CAPACITY_TILE = 8
"""Cells a work-item takes in one batch: see kernels/capacity.cl."""
TRAFFIC_TILE = 8
FEW = 32
"""Work-items of a small group: see kernels/structure.cl."""
_WORD = re.compile(r"(?:[A-Za-z]:(?=[/\\]))?[^\s:'\"]+")
_LEAST_FOLDER = 4
"""Shorter names of folders, as `/`, stand in other words too."""


@cache
def source(name: str) -> str:
    """Return the text of a kernel file."""
    return files("probe").joinpath("kernels", f"{name}.cl").read_text("utf-8")


def group_size(device: cl.Device) -> int:
    """Return the work-group size: 256, or the largest power of two that fits.

    A driver that names none at all can run one work-item.
    """
    sizes = [int(device.max_work_group_size), *map(int, device.max_work_item_sizes[:1])]
    most = max(min(256, *sizes), 1)
    return 1 << (most.bit_length() - 1)


def largest_group(device: cl.Device) -> int:
    """Return the largest power of two that a work-group may have, at most 1024."""
    sizes = [int(device.max_work_group_size), *map(int, device.max_work_item_sizes[:1])]
    most = max(min(1024, *sizes), 1)
    return 1 << (most.bit_length() - 1)


def options(name: str, device: cl.Device, without: tuple[str, ...] = ()) -> list[str]:
    """Return the build options of a kernel file; `without` names kinds to leave out."""
    group = group_size(device)
    common = ["-cl-std=CL1.1", f"-DGROUP={group}"]
    if name == "arithmetic":
        extensions = str(device.extensions).split()
        common.append(f"-DSTEPS={STEPS}")
        if has_fp64(device) and "fp64" not in without:
            common.append("-DWITH_FP64")
        if "cl_khr_fp16" in extensions and "fp16" not in without:
            common.append("-DWITH_FP16")
        return common
    if name == "structure":
        return ["-cl-std=CL1.1", f"-DGROUP={largest_group(device)}", f"-DFEW={FEW}"]
    tile = CAPACITY_TILE if name == "capacity" else TRAFFIC_TILE
    return [*common, f"-DTILE={tile}", f"-DBATCH={tile}"]


def has_fp64(device: cl.Device) -> bool:
    """Whether the device computes in fp64 under the standard extension."""
    return "cl_khr_fp64" in str(device.extensions).split()


def complaint(log: str) -> str:
    """Return the line of a failed build that says most, without folders' names."""
    for folder in _own_folders():
        log = log.replace(folder, "")
    lines = [line.strip() for line in log.splitlines()]
    said = [line for line in lines if re.search(r"error\b", line, re.IGNORECASE)]
    told = (said or [line for line in lines if line] or ["no reason given"])[0]
    return _WORD.sub(lambda word: re.split(r"[/\\]", word[0])[-1], told)


def _own_folders() -> tuple[str, ...]:
    """Return the folders that name this PC's user; their names may hold blanks."""
    found = [tempfile.gettempdir(), str(Path.cwd()), sys.prefix]
    with suppress(RuntimeError):
        found.append(str(Path.home()))
    long = sorted((one for one in found if len(one) >= _LEAST_FOLDER), key=len)
    return tuple(reversed(long))


def build(
    context: cl.Context,
    device: cl.Device,
    name: str,
    card: str,
    without: tuple[str, ...] = (),
) -> cl.Program:
    """Build a kernel file. Raises CardError with the compiler's first error."""
    with calling("asking for its limits", card):
        given = options(name, device, without)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", cl.CompilerWarning)
        try:
            program: cl.Program = cl.Program(context, source(name)).build(given)
        except Exception as error:
            if not is_drivers(error):
                raise
            raise CardError(
                f"{card}: its driver could not build the {name} kernels: "
                f"{plain(complaint(str(error)), 300)}",
                error_name(error),
            ) from None
    return program
