"""A device of plain arithmetic for tests of capacity and rates: no memory, a clock.

Times come from three figures (arithmetic, memory, link), faults from functions.
"""

from probe.device import CELL_BYTES, Block, Burst, Census, Facts, Swept
from probe.errors import CardError, MemoryRefusedError, UnsupportedError
from reports.record import CardIdentity

MIB = 2**20
GIB = 2**30
ITEMS = 256


class FakeCard:
    """See `probe.device.Device`."""

    def __init__(self, memory=8 * GIB, *, granted=None, largest=2 * GIB, **identity):
        fields = {"label": "Card", "kind": "gpu", "index": 0, "drives_display": False}
        self.facts = Facts(
            identity=CardIdentity(**(fields | identity)),
            claims=(),
            memory_bytes=memory,
            free_bytes=None,
            largest_block_bytes=largest,
            timer="arithmetic",
        )
        self.granted = memory if granted is None else granted
        self.held = 0
        self.sizes = []
        self.asked = []
        self.clock = 0.0
        self.flops = 65e12
        self.per = {"fp64": 1 / 2, "fp16": 2, "int32": 1 / 2, "transcendental": 1 / 8}
        self.memory_rate = 3.35e12
        self.link_rate = 25e9
        self.units = 132
        self.latency = 5e-6
        self.cache_bytes = 0
        self.link_ns = 2.05
        self.warp = 32
        self.shared_bytes = 228 * 1024
        self.levels = [(192 * 1024, 23.0), (25 * MIB, 147.0)]
        self.memory_hop_ns = 303.0
        self.lacks = {}
        self.fails = {}
        self.jitter = lambda _: 1.0
        self.speed_of = lambda _block: self.memory_rate
        self.census_of = lambda block: Census(intact=block.cells)
        self.launches = []
        self.experiments = []

    def now(self):
        return self.clock

    def take(self, number, first_cell, size_bytes):
        self.asked.append(size_bytes)
        too_large = size_bytes > self.facts.largest_block_bytes
        if too_large or self.held + size_bytes > self.granted:
            raise MemoryRefusedError("Card: the driver gave no more", "NO")
        self.held += size_bytes
        self.sizes.append(size_bytes)
        return Block(number, first_cell, size_bytes)

    def release(self, blocks):
        self.held -= sum(block.size_bytes for block in blocks)

    def sweep(self, action, blocks, tagging, done):
        whole = 0.0
        for block in blocks:
            seconds = block.size_bytes / self.speed_of(block)
            whole += seconds
            census = None if action == "write" else self.census_of(block)
            done(Swept(block=block, seconds=seconds, census=census))
        self.clock += whole
        return whole

    def supports(self, workload):
        return self.lacks.get(workload)

    def burst(self, workload, scale, meanwhile=None):
        if workload in self.fails:
            raise self.fails[workload]
        if workload in self.lacks:
            raise UnsupportedError(self.lacks[workload])
        work, rate = self._work(workload, scale)
        seconds = (work / rate + self.latency) * self.jitter(len(self.launches))
        self.launches.append((workload, scale, seconds))
        self.clock += seconds
        if meanwhile:
            meanwhile()
        return Burst(seconds=seconds, work=work, checked=8, wrong=0)

    def experiment(self, asked):
        if asked.kind in self.fails:
            raise self.fails[asked.kind]
        if asked.kind in self.lacks:
            raise UnsupportedError(self.lacks[asked.kind])
        seconds = self.latency + self._experiment(asked)
        seconds *= self.jitter(len(self.experiments))
        self.experiments.append((asked, seconds))
        self.clock += seconds
        return seconds

    def _experiment(self, asked):
        """A group of 1024 as fast as all lanes are; else links one after another."""
        links = asked.rounds * 64
        group = links * 1024 * 2 * self.units / self.flops
        stairs = -(-asked.groups // self.units)
        if asked.kind == "staircase":
            return stairs * group * 4
        if asked.kind == "divergence":
            return stairs * group * (2 if asked.width < self.warp else 1)
        if asked.kind == "residency":
            fit = max(1, self.shared_bytes // max(asked.size_bytes, 1024))
            return -(-asked.groups // (self.units * fit)) * links * self.link_ns * 1e-9
        if asked.kind == "chain":
            return 2 * links * self.link_ns * 1e-9
        return asked.rounds * self._hop_ns(asked.size_bytes) * 1e-9

    def _hop_ns(self, size_bytes):
        """A level under a larger footprint answers its share of the hops."""
        mean, left = 0.0, 1.0
        for reach, hop_ns in self.levels:
            share = left * min(reach / size_bytes, 1.0)
            mean += share * hop_ns
            left -= share
        return mean + left * self.memory_hop_ns

    def local_bytes(self):
        return 48 * 1024

    def _work(self, workload, scale):
        """As `probe/opencl/` sizes its launches: parts of a grid, powers of two."""
        if workload.startswith("link"):
            size = min(1 << max(20, int(scale * MIB).bit_length() - 1), 256 * MIB)
            return float(size), self.link_rate
        if workload.startswith("memory"):
            size = 1 << max(20, int(scale * MIB).bit_length() - 1)
            cached = size <= self.cache_bytes
            ways = 2 if workload == "memory_copy" else 1
            return float(size * ways), self.memory_rate * (8 if cached else 1)
        groups = max(self.units * 16, 256)
        groups = max(1, round(groups * min(scale, 1.0)))
        rounds = max(1, round(scale))
        busy = min(groups, self.units) / self.units
        rate = self.flops * self.per.get(workload, 1.0) * busy
        return float(groups * ITEMS * rounds * 512 * 16), rate

    def settle(self, seconds):
        self.clock += seconds

    def sense(self, phase):
        return None

    def limits(self):
        return None, "a fake has no sensors", None, None

    def close(self):
        pass


def cells(size):
    return size // CELL_BYTES


__all__ = ["GIB", "MIB", "CardError", "FakeCard", "cells"]
