"""What simulated storage cells hold: runs of consecutive tags.

A written stretch is one run, however long, so 80 GiB cost as little as 80 KiB. Counts
cells only; knows neither addresses of a card nor what is right or wrong.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace

from probe.device import Tagging


@dataclass(frozen=True, kw_only=True)
class Run:
    """Storage cells `start` to `stop` hold the tags from `first_tag` upward."""

    start: int
    stop: int
    first_tag: int
    tagging: Tagging

    def tag_at(self, cell: int) -> int:
        """Return the number that the tag held in a storage cell names."""
        return self.first_tag + cell - self.start

    def clipped(self, start: int, stop: int) -> "Run":
        return replace(self, start=start, stop=stop, first_tag=self.tag_at(start))


@dataclass(frozen=True)
class Held:
    """A stretch of storage and the run it lies in; None: never written, all zeros."""

    start: int
    stop: int
    run: Run | None


class Store:
    """All storage cells. Runs never overlap and are kept in order."""

    def __init__(self) -> None:
        self._runs: list[Run] = []

    def put(self, run: Run) -> None:
        """Write a run over whatever was there."""
        low, high = self._touched(run.start, run.stop)
        fresh = [run]
        if low < high:
            first, last = self._runs[low], self._runs[high - 1]
            if first.start < run.start:
                fresh.insert(0, first.clipped(first.start, run.start))
            if last.stop > run.stop:
                fresh.append(last.clipped(run.stop, last.stop))
        self._runs[low:high] = fresh

    def between(self, start: int, stop: int) -> Iterator[Held]:
        """Yield what the cells hold, in order and without gaps."""
        low, high = self._touched(start, stop)
        at = start
        for run in self._runs[low:high]:
            if run.start > at:
                yield Held(at, run.start, None)
                at = run.start
            end = min(run.stop, stop)
            yield Held(at, end, run)
            at = end
        if at < stop:
            yield Held(at, stop, None)

    def _touched(self, start: int, stop: int) -> tuple[int, int]:
        low = bisect_right(self._runs, start, key=lambda run: run.stop)
        high = bisect_left(self._runs, stop, lo=low, key=lambda run: run.start)
        return low, high
