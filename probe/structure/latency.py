"""The latency curve: what a hop takes through how much memory, and where it jumps.

A random cycle leaves no pattern to prefetch. Footprints grow by half powers of two; a
footprint is walked through before it is timed, then the walk goes on, so that every
level holds what it can. Each plateau of the curve is one level of the hierarchy.
"""

import math
from collections.abc import Sequence

from probe.device import Device, Experiment
from probe.errors import MemoryRefusedError
from reports.record import CacheLevel, Latency

FIRST_BYTES = 4096
LINE_BYTES = 128
COARSE_BYTES = 1 << 26
MOST_BYTES = 1 << 28
HOPS = 8192
WALK = 1 << 20
"""Lines walked through before timing. Fewer will not do: what laying the cycle down
has left in a shared cache need not lie in the part that is near. (On an H100, 65,536
lines walked put the end of the near cache at 8 MB, where the walk ended.)"""
SLOWEST_HOP = 2e-6
"""A hop that no memory of a card needs: bounds the first launch."""
LAUNCH_SECONDS = 0.05
BUDGET_SECONDS = 3.0
JUMP = 1.25
"""Neighbouring plateaus differ by at least this factor."""
HALF_AT = 2 * math.log(2)
FLAT = 1.09
"""Points of one plateau differ by at most this factor from each other."""


def footprints(most: int) -> list[int]:
    """Return the footprints to look at: half powers of two, whole lines.

    From COARSE_BYTES on whole powers: laying such cycles down takes its time.
    """
    sizes = []
    size = float(FIRST_BYTES)
    while size <= most * 1.001:  # half powers of two are not exact
        sizes.append(int(size) // LINE_BYTES * LINE_BYTES)
        size *= 2**0.5 if size < COARSE_BYTES else 2.0
    return sizes


def curve(device: Device, most: int) -> tuple[Latency, ...]:
    """Return the latency curve as far as time and memory allow."""
    points: list[Latency] = []
    began = device.now()
    hop = SLOWEST_HOP
    for size in footprints(min(most, MOST_BYTES)):
        lines = size // LINE_BYTES
        if device.now() - began > BUDGET_SECONDS:
            break
        try:
            _walk(device, size, min(lines, WALK), hop)
            hops = max(HOPS, 4 * lines) if lines < HOPS else HOPS
            hops = min(hops, max(1024, int(LAUNCH_SECONDS / hop)))
            seconds = min(_chase(device, size, hops) for _ in range(2))
        except MemoryRefusedError:
            break
        hop = seconds / hops
        points.append(Latency(footprint_bytes=size, hop_ns=1e9 * hop))
    return tuple(points)


def levels(points: Sequence[Latency]) -> tuple[CacheLevel, ...]:
    """Return the plateaus of a curve, the fastest first.

    A plateau is a run of at least three points within FLAT; between two of them the
    level ends. Slopes alone (a level smaller than its neighbour's reach) make none,
    except the last: the largest footprint stands for the memory, at least so slow.
    """
    runs: list[list[Latency]] = []
    for point in points:
        if runs and _fits(runs[-1], point):
            runs[-1].append(point)
        else:
            runs.append([point])
    flat = [run for run in runs if len(run) >= 3]  # noqa: PLR2004 - less is a slope
    if points and flat and points[-1] not in flat[-1]:
        flat.append([points[-1]])  # memory behind a large cache: still rising
    merged: list[list[Latency]] = []
    for run in flat:
        if merged and _mean(run) < JUMP * _mean(merged[-1]):
            merged[-1].extend(run)
        else:
            merged.append(list(run))
    found = []
    for number, run in enumerate(merged):
        last = number + 1 == len(merged)
        end = None if last else merged[number + 1][0].footprint_bytes
        found.append(
            CacheLevel(
                reaches_bytes=end and _end(points, run, merged[number + 1]),
                low_bytes=None if last else run[-1].footprint_bytes,
                high_bytes=end,
                hop_ns=_mean(run),
            )
        )
    return tuple(found)


def _walk(device: Device, size: int, hops: int, hop: float) -> None:
    """Walk through a footprint once, in launches that stay short."""
    at_once = max(1024, int(LAUNCH_SECONDS / hop))
    while hops > 0:
        _chase(device, size, min(hops, at_once))
        hops -= at_once


def _chase(device: Device, size: int, hops: int) -> float:
    return device.experiment(Experiment(kind="chase", rounds=hops, size_bytes=size))


def _fits(run: Sequence[Latency], point: Latency) -> bool:
    lows = min(each.hop_ns for each in run)
    highs = max(each.hop_ns for each in run)
    return max(highs, point.hop_ns) <= FLAT * min(lows, point.hop_ns)


def _mean(run: Sequence[Latency]) -> float:
    return sum(each.hop_ns for each in run) / len(run)


def _end(
    points: Sequence[Latency], before: Sequence[Latency], after: Sequence[Latency]
) -> int:
    """Return the size of the level between two plateaus.

    A cache of size c that replaces at random, under a random cycle of size f, answers
    a share h = exp(-(1 - h) f / c) of the hops: half of them at f = 2 ln 2 c. Where
    the curve has gone half of its way, then, f is 1.39 times the size. One that
    replaces the oldest misses at once beyond its size, the next footprint looked at.
    """
    half = (_mean(before) + _mean(after)) / 2
    last = before[-1].footprint_bytes
    for point in points:
        if point.footprint_bytes >= last and point.hop_ns >= half:
            return max(int(point.footprint_bytes / HALF_AT), last)
    return after[0].footprint_bytes
