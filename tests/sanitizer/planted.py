"""Faults planted into copies of our kernels, one for each tool: shows that it can see.

A copy is compiled by the same driver and takes the original's place in the replay; it
never runs outside of it.
"""

from dataclasses import dataclass

import pyopencl as cl
from sanitizer.recorder import Recorder
from sanitizer.recording import Fault, Launched

from probe.opencl.programs import options, source


@dataclass(frozen=True)
class Plant:
    tool: str
    what: str
    file: str
    right: str
    wrong: str
    kernels: tuple[str, ...]
    said: str


PLANTS = (
    Plant(
        "memcheck",
        "memory_write writes one element past the end",
        "traffic",
        "to[at + k * GROUP] = content(",
        "to[at + k * GROUP + 1] = content(",
        ("memory_write",),
        r"Invalid __global__ write of size",
    ),
    Plant(
        "initcheck",
        "tag_write leaves one cell in eight unwritten",
        "capacity",
        "for (k = 0; k < TILE; k++)",
        "for (k = 0; k < TILE - 1; k++)",
        ("tag_write", "tag_verify"),
        r"Uninitialized __global__ memory read",
    ),
    Plant(
        "racecheck",
        "tag_verify sums without its barriers",
        "capacity",
        "barrier(CLK_LOCAL_MEM_FENCE);",
        "",
        ("tag_write", "tag_verify"),
        r"(?i)\bhazard|race reported",
    ),
    Plant(
        "synccheck",
        "local_memory has every second work-item wait at its barrier",
        "arithmetic",
        "barrier(CLK_LOCAL_MEM_FENCE);",
        "if (item & 1) barrier(CLK_LOCAL_MEM_FENCE);",
        ("local_memory",),
        r"Barrier error|[Dd]ivergent thread",
    ),
)


def text(plant: Plant) -> str:
    """Return the kernel file with the fault in it."""
    right = source(plant.file)
    assert plant.right in right, f"{plant.file}.cl has changed: {plant.right}"
    return right.replace(plant.right, plant.wrong)


def plant(recorder: Recorder, device: cl.Device) -> tuple[Fault, ...]:
    """Compile all faults for a device; nothing of them runs."""
    context = cl.Context([device])
    faults = []
    for each in PLANTS:
        program = cl.Program(context, text(each)).build(options(each.file, device))
        (binary,) = program.get_info(cl.program_info.BINARIES)
        replaces = {
            event.program
            for event in recorder.events
            if isinstance(event, Launched) and event.kernel == each.kernels[-1]
        }
        assert len(replaces) == 1, f"{each.kernels[-1]} was launched out of {replaces}"
        faults.append(
            Fault(
                tool=each.tool,
                what=each.what,
                replaces=replaces.pop(),
                program=recorder.folder.keep_program(binary),
                kernels=each.kernels,
                said=each.said,
            )
        )
    return tuple(faults)
