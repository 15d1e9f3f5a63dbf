"""The tag of a cell: what the capacity proof writes, and what it must read again.

A cell is 16 bytes, four little-endian 32-bit words. Its tag is a function of the
run's nonce and of the cell's number among all cells of the proof, so that a cell that
holds the wrong tag says whose it is:

  x  the low half of the cell's number, under the nonce
  y  its high half, under the nonce and a hash of x: all bits vary from cell to cell
  z  a keyed hash of x and y
  w  the complement of z

A complemented tag has all 128 bits inverted. 88 of the bits are redundant: a random
cell passes for a tag with probability below 2^-80.

This file is the reference that `probe/kernels/capacity.cl` is tested against, and the
only other place where the function is written down.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

MIX_X = 0x9E3779B1
"""Odd multiplier next to 2^32 divided by the golden ratio."""
MIX_Y = 0x85EBCA77
MASK = 0xFFFFFFFF
HIGH_LIMIT = 256
"""Cell numbers stay below 2^40: 16 TiB of card memory."""
ONE_TO_ONE_SHIFT = 15

Words = npt.NDArray[np.uint32]


@dataclass(frozen=True)
class Key:
    """The three words that a 64-bit nonce becomes."""

    first: int
    second: int
    third: int

    @classmethod
    def of(cls, nonce: int) -> "Key":
        first, second = nonce & MASK, (nonce >> 32) & MASK
        third = (first * MIX_Y ^ ((second << 13 | second >> 19) & MASK)) & MASK
        return cls(first, second, third)


def tags(
    nonce: int, cells: npt.NDArray[np.uint64], *, complemented: bool = False
) -> Words:
    """Return the tags of the numbered cells, shape (len(cells), 4), uint32."""
    key = Key.of(nonce)
    low = (cells & np.uint64(MASK)).astype(np.uint32)
    high = (cells >> np.uint64(32)).astype(np.uint32)
    x = low ^ np.uint32(key.first)
    y = _spread(x) ^ high ^ np.uint32(key.second)
    z = (y ^ np.uint32(key.third)) * np.uint32(MIX_Y) + x
    z ^= z >> np.uint32(16)
    words = np.stack([x, y, z, ~z], axis=1)
    return ~words if complemented else words


def tag_words(nonce: int, cell: int, complemented: bool) -> tuple[int, int, int, int]:  # noqa: FBT001 - one of three plain values
    """Return one cell's tag as four integers."""
    x, y, z, w = tags(
        nonce, np.array([cell], np.uint64), complemented=complemented
    ).tolist()[0]
    return x, y, z, w


def owners(nonce: int, words: Words) -> npt.NDArray[np.int64]:
    """Return which cell's tag each row holds, in either polarity; -1 where none's.

    Shape (n, 4) in, (n,) out. Cell numbers stay below 2^40: 16 TiB of card memory.
    """
    key = Key.of(nonce)
    found = np.full(len(words), -1, np.int64)
    for complemented in (False, True):
        value = ~words if complemented else words
        low = value[:, 0] ^ np.uint32(key.first)
        high = _spread(value[:, 0]) ^ value[:, 1] ^ np.uint32(key.second)
        cell = high.astype(np.uint64) << np.uint64(32) | low.astype(np.uint64)
        right = (high < HIGH_LIMIT) & (tags(nonce, cell) == value).all(axis=1)
        found[right] = cell[right].astype(np.int64)
    return found


def _spread(x: Words) -> Words:
    product = x * np.uint32(MIX_X)
    return product ^ (product >> np.uint32(ONE_TO_ONE_SHIFT))
