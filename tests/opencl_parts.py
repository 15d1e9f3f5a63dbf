"""Parts of the OpenCL tests: a card of any device, and its memory read and written."""

import warnings

import numpy as np
import pyopencl as cl

from probe.device import CELL_BYTES, Block, Facts
from probe.opencl.device import OpenCLDevice
from probe.opencl.sweeps import Pace
from reports.record import CardIdentity

MIB = 2**20
LABEL = "card under test"


def facts_of(device: cl.Device, **identity: object) -> Facts:
    return Facts(
        identity=CardIdentity(label=LABEL, kind="cpu", index=0, **identity),
        claims=(),
        memory_bytes=device.global_mem_size,
        free_bytes=None,
        largest_block_bytes=device.max_mem_alloc_size,
        timer="",
    )


def card_of(device: cl.Device, **identity: object) -> OpenCLDevice:
    return OpenCLDevice(device, facts_of(device, **identity), None)


def compiled(card: OpenCLDevice, text: str, options: list[str]) -> cl.Program:
    """Build kernels. Some drivers write a log of what went well; that is no warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", cl.CompilerWarning)
        return cl.Program(card._context, text).build(options)


def held(card: OpenCLDevice, handle: object, width: int = 4) -> np.ndarray:
    """Return what a buffer holds, rows of `width` words."""
    words = np.empty(handle.size // 4, np.uint32)
    cl.enqueue_copy(card._queue, words, handle)
    return words.reshape(-1, width)


def plant(card: OpenCLDevice, handle: object, words: np.ndarray, row: int = 0) -> None:
    """Write rows of words into a buffer, from the row given."""
    words = np.ascontiguousarray(words)
    at = row * words[0].nbytes
    cl.enqueue_copy(card._queue, handle, words, dst_offset=at)


def numbers(block: Block, count: int | None = None) -> np.ndarray:
    """Return the numbers of a block's cells."""
    count = block.cells if count is None else count
    return np.arange(count, dtype=np.uint64) + np.uint64(block.first_cell)


class SteadyPace(Pace):
    """A pace that learns nothing: launches of a size that the test chose."""

    def __init__(self, launch_bytes: int) -> None:
        super().__init__()
        self.chosen = launch_bytes

    def launch_bytes(self) -> int:
        return self.chosen

    def learn(self, size_bytes: int, seconds: float) -> None:
        self.rate = 1e12  # one batch for everything


def cut(card: OpenCLDevice, launch_bytes: int) -> None:
    """Let all sweeps of a card run in launches of this size."""
    assert launch_bytes % MIB == 0
    sweeper = card._sweeps()
    sweeper.pace = {name: SteadyPace(launch_bytes) for name in sweeper.pace}


CELLS = MIB // CELL_BYTES
"""Cells in the smallest block."""
