"""Rates: how fast the card computes and moves data, with every result checked.

Each workload is calibrated from a tiny launch upward, warmed up, then sampled; the
median is the rate, all samples are kept. A launch is aimed at a quarter of the 100 ms
that no launch may reach.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from typing import get_args

from probe.device import Burst, Device, Workload
from probe.errors import CardError, DeviceLostError, UnsupportedError
from probe.events import Progressed, Watcher
from reports.record import Depth, Rate
from reports.text import plain
from reports.units import RATE_UNITS, quantity

FIRST_SCALE = 1 / 64
TARGET_SECONDS = 0.025
WORTH_TIMING = 0.002
"""A launch shorter than this says little: calibration goes on."""
GROWTH = 16.0
LONG = 2.0
"""A launch of so many times TARGET_SECONDS is made shorter again."""
MOST_STEPS = 24
SPREAD = 0.10
FIRST_WARMUP_SECONDS = 0.3
"""Load before the first sample of all: clocks and the link's speed have to rise."""
WARMUP_SECONDS = 0.06
"""Load before the first sample of each further workload."""
MOST_WARMUPS = 1000
"""Launches of one warm-up at most, however short they are."""
REASON_LIMIT = 2000
"""Longest reason that is kept, in characters: a driver may answer with megabytes."""
MEMORY_SHARE = 8
"""Traffic buffers take at most one part in this many of the proven memory, each."""

WORKLOADS: tuple[Workload, ...] = get_args(Workload)
TITLES: dict[Workload, str] = {
    "fp32": "Arithmetic, fp32",
    "fp64": "Arithmetic, fp64",
    "fp16": "Arithmetic, fp16",
    "int32": "Arithmetic, int32",
    "transcendental": "Arithmetic, exp2",
    "memory_read": "Memory, reading",
    "memory_write": "Memory, writing",
    "memory_copy": "Memory, copying",
    "local_memory": "Local memory",
    "link_up": "Host link, up",
    "link_down": "Host link, down",
}
QUICK: tuple[Workload, ...] = ("fp32", "fp64", "memory_read", "memory_write")
SAMPLES: dict[Depth, int] = {"quick": 5, "standard": 7, "thorough": 31}


def workloads(depth: Depth) -> tuple[Workload, ...]:
    """Return what is measured at a depth, in order."""
    return QUICK if depth == "quick" else WORKLOADS


