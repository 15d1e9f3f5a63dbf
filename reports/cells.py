"""The block map as a row of cells, for every medium that draws one.

Works on states and sizes alone; draws nothing and words nothing.
"""

import itertools
from collections.abc import Sequence
from typing import Final

from reports.record import Block, BlockState, Capacity

Cell = BlockState | None
"""None: held, not judged yet."""

GRAVITY: Final[tuple[Cell, ...]] = (
    "proven",
    None,
    "unreached",
    "spilled",
    "hollow",
    "mirrored",
    "scrambled",
    "failing",
)
"""When cells are drawn as one, the last of these wins: one failing block among
thousands stays to be seen."""

SHOWN: Final[tuple[Cell, ...]] = (
    "proven",
    None,
    "mirrored",
    "hollow",
    "failing",
    "scrambled",
    "spilled",
    "unreached",
)
"""The order in which a key names them."""

_RANK = {state: rank for rank, state in enumerate(GRAVITY)}
_NOTABLE = 0.03
"""Share of the claim that must be out of reach before the map shows it. Drivers keep
up to that much for themselves."""
_MOST = 4096
"""Most cells of unreached memory ever added."""


def condense(states: Sequence[Cell], most: int) -> tuple[Cell, ...]:
    """Return at most `most` cells, each the gravest of the neighbours it stands for.

    Neighbours are spread evenly; up to `most` states come back unchanged.
    """
    return tuple(
        max(states[start:end], key=_RANK.__getitem__)
        for start, end in itertools.pairwise(edges(len(states), most))
    )


def edges(count: int, most: int) -> tuple[int, ...]:
    """Return where each of at most `most` groups of `count` cells begins, and `count`.

    `edges(5, 2)` is (0, 2, 5).
    """
    groups = min(count, max(most, 1))
    return (*(place * count // groups for place in range(groups)), count)


def states_of(capacity: Capacity) -> tuple[BlockState, ...]:
    """Return one state a block in address order, then what was never reached."""
    states = [block.state for block in _ordered(capacity)]
    beyond: BlockState = "unreached"
    return (*states, *(beyond for _ in range(_beyond(capacity))))


def starts_of(capacity: Capacity) -> tuple[int, ...]:
    """Return the byte offset of each cell that :func:`states_of` returns."""
    starts = [block.offset_bytes for block in _ordered(capacity)]
    end = max((b.offset_bytes + b.size_bytes for b in capacity.blocks), default=0)
    size = cell_bytes_of(capacity)
    return (*starts, *(end + size * more for more in range(_beyond(capacity))))


def twins_of(capacity: Capacity, most: int) -> tuple[tuple[int, int], ...]:
    """Return (cell, twin) places of the first mirrored cells whose twin is known.

    Only for maps that are not condensed: places count blocks in address order.
    """
    blocks = _ordered(capacity)
    pairs = []
    for place, block in enumerate(blocks):
        if block.state != "mirrored" or block.mirror_distance_bytes is None:
            continue
        middle = block.offset_bytes + block.size_bytes // 2
        twin = _holder(blocks, middle + block.mirror_distance_bytes)
        if twin is not None and twin != place:
            pairs.append((place, twin))
            if len(pairs) == most:
                break
    return tuple(pairs)


def cell_bytes_of(capacity: Capacity) -> int:
    """Return the size of the largest block: what one full cell stands for."""
    return max((block.size_bytes for block in capacity.blocks), default=0)


def totals_of(capacity: Capacity) -> tuple[tuple[BlockState, int, int], ...]:
    """Return (state, blocks, bytes) of every state on the map, in the key's order."""
    found: dict[BlockState, tuple[int, int]] = {}
    for block in capacity.blocks:
        count, size = found.get(block.state, (0, 0))
        found[block.state] = count + 1, size + block.size_bytes
    beyond = _beyond(capacity)
    if beyond:
        count, size = found.get("unreached", (0, 0))
        found["unreached"] = count + beyond, size + _shortfall(capacity)
    return tuple(
        (state, *found[state])
        for state in SHOWN
        if state is not None and state in found
    )


def _ordered(capacity: Capacity) -> list[Block]:
    return sorted(capacity.blocks, key=lambda block: block.offset_bytes)


def _shortfall(capacity: Capacity) -> int:
    end = max((b.offset_bytes + b.size_bytes for b in capacity.blocks), default=0)
    return max(capacity.claimed_bytes - end, 0)


def _beyond(capacity: Capacity) -> int:
    size = cell_bytes_of(capacity)
    missing = _shortfall(capacity)
    if not size or missing < _NOTABLE * capacity.claimed_bytes:
        return 0
    return min(missing // size, _MOST)


def _holder(blocks: Sequence[Block], offset: int) -> int | None:
    for place, block in enumerate(blocks):
        if block.offset_bytes <= offset < block.offset_bytes + block.size_bytes:
            return place
    return None
