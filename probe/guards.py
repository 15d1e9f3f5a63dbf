"""What keeps card and PC from harm: when a run must stop, and what it leaves alone.

Pure: fed one sensor reading after the other, it never asks a device, a clock or a
file. It stops a run, it never accuses: what a stop means is the judge's. No single
reading stops anything, and a reading that no card can have counts for nothing.
"""

from collections import deque
from dataclasses import dataclass, field

from reports.record import CardIdentity, Sample

USUAL_LIMIT_C = 90.0
"""The limit of a card that names none of its own that could be true."""
LIMITS_C = (60.0, 125.0)
"""Between which a slowdown threshold is believed: silicon that is sold for PCs is
rated for 125 °C at the junction at most (from memory)."""
READINGS_C = (0.0, 150.0)
"""Between which a temperature is believed: 255 is a register that nobody filled."""
AGREEING = 2
"""So many readings in a row have to say the same."""
STILL_PERCENT = 0.5
"""Up to this a fan stands."""
STILL_FROM_C = 75.0
BELOW_LIMIT_C = 15.0
"""A standing fan counts from 75 °C on, or from so far below the limit where that is
higher: fans that rest on a cool card start between 50 °C and 65 °C."""
STILL_SECONDS = 10.0
"""A fan told to start takes a few seconds."""
RISE_C = 5.0
RISE_SECONDS = 60.0
"""What a board without fans carries away well no longer rises that much in a minute."""
DISPLAY_SHARE, DISPLAY_LEAST = 0.04, 256 * 2**20
UNKNOWN_MOST = 128 * 2**20
"""Left where nobody knows whether a display is driven: three buffers of a 4K picture
are 100 MB."""
MARGIN_MOST = 1 / 8
"""Of a small card no more is left, or too little of it would be proven."""
_NAME = 200
_HELD = 4096


def display_margin(card: CardIdentity, memory_bytes: int) -> int:
    """Return how much of a card's memory is left to the picture that it may show."""
    share = int(memory_bytes * DISPLAY_SHARE)
    margin = 0
    if card.drives_display:
        margin = max(DISPLAY_LEAST, share)
    elif card.drives_display is None and card.kind == "gpu":
        margin = min(UNKNOWN_MOST, share)
    return min(margin, int(memory_bytes * MARGIN_MOST))


@dataclass
class Guard:
    """What watches one run on one card. Temperatures are in °C.

    `slowdown_c` is the card's own threshold, as `Telemetry.slowdown_c` has it.
    """

    label: str
    slowdown_c: float | None = None
    stopped: str | None = None
    """Why the run has to stop; once said, it stays."""
    _notes: list[str] = field(default_factory=list)
    _disbelieved: bool = False
    _hot: int = 0
    _still: int = 0
    _standing: deque[tuple[float, float]] = field(
        default_factory=lambda: deque(maxlen=_HELD)
    )
    """Seconds and °C of the readings since the fan stood on a warm card."""

    def __post_init__(self) -> None:
        """Doubt a limit that no card has."""
        own, (low, high) = self.slowdown_c, LIMITS_C
        if own is not None and not low <= own <= high:
            self.slowdown_c = None
            self._notes.append(
                f"{self._name}: a slowdown limit of {own:.0f} °C is not believed; "
                f"{USUAL_LIMIT_C:.0f} °C counts instead"
            )

    @property
    def limit_c(self) -> float:
        """The temperature at which the run stops."""
        return USUAL_LIMIT_C if self.slowdown_c is None else self.slowdown_c

    def notes(self) -> tuple[str, ...]:
        """Return what there is to remark since it was last asked, a line each."""
        told, self._notes = tuple(self._notes), []
        return told

    def feed(self, sample: Sample) -> str | None:
        """Take one reading; return why the run has to stop, or None.

        The reason says what, on which card, and the next step, as `Telemetry.stopped`
        holds it: `CARD: what; next step`.
        """
        if self.stopped is None:
            heat = self._believed(sample.temperature_c)
            if heat is not None:
                self.stopped = self._too_hot(heat) or self._fan_stands(sample, heat)
        return self.stopped

    @property
    def _name(self) -> str:
        return self.label[:_NAME]

    def _believed(self, heat: float | None) -> float | None:
        low, high = READINGS_C
        if heat is None or low <= heat <= high:
            return heat
        if not self._disbelieved:
            self._disbelieved = True
            self._notes.append(
                f"{self._name}: a temperature of {heat:.0f} °C is not believed; "
                "without true ones nothing guards it from heat: feel for hot air"
            )
        return None

    def _too_hot(self, heat: float) -> str | None:
        self._hot = self._hot + 1 if heat >= self.limit_c else 0
        if self._hot < AGREEING:
            return None
        limit = f"{self.limit_c:.0f} °C"
        why = (
            f"it slows itself down from {limit} on"
            if self.slowdown_c is not None
            else f"{limit} is the limit of a card that names none"
        )
        return (
            f"{self._name}: stopped at {heat:.0f} °C to protect the card ({why}); let "
            "it cool, clean its cooler, see that air reaches it, and test again"
        )

    def _fan_stands(self, sample: Sample, heat: float) -> str | None:
        """Stop for a fan that stands while a warm card becomes warmer still."""
        fan, now = sample.fan_percent, sample.at_seconds
        if fan is None:
            return None
        since = self._standing
        warm = max(STILL_FROM_C, self.limit_c - BELOW_LIMIT_C)
        turns = not 0.0 <= fan <= STILL_PERCENT
        if turns or heat < warm or (since and now < since[-1][0]):
            since.clear()
            self._still = 0
        if turns or heat < warm:
            return None
        since.append((now, heat))
        lately = [had for at, had in since if now - at <= RISE_SECONDS]
        lasting = now - since[0][0] >= STILL_SECONDS
        rising = heat - min(lately) >= RISE_C
        self._still = self._still + 1 if lasting and rising else 0
        if self._still < AGREEING:
            return None
        return (
            f"{self._name}: stopped at {heat:.0f} °C to protect the card (its fan "
            "stands at 0 % while it becomes hotter); see whether the fan turns freely "
            "and is plugged in, give a board without fans a stream of air, and test "
            "again"
        )
