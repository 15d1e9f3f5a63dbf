"""The silicon of the practice cards: how fast it can go, and how warm it gets.

Data and formulas only; no state (see `heat.py`), no claims (see `reported.py`).

Sources of the numbers. Results a clock and unit: NVIDIA, CUDA C++ Programming Guide,
"Throughput of Native Arithmetic Instructions" (columns 3.0 and 6.1). Units, clocks,
bus and memory rates, board power: NVIDIA's product pages of the GeForce GTX 650 and
GTX 1070. Level-2 cache, temperatures, heat capacity: from memory. Achieved fractions:
Lai and Seznec, CGO 2013 (Kepler); Jia et al., arXiv:1804.06826 (Pascal); host link:
CUDA C++ Best Practices Guide, "Pinned Memory".

What a unit holds: CUDA C++ Programming Guide, "Technical Specifications per Compute
Capability" (3.0 and 6.1), steps of local memory from `cuda_occupancy.h`, both from
memory. Cycles until a result can be used: Volkov, "Understanding Latency Hiding on
GPUs", 2016 (Kepler), and Jia et al. (Pascal), from memory. Caches: Kepler keeps global
loads in level 2 only (Kepler Tuning Guide, from memory); sizes and cycles from columns
K80 and P4 of Jia et al., table 3.1, from memory. What memory adds: about 200 ns with
GDDR5 (Mei and Chu, arXiv:1509.02308, from memory; a range, not one value).
"""

from collections.abc import Mapping
from dataclasses import dataclass

from probe.device import Workload

_LANE_BYTES = {1: 250e6, 2: 500e6, 3: 8e9 * 128 / 130 / 8}
"""Bytes a second and lane by PCI Express generation, after line coding."""
_LINK_SHARE = 0.76
"""What pinned copies reach of it: about 12 GB/s of 15.75."""
_ON_CHIP: tuple[Workload, ...] = (
    "fp32",
    "fp64",
    "fp16",
    "int32",
    "transcendental",
    "local_memory",
)


@dataclass(frozen=True, kw_only=True)
class Unit:
    """What one unit holds at a time, and how long it waits for itself."""

    link_cycles: int
    """From one multiply-add to the next that needs its result."""
    warp: int
    """Work-items that go the same way."""
    items: int
    """Work-items resident at a time."""
    groups: int
    """Work-groups resident at a time, however small."""
    local_bytes: int
    """Local memory that all resident groups share."""
    group_items: int = 1024
    group_local_bytes: int = 48 << 10
    local_step: int = 256
    """A group holds local memory in steps of so many bytes."""

    def holds(self, items: int, local_bytes: int = 0) -> int:
        """Return how many groups of that kind are resident at a time."""
        most = min(self.groups, self.items // items)
        if local_bytes:
            held = -(-local_bytes // self.local_step) * self.local_step
            most = min(most, self.local_bytes // held)
        return most


@dataclass(frozen=True, kw_only=True)
class Cache:
    """One level between a unit and the memory."""

    size_bytes: int
    cycles: int
    """From asking for an address to having what it holds."""


@dataclass(frozen=True, kw_only=True)
class Chip:
    """One kind of silicon on its board."""

    name: str
    units: int
    lanes: int
    unit: Unit
    clock_mhz: float
    """Sustained under load while cool."""
    per_clock: Mapping[Workload, float]
    """Operations or bytes a clock and unit; a multiply-add counts two. What is not
    here, the silicon cannot do."""
    achieved: Mapping[Workload, float]
    """Which share of the theoretical rate a good kernel reaches."""
    bus_bits: int
    transfers: float
    """Memory transfers a second and pin."""
    caches: tuple[Cache, ...]
    """Nearest first; the last serves the whole chip."""
    memory_ns: float
    """What an answer from memory takes longer than one from the last cache."""
    l2_per_clock: float
    """Bytes a clock for the whole chip."""
    link_generation: int
    link_width: int
    idle_w: float
    full_w: float
    power_limit_w: float | None
    """None: the board measures no power."""
    target_c: float
    """From here on the card slows itself down."""
    slowdown_c: float
    """From here on its hardware does."""

    @property
    def l2_bytes(self) -> int:
        return self.caches[-1].size_bytes

    @property
    def memory_rate(self) -> float:
        """Bytes a second on the memory bus, in theory."""
        return self.bus_bits / 8 * self.transfers

    @property
    def link_rate(self) -> float:
        """Bytes a second that pinned copies over the host link reach."""
        return _LANE_BYTES[self.link_generation] * self.link_width * _LINK_SHARE

    def rate(self, workload: Workload, clock_mhz: float, work: float) -> float:
        """Return operations or bytes a second at a clock, for a launch of `work`."""
        if workload in {"link_up", "link_down"}:
            return self.link_rate
        share = self.achieved[workload]
        if workload in _ON_CHIP:
            return self.units * self.per_clock[workload] * clock_mhz * 1e6 * share
        if work <= self.l2_bytes:
            return self.l2_per_clock * clock_mhz * 1e6 * share
        return self.memory_rate * share

    def lacks(self, workload: Workload) -> bool:
        return workload in _ON_CHIP and not self.per_clock.get(workload)


GP104 = Chip(
    name="GP104, 15 units",
    units=15,
    lanes=128,
    unit=Unit(link_cycles=6, warp=32, items=2048, groups=32, local_bytes=96 << 10),
    clock_mhz=1683,
    per_clock={
        "fp32": 128 * 2,
        "fp64": 4 * 2,
        "fp16": 2 * 2,
        "int32": 128 / 3 * 2,  # three 16-bit partial products a multiply
        "transcendental": 32,
        "local_memory": 128,
    },
    achieved={
        "fp32": 0.955,
        "fp64": 0.97,
        "fp16": 0.97,
        "int32": 0.94,
        "transcendental": 0.93,
        "local_memory": 0.92,
        "memory_read": 0.84,
        "memory_write": 0.83,
        "memory_copy": 0.80,
    },
    bus_bits=256,
    transfers=8008e6,
    caches=(
        Cache(size_bytes=24 << 10, cycles=82),
        Cache(size_bytes=2 << 20, cycles=216),
    ),
    memory_ns=170,
    l2_per_clock=512,
    link_generation=3,
    link_width=16,
    idle_w=10,
    full_w=146,
    power_limit_w=150,
    target_c=83,
    slowdown_c=94,
)

GK107 = Chip(
    name="GK107, 2 units",
    units=2,
    lanes=192,
    unit=Unit(link_cycles=9, warp=32, items=2048, groups=16, local_bytes=48 << 10),
    clock_mhz=1058,
    per_clock={
        "fp32": 192 * 2,
        "fp64": 8 * 2,
        "int32": 32 * 2,
        "transcendental": 32,
        "local_memory": 128,
    },
    achieved={
        "fp32": 0.78,  # register banks keep a third of the lanes waiting
        "fp64": 0.95,
        "int32": 0.95,
        "transcendental": 0.92,
        "local_memory": 0.90,
        "memory_read": 0.81,
        "memory_write": 0.80,
        "memory_copy": 0.76,
    },
    bus_bits=128,
    transfers=5000e6,
    caches=(Cache(size_bytes=256 << 10, cycles=200),),
    memory_ns=200,
    l2_per_clock=128,
    link_generation=3,
    link_width=16,
    idle_w=8,
    full_w=60,
    power_limit_w=None,
    target_c=90,
    slowdown_c=98,
)
