"""How a simulated card's addresses reach its storage, and what is broken in it.

Pure geometry in cells of 16 bytes: address in, storage cell or nothing out. Holds no
data; `store.py` does.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from probe.device import CELL_BYTES

Beyond = Literal["wraps", "hollow", "spilled"]
"""What answers above the real storage: the same storage again, nothing, or the PC's
own memory over the link."""


@dataclass(frozen=True, kw_only=True)
class StuckBit:
    """One bit of one storage cell that always reads the same."""

    cell: int
    word: int
    bit: int
    high: bool

    def force(self, words: list[int]) -> None:
        mask = 1 << self.bit
        if self.high:
            words[self.word] |= mask
        else:
            words[self.word] &= ~mask


@dataclass(frozen=True, kw_only=True)
class DeadChip:
    """One of several memory chips reads garbage.

    Addresses go round the chips in stripes, as graphics memory interleaves its
    channels: chip `index` holds every `chips`-th stripe.
    """

    chips: int
    index: int
    stripe_cells: int = 16

    def count(self, start: int, stop: int) -> int:
        """Return how many of these storage cells are on the dead chip."""
        return self._below(stop) - self._below(start)

    def first(self, start: int, stop: int, *, dead: bool) -> int | None:
        """Return the first cell that is (not) on the dead chip."""
        into = start % self._period - self._offset
        inside = 0 <= into < self.stripe_cells
        if inside == dead:
            found = start
        elif dead:
            found = start - into + (self._period if into > 0 else 0)
        else:
            found = start - into + self.stripe_cells
        return found if found < stop else None

    def last(self, start: int, stop: int, *, dead: bool) -> int | None:
        """Return the last cell that is (not) on the dead chip."""
        into = (stop - 1) % self._period - self._offset
        inside = 0 <= into < self.stripe_cells
        if inside == dead:
            found = stop - 1
        elif dead:
            back = self._period if into < 0 else 0
            found = stop - 1 - into - back + self.stripe_cells - 1
        else:
            found = stop - 1 - into - 1
        return found if found >= start else None

    @property
    def _period(self) -> int:
        return self.chips * self.stripe_cells

    @property
    def _offset(self) -> int:
        return self.index * self.stripe_cells

    def _below(self, cell: int) -> int:
        rounds, rest = divmod(cell, self._period)
        part = min(max(rest - self._offset, 0), self.stripe_cells)
        return rounds * self.stripe_cells + part


@dataclass(frozen=True)
class Stretch:
    """Part of a sweep: `cells` cells from `offset` on; `stored` None: nothing there."""

    offset: int
    cells: int
    stored: int | None
    on_host: bool = False
    """True: stored in the PC's memory, out of reach of the card's faults."""


@dataclass(frozen=True, kw_only=True)
class Wiring:
    """A card's memory as built."""

    real_bytes: int | None = None
    """Storage there is; None: as much as claimed."""
    beyond: Beyond = "wraps"
    stuck: tuple[StuckBit, ...] = ()
    dead: DeadChip | None = None

    @property
    def real_cells(self) -> int | None:
        return None if self.real_bytes is None else self.real_bytes // CELL_BYTES

    def stretches(self, address: int, cells: int) -> Iterator[Stretch]:
        """Cut addresses into stretches that are contiguous in storage, upward."""
        real = self.real_cells
        offset = 0
        while offset < cells:
            at, left = address + offset, cells - offset
            if real is None:
                stretch = Stretch(offset, left, at)
            elif at < real:
                stretch = Stretch(offset, min(left, real - at), at)
            elif self.beyond == "wraps":
                stored = at % real
                stretch = Stretch(offset, min(left, real - stored), stored)
            elif self.beyond == "spilled":
                stretch = Stretch(offset, left, at, on_host=True)
            else:
                stretch = Stretch(offset, left, None)
            yield stretch
            offset += stretch.cells

    def spilled(self, address: int, cells: int) -> int:
        """Return how many of these cells the PC's memory serves."""
        real = self.real_cells
        if real is None or self.beyond != "spilled":
            return 0
        return max(address + cells - max(address, real), 0)
