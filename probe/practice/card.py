"""The practice card as a device: memory, silicon and heat behind one virtual clock.

Implements `probe.device.Device`. No real time passes: the clock advances by what each
launch would take. Noise is seeded by the condition, so the same calls give the same
numbers on every machine. What a condition means is decided elsewhere.
"""

import hashlib
import math
import os
import signal
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Self

import numpy as np

from probe.device import (
    CELL_BYTES,
    WORST_GROUPS,
    Block,
    Burst,
    Experiment,
    Facts,
    Sweep,
    Swept,
    Tagging,
    Workload,
)
from probe.errors import DeviceLostError, MemoryRefusedError, UnsupportedError
from probe.practice.build import Build
from probe.practice.experiments import Experiments
from probe.practice.ground import PAGE_BYTES, Ground
from probe.practice.heat import Heat
from probe.practice.memory import Memory
from probe.practice.reported import Reported
from probe.practice.wiring import Wiring
from reports.record import CardIdentity, Sample
from reports.units import gib

_RESERVE_BYTES = 64 << 20
"""The driver's own: contexts, page tables."""
_RESERVE_SHARE = 64
_LAUNCH_S = 6e-6
"""From one launch on the card to the next."""
_HOST_S = 25e-6
"""What the PC spends on each launch beside the card."""
_TAKE_S = 150e-6
_LONGEST_S = 0.08
_NOISE = 0.003
_OPERATIONS = 1 << 20
"""Work of the smallest useful launch, per unit that the driver reports."""
_RESULTS = 2048
"""Results compared per launch and unit: one a work-item."""
_GROUPS = 16
"""Work-groups of a launch, per unit."""
_SWEEP_LOAD = 0.65
_LOADS: dict[Workload, float] = {
    "memory_read": 0.6,
    "memory_write": 0.6,
    "memory_copy": 0.65,
    "link_up": 0.25,
    "link_down": 0.25,
}


