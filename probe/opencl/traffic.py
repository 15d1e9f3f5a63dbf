"""Memory and host-link workloads on an OpenCL device, contents checked.

One launch of scale s moves about s MiB. Writes and copies are checked by a read pass
that is not timed; transfers by the device on the way up and by the PC on the way down.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import numpy as np
import pyopencl as cl

from probe.device import CELL_BYTES, Burst, Workload
from probe.errors import CardError
from probe.opencl.calls import Timer, calling, drop, unmap
from probe.opencl.programs import TRAFFIC_TILE, group_size
from probe.tags import MASK, Words

MIB = 2**20
LINK_BYTES = 16 * MIB
SEEN = 64
"""Of so many groups that read, one says that it ran: see kernels/traffic.cl."""
LARGEST = 2 * 2**30
"""Largest buffer: far beyond any last-level cache, below what 32-bit indexes name."""


def content(cells: int, salt: int) -> Words:
    """Return what `content()` in kernels/traffic.cl gives, shape (cells, 4), uint32."""
    index = np.arange(cells, dtype=np.uint32)
    x = index ^ np.uint32(salt)
    y = index * np.uint32(0x9E3779B1)
    return np.stack([x, y, ~x, ~y], axis=1)


@dataclass(frozen=True)
class _Timed:
    """A launch that is over, on the PC's clock."""

    event: cl.Event
    began: float
    wait_began: float
    ended: float


