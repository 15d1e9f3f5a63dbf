"""A census in the making: where the cells of a sweep are counted.

Knows what a device would report, and how it judges one cell by its words; nothing of
how the words came to be there.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from probe.device import Census, Tagging
from probe.tags import MASK, owners, tag_words

Kind = Literal["intact", "mirrored", "hollow", "failing", "scrambled"]
Mask = tuple[int, int, int, int]
FEW_FLIPS = 16
"""Flipped bits, of 128, up to which a cell counts as failing; as in the kernel."""


@dataclass
class Tally:
    """Counts, the ends of what is wrong, and the flips of failing cells."""

    counts: dict[Kind, int] = field(default_factory=dict)
    first_wrong: int | None = None
    last_wrong: int | None = None
    any_flips: Mask = (0, 0, 0, 0)
    all_flips: Mask = (MASK, MASK, MASK, MASK)
    foreign: tuple[int, int] | None = None
    """Index of the lowest mirrored cell, and the number that it names."""

    def add(self, kind: Kind, first: int, last: int, cells: int) -> None:
        """Count `cells` cells, the outermost at the indices given."""
        self.counts[kind] = self.counts.get(kind, 0) + cells
        if kind == "intact":
            return
        if self.first_wrong is None or first < self.first_wrong:
            self.first_wrong = first
        if self.last_wrong is None or last > self.last_wrong:
            self.last_wrong = last

    def add_foreign(self, index: int, named: int) -> None:
        """Remember whose tag a mirrored cell holds."""
        if self.foreign is None or index < self.foreign[0]:
            self.foreign = (index, named)

    def judge(self, words: Mask, index: int, own: int, tagging: Tagging) -> None:
        """Count one cell by the words it holds, in the order the kernel asks."""
        expected = tag_words(tagging.nonce, own, tagging.complemented)
        a, b, c, d = (held ^ due for held, due in zip(words, expected, strict=True))
        owner = int(owners(tagging.nonce, np.array([words], np.uint32))[0])
        kind: Kind
        if not (a or b or c or d):
            kind = "intact"
        elif words[:2] == words[2:]:
            kind = "hollow"
        elif owner not in {-1, own}:
            kind = "mirrored"
            self.add_foreign(index, owner)
        elif sum(flips.bit_count() for flips in (a, b, c, d)) <= FEW_FLIPS:
            kind = "failing"
            w, x, y, z = self.any_flips
            self.any_flips = (w | a, x | b, y | c, z | d)
            w, x, y, z = self.all_flips
            self.all_flips = (w & a, x & b, y & c, z & d)
        else:
            kind = "scrambled"
        self.add(kind, index, index, 1)

    def census(self) -> Census:
        failing = self.counts.get("failing", 0)
        at, named = self.foreign or (None, None)
        return Census(
            intact=self.counts.get("intact", 0),
            mirrored=self.counts.get("mirrored", 0),
            hollow=self.counts.get("hollow", 0),
            failing=failing,
            scrambled=self.counts.get("scrambled", 0),
            first_wrong=self.first_wrong,
            last_wrong=self.last_wrong,
            any_flips=self.any_flips,
            all_flips=self.all_flips if failing else (0, 0, 0, 0),
            foreign_cell=named,
            foreign_at=at,
        )