class PracticeCard:
    """A simulated card of `claimed_bytes`, by its own account."""

    def __init__(
        self, *, seed: str, reported: Reported, build: Build, claimed_bytes: int
    ) -> None:
        self._reported = reported
        self._build = build
        self._claimed = claimed_bytes
        self._noise = _noise(seed)
        self._places = _noise(f"{seed}, places")
        self._experiments = Experiments(build.chip, _noise(f"{seed}, structure"))
        self._memory = Memory(build.wiring)
        self._heat = Heat(build.chip, build.cooling)
        self._busy = int(claimed_bytes * build.busy_share) // PAGE_BYTES * PAGE_BYTES
        reserve = min(_RESERVE_BYTES, claimed_bytes // _RESERVE_SHARE)
        self._ground = Ground(self._busy, claimed_bytes - reserve)
        self._free = claimed_bytes - reserve - self._busy
        self._now = 0.0
        self._lost = False
        self._working = False
        self._facts = self._state_facts()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def facts(self) -> Facts:
        return self._facts

    def now(self) -> float:
        return self._now

    def take(self, number: int, first_cell: int, size_bytes: int) -> Block:
        self._check_alive()
        self._pass(_TAKE_S)
        address = self._place(size_bytes)
        self._pass(self._sweep_seconds(address, size_bytes, 1))
        return Block(number, first_cell, size_bytes, handle=address)

    def _place(self, size_bytes: int) -> int:
        """Return the address that the driver gives. Raises MemoryRefusedError."""
        name = self._reported.model
        largest = self._facts.largest_block_bytes
        if size_bytes <= 0 or size_bytes % CELL_BYTES or size_bytes > largest:
            raise MemoryRefusedError(
                f"{name}: the driver allows blocks of whole cells up to "
                f"{gib(largest)}, not of {size_bytes} bytes; ask for a smaller one",
                "CL_INVALID_BUFFER_SIZE",
            )
        held, granted = self._ground.held_bytes, self._build.granted_bytes
        full = granted is not None and held + size_bytes > granted
        address = None if full else self._ground.take(size_bytes)
        if address is None:
            raise MemoryRefusedError(
                f"{name}: the driver gave no further block of {gib(size_bytes)} "
                f"beside the {gib(held)} it has given; ask for a smaller one",
                "CL_MEM_OBJECT_ALLOCATION_FAILURE",
            )
        return address

    def release(self, blocks: Sequence[Block]) -> None:
        self._check_alive()
        for block in blocks:
            self._ground.release(_address(block))

    def sweep(
        self,
        action: Sweep,
        blocks: Sequence[Block],
        tagging: Tagging,
        done: Callable[[Swept], None],
    ) -> float:
        self._check_alive()
        whole = 0.0
        moves = 2 if action == "turn" else 1
        self._heat.load(_SWEEP_LOAD)
        try:
            for block in blocks:
                address = _address(block)
                self._check_reach(address + block.size_bytes)
                seconds = self._sweep_seconds(address, block.size_bytes, moves)
                launches = max(1, math.ceil(seconds / _LONGEST_S))
                self._memory.wiring = self._wiring()
                seconds = seconds * self._jitter() + launches * _LAUNCH_S
                census = self._memory.sweep(
                    action,
                    address // CELL_BYTES,
                    block.cells,
                    block.first_cell,
                    tagging,
                )
                self._pass(seconds)
                whole += seconds
                done(Swept(block=block, seconds=seconds, census=census))
        finally:
            self._heat.load(0.0)
        self._pass(_HOST_S)
        return whole

    def supports(self, workload: Workload) -> str | None:
        if not self._build.chip.lacks(workload):
            return None
        if workload == "fp16":
            return "its driver offers no fp16 (cl_khr_fp16)"
        return f"the card cannot run {workload}"

    def burst(
        self,
        workload: Workload,
        scale: float,
        meanwhile: Callable[[], None] | None = None,
    ) -> Burst:
        self._check_alive()
        if reason := self.supports(workload):
            raise UnsupportedError(f"{self._reported.model}: {reason}")
        units = self._reported.units
        work = max(1 / 64, scale) * _OPERATIONS * units
        self._heat.load(_LOADS.get(workload, 1.0))
        self._working = True
        try:
            self._pass(_HOST_S)
            rate = self._build.chip.rate(workload, self._heat.clock_mhz, work)
            seconds = work / rate * self._jitter() + _LAUNCH_S
            self._pass(seconds / 2)
            if meanwhile:
                meanwhile()
            self._pass(seconds / 2)
        finally:
            self._working = False
            self._heat.load(0.0)
        checked = units * _RESULTS
        wrong = 0
        if workload == "fp32" and self._build.wrong_share:
            wrong = int(self._noise.binomial(checked, self._build.wrong_share))
        return Burst(
            seconds=seconds,
            work=work,
            checked=checked,
            wrong=wrong,
            worst_groups=self._groups(wrong, units),
        )

    def experiment(self, asked: Experiment) -> float:
        self._check_alive()
        size = asked.size_bytes
        if asked.kind == "chase":
            self._ground.release(self._place(-(-size // CELL_BYTES) * CELL_BYTES))
        elif size > self.local_bytes():
            raise UnsupportedError(
                f"{self._reported.model}: a work-group holds at most "
                f"{self.local_bytes()} bytes of local memory, not {size}"
            )
        self._heat.load(self._experiments.load(asked))
        try:
            self._pass(_HOST_S)
            seconds = self._experiments.seconds(asked, self._heat.clock_mhz, _LAUNCH_S)
            self._pass(seconds)
        finally:
            self._heat.load(0.0)
        return seconds

    def local_bytes(self) -> int:
        return self._build.chip.unit.group_local_bytes

    def settle(self, seconds: float) -> None:
        self._check_alive()
        self._pass(seconds)

    def sense(self, phase: str) -> Sample | None:
        self._check_alive()
        if self._reported.sensors is None:
            return None
        heat = self._heat
        chip = self._build.chip
        power = chip.power_limit_w is not None
        reserve = self._claimed - self._free - self._busy
        return Sample(
            at_seconds=self._now,
            phase=phase,
            core_mhz=float(round(heat.clock_mhz)),
            memory_mhz=float(round(chip.transfers / 2e6)),
            temperature_c=float(round(heat.temperature_c)),
            power_w=round(heat.power_w, 1) if power else None,
            fan_percent=heat.fan_percent,
            utilisation_percent=(100.0 if self._working else 0.0) if power else None,
            memory_used_bytes=reserve + self._busy + self._ground.held_bytes,
            link_generation=1 if heat.resting else chip.link_generation,
            link_width=chip.link_width,
            throttle=heat.throttle,
        )

    def limits(self) -> tuple[str | None, str | None, float | None, float | None]:
        if self._reported.sensors is None:
            return None, "no sensor interface answers for this card", None, None
        chip = self._build.chip
        return self._reported.sensors, None, chip.slowdown_c, chip.power_limit_w

    def close(self) -> None:
        self._lost = True

    def _state_facts(self) -> Facts:
        said = self._reported
        return Facts(
            identity=CardIdentity(
                label=said.model,
                kind="gpu",
                index=0,
                pci_address="0000:01:00.0",
                platform="practice card",
                paired_by="simulated together",
                drives_display=False,
            ),
            claims=said.claims(self._claimed, self._free),
            memory_bytes=self._claimed,
            free_bytes=self._free if "nvml" in said.layers else None,
            largest_block_bytes=self._claimed // 4,
            timer="the practice card's virtual clock",
        )

    def _check_alive(self) -> None:
        if self._lost:
            raise DeviceLostError(
                f"{self._reported.model}: the device no longer answers; "
                "restart the PC before testing it again",
                "CL_DEVICE_NOT_AVAILABLE",
            )

    def _check_reach(self, stop: int) -> None:
        build = self._build
        if stop > (build.crash_above_bytes or stop):
            os.kill(os.getpid(), signal.SIGSEGV)
        while stop > (build.hang_above_bytes or stop):
            time.sleep(60)
        if stop > (build.lost_above_bytes or stop):
            self._lost = True
            self._check_alive()

    def _sweep_seconds(self, address: int, size_bytes: int, moves: int) -> float:
        """Return how long moving the block's bytes takes, the PC's share by link."""
        chip = self._build.chip
        cells = size_bytes // CELL_BYTES
        far = self._build.wiring.spilled(address // CELL_BYTES, cells) * CELL_BYTES
        local = chip.memory_rate * chip.achieved["memory_write"]
        return moves * ((size_bytes - far) / local + far / chip.link_rate)

    def _wiring(self) -> Wiring:
        """Return the memory as it is at this temperature."""
        build = self._build
        if not build.weak or self._heat.temperature_c < build.weak_from_c:
            return build.wiring
        return replace(build.wiring, stuck=(*build.wiring.stuck, *build.weak))

    def _groups(self, wrong: int, units: int) -> tuple[tuple[int, int], ...]:
        """Spread wrong results over the groups of one unit, every `units`-th."""
        if not wrong:
            return ()
        found = self._places.multinomial(wrong, [1 / _GROUPS] * _GROUPS)
        weak = units // 2
        order = np.argsort(-found, kind="stable")[:WORST_GROUPS]
        return tuple((int(weak + n * units), int(found[n])) for n in order if found[n])

    def _jitter(self) -> float:
        return 1.0 + _NOISE * float(np.clip(self._noise.standard_normal(), -3.0, 3.0))

    def _pass(self, seconds: float) -> None:
        self._now += seconds
        self._heat.pass_time(seconds)


def _noise(seed: str) -> np.random.Generator:
    digest = hashlib.sha256(seed.encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "big"))


def _address(block: Block) -> int:
    assert isinstance(block.handle, int)
    return block.handle