class Traffic:
    """Runs the launches; holds two device buffers and one pinned one."""

    def __init__(
        self,
        context: cl.Context,
        device: cl.Device,
        queue: cl.CommandQueue,
        program: cl.Program,
        card: str,
        timer: Timer | None = None,
    ) -> None:
        self.timer = timer or Timer()
        self.context, self.device, self.queue, self.card = context, device, queue, card
        self.group = group_size(device)
        names = ("memory_write", "memory_read", "memory_copy")
        self.kernels = {name: cl.Kernel(program, name) for name in names}
        flags = cl.mem_flags.READ_WRITE
        self.wrong = cl.Buffer(context, flags, 12)
        self.buffers: list[cl.Buffer] = []
        self.size = 0
        self.filled: dict[int, tuple[int, int]] = {}
        """Which buffer holds what: number -> (bytes, salt)."""
        self.salt = 0
        self.pinned: cl.Buffer | None = None
        self.host: Words | None = None
        self.contents: list[Words] = []

    def burst(
        self, workload: Workload, scale: float, meanwhile: Callable[[], None] | None
    ) -> Burst:
        """Run one launch. Raises CardError, MemoryRefusedError."""
        link = workload.startswith("link")
        size = 1 << max(20, int(scale * MIB).bit_length() - 1)
        size = min(size, LINK_BYTES if link else LARGEST)
        with calling(f"measuring {workload}", self.card, memory=size > self.size):
            self._hold(size)
        with calling(f"measuring {workload}", self.card):
            if link:
                return self._link(workload, size, meanwhile)
            return self._memory(workload, size, meanwhile)

    def release(self) -> None:
        """Give the card's memory back; the next launch takes what it needs."""
        for buffer in self.buffers:
            drop(buffer)
        self.buffers, self.size, self.filled = [], 0, {}

    def close(self) -> None:
        """Give everything back, the pinned memory of the PC too; never raises."""
        self.release()
        if self.host is None or self.pinned is None:
            return
        unmap(self.host.base, self.queue)
        drop(self.pinned)
        self.host = self.pinned = None

    def _hold(self, size: int) -> None:
        if size <= self.size:
            return
        self.release()
        flags = cl.mem_flags.READ_WRITE
        for _ in range(2):
            self.buffers.append(cl.Buffer(self.context, flags, size))
        self.size = size

    def _memory(
        self, workload: Workload, size: int, meanwhile: Callable[[], None] | None
    ) -> Burst:
        first, second = self.buffers
        if workload == "memory_write":
            self.salt += 1
            event = self._run(workload, size, meanwhile, first, np.uint32(self.salt))
            self.filled[0] = (size, self.salt)
            wrong = self._check(0, size)
            return self._burst(event, size, size, wrong)
        if workload == "memory_copy" or self.filled.get(0, (0, 0))[0] < size:
            # A copy needs fresh content: over its own result a lost write is not seen.
            self.salt += 1
            self._run("memory_write", size, None, first, np.uint32(self.salt))
            self.filled[0] = (size, self.salt)
        if workload == "memory_read":
            self._zero()
            salt = np.uint32(self.filled[0][1])
            event = self._run(workload, size, meanwhile, first, salt, self.wrong)
            return self._burst(event, size, size, self._wrong(size))
        event = self._run("memory_copy", size, meanwhile, first, second)
        self.filled[1] = (size, self.filled[0][1])
        wrong = self._check(1, size)
        return self._burst(event, size, 2 * size, wrong)

    def _check(self, number: int, size: int) -> int:
        self._zero()
        salt = np.uint32(self.filled[number][1])
        self._run("memory_read", size, None, self.buffers[number], salt, self.wrong)
        return self._wrong(size)

    def _run(
        self,
        kernel: str,
        size: int,
        meanwhile: Callable[[], None] | None,
        *arguments: cl.Buffer | np.uint32,
    ) -> _Timed:
        ready = self.kernels[kernel]
        ready.set_args(*arguments)
        items = size // CELL_BYTES // TRAFFIC_TILE
        self.queue.finish()
        began = time.perf_counter()
        event = cl.enqueue_nd_range_kernel(self.queue, ready, (items,), (self.group,))
        self.queue.flush()
        if meanwhile is not None:
            meanwhile()
        wait_began = began if meanwhile is None else time.perf_counter()
        event.wait()
        return _Timed(event, began, wait_began, time.perf_counter())

    def _link(
        self, workload: Workload, size: int, meanwhile: Callable[[], None] | None
    ) -> Burst:
        host = self._pin()
        self.salt += 1
        cells = size // CELL_BYTES
        wanted = self._content(self.salt)[:cells]
        near = host[:cells]
        device = self.buffers[0]
        if workload == "link_up":
            near[:] = wanted
        else:
            near[:, 0] = 0
            self._run("memory_write", size, None, device, np.uint32(self.salt % 2))
        self.filled[0] = (size, self.salt % 2)
        ends = (device, near) if workload == "link_up" else (near, device)
        self.queue.finish()
        began = time.perf_counter()
        event = cl.enqueue_copy(self.queue, *ends, is_blocking=False)
        self.queue.flush()
        if meanwhile is not None:
            meanwhile()
        wait_began = began if meanwhile is None else time.perf_counter()
        event.wait()
        timed = _Timed(event, began, wait_began, time.perf_counter())
        if workload == "link_up":
            wrong = self._check(0, size)
        else:
            wrong = _differing(near, wanted)
        return self._burst(timed, size, size, wrong)

    def _content(self, salt: int) -> Words:
        """Return the content of a whole link buffer; only two are ever made."""
        if not self.contents:
            self.contents = [content(LINK_BYTES // CELL_BYTES, n) for n in (0, 1)]
        return self.contents[salt % 2]

    def _pin(self) -> Words:
        if self.host is not None:
            return self.host
        flags = cl.mem_flags.READ_WRITE | cl.mem_flags.ALLOC_HOST_PTR
        self.pinned = cl.Buffer(self.context, flags, LINK_BYTES)
        both = cl.map_flags.READ | cl.map_flags.WRITE
        mapped = cl.enqueue_map_buffer(  # type: ignore[type-var]
            self.queue,
            self.pinned,
            both,  # type: ignore[arg-type]
            0,
            (LINK_BYTES // CELL_BYTES, 4),
            np.uint32,
        )
        self.host = host = cast("Words", mapped[0])
        return host

    def _burst(self, timed: _Timed, size: int, moved: int, wrong: int) -> Burst:
        cells = size // CELL_BYTES
        if wrong > cells:
            raise CardError(
                f"{self.card}: its counters count more cells than there are"
            )
        return Burst(
            seconds=self.timer.span(
                [timed.event],
                timed.ended - timed.began,
                timed.ended - timed.wait_began,
            ),
            work=float(moved),
            checked=cells,
            wrong=wrong,
        )

    def _zero(self) -> None:
        fresh = np.array([0, MASK, 0], np.uint32)
        cl.enqueue_copy(self.queue, self.wrong, fresh)

    def _wrong(self, size: int) -> int:
        counted = np.empty(3, np.uint32)
        cl.enqueue_copy(self.queue, counted, self.wrong)
        groups = size // CELL_BYTES // TRAFFIC_TILE // self.group
        if counted[2] != -(-groups // SEEN):
            raise CardError(
                f"{self.card}: its driver did not run all of the reading, or ran it "
                "twice: it does not run what it is given"
            )
        return int(counted[0])


def _differing(near: Words, wanted: Words) -> int:
    """Return how many elements differ; cheap where none does."""
    same = np.array_equal(near.view(np.uint64), wanted.view(np.uint64))
    return 0 if same else int((near != wanted).any(axis=1).sum())