@dataclass
class Meter:
    """Measures workloads on one device."""

    device: Device
    depth: Depth
    watch: Watcher
    sense: Callable[[], None]
    memory_bytes: int
    """Memory that may be counted on: the proven capacity."""
    warm: bool = False

    def measure(self, workload: Workload) -> Rate:
        """Return the workload's rate; absent with its reason where it cannot run.

        Raises DeviceLostError; other card errors become the reason.
        """
        unit = RATE_UNITS[workload]
        try:
            return self._measure(workload)
        except DeviceLostError:
            raise
        except UnsupportedError as error:
            return Rate(name=workload, unit=unit, missing=_said(error))
        except CardError as error:
            missing = f"failed: {_said(error)}"
            return Rate(name=workload, unit=unit, missing=missing)

    def _measure(self, workload: Workload) -> Rate:
        reason = self.device.supports(workload)
        if reason is not None:
            return Rate(name=workload, unit=RATE_UNITS[workload], missing=reason)
        began = self.device.now()
        scale, warmups = self._calibrate(workload)
        wait = WARMUP_SECONDS if self.warm else FIRST_WARMUP_SECONDS
        while len(warmups) < MOST_WARMUPS and self.device.now() - began < wait:
            warmups.append(self._burst(workload, scale))
        self.warm = True
        samples: list[Burst] = []
        wanted = SAMPLES[self.depth]
        for number in range(wanted):
            meanwhile = self.sense if number % 4 == 1 else None
            samples.append(self._timed(workload, scale, meanwhile))
            value = median(burst.work / burst.seconds for burst in samples)
            self.watch(
                Progressed(
                    done=number + 1,
                    total=wanted,
                    figure=quantity(value, RATE_UNITS[workload]),
                )
            )
        return _rate(workload, warmups, samples)

    def _calibrate(self, workload: Workload) -> tuple[float, list[Burst]]:
        """Return a scale whose launch takes about TARGET_SECONDS, and the launches.

        Grows by at most GROWTH a step, so that no launch can be long by surprise;
        stops where a launch no longer grows (the whole buffer is moved already).
        """
        scale = 1.0 if workload.startswith(("memory", "link")) else FIRST_SCALE
        launches: list[Burst] = []
        seconds = 0.0
        for _ in range(MOST_STEPS):
            burst = self._burst(workload, scale)
            full = bool(launches) and burst.work <= launches[-1].work
            launches.append(burst)
            seconds = burst.seconds
            if seconds >= TARGET_SECONDS / 2:  # a hiccup is not there twice
                launches.append(self._burst(workload, scale))
                seconds = min(seconds, launches[-1].seconds)
            if full or seconds >= TARGET_SECONDS / 2:
                break
            growth = TARGET_SECONDS / max(seconds, TARGET_SECONDS / GROWTH)
            if seconds < WORTH_TIMING:
                growth = GROWTH
            larger = scale * growth
            if workload.startswith("memory"):
                most = max(self.memory_bytes // MEMORY_SHARE, 1)
                larger = min(larger, scale * most / burst.work * _ways(workload))
            if larger <= scale:
                break
            scale = larger
        if seconds > LONG * TARGET_SECONDS:
            scale *= TARGET_SECONDS / seconds
        return scale, launches

    def _burst(
        self,
        workload: Workload,
        scale: float,
        meanwhile: Callable[[], None] | None = None,
    ) -> Burst:
        """Run one launch. Raises CardError where its account cannot be true."""
        burst = self.device.burst(workload, scale, meanwhile)
        timed = 0 <= burst.seconds < math.inf
        if not timed or not 0 < burst.work < math.inf:
            raise CardError(
                f"{self.device.facts.identity.label}: its driver says that a launch "
                f"of {burst.work:g} operations or bytes took {burst.seconds:g} s"
            )
        return burst

    def _timed(
        self, workload: Workload, scale: float, meanwhile: Callable[[], None] | None
    ) -> Burst:
        """Run one launch that counts: the timer must have seen it."""
        burst = self._burst(workload, scale, meanwhile)
        if burst.seconds <= 0:
            raise CardError(
                f"{self.device.facts.identity.label}: its driver's timer stands still"
            )
        return burst


def _said(error: CardError) -> str:
    return plain(str(error), REASON_LIMIT)


def _ways(workload: Workload) -> int:
    return 2 if workload == "memory_copy" else 1


def _rate(workload: Workload, warmups: list[Burst], samples: list[Burst]) -> Rate:
    everything = warmups + samples
    rates = sorted(burst.work / burst.seconds for burst in samples)
    value = median(rates)
    remarks = []
    if (rates[-1] - rates[0]) > SPREAD * value:
        remarks.append(
            f"samples spread by {100 * (rates[-1] - rates[0]) / value:.0f} %: the card "
            "was not alone or its clocks moved"
        )
    if median(burst.seconds for burst in samples) < WORTH_TIMING / 10:
        remarks.append("launches were too short to time well")
    return Rate(
        name=workload,
        unit=RATE_UNITS[workload],
        value=value,
        work_per_launch=samples[0].work,
        warmup_seconds=tuple(burst.seconds for burst in warmups),
        sample_seconds=tuple(burst.seconds for burst in samples),
        checked=sum(burst.checked for burst in everything),
        wrong=sum(burst.wrong for burst in everything),
        remarks=tuple(remarks),
    )
