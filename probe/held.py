"""What is held of the card's memory, and what the readings of it come to.

Pure: blocks and what was found in them go in, states, counts and proven cells come
out. Holds no opinion on what they mean for the card (`reference/`), runs nothing.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from probe.device import CELL_BYTES, Block, Census
from reports import record
from reports.record import BlockState, CellCounts, Flips

MIB = 2**20
SPILL_SLOWDOWN = 4.0
SPILL_LINK_SHARE = 1.5
JUDGED_BLOCK = 16 * MIB
"""Less than this is too quick to be timed: smaller blocks are judged together."""


@dataclass(eq=False)
class Held:
    """One block and what the passes found in it."""

    block: Block
    censuses: list[Census] = field(default_factory=list)
    telling: Census = field(default_factory=Census)
    """The reading that tells most: the last, which saw what every earlier write left;
    or, where cells failed, the one in which most did."""
    write_seconds: float | None = None
    verify_seconds: float | None = None
    quickest_seconds: float | None = None
    """The shortest time in which its bytes ever went one way: what a disturbance of
    one pass does not change."""

    def timed(self, seconds: float) -> None:
        """Take in how long a pass over the block took, its bytes moved once."""
        if seconds > 0:
            self.quickest_seconds = min(seconds, self.quickest_seconds or seconds)

    def add(self, census: Census) -> None:
        """Keep what one more reading found."""
        self.censuses.append(census)
        bad = self.telling.failing + self.telling.scrambled
        if not bad or census.failing + census.scrambled > bad:
            self.telling = census


def proven_cells(held: Sequence[Held], beyond: Collection[Held]) -> int:
    """Return the cells that survived the worst reading so far, `beyond` left out.

    While the first reading is under way, those that it has found until now: all
    was written before it began.
    """
    kept = [each for each in held if each not in beyond]
    rounds = min((len(each.censuses) for each in kept), default=0)
    if not rounds:
        return sum(each.censuses[0].intact for each in kept if each.censuses)
    return min(
        (sum(each.censuses[n].intact for each in kept) for n in range(rounds)),
        default=0,
    )


def spilled(held: Sequence[Held], link_rate: float) -> frozenset[Held]:
    """Return the blocks that ran at the host link's speed, far below the others.

    A slow last part alone is no spill (some genuine cards have one): it must be
    as slow as the link as well, in every pass. Measured against the second fastest
    block, for there may be few that the card holds itself. The PC's memory keeps what
    is written to it: a hollow or mirrored block never lies there, and how fast nothing
    answers (hollow) is no measure of memory.
    """
    groups = _timed_together([each for each in held if _kind(each) != "hollow"])
    if not groups:
        return frozenset()
    rates = [
        sum(each.block.size_bytes for each in group)
        / sum(each.quickest_seconds or 0.0 for each in group)
        for group in groups
    ]
    fast = sorted(rates)[-min(2, len(rates))]
    limit = min(fast / SPILL_SLOWDOWN, link_rate * SPILL_LINK_SHARE)
    return frozenset(
        each
        for group, rate in zip(groups, rates, strict=True)
        if rate < limit
        for each in group
        if _kind(each) != "mirrored"
    )


def as_block(held: Held, *, spilled: bool) -> record.Block:
    """Return a block as the record keeps it."""
    census = held.telling
    first = held.block.first_cell
    distance = None
    if census.foreign_cell is not None and census.foreign_at is not None:
        here = first + census.foreign_at
        distance = (census.foreign_cell - here) * CELL_BYTES
    flips = None
    if census.failing and census.first_wrong is not None:
        flips = Flips(
            any_mask=census.any_flips,
            all_mask=census.all_flips,
            first_byte=(first + census.first_wrong) * CELL_BYTES,
            last_byte=(first + (census.last_wrong or 0)) * CELL_BYTES,
        )
    return record.Block(
        offset_bytes=first * CELL_BYTES,
        size_bytes=held.block.size_bytes,
        state=state(held, spilled=spilled),
        counts=_counts(census),
        mirror_distance_bytes=distance,
        flips=flips,
        write_seconds=held.write_seconds,
        verify_seconds=held.verify_seconds,
    )


def _timed_together(held: Sequence[Held]) -> list[list[Held]]:
    """Return the verified blocks in runs of neighbours long enough to be timed."""
    groups: list[list[Held]] = []
    size = JUDGED_BLOCK
    for each in held:
        if not each.verify_seconds or not each.quickest_seconds:
            continue
        if size >= JUDGED_BLOCK:
            groups.append([])
            size = 0
        groups[-1].append(each)
        size += each.block.size_bytes
    if size < JUDGED_BLOCK and len(groups) > 1:  # what is left joins its neighbours
        rest = groups.pop()
        groups[-1] += rest
    return groups


def state(held: Held, *, spilled: bool) -> BlockState:
    """Return what the map shows of a block."""
    if not held.censuses:
        return "unreached"
    return "spilled" if spilled else _kind(held)


def _kind(held: Held) -> BlockState:
    """Return the most frequent kind of wrong cell, or that none is wrong."""
    census = held.telling
    if not (census.mirrored or census.hollow or census.scrambled or census.failing):
        return "proven"  # asked of every block, time and again
    wrong: dict[BlockState, int] = {
        "mirrored": census.mirrored,
        "hollow": census.hollow,
        "scrambled": census.scrambled,
        "failing": census.failing,
    }
    return max(wrong, key=lambda name: wrong[name])


def _counts(census: Census) -> CellCounts:
    return CellCounts(
        cells=census.checked,
        intact=census.intact,
        mirrored=census.mirrored,
        hollow=census.hollow,
        failing=census.failing,
        scrambled=census.scrambled,
    )


def summed(censuses: Sequence[Census]) -> CellCounts:
    """Return the sums over all blocks of one pass."""
    return CellCounts(
        cells=sum(each.checked for each in censuses),
        intact=sum(each.intact for each in censuses),
        mirrored=sum(each.mirrored for each in censuses),
        hollow=sum(each.hollow for each in censuses),
        failing=sum(each.failing for each in censuses),
        scrambled=sum(each.scrambled for each in censuses),
    )
