"""The file as a whole: size, emptiness, repetition, stuck bits, entropy.

Knows no format. What a repeated half or a stuck bit means for a verdict is judged in
`findings.py`.
"""

import math
from collections import Counter
from typing import Final

from reference.firmware import lines
from reports.firmware_report import Surface

_CELLS: Final = 64
_SAMPLE: Final = 2**21
"""At most so many bytes are counted for entropy: all of a usual chip."""


def surface(data: bytes) -> Surface:
    """Return what the bytes show before any of them is understood."""
    size = len(data)
    blank = lines.uniform(data) is not None
    ones, zeros = (0, 0) if blank else lines.stuck_bits(data)
    tail = data.rstrip(b"\xff") if data.endswith(b"\xff") else data.rstrip(b"\0")
    unit = None if blank else repeats(data)
    return Surface(
        size_bytes=size,
        power_of_two=size & (size - 1) == 0,
        ones_bytes=size - len(data.translate(None, b"\xff")),
        zero_bytes=size - len(data.translate(None, b"\0")),
        tail_bytes=size - len(tail),
        repeats_bytes=unit,
        folded_line=None if blank else lines.folded_line(data[:unit]),
        stuck_ones=ones,
        stuck_zeros=zeros,
        entropy=entropy(data),
    )


def repeats(data: bytes) -> int | None:
    """Return the least power of two after which the content repeats, if any."""
    found, size = None, len(data)
    if size & (size - 1):
        return None
    while size > 1 and data[: size // 2] == data[size // 2 : size]:
        size //= 2
        found = size
    return found


def entropy(data: bytes, cells: int = _CELLS) -> tuple[float, ...]:
    """Return Shannon's entropy in bits a byte of each of `cells` equal stretches.

    Of a large file only the beginning of each stretch is counted.
    """
    step = max(1, -(-len(data) // cells))
    most = max(1, _SAMPLE // cells)
    return tuple(
        _entropy(data[start : start + min(step, most)])
        for start in range(0, len(data), step)
    )


def _entropy(data: bytes) -> float:
    whole = len(data)
    total = sum(count * math.log2(whole / count) for count in Counter(data).values())
    return min(8.0, round(total / whole, 3))
