"""The practice card's memory: physics, not scripts.

A sweep writes and reads tags through the wiring, and its census follows from what the
storage then holds. Nothing here knows which condition is played, or how long it took.
Cells of one sweep are visited upward, on a turn downward, as the kernels do.
"""

from dataclasses import dataclass, replace
from typing import assert_never

from probe.device import Census, Sweep, Tagging
from probe.practice.store import Held, Run, Store
from probe.practice.tally import Kind, Tally
from probe.practice.wiring import Stretch, Wiring
from probe.tags import tag_words

_SOUND = Wiring()


class Memory:
    """Storage behind its wiring, in cells. Untouched storage reads zeros."""

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self._card, self._host = Store(), Store()

    def sweep(
        self,
        action: Sweep,
        address: int,
        cells: int,
        first_cell: int,
        tagging: Tagging,
    ) -> Census | None:
        """Sweep `cells` cells from `address` on; the first is cell `first_cell`.

        Returns the census, None after a plain write.
        """
        stretches = list(self.wiring.stretches(address, cells))
        tally = Tally()
        match action:
            case "write":
                for stretch in stretches:
                    self._write(stretch, first_cell, tagging)
                return None
            case "verify":
                for stretch in stretches:
                    self._read(stretch, first_cell, tagging, tally)
            case "turn":
                turned = replace(tagging, complemented=not tagging.complemented)
                for stretch in reversed(stretches):
                    self._read(stretch, first_cell, tagging, tally)
                    self._write(stretch, first_cell, turned)
            case _:
                assert_never(action)
        return tally.census()

    def _write(self, stretch: Stretch, first_cell: int, tagging: Tagging) -> None:
        if stretch.stored is not None:
            run = Run(
                start=stretch.stored,
                stop=stretch.stored + stretch.cells,
                first_tag=first_cell + stretch.offset,
                tagging=tagging,
            )
            (self._host if stretch.on_host else self._card).put(run)

    def _read(
        self, stretch: Stretch, first_cell: int, tagging: Tagging, tally: Tally
    ) -> None:
        if stretch.stored is None:
            last = stretch.offset + stretch.cells - 1
            tally.add("hollow", stretch.offset, last, stretch.cells)
            return
        reading = _Reading(
            wiring=_SOUND if stretch.on_host else self.wiring,
            tagging=tagging,
            tally=tally,
            index=stretch.offset - stretch.stored,
            number=first_cell + stretch.offset - stretch.stored,
        )
        stop = stretch.stored + stretch.cells
        store = self._host if stretch.on_host else self._card
        for held in store.between(stretch.stored, stop):
            reading.read(held)


@dataclass(frozen=True, kw_only=True)
class _Reading:
    """One stretch being read. What is added to a storage cell gives its reader's ..."""

    wiring: Wiring
    tagging: Tagging
    tally: Tally
    index: int
    """... index within the block."""
    number: int
    """... number among all cells."""

    def read(self, held: Held) -> None:
        """Count every cell; those with stuck bits one by one."""
        at = held.start
        for cell in self._stuck_in(held):
            self._count(Held(at, cell, held.run))
            self._judge(cell, held.run)
            at = cell + 1
        self._count(Held(at, held.stop, held.run))

    def _stuck_in(self, held: Held) -> list[int]:
        """Return the cells with stuck bits, less those that the dead chip hides."""
        dead = self.wiring.dead
        cells = {bit.cell for bit in self.wiring.stuck}
        return sorted(
            cell
            for cell in cells
            if held.start <= cell < held.stop
            and not (dead and dead.count(cell, cell + 1))
        )

    def _count(self, held: Held) -> None:
        """Count cells without stuck bits: garbage here, all of one kind there."""
        start, stop = held.start, held.stop
        if start == stop:
            return
        first: int | None = start
        last: int | None = stop - 1
        garbage = 0
        if dead := self.wiring.dead:
            garbage = dead.count(start, stop)
            low = dead.first(start, stop, dead=True)
            high = dead.last(start, stop, dead=True)
            if low is not None and high is not None:
                self.tally.add(
                    "scrambled", low + self.index, high + self.index, garbage
                )
            first = dead.first(start, stop, dead=False)
            last = dead.last(start, stop, dead=False)
        if first is None or last is None:
            return
        kind = self._kind(held)
        sound = stop - start - garbage
        self.tally.add(kind, first + self.index, last + self.index, sound)
        if kind == "mirrored" and held.run:
            self.tally.add_foreign(first + self.index, held.run.tag_at(first))

    def _kind(self, held: Held) -> Kind:
        run = held.run
        if run is None:
            return "hollow"
        if run.tagging.nonce != self.tagging.nonce:
            return "scrambled"
        if run.tag_at(held.start) != held.start + self.number:
            return "mirrored"
        if run.tagging.complemented != self.tagging.complemented:
            return "scrambled"
        return "intact"

    def _judge(self, cell: int, run: Run | None) -> None:
        """Count one cell by its words."""
        words = [0, 0, 0, 0]
        if run:
            known = run.tagging
            words[:] = tag_words(known.nonce, run.tag_at(cell), known.complemented)
        for bit in self.wiring.stuck:
            if bit.cell == cell:
                bit.force(words)
        w, x, y, z = words
        self.tally.judge(
            (w, x, y, z), cell + self.index, cell + self.number, self.tagging
        )
