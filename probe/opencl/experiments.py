"""Experiments on the chip's structure on an OpenCL device: one launch, one time."""

import time

import numpy as np
import pyopencl as cl

from probe.device import Experiment
from probe.errors import UnsupportedError
from probe.opencl.calls import calling, drop, span
from probe.opencl.programs import FEW, largest_group

LINE_BYTES = 128
HOPS = 16
"""Hops of a chase come in multiples of this."""


class Experiments:
    """Runs the launches; holds one buffer for the chase."""

    def __init__(
        self,
        context: cl.Context,
        device: cl.Device,
        queue: cl.CommandQueue,
        program: cl.Program,
        card: str,
    ) -> None:
        self.context, self.device, self.queue = context, device, queue
        self.card = card
        self.group = largest_group(device)
        names = ("staircase", "chain", "divergence", "residency", "chase", "scatter")
        self.kernels = {name: cl.Kernel(program, name) for name in names}
        self.out = cl.Buffer(context, cl.mem_flags.READ_WRITE, 16)
        self.place = cl.Buffer(context, cl.mem_flags.READ_WRITE, 16)
        """Where the chase goes on: no other kernel's result may stand there."""
        self.lines: cl.Buffer | None = None
        self.footprint = 0

    def run(self, asked: Experiment) -> float:
        """Return the seconds that one launch took. Raises CardError."""
        with calling(f"the {asked.kind} experiment", self.card, memory=True):
            if asked.kind == "chase":
                return self._chase(asked)
            rounds, seed = np.uint32(asked.rounds), np.float32(0.5)
            kernel = self.kernels[asked.kind]
            local = self.group
            groups = asked.groups
            if asked.kind == "chain":
                local = groups = 1
                kernel.set_args(rounds, seed, self.out)
            elif asked.kind == "residency":
                local = FEW
                if asked.size_bytes < FEW * 4 or self.group < FEW:
                    raise UnsupportedError(f"{self.card}: no room for such groups")
                kernel.set_args(
                    rounds,
                    seed,
                    self.out,
                    cl.LocalMemory(asked.size_bytes),  # type: ignore[arg-type]
                )
            elif asked.kind == "divergence":
                kernel.set_args(rounds, seed, self.out, np.uint32(asked.width))
            else:
                kernel.set_args(rounds, seed, self.out)
            return self._timed(kernel, groups * local, local)

    def release(self) -> None:
        """Give the chase's memory back."""
        if self.lines is not None:
            drop(self.lines)
        self.lines, self.footprint = None, 0

    def _timed(self, kernel: cl.Kernel, items: int, local: int) -> float:
        began = time.perf_counter()
        event = cl.enqueue_nd_range_kernel(self.queue, kernel, (items,), (local,))
        event.wait()
        return span([event], time.perf_counter() - began)

    def _chase(self, asked: Experiment) -> float:
        lines = self._cycle(asked.size_bytes)
        hops = -(-asked.rounds // HOPS) * HOPS
        kernel = self.kernels["chase"]
        kernel.set_args(np.uint32(hops), lines, self.place)
        return self._timed(kernel, 1, 1)

    def _cycle(self, footprint: int) -> cl.Buffer:
        """Return memory with one random cycle over `footprint` bytes laid down."""
        count = max(footprint // LINE_BYTES, 2)
        if self.lines is not None and self.footprint == footprint:
            return self.lines
        self.release()
        flags = cl.mem_flags.READ_WRITE
        lines = cl.Buffer(self.context, flags, count * LINE_BYTES)
        self.lines, self.footprint = lines, footprint
        order = np.arange(count, dtype=np.uint32)
        np.random.default_rng(count).shuffle(order)
        following = np.empty(count, np.uint32)
        following[order[:-1]] = order[1:]
        following[order[-1]] = order[0]
        places = cl.Buffer(self.context, flags, following.nbytes)
        cl.enqueue_copy(self.queue, places, following)
        kernel = self.kernels["scatter"]
        kernel.set_args(lines, places, np.uint32(count))
        local = min(self.group, 64)
        items = -(-count // local) * local
        cl.enqueue_nd_range_kernel(self.queue, kernel, (items,), (local,)).wait()
        cl.enqueue_copy(self.queue, self.place, np.zeros(4, np.uint32))
        places.release()
        return lines
