"""What one measuring process is to do, and how long that takes."""

from msgspec import Struct

from probe.rates import TITLES
from reports.record import Depth

DWELL_SECONDS = 20.0
HEAT_SECONDS = 30.0
THOROUGH_ROUNDS = 3
"""Rounds of two passes at thorough depth, each with its own seed: the first plain,
the second with a dwell between write and read, the third on a hot card."""
_WALKS_A_ROUND = 5
_SLOWEST_BYTES_A_SECOND = 20e9
"""For the forecast of a run's length: slower memory is rare."""
_RATE_SECONDS = 2.0


class Plan(Struct, frozen=True, kw_only=True):
    """What is to be done, and what no more."""

    depth: Depth = "standard"
    limit_bytes: int | None = None
    practice_condition: str | None = None
    folder: str | None = None
    without: tuple[str, ...] = ()
    """What was done already, or ended an earlier process: `proof`, rates' names,
    `structure`, `soak`, `link`."""
    soak_seconds: float | None = None
    load_together: bool = False
    """Whether other cards of this PC may be under full load at the same time."""
    proven_bytes: int = 0
    """What an earlier process proved, where the proof is left out."""
    again: bool = False
    """Whether an earlier process has begun it."""
    below_crash: bool = False
    """Whether the limit lies where an earlier proof was cut off."""

    def forecast(self, memory_bytes: int) -> float | None:
        """Return how many seconds it takes; None where it is over in a few."""
        soak = self.soak_seconds or 0.0
        if self.depth != "thorough":
            return soak or None
        size = min(memory_bytes, self.limit_bytes or memory_bytes)
        walks = THOROUGH_ROUNDS * _WALKS_A_ROUND * size / _SLOWEST_BYTES_A_SECOND
        waits = DWELL_SECONDS + HEAT_SECONDS
        return soak + waits + walks + _RATE_SECONDS * len(TITLES)
