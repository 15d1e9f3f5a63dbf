"""The capacity proof as an account: facts in, what is proven out.

Pure, and the same on both sides: the proof keeps its own books in it, and whoever hears
the facts of a run, live or out of a journal, comes to the same capacity. Holds no
opinion, touches no device.
"""

from dataclasses import dataclass, field

from probe.device import CELL_BYTES, Block
from probe.events import (
    BlockSwept,
    Dropped,
    Event,
    Linked,
    MapChanged,
    PassBegan,
    PassOver,
    PhaseBegan,
    ProofBegan,
    Refused,
    Renewed,
    Taken,
    Taking,
    TakingOver,
)
from probe.held import Held, as_block, proven_cells, spilled, state
from reports import record
from reports.record import Capacity, EndedBy


@dataclass
class Account:
    """One capacity proof, as far as it was told. `result()` is valid at any moment."""

    claimed_bytes: int
    free_bytes: int | None
    unified_memory: bool
    nonce: int = 0
    below_crash: bool = False
    held: list[Held] = field(default_factory=list)
    passes: list[record.Pass] = field(default_factory=list)
    ended_by: EndedBy = "error"
    refusal: str | None = None
    margin_bytes: int = 0
    link_rate: float | None = None
    """Bytes per second of the host link: what spilled blocks run at."""
    touching: Taking | None = None
    """The block announced and not yet held."""
    walking: PassBegan | None = None
    """The walk under way."""
    walked: set[int] = field(default_factory=set)
    """The blocks that it has done."""

    @property
    def covered_bytes(self) -> int:
        """What is held: blocks lie one after the other."""
        if not self.held:
            return 0
        last = self.held[-1].block
        return last.first_cell * CELL_BYTES + last.size_bytes

    @property
    def whole(self) -> bool:
        """Whether every cell was read in both polarities."""
        read = [one for one in self.passes if one.name == "verify"]
        return {one.complemented for one in read} == {False, True}

    @property
    def mirrors(self) -> bool:
        """Whether any reading met the data of another place."""
        return any(read.mirrored for one in self.held for read in one.censuses)

    def apply(self, fact: Event) -> None:  # noqa: C901, PLR0912 - a flat table of facts
        """Take in one fact; those about anything else are passed over.

        Raises ValueError where a fact speaks of a block that was never taken.
        """
        match fact:
            case PhaseBegan():
                self.touching = self.walking = None
            case Taking():
                self.touching = fact
            case Taken():
                self._take(fact)
            case Refused():
                self.touching = None
                self.refusal = fact.text
            case TakingOver():
                self.touching = None
                self.ended_by = fact.ended_by
                self.margin_bytes = fact.margin_bytes
            case Dropped():
                del self.held[fact.kept :]
                self.ended_by = "driver refused"
                self.walking = None
            case PassBegan():
                self.walking = fact
                self.walked = set()
            case BlockSwept():
                self._swept(fact)
            case PassOver():
                self.walking = None
                self.passes.append(fact.made)
            case Linked():
                self.link_rate = fact.bytes_a_second
            case ProofBegan():
                self.nonce, self.below_crash = fact.nonce, fact.below_crash
            case Renewed():
                self.nonce = fact.nonce
            case _:
                pass

    def at_work(self) -> Block | None:
        """Return the block that was being worked on, or that comes next in the walk."""
        if self.touching is not None:
            one = self.touching
            return Block(one.number, one.first_cell, one.size_bytes)
        if self.walking is None:
            return None
        order = self.held if self.walking.upward else self.held[::-1]
        left = (one.block for one in order if one.block.number not in self.walked)
        return next(left, None)

    def spilled(self) -> frozenset[Held]:
        """Return the blocks that the PC's memory answers for."""
        if self.unified_memory or self.link_rate is None:
            return frozenset()
        return spilled(self.held, self.link_rate)

    def proven_bytes(self) -> int:
        """Return what survived the worst reading so far."""
        return proven_cells(self.held, self.spilled()) * CELL_BYTES

    def wrong_cells(self) -> int:
        """Return the cells found failing or scrambled in any pass so far."""
        return sum(
            p.counts.failing + p.counts.scrambled for p in self.passes if p.counts
        )

    def drawn(self) -> MapChanged:
        """Return the map as it stands."""
        beyond = self.spilled()
        return MapChanged(
            states=tuple(
                state(each, spilled=each in beyond) if each.censuses else None
                for each in self.held
            )
        )

    def result(self) -> Capacity:
        """Return the proof as far as it has come."""
        beyond = self.spilled()
        blocks = tuple(as_block(each, spilled=each in beyond) for each in self.held)
        return Capacity(
            claimed_bytes=self.claimed_bytes,
            free_bytes=self.free_bytes,
            covered_bytes=self.covered_bytes,
            proven_bytes=proven_cells(self.held, beyond) * CELL_BYTES,
            spilled_bytes=sum(each.block.size_bytes for each in beyond),
            margin_bytes=self.margin_bytes,
            ended_by=self._ending(),
            refusal=self.refusal,
            nonce=f"{self.nonce:016x}",
            passes=tuple(self.passes),
            blocks=blocks,
        )

    def _ending(self) -> EndedBy:
        if self.below_crash and self.ended_by == "limit asked for":
            return "below a crash"
        return self.ended_by

    def _take(self, fact: Taken) -> None:
        begun = self.touching
        if begun is None or begun.number != fact.number:
            raise ValueError(f"block {fact.number} was taken without a word before")
        if fact.number != len(self.held):
            raise ValueError(f"block {fact.number} after {len(self.held)} others")
        self.held.append(Held(Block(begun.number, begun.first_cell, begun.size_bytes)))
        self.touching = None

    def _swept(self, fact: BlockSwept) -> None:
        if not 0 <= fact.number < len(self.held):
            raise ValueError(f"block {fact.number} was swept and never taken")
        held = self.held[fact.number]
        if fact.action != "turn":  # a link carries both ways at once, memory does not
            held.timed(fact.seconds)
        if fact.action is None:
            return
        self.walked.add(fact.number)
        if fact.action == "write":
            held.write_seconds = fact.seconds
            return
        if fact.census is not None:
            held.add(fact.census)
        if fact.action == "verify":
            held.verify_seconds = fact.seconds
