"""A bench within the test's own process: its readers and devices can be replaced."""

from probe.survival import benches
from probe.survival.within import measure_within
from probe.survival.work import Worker


class InProcess:
    """See `probe.survival.bench.Bench`."""

    def __init__(self):
        self.worker = Worker(lambda _: None)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None

    def listing(self):
        return self.worker.listing({}).listing

    def pick(self, wanted):
        return self.worker.pick(wanted, {})

    def measure(self, target, plan, story, keep, show):
        measure_within(
            lambda: self.worker.open(target.identity), plan, story, keep, show
        )


def within(monkeypatch):
    """Have commands test real cards in this process."""
    monkeypatch.setattr(benches, "open_bench", lambda _: InProcess())
