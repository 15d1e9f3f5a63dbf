"""One OpenCL device behind the seam of `probe/device.py`."""

import time
from collections.abc import Callable, Sequence
from typing import Self

import numpy as np
import pyopencl as cl

from probe.device import (
    Block,
    Burst,
    Experiment,
    Facts,
    Sweep,
    Swept,
    Tagging,
    Workload,
)
from probe.errors import CardError, DeviceLostError, UnsupportedError
from probe.identity.sensors import Sensors
from probe.opencl.arithmetic import Arithmetic
from probe.opencl.calls import Timer, calling, drop, error_name, is_drivers
from probe.opencl.experiments import Experiments
from probe.opencl.programs import build
from probe.opencl.sweeps import Sweeper
from probe.opencl.traffic import Traffic
from reports.record import Sample

_TRAFFIC = frozenset(
    {"memory_read", "memory_write", "memory_copy", "link_up", "link_down"}
)


class OpenCLDevice:
    """See `probe.device.Device`. Owns one context with one in-order queue."""

    def __init__(
        self, device: cl.Device, facts: Facts, sensors: Sensors | None
    ) -> None:
        self._opened = time.perf_counter()
        self._device, self._facts, self._sensors = device, facts, sensors
        self._card = facts.identity.label
        with calling("opening the card", self._card):
            self._extensions = frozenset(str(device.extensions).split())
            self._context = cl.Context([device])
            self._queue = cl.CommandQueue(
                self._context,
                device,
                properties=cl.command_queue_properties.PROFILING_ENABLE,
            )
            self._pulse = cl.Buffer(self._context, cl.mem_flags.READ_WRITE, 4)
        self._timer = Timer()
        self._unbuilt: dict[str, str] = {}
        self._held: dict[int, cl.Buffer] = {}
        self._closed = False
        self._sweeper: Sweeper | None = None
        self._arithmetic: Arithmetic | None = None
        self._traffic: Traffic | None = None
        self._experiments: Experiments | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def facts(self) -> Facts:
        return self._facts

    def now(self) -> float:
        return time.perf_counter() - self._opened

    def take(self, number: int, first_cell: int, size_bytes: int) -> Block:
        sweeper = self._sweeps()
        if self._traffic is not None:
            self._traffic.release()
        if self._experiments is not None:
            self._experiments.release()
        with calling(
            f"taking {size_bytes} bytes of its memory", self._card, memory=True
        ):
            handle = cl.Buffer(self._context, cl.mem_flags.READ_WRITE, size_bytes)
        self._held[id(handle)] = handle
        block = Block(number, first_cell, size_bytes, handle)
        try:
            sweeper.touch(block)
        except CardError:
            self._drop(handle)
            self._check_alive()
            raise
        return block

    def release(self, blocks: Sequence[Block]) -> None:
        for block in blocks:
            assert isinstance(block.handle, cl.Buffer)
            self._drop(block.handle)
        with calling("giving its memory back", self._card):
            self._queue.finish()

    def sweep(
        self,
        action: Sweep,
        blocks: Sequence[Block],
        tagging: Tagging,
        done: Callable[[Swept], None],
    ) -> float:
        try:
            return self._sweeps().sweep(action, blocks, tagging, done)
        except CardError:
            self._check_alive()
            raise

    def supports(self, workload: Workload) -> str | None:
        if workload == "fp64" and "cl_khr_fp64" not in self._extensions:
            return "its driver offers no fp64 (cl_khr_fp64)"
        if workload == "fp16" and "cl_khr_fp16" not in self._extensions:
            return "its driver offers no fp16 (cl_khr_fp16)"
        if workload.startswith("link") and self._facts.identity.unified_memory:
            return "it works in the PC's own memory: there is no link to measure"
        return None

    def burst(
        self,
        workload: Workload,
        scale: float,
        meanwhile: Callable[[], None] | None = None,
    ) -> Burst:
        reason = self.supports(workload)
        if reason is not None:
            raise UnsupportedError(f"{self._card}: {reason}")
        try:
            if workload in _TRAFFIC:
                return self._moves().burst(workload, scale, meanwhile)
            return self._computing(workload).burst(workload, scale, meanwhile)
        except CardError:
            self._check_alive()
            raise

    def experiment(self, asked: Experiment) -> float:
        try:
            return self._labours().run(asked)
        except CardError:
            self._check_alive()
            raise

    def local_bytes(self) -> int:
        with calling("asking for its local memory", self._card):
            return int(self._device.local_mem_size)

    def settle(self, seconds: float) -> None:
        time.sleep(seconds)

    def sense(self, phase: str) -> Sample | None:
        return None if self._sensors is None else self._sensors.read(self.now(), phase)

    def limits(self) -> tuple[str | None, str | None, float | None, float | None]:
        if self._sensors is None:
            return None, "no sensor of this card can be read", None, None
        sensors = self._sensors
        return sensors.source, None, sensors.slowdown_c, sensors.power_limit_w

    def close(self) -> None:
        self._closed = True
        if self._traffic is not None:
            self._traffic.close()
        if self._experiments is not None:
            self._experiments.release()
        self._traffic = self._arithmetic = self._sweeper = self._experiments = None
        for handle in tuple(self._held.values()):
            self._drop(handle)

    def _sweeps(self) -> Sweeper:
        if self._sweeper is None:
            program = self._program("capacity")
            with calling("preparing the capacity kernels", self._card):
                self._sweeper = Sweeper(
                    self._context,
                    self._device,
                    self._queue,
                    program,
                    self._card,
                    self._timer,
                )
        return self._sweeper

    def _computes(self) -> Arithmetic:
        if self._arithmetic is None:
            program = self._arithmetic_program()
            with calling("preparing the arithmetic kernels", self._card):
                self._arithmetic = Arithmetic(
                    self._context,
                    self._device,
                    self._queue,
                    program,
                    self._card,
                    self._timer,
                )
        return self._arithmetic

    def _computing(self, workload: Workload) -> Arithmetic:
        computes = self._computes()
        if workload in self._unbuilt:
            raise CardError(self._unbuilt[workload])
        return computes

    def _arithmetic_program(self) -> cl.Program:
        """Build what builds: a driver may offer fp64 or fp16 and not compile it."""
        problem: CardError | None = None
        for without in ((), ("fp16",), ("fp64",), ("fp16", "fp64")):
            try:
                program = self._program("arithmetic", without)
            except CardError as error:
                problem = problem or error
                continue
            self._unbuilt = {name: str(problem) for name in without}
            return program
        assert problem is not None
        raise problem

    def _moves(self) -> Traffic:
        if self._traffic is None:
            program = self._program("traffic")
            with calling("preparing the traffic kernels", self._card):
                self._traffic = Traffic(
                    self._context,
                    self._device,
                    self._queue,
                    program,
                    self._card,
                    self._timer,
                )
        return self._traffic

    def _labours(self) -> Experiments:
        if self._experiments is None:
            program = self._program("structure")
            with calling("preparing the structure kernels", self._card):
                self._experiments = Experiments(
                    self._context, self._device, self._queue, program, self._card
                )
        return self._experiments

    def _drop(self, handle: cl.Buffer) -> None:
        drop(handle)
        self._held.pop(id(handle), None)

    def _program(self, name: str, without: tuple[str, ...] = ()) -> cl.Program:
        if self._closed:
            raise CardError(f"{self._card}: it was closed; open it again to test it")
        return build(self._context, self._device, name, self._card, without)

    def _check_alive(self) -> None:
        """Raise DeviceLostError where the device no longer does the smallest thing.

        Needs no new memory: there may be none left.
        """
        word = np.zeros(1, np.uint32)
        try:
            cl.enqueue_copy(self._queue, self._pulse, np.array([42], np.uint32))
            cl.enqueue_copy(self._queue, word, self._pulse)
        except Exception as error:
            if not is_drivers(error):
                raise
            raise DeviceLostError(
                f"{self._card}: the device no longer answers; restart the PC before "
                "testing it again",
                error_name(error),
            ) from None
        if word[0] != 42:  # noqa: PLR2004 - the word just written
            raise DeviceLostError(f"{self._card}: the device answers nonsense")
