"""Arithmetic and local-memory workloads on an OpenCL device, results checked.

One launch of scale s runs s rounds of the chains of `kernels/arithmetic.cl` on a full
grid (below 1: one round on a part of it).
"""

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyopencl as cl

from probe import chains
from probe.device import WORST_GROUPS, Burst, Workload
from probe.errors import CardError
from probe.opencl.calls import Timer, calling
from probe.opencl.programs import group_size
from probe.tags import MASK

GROUPS_A_UNIT = 16
FEWEST_GROUPS = 256
MOST_GROUPS = 16384
CHAINS = 4
MOST_ROUNDS = 2.0**31
"""Rounds are counted in 32 bits."""

PER_STEP: dict[str, int] = {
    "fp32": 4 * CHAINS,  # two multiply-adds of two operations, four chains
    "fp64": 4 * CHAINS,
    "fp16": 4 * CHAINS,
    "int32": 4 * CHAINS,
    "transcendental": CHAINS,  # one exp2
    "local_memory": 16,  # bytes read
}
_KINDS: dict[str, type[np.floating]] = {
    "fp16": np.float16,
    "fp32": np.float32,
    "fp64": np.float64,
}
MOST_OFF = 2.0**-12
"""Largest relative error allowed to native_exp2. OpenCL leaves it to the maker; CUDA's
ex2.approx is within 2 units in the last place (PTX ISA)."""
TOTALS = 3
"""Words of counters for the whole launch, before those for each group."""


@dataclass
class _Loaded:
    kernel: cl.Kernel
    seeds: cl.Buffer
    want: cl.Buffer


class Arithmetic:
    """Runs one workload's launches; holds its small buffers."""

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
        self.context, self.device, self.queue = context, device, queue
        self.program, self.card = program, card
        self.group = group_size(device)
        units = int(device.max_compute_units)
        self.groups = min(max(units * GROUPS_A_UNIT, FEWEST_GROUPS), MOST_GROUPS)
        self.loaded: dict[str, _Loaded] = {}
        self.wrong = self._buffer(np.zeros(TOTALS + self.groups, np.uint32))

    def burst(
        self, workload: Workload, scale: float, meanwhile: Callable[[], None] | None
    ) -> Burst:
        """Run one launch. Raises CardError."""
        with calling(f"measuring {workload}", self.card):
            ready = self.loaded.get(workload) or self._load(workload)
            rounds = max(1, round(min(scale, MOST_ROUNDS)))
            groups = max(1, round(self.groups * min(scale, 1.0)))
            fresh = np.array([0, MASK, 0], np.uint32)
            cl.enqueue_copy(self.queue, self.wrong, fresh)
            ready.kernel.set_args(
                np.uint32(rounds), ready.seeds, ready.want, self.wrong
            )
            items = groups * self.group
            began = time.perf_counter()
            event = cl.enqueue_nd_range_kernel(
                self.queue, ready.kernel, (items,), (self.group,)
            )
            self.queue.flush()
            if meanwhile is not None:
                meanwhile()
            wait_began = began if meanwhile is None else time.perf_counter()
            event.wait()
            ended = time.perf_counter()
            seconds = self.timer.span([event], ended - began, ended - wait_began)
            cl.enqueue_copy(self.queue, fresh, self.wrong)
            worst = self._worst(groups) if fresh[1] != MASK else ()
        if fresh[2] != groups:
            raise CardError(
                f"{self.card}: its driver ran {fresh[2]} of {groups} work-groups of "
                f"the {workload} test: it does not run what it is given"
            )
        results = items * rounds * CHAINS
        return Burst(
            seconds=seconds,
            work=float(items * rounds * chains.STEPS * PER_STEP[workload]),
            checked=results,
            wrong=_wrong(fresh, results),
            worst_groups=worst,
        )

    def _worst(self, groups: int) -> tuple[tuple[int, int], ...]:
        """Return which groups saw most wrong results; let their counters begin anew."""
        counts = np.empty(groups, np.uint32)
        at = TOTALS * counts.itemsize
        cl.enqueue_copy(self.queue, counts, self.wrong, src_offset=at)
        cl.enqueue_copy(self.queue, self.wrong, np.zeros_like(counts), dst_offset=at)
        order = np.argsort(-counts.astype(np.int64), kind="stable")[:WORST_GROUPS]
        return tuple((int(n), int(counts[n])) for n in order if counts[n])

    def _buffer(self, content: chains.Array) -> cl.Buffer:
        flags = cl.mem_flags
        buffer = cl.Buffer(self.context, flags.READ_WRITE, content.nbytes)
        cl.enqueue_copy(self.queue, buffer, np.ascontiguousarray(content))
        return buffer

    def _load(self, workload: Workload) -> _Loaded:
        seeds, want = self._data(workload)
        kernel = cl.Kernel(self.program, workload)
        self.loaded[workload] = _Loaded(kernel, self._buffer(seeds), self._buffer(want))
        return self.loaded[workload]

    def _data(self, workload: Workload) -> tuple[chains.Array, chains.Array]:
        if workload == "fp32" and not self._fused():
            return chains.walk_seeds(), chains.walk_ends()
        if workload == "transcendental":
            seeds = chains.fold_seeds()
            return seeds, self._learn(seeds)
        if workload == "int32":
            return chains.integer_seeds(), chains.integer_ends()
        if workload == "local_memory":
            return chains.shelf(), chains.shelf_ends()
        kind = _KINDS[workload]
        return chains.logistic_seeds(kind), chains.logistic_ends(kind)

    def _fused(self) -> bool:
        told = np.zeros(1, np.uint32)
        buffer = self._buffer(told)
        kernel = cl.Kernel(self.program, "built_fused")
        kernel.set_args(buffer)
        cl.enqueue_nd_range_kernel(self.queue, kernel, (1,), (1,))
        cl.enqueue_copy(self.queue, told, buffer)
        return bool(told[0])

    def _learn(self, seeds: npt.NDArray[np.float32]) -> npt.NDArray[np.uint32]:
        """Ask one group for the walk's ends; hold one step against numpy's exp2."""
        ends = np.zeros((chains.SEEDS, CHAINS), np.uint32)
        once = np.zeros((chains.SEEDS, CHAINS), np.float32)
        given, to_ends, to_once = map(self._buffer, (seeds, ends, once))
        kernel = cl.Kernel(self.program, "learn")
        kernel.set_args(given, to_ends, to_once)
        groups = -(-chains.SEEDS // self.group)
        items = groups * self.group
        cl.enqueue_nd_range_kernel(self.queue, kernel, (items,), (self.group,))
        cl.enqueue_copy(self.queue, ends, to_ends)
        cl.enqueue_copy(self.queue, once, to_once)
        right = np.exp2(seeds.astype(np.float64))
        off = float(np.max(np.abs(once / right - 1.0)))
        if not off <= MOST_OFF:
            raise CardError(
                f"{self.card}: exp2 is off by a factor of {1 + off:.3g}: the unit for "
                "transcendental functions computes wrong"
            )
        return ends


def _wrong(told: npt.NDArray[np.uint32], results: int) -> int:
    """Return the wrong results of a launch, from its two counters.

    The count alone is not enough: it wraps at 2^32, and where it wraps to nothing the
    first work-item that saw a wrong result still says that there were some.
    """
    seen = told[1] != MASK
    return min(max(int(told[0]), int(seen)), results)
