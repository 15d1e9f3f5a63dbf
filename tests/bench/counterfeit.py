"""Builds the counterfeit layer and says which environment lets it lie.

What the lies do is in `layer/lies.c`; here they only become environment variables. A
program started with that environment meets the counterfeit, with nothing in it patched:
the OpenCL loader puts the layer between it and every device.
"""

import os
import shutil
import struct
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

Kind = Literal[
    "honest", "wrap", "hollow", "refuse", "create", "spill", "lazy", "silicon"
]

SOURCES = Path(__file__).parent / "layer"

# clGetDeviceInfo's names: CL/cl.h and CL/cl_ext.h
VENDOR_ID = 0x1001
UNITS = 0x1002
CLOCK_MHZ = 0x100C
GROUP = 0x1004
GROUP_SIZES = 0x1005
LARGEST_BLOCK = 0x1010
MEMORY = 0x101F
NAME = 0x102B
VENDOR = 0x102C
DRIVER = 0x102D
VERSION = 0x102F
EXTENSIONS = 0x1030
CAPABILITY_MAJOR = 0x4000
CAPABILITY_MINOR = 0x4001

_OTHERS = ("OPENCL_LAYERS", "COUNTERFEIT_")


def build(folder: Path) -> Path:
    """Compile the layer into `folder`; return the library.

    Raises RuntimeError with what is missing or what the compiler says.
    """
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None:
        raise RuntimeError("no C compiler: apt-get install gcc libc6-dev")
    library = folder / "libcounterfeit.so"
    command = [
        *(compiler, "-std=gnu11", "-shared", "-fPIC", "-O2", "-fvisibility=hidden"),
        *("-Wall", "-Wextra", "-Werror", "-o", str(library)),
        *map(str, sorted(SOURCES.glob("*.c"))),
        "-lpthread",
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(
            f"the layer does not compile (apt-get install opencl-c-headers libc6-dev "
            f"where a header is missing):\n{done.stderr}"
        )
    return library


def text(value: str | bytes) -> bytes:
    """Return what clGetDeviceInfo gives for a string."""
    return (value.encode() if isinstance(value, str) else value) + b"\0"


def size(value: int) -> bytes:
    """Return what clGetDeviceInfo gives for a cl_ulong or a size_t."""
    return struct.pack("=Q", value)


def word(value: int) -> bytes:
    """Return what clGetDeviceInfo gives for a cl_uint."""
    return struct.pack("=I", value)


def environment(
    layer: Path,
    *,
    kind: Kind = "honest",
    real: int | None = None,
    claim: int | None = None,
    fill: int | None = None,
    wiring: str | None = None,
    nothing: str | None = None,
    cache: int | None = None,
    late: int | None = None,
    decay: int | None = None,
    couple: tuple[int, int] | None = None,
    skip: str | None = None,
    twice: str | None = None,
    refused: tuple[str, int, int] | None = None,
    timer: float | None = None,
    stuck: tuple[tuple[int, int, int], ...] = (),
    device_type: Literal["gpu", "cpu", "accelerator"] | None = None,
    name: str | bytes | None = None,
    vendor: str | bytes | None = None,
    units: int | None = None,
    info: Mapping[int, bytes] | None = None,
    info_file: Path | None = None,
    prelude: str | None = None,
    garbage: int | None = None,
    lost_after: int | None = None,
    lost_code: int | None = None,
    hang_after: int | None = None,
    kill_after: int | None = None,
    fault: tuple[int, int | Literal["hang", "kill", "garbage"]] | None = None,
    struck: Path | None = None,
    once: bool = False,
    tally: Path | None = None,
    ledger: Path | None = None,
) -> dict[str, str]:
    """Return the environment of this process with the lies added.

    Sizes are bytes. `stuck` holds (byte of the real memory, bit, value). `refused`
    holds (part of a kernel's name, launches that still go well, error code); `couple`
    two bytes of the real memory. `info` holds what clGetDeviceInfo gives, by its
    number; with `info_file` it travels in that file (one environment variable holds
    128 KiB at most). `fault` is the number of an OpenCL call, from 1, and what becomes
    of it; `struck` gets that call's name. With `once` the fault strikes only while
    there is no such file: in the first of several processes.
    """
    words = dict(info or {})
    words |= {NAME: text(name)} if name is not None else {}
    words |= {VENDOR: text(vendor)} if vendor is not None else {}
    words |= {UNITS: word(units)} if units is not None else {}
    told = " ".join(f"{key:#x}={value.hex()}" for key, value in words.items())
    if info_file is not None:
        info_file.write_text(told)
        told = f"@{info_file}"
    lies = {
        "KIND": kind,
        "REAL": real,
        "CLAIM": claim,
        "FILL": fill,
        "WIRING": wiring,
        "NOTHING": nothing,
        "CACHE": cache,
        "LATE": late,
        "DECAY": decay,
        "COUPLE": ":".join(map(str, couple)) if couple else None,
        "SKIP": skip,
        "TWICE": twice,
        "REFUSED": ":".join(map(str, refused)) if refused else None,
        "TIMER": timer,
        "STUCK": ",".join(f"{byte}:{bit}:{value}" for byte, bit, value in stuck),
        "TYPE": device_type,
        "INFO": told,
        "PRELUDE": prelude,
        "GARBAGE": garbage,
        "LOST_AFTER": lost_after,
        "LOST_CODE": lost_code,
        "HANG_AFTER": hang_after,
        "KILL_AFTER": kill_after,
        "FAULT": f"{fault[0]}:{fault[1]}" if fault else None,
        "STRUCK": struck,
        "ONCE": 1 if once else None,
        "TALLY": tally,
        "LEDGER": ledger,
    }
    clean = {key: value for key, value in os.environ.items() if not _ours(key)}
    return {
        **clean,
        "OPENCL_LAYERS": str(layer),
        "PYOPENCL_NO_CACHE": "1",
        **{
            f"COUNTERFEIT_{key}": str(value)
            for key, value in lies.items()
            if value is not None and value != ""
        },
    }


def _ours(key: str) -> bool:
    return key.startswith(_OTHERS)
