"""What a practice card is made of: silicon, wiring, cooling, and what is wrong with it.

One value, without behaviour; `card.py` plays it, `conditions.py` names some.
"""

from dataclasses import dataclass, field

from probe.practice.chip import Chip
from probe.practice.heat import Cooling
from probe.practice.wiring import StuckBit, Wiring


@dataclass(frozen=True, kw_only=True)
class Build:
    """What a practice card is made of, whatever it says."""

    chip: Chip
    wiring: Wiring = field(default_factory=Wiring)
    cooling: Cooling = field(default_factory=Cooling)
    wrong_share: float = 0.0
    """Share of fp32 results that come out wrong, all in the work-groups of one unit."""
    weak: tuple[StuckBit, ...] = ()
    """Bits that are stuck only while the card is hot."""
    weak_from_c: float = 0.0
    """From this temperature on."""
    granted_bytes: int | None = None
    """More than this the driver never gives; None: all that is free."""
    busy_share: float = 0.0
    """Share of memory that another program holds."""
    lost_above_bytes: int | None = None
    """Sweeping an address above this loses the device."""
    crash_above_bytes: int | None = None
    """Sweeping an address above this ends the process, as a crashing driver does."""
    hang_above_bytes: int | None = None
    """Sweeping an address above this never ends."""
