"""Which bench tests real cards: one place, so that a test can put another there."""

from probe.survival.bench import Bench, Supervised


def open_bench(patience: float) -> Bench:
    """Return the bench; it waits so many seconds beyond the time a launch may take."""
    return Supervised(patience)
