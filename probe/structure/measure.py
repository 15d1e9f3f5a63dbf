"""All of the chip's structure, one part after another; a part that fails is named."""

from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import median

import msgspec

from probe.device import Device, Experiment
from probe.errors import CardError, DeviceLostError
from probe.structure.latency import curve, levels
from probe.structure.stairs import Looks, climb, look_around, timer
from reports.record import Structure

RESIDENT_BYTES = 48 * 1024
WIDTHS = (1, 2, 4, 8, 16, 32, 64, 128)
TOGETHER = 0.75
"""Time of a launch whose warps take one path each, over that where all take both."""
CHAIN_ROUNDS = 64
CHAIN_SECONDS = 1e-3
LINKS = 128
CHAIN_LOOKS = 7
MOST_RESIDENT = 64
DIVERGENCE_SECONDS = 200e-6


@dataclass
class Surveyor:
    """Measures the structure on one device."""

    device: Device
    say: Callable[[float, str], None]
    """Told after each part: how far, and what was found."""
    memory_bytes: int
    """Memory that may be counted on: the proven capacity."""
    found: Structure = field(default_factory=Structure)
    _looks: Looks | None = field(default=None, init=False, repr=False)

    def survey(self) -> None:
        """Measure every part; what fails is named. Raises DeviceLostError."""
        parts: tuple[tuple[str, Callable[[], None]], ...] = (
            ("units", self._units),
            ("staircase", self._staircase),
            ("clock", self._clock),
            ("warp width", self._width),
            ("groups a unit", self._resident),
            ("latencies", self._latencies),
        )
        for number, (name, part) in enumerate(parts):
            try:
                part()
            except DeviceLostError:
                raise
            except CardError as error:
                self._missing(f"{name}: {error}")
            told = self._told()
            self.say((number + 1) / len(parts), told)

    def relate(self, fp32: float | None) -> None:
        """Bring in the fp32 rate: lanes a unit times cycles a link, at any clock."""
        units, link = self.found.units, self.found.link_ns
        if fp32 and units and link:
            self._set(lane_cycles=fp32 / 2 / units * link * 1e-9)

    def _units(self) -> None:
        self._looks = looks = Looks(timer(self.device))
        try:
            stairs = climb(looks)
        finally:
            self._set(stairs=looks.stairs())
        if stairs is None:
            self._missing("units: no number of work-groups takes longer than one")
            return
        self._set(
            units=stairs.last_flat,
            units_low=stairs.last_flat,
            units_high=stairs.first_high - 1,
            step=stairs.step,
            second_step=stairs.second,
        )

    def _staircase(self) -> None:
        """Look at more of the staircase, for a person to see: the count stands."""
        looks, units = self._looks, self.found.units
        if looks is None or units is None:
            return
        try:
            look_around(looks, units)
        finally:
            self._set(stairs=looks.stairs())

    def _clock(self) -> None:
        """Time chains of two lengths: their difference knows no launch."""
        rounds = CHAIN_ROUNDS
        while self._chain(rounds) < CHAIN_SECONDS and rounds < 1 << 20:
            rounds *= 2
        looks = [
            (self._chain(2 * rounds) - self._chain(rounds)) / (rounds * LINKS)
            for _ in range(CHAIN_LOOKS)
        ]
        link = median(looks)
        if link <= 0:
            self._missing("clock: a longer chain took no longer")
            return
        self._set(link_ns=1e9 * link, link_ns_spread=1e9 * (max(looks) - min(looks)))

    def _chain(self, rounds: int) -> float:
        return self.device.experiment(Experiment(kind="chain", rounds=rounds))

    def _width(self) -> None:
        groups = self.found.units or 1
        rounds = 8

        def of(width: int) -> float:
            asked = Experiment(
                kind="divergence", rounds=rounds, groups=groups, width=width
            )
            return min(self.device.experiment(asked) for _ in range(3))

        of(1)
        while of(1) < DIVERGENCE_SECONDS and rounds < 1 << 20:
            rounds *= 2
        times = {width: of(width) for width in WIDTHS}
        slow = times[1]
        together = [w for w in WIDTHS if times[w] < TOGETHER * slow]
        if not together:
            self._missing("warp width: both paths cost the same at every width")
            return
        self._set(warp_width=together[0])

    def _resident(self) -> None:
        units = self.found.units
        size = min(self.device.local_bytes(), RESIDENT_BYTES) - 64
        if units is None or size < 1024:  # noqa: PLR2004 - no local memory to speak of
            self._missing("groups a unit: without a count of units they mean nothing")
            return
        time_of = timer(self.device, "residency", size)
        flat = min(time_of(units) for _ in range(3))
        fitting = 1
        while fitting < MOST_RESIDENT:
            more = min(time_of(units * (fitting + 1)) for _ in range(3))
            if more > 1.35 * flat:
                break
            fitting += 1
        self._set(resident_groups=fitting, resident_bytes=size + 64)

    def _latencies(self) -> None:
        points = curve(self.device, self.memory_bytes // 4)
        self._set(latencies=points, levels=levels(points))

    def _set(self, **values: object) -> None:
        self.found = msgspec.structs.replace(self.found, **values)

    def _missing(self, reason: str) -> None:
        self._set(missing=(*self.found.missing, reason))

    def _told(self) -> str:
        units = self.found.units
        return f"{units} units" if units else "units not told"
