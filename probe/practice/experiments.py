"""How long launches take that tell how a chip is built: physics of the silicon alone.

Groups go to the units evenly. A unit works on what it holds at a time; that takes as
long as its lanes need for all of it, or as one chain of results that wait for each
other, whichever is longer. A warp whose work-items take two paths takes both, one after
the other. Work for each round is as in `probe/kernels/structure.cl`.

Caches replace at random: a line of a cycle of f lines in a cache of c survives until it
is asked for again with a chance of (1 - 1/c) to the number of misses meanwhile, so the
share h of hits fulfils h = exp(-(1 - h) f / c); all hit where f <= c. (Smith and
Goodman, IEEE Trans. Computers C-34, 1985, treat such loops; from memory.)

Left out: translation look-aside buffers, banks and sets of a cache, uneven placing.
"""

import math

import numpy as np

from probe.device import Experiment
from probe.practice.chip import Chip

LINE_BYTES = 128
FEW = 32
"""Work-items of a group that waits for its own results."""
OUTLIERS = 0.02
"""Share of launches that something else in the PC delays."""
OUTLIER = 1.3
_NOISE = 0.003
_IDLE_LOAD = 0.1
_LINKS = 64
"""Dependent multiply-adds a round; a chain has twice as many."""
_WIDE = 4
"""Independent chains of a work-item in the staircase."""


class Experiments:
    """Times launches; knows over which memory the last chase went, and how far."""

    def __init__(self, chip: Chip, noise: np.random.Generator) -> None:
        self._chip = chip
        self._noise = noise
        self._lines = 0
        self._hops = 0

    def load(self, asked: Experiment) -> float:
        """Return how hard the launch makes the chip work, 0 to 1."""
        if asked.kind in ("staircase", "divergence"):
            return max(min(asked.groups / self._chip.units, 1.0), _IDLE_LOAD)
        return _IDLE_LOAD

    def seconds(self, asked: Experiment, clock_mhz: float, launch_s: float) -> float:
        """Return what one launch takes: `launch_s` for itself, the work, and noise."""
        if asked.kind == "chase":
            work = self._chase(asked, clock_mhz)
        else:
            work = cycles(self._chip, asked) / (clock_mhz * 1e6)
        noise = float(np.clip(self._noise.standard_normal(), -3.0, 3.0))
        late = OUTLIER if self._noise.random() < OUTLIERS else 1.0
        return (launch_s + work) * (1.0 + _NOISE * noise) * late

    def _chase(self, asked: Experiment, clock_mhz: float) -> float:
        """Hop on; a line never visited since the footprint changed is in no cache."""
        lines = max(asked.size_bytes // LINE_BYTES, 2)
        if lines != self._lines:
            self._lines, self._hops = lines, 0
        cold = min(asked.rounds, max(lines - self._hops, 0))
        self._hops += asked.rounds
        far = _memory_s(self._chip, clock_mhz)
        near = hop_seconds(self._chip, lines * LINE_BYTES, clock_mhz)
        return cold * far + (asked.rounds - cold) * near


def cycles(chip: Chip, asked: Experiment) -> float:
    """Return the clocks from the first to the last of a launch of arithmetic."""
    unit, rounds = chip.unit, asked.rounds
    if asked.kind == "chain":
        return _waves(chip, 1, 1, 1, rounds * 2 * _LINKS)
    links = rounds * _LINKS
    if asked.kind == "residency":
        slots = unit.holds(FEW, asked.size_bytes)
        return _waves(chip, asked.groups, FEW, slots, links)
    items = unit.group_items
    slots = unit.holds(items)
    if asked.kind == "staircase":
        return _waves(chip, asked.groups, items, slots, links, wide=_WIDE)
    both = 1.0 + _torn(items, unit.warp, asked.width)
    return _waves(chip, asked.groups, items, slots, links) * both


def hop_seconds(chip: Chip, footprint: int, clock_mhz: float) -> float:
    """Return the mean time of a hop of a cycle that has been walked before."""
    reached, mean = 1.0, 0.0
    for cache in chip.caches:
        hits = hit_share(footprint / cache.size_bytes)
        mean += reached * hits * cache.cycles / (clock_mhz * 1e6)
        reached *= 1.0 - hits
    return mean + reached * _memory_s(chip, clock_mhz)


def hit_share(times: float) -> float:
    """Return the share of hits for a cycle `times` as large as the cache."""
    if times <= 1.0:
        return 1.0
    low, high = 0.0, 1.0  # of misses
    for _ in range(50):
        middle = (low + high) / 2
        if 1.0 - math.exp(-middle * times) > middle:
            low = middle
        else:
            high = middle
    return 1.0 - high


def _waves(
    chip: Chip, groups: int, items: int, slots: int, links: int, *, wide: int = 1
) -> float:
    """Return the clocks until the unit with most groups has done them all."""
    unit = chip.unit
    lanes = chip.per_clock["fp32"] / 2 * chip.achieved["fp32"]
    issue = max(items, unit.warp) * links * wide / lanes
    wait = links * unit.link_cycles
    full, rest = divmod(math.ceil(groups / chip.units), slots)
    last = max(wait, rest * issue) if rest else 0.0
    return full * max(wait, slots * issue) + last


def _torn(items: int, warp: int, width: int) -> float:
    """Return the share of warps in which both paths are taken."""
    starts = range(0, items, warp)
    torn = sum(at // width != (at + warp - 1) // width for at in starts)
    return torn / len(starts)


def _memory_s(chip: Chip, clock_mhz: float) -> float:
    return chip.caches[-1].cycles / (clock_mhz * 1e6) + chip.memory_ns * 1e-9
