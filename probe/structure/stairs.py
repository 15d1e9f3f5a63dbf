"""The staircase: how many units the chip has, found by giving it one more group.

n equal work-groups, each of which fills a unit, take the same time for every n up to
the number of units, and longer from one more on. The step is found by doubling and
halving, then both sides of it are measured again, and twice the count as well. Noise
only ever makes a launch slower, so a time is the least of several.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from probe.device import Device, Experiment

MOST_GROUPS = 4096
STEP = 1.35
"""A launch that takes this much longer than one group's has stepped."""
LOOKS = 3
CERTAIN_LOOKS = 7
SHORTEST_SECONDS = 150e-6
"""One group works at least that long: launching must not matter."""
LONGEST_SECONDS = 4e-3
FIRST_ROUNDS = 8
MOST_ROUNDS = 1 << 20

Timer = Callable[[int], float]
"""Seconds that a launch of so many groups takes."""


@dataclass(frozen=True, kw_only=True)
class Stairs:
    """Where the first step is."""

    last_flat: int
    """The most groups that take no longer than one."""
    first_high: int
    """The fewest groups that do; `last_flat` + 1 where the count is certain."""
    step: float
    second: bool | None
    """Whether the time steps again after twice as many groups."""


def timer(
    device: Device,
    kind: Literal["staircase", "residency"] = "staircase",
    size_bytes: int = 0,
) -> Timer:
    """Return what times a number of groups, each long enough to be timed."""
    rounds = FIRST_ROUNDS

    def once(groups: int) -> float:
        return device.experiment(
            Experiment(kind=kind, rounds=rounds, groups=groups, size_bytes=size_bytes)
        )

    once(1)  # the first launch of a kernel pays for its loading
    while rounds < MOST_ROUNDS:
        seconds = min(once(1) for _ in range(LOOKS))
        if seconds >= SHORTEST_SECONDS:
            break
        more = SHORTEST_SECONDS / max(seconds, SHORTEST_SECONDS / 16)
        rounds = int(rounds * max(2.0, more))
    return once


def climb(time_of: Timer, most: int = MOST_GROUPS) -> Stairs | None:
    """Return the first step; None where no number of groups up to `most` steps."""

    def least(groups: int, looks: int) -> float:
        return min(time_of(groups) for _ in range(looks))

    flat = least(1, CERTAIN_LOOKS)
    low, high = 1, 2
    while least(high, LOOKS) < STEP * flat:
        low, high = high, 2 * high
        if high > most:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        if least(middle, LOOKS) < STEP * flat:
            low = middle
        else:
            high = middle
    below, above = least(low, CERTAIN_LOOKS), least(high, CERTAIN_LOOKS)
    certain = below < STEP * flat <= above
    return Stairs(
        last_flat=low,
        first_high=high if certain else 2 * high,
        step=above / below,
        second=_second(least, low, above),
    )


def _second(
    least: Callable[[int, int], float], units: int, above: float
) -> bool | None:
    """Whether 2 n groups take as long as n + 1, and one more takes longer again."""
    if units < 2:  # noqa: PLR2004 - n + 1 is 2 n: nothing between to look at
        return None
    twice = least(2 * units, LOOKS)
    more = least(2 * units + 1, LOOKS)
    return twice < 1.15 * above and more > 1.15 * twice
