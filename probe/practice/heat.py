"""Temperature, power and clock of a simulated card over simulated time.

One heat capacity behind one thermal resistance; the card slows itself down above its
target temperature. Time comes from the caller; nothing here reads a clock.
"""

import math
from dataclasses import dataclass

from probe.practice.chip import Chip

_CAPACITY_J_PER_K = 220.0
"""Chip, heat sink and board together: about a minute to warm up."""
_SLOWING_PER_K = 0.025
"""Share of the clock given up for each kelvin above the target."""
_LEAST = 0.3
_FAN_FROM_C = 40.0
_FAN_LEAST = 25.0
_POWER_EXPONENT = 2.4
"""Dynamic power over clock; voltage falls along with it."""
_RAMP_S = 0.005
"""Clocks rise to full with this time constant under load."""
_REST_S = 1.0
_RESTING = 0.8
"""Lowest share of the clock while a program holds the card."""


@dataclass(frozen=True, kw_only=True)
class Cooling:
    """What is around the chip."""

    ambient_c: float = 24.0
    kelvin_per_watt: float = 0.3
    start_c: float = 38.0


class Heat:
    """The state of one card."""

    def __init__(self, chip: Chip, cooling: Cooling) -> None:
        self._chip = chip
        self._cooling = cooling
        self._awake = _RESTING
        self._load = 0.0
        self.temperature_c = cooling.start_c

    @property
    def resting(self) -> bool:
        """Whether it has had so little to do that it saves power where it can."""
        return self._awake < (1.0 + _RESTING) / 2

    @property
    def slowed(self) -> float:
        """Share of the clock that heat leaves."""
        above = max(self.temperature_c - self._chip.target_c, 0.0)
        return max(1.0 - _SLOWING_PER_K * above, _LEAST)

    @property
    def clock_mhz(self) -> float:
        return self._chip.clock_mhz * self.slowed * self._awake

    @property
    def power_w(self) -> float:
        dynamic = self._chip.full_w - self._chip.idle_w
        share = math.pow(self.clock_mhz / self._chip.clock_mhz, _POWER_EXPONENT)
        return self._chip.idle_w + dynamic * share * self._load

    @property
    def fan_percent(self) -> float:
        span = self._chip.target_c - _FAN_FROM_C
        share = (self.temperature_c - _FAN_FROM_C) / span
        return float(round(min(max(_FAN_LEAST + (100 - _FAN_LEAST) * share, 0), 100)))

    @property
    def throttle(self) -> tuple[str, ...]:
        """Why the clock is lowered, in the words of the sensor layer."""
        words = []
        if self.temperature_c > self._chip.target_c:
            words.append("thermal slowdown (software)")
        if self.temperature_c >= self._chip.slowdown_c:
            words.append("thermal slowdown (hardware)")
        return tuple(words)

    def load(self, share: float) -> None:
        """Say how hard the card works from now on, 0 to 1."""
        self._load = share

    def pass_time(self, seconds: float) -> None:
        """Let temperature and clock follow the load."""
        cooling = self._cooling
        goal = cooling.ambient_c + cooling.kelvin_per_watt * self.power_w
        tau = _CAPACITY_J_PER_K * cooling.kelvin_per_watt
        left = math.exp(-seconds / tau)
        self.temperature_c = goal + (self.temperature_c - goal) * left
        aim, tau = (1.0, _RAMP_S) if self._load else (_RESTING, _REST_S)
        self._awake = aim + (self._awake - aim) * math.exp(-seconds / tau)
