"""The block map: card memory as a strip of cells in address order, wrapped like text.

A cell's state is its texture, so the map survives a photocopy.
"""

from dataclasses import dataclass
from typing import Final

from reports.cells import Cell, condense, edges
from reports.record import BlockState
from reports.summary import MemoryMap
from reports.svg import element, label, number, picture
from reports.units import gib

_WIDTH: Final = 400
_GUTTER: Final = 50
"""Left of the cells, for the address at which a row starts."""
_TOP: Final = 4
_ARCS: Final = 22
"""Room above the cells for arcs between columns."""
_MOST: Final = 2048
_COLUMNS: Final = ((128, 16), (768, 32), (_MOST, 64))
"""Up to so many cells, so many in a row: powers of two keep addresses round."""

_OUTLINE = '<rect x="1" y="1" width="18" height="18" fill="none" class="edge"/>'
TEXTURES: Final[dict[BlockState, str]] = {
    "proven": '<rect width="20" height="20" class="solid"/>',
    "mirrored": _OUTLINE + '<path d="M0 10 10 0M0 20 20 0M10 20 20 10" class="hatch"/>',
    "hollow": '<rect x="1.5" y="1.5" width="17" height="17" fill="none" class="bold"/>',
    "failing": _OUTLINE + '<circle cx="10" cy="10" r="5.5" class="spot"/>',
    "scrambled": _OUTLINE
    + '<path d="M1 1 19 19M1 19 19 1M10 1V19M1 10H19" class="hatch"/>',
    "spilled": '<path d="M0 7q5-6 10 0t10 0M0 14q5-6 10 0t10 0" class="wave"/>',
    "unreached": '<rect x="1" y="1" width="18" height="18" fill="none" class="dots"/>',
}


def textures() -> str:
    """Return the textures as symbols, to stand once in a document that uses them."""
    symbols = (
        f'<symbol id="cell-{state}" viewBox="0 0 20 20">'
        f'<g stroke="currentColor">{shape}</g></symbol>'
        for state, shape in TEXTURES.items()
    )
    return element("defs", *symbols)


def block_map(memory: MemoryMap, ident: str = "map", *, textured: bool = True) -> str:
    """Return the map of a card's memory, with arcs to the first mirrored twins.

    A document with two maps has the textures in the first alone.
    """
    states: tuple[Cell, ...] = condense(memory.states, _MOST)
    count = max(len(states), 1)
    columns = next(wide for most, wide in _COLUMNS if count <= most)
    pitch = (_WIDTH - _GUTTER) / columns
    rows = -(-count // columns)
    whole = len(states) == len(memory.states)
    firsts = edges(len(memory.starts), count)[:-1]
    arcs = memory.twins if whole else ()
    above = any((cell - twin) % columns for cell, twin in arcs)
    top = _TOP + (_ARCS if above else 0)
    grid = _Grid(columns, pitch, top)
    parts = [textures()] if textured else []
    for row in range(rows):
        start = memory.starts[firsts[row * columns]] if memory.starts else 0
        middle = top + (row + 0.5) * pitch + 2
        shown = gib(start) if start else "0"
        parts.append(label(_GUTTER - 5, middle, shown, "small", "end"))
    for place, state in enumerate(states):
        x, y = grid.corner(place)
        parts.append(
            f'<use href="#cell-{state}" x="{number(x)}" y="{number(y)}" '
            f'width="{number(pitch * 0.88)}" height="{number(pitch * 0.88)}"/>'
        )
    parts += [_arc(cell, twin, turn, grid) for turn, (cell, twin) in enumerate(arcs)]
    return picture(
        ident,
        "Map of the card's memory",
        _in_words(memory),
        *parts,
        viewBox=f"0 0 {_WIDTH} {number(top + rows * pitch + 2)}",
        class_="blockmap",
    )


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where cells lie."""

    columns: int
    pitch: float
    top: float

    def corner(self, place: int) -> tuple[float, float]:
        row, column = divmod(place, self.columns)
        return _GUTTER + column * self.pitch, self.top + row * self.pitch

    def middle(self, place: int) -> tuple[float, float]:
        x, y = self.corner(place)
        return x + self.pitch * 0.44, y + self.pitch * 0.44


def _arc(cell: int, twin: int, turn: int, grid: _Grid) -> str:
    """Return an arc over the rows above, each turn a little higher than the last.

    Between cells of one column it bends to the side: upward it would be a mere line.
    """
    (x1, y1), (x2, y2) = grid.middle(cell), grid.middle(twin)
    if abs(x1 - x2) < grid.pitch / 2:
        aside, lifts = grid.pitch * 0.9, (y1, y2)
    else:
        lift = min(y1, y2) - grid.pitch * 1.6 - 5 * turn
        aside, lifts = 0.0, (lift, lift)
    path = (
        f"M{number(x1)} {number(y1)}C{number(x1 + aside)} {number(lifts[0])} "
        f"{number(x2 + aside)} {number(lifts[1])} {number(x2)} {number(y2)}"
    )
    return element(
        "g",
        element("path", d=path, fill="none", class_="halo"),
        element("path", d=path, fill="none", stroke="currentColor", class_="arc"),
        element("circle", cx=x1, cy=y1, r=1.8, class_="tip"),
        element("circle", cx=x2, cy=y2, r=2.8, class_="tip"),
    )


def _in_words(memory: MemoryMap) -> str:
    told = [f"{row.blocks} blocks ({row.size}) {row.words}" for row in memory.key] or [
        "no block was held"
    ]
    arcs = (
        "Arcs lead from the first mirrored cells to the cells whose data they show."
        if memory.twins
        else ""
    )
    return f"{memory.caption} {'; '.join(told)}. {arcs}".strip()
