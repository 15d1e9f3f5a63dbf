"""The staircase: how many units the chip has, found by giving it one more group.

n equal work-groups, each of which fills a unit, take the same time for every n up to
the number of units, and longer from one more on. The step is found by doubling and
halving, then both sides of it are measured again, and twice the count as well. Noise
only ever makes a launch slower, so a time is the least of several.

What was looked at is kept. Once the step is known, a few more counts are looked at, so
that a person sees the flats as well as the steps; they no longer bear on the count.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from probe.device import Device, Experiment
from reports.record import Stair

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


@dataclass
class Looks:
    """A timer that keeps the least time it saw for each number of groups."""

    time_of: Timer
    least: dict[int, float] = field(default_factory=dict)

    def __call__(self, groups: int) -> float:
        seconds = self.time_of(groups)
        self.least[groups] = min(seconds, self.least.get(groups, seconds))
        return seconds

    def stairs(self) -> tuple[Stair, ...]:
        """Return what was seen, by number of groups."""
        return tuple(
            Stair(groups=groups, seconds=seconds)
            for groups, seconds in sorted(self.least.items())
        )


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


def shown(units: int) -> tuple[int, ...]:
    """Return the counts that show a staircase: three flats and the ends of two."""
    quarters = range(1, 11)
    counts = {number * units // 4 for number in quarters}
    for flats in (1, 2):
        counts |= {flats * units + more for more in (-1, 0, 1, 2)}
    return tuple(sorted(count for count in counts | {1} if count > 0))


def look_around(looks: Looks, units: int) -> None:
    """Look at the whole staircase, at what was looked at before as well.

    One count after another, again and again: what slows the card for a moment spoils
    no count in every turn.
    """
    last = max(shown(units))
    counts = sorted({*shown(units), *(seen for seen in looks.least if seen <= last)})
    for _ in range(LOOKS):
        for groups in counts:
            looks(groups)
