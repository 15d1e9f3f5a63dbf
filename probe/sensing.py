"""The sensors beside a run: read, told, heeded.

Knows no phase and no order of them; says when the card would take harm.
"""

from dataclasses import dataclass

from probe.device import Device
from probe.errors import CardError, DeviceLostError
from probe.events import Guarded, Noted, Sensed, SensorsFound, Watcher
from probe.guards import Guard
from reports.record import Sample
from reports.text import plain

EVERY_SECONDS = 1.0
REASON_LIMIT = 2000
"""Longest text of a failure that is kept: a driver may answer with megabytes."""


class GuardedError(Exception):
    """The run has to stop so that the card takes no harm."""


@dataclass
class Sensing:
    """The sensors of one card during one run."""

    device: Device
    watch: Watcher
    phase: str = "before"
    """The phase that readings belong to."""
    stopped: bool = False
    """A guard has stopped the run: it is not asked again."""
    _guard: Guard | None = None
    _looked_at: float = 0.0
    _senseless: bool = False
    """Whether the loss of the sensors was said already."""

    def begin(self) -> None:
        """Tell where readings come from, and read once. Raises as `look` does."""
        source, missing, slowdown, power = self.device.limits()
        self.watch(
            SensorsFound(
                source=source,
                missing=missing,
                slowdown_c=slowdown,
                power_limit_w=power,
            )
        )
        self._guard = Guard(self.device.facts.identity.label, slowdown)
        self.sense()

    def sense(self) -> None:
        """Read and tell them; see `look`."""
        self.look()

    def sense_by(self, now: float) -> None:
        """Read them where the last reading of this kind is a second old."""
        if now - self._looked_at >= EVERY_SECONDS:
            self._looked_at = now
            self.look()

    def look(self) -> Sample | None:
        """Read them, tell and heed the reading. Raises GuardedError, DeviceLostError.

        Sensors that fail are said once: the card can be tested without them.
        """
        try:
            sample = self.device.sense(self.phase)
        except DeviceLostError:
            raise
        except CardError as error:
            if not self._senseless:
                self._senseless = True
                self.watch(Noted(text=f"sensors not read: {said(error)}; going on"))
            return None
        if sample is not None:
            self.watch(Sensed(sample=sample))
            self._heed(sample)
        return sample

    def _heed(self, sample: Sample) -> None:
        if self._guard is None or self.stopped:
            return
        reason = self._guard.feed(sample)
        for note in self._guard.notes():
            self.watch(Noted(text=note))
        if reason is not None:
            self.stopped = True
            self.watch(Guarded(reason=plain(reason, REASON_LIMIT)))
            raise GuardedError(reason)


def said(error: Exception) -> str:
    """Return an error's words as a record can hold them."""
    return plain(str(error), REASON_LIMIT)
