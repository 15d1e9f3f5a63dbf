"""What became of 16-byte cells that were told their own addresses: counts and flips.

The types alone, for whatever part of a record reads memory back.
"""

from reports.base import Base, Count, Word32


class CellCounts(Base, frozen=True, kw_only=True):
    """What became of the 16-byte cells of one block, one pass or one soak."""

    cells: Count
    """Cells checked."""
    intact: Count = 0
    mirrored: Count = 0
    """Cells that hold the valid tag of another address."""
    hollow: Count = 0
    """Cells of all ones, all zeros or one repeated word: nothing is there."""
    failing: Count = 0
    """Cells with a few flipped bits."""
    scrambled: Count = 0
    """Cells that hold anything else."""


class Flips(Base, frozen=True, kw_only=True):
    """Flipped bits of failing cells: which bits, and where."""

    any_mask: tuple[Word32, Word32, Word32, Word32]
    """OR of the flips, one word of the cell each."""
    all_mask: tuple[Word32, Word32, Word32, Word32]
    """AND of the flips."""
    first_byte: Count
    last_byte: Count
    """Card-wide byte offsets of the first and the last wrong cell."""
