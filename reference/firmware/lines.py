"""Which line of a bus stands still: told from bytes alone.

A data line that does not move gives one bit the same value everywhere; an address line
that does not move makes two halves of every stretch the same. Works on whole images
with bytes and integers, never byte by byte.
"""

from typing import Final

_CHUNKED: Final = 8
"""From this line on stretches are long enough to be sliced one by one."""
_PLACES: Final = 48
_SAMPLE: Final = 4096
_BYTE: Final = 8


def fold(value: int, size: int, *, ones: bool) -> int:
    """Return AND (`ones`) or OR of the `size` bytes of `value`."""
    while size > 1:
        half = (size + 1) // 2
        low = value & ((1 << _BYTE * half) - 1)
        high = value >> (_BYTE * half)
        if ones:
            missing = 2 * half - size
            high |= ((1 << _BYTE * missing) - 1) << (_BYTE * (half - missing))
            value = low & high
        else:
            value = low | high
        size = half
    return value


_WIRES: Final = {
    **{1 << line: (line, 8) for line in range(8)},
    **{0x11 << line: (line, 4) for line in range(4)},
    **{0x55 << line: (line, 2) for line in range(2)},
}
"""By the bits of a byte that it carries: a data line, and how many lines there are."""


def wire(mask: int) -> tuple[int, int] | None:
    """Return the data line that carries just these bits, and of how many it is one.

    A byte comes over eight lines at once, over four in two turns, over two in four.
    """
    return _WIRES.get(mask)


def folded_line(data: bytes) -> int | None:
    """Return the lowest address line below the highest that never matters, if any.

    A blank image has none: nothing tells its addresses apart.
    """
    top = (len(data) - 1).bit_length() - 1
    if len(data) != 1 << (top + 1) or top <= 0 or uniform(data):
        return None
    telling = _telling(data)
    for line in range(top):
        moved = any(data[place] != data[place ^ 1 << line] for place in telling)
        if not moved and _is_folded(data, line):
            return line
    return None


def _telling(data: bytes) -> tuple[int, ...]:
    """Return places at which a line that matters is likely to show."""
    size = len(data)
    first = first_difference(data, data[:1] * size)
    last = last_difference(data, data[-1:] * size)
    return (first, last, *range(0, size, -(-size // _PLACES)))


def stuck_bits(data: bytes) -> tuple[int, int]:
    """Return the bits of a byte that are 1 in every byte, and those that are 0."""
    ones, zeros = _constant(data[:: max(1, len(data) // _SAMPLE) | 1])
    if ones or zeros:
        fitting = bytes(n for n in range(256) if n & ones == ones and not n & zeros)
        others = data.translate(None, fitting)
        if others:
            more_ones, more_zeros = _constant(others)
            ones, zeros = ones & more_ones, zeros & more_zeros
    return ones, zeros


def _constant(data: bytes) -> tuple[int, int]:
    value, size = int.from_bytes(data, "little"), len(data)
    return fold(value, size, ones=True), fold(value, size, ones=False) ^ 0xFF


def stuck_line(good: bytes, bad: bytes) -> tuple[int, bool] | None:
    """Return the address line, and whether it stands at 1, that turns good into bad.

    Both have the same length. None where no single line explains every byte.
    """
    differ = places(good, bad)
    for line in range(max(len(good) - 1, 0).bit_length()):
        for high in (False, True):
            bit = 1 << line
            fits = all(
                (other := place | bit if high else place & ~bit) < len(good)
                and bad[place] == good[other]
                for place in differ
            )
            if fits and bad == _with_line(good, line, high=high):
                return line, high
    return None


def places(one: bytes, other: bytes) -> tuple[int, ...]:
    """Return some places where two equally long images differ, spread evenly."""
    found = []
    step = max(1, -(-len(one) // _PLACES))
    for start in range(0, len(one), step):
        left, right = one[start : start + step], other[start : start + step]
        if left != right:
            found.append(start + first_difference(left, right))
    return tuple(found)


def first_difference(one: bytes, other: bytes) -> int:
    """Return the first place where two equally long, different images differ."""
    low, high = 0, len(one)
    while high - low > 1:
        middle = (low + high) // 2
        if one[low:middle] == other[low:middle]:
            low = middle
        else:
            high = middle
    return low


def last_difference(one: bytes, other: bytes) -> int:
    """Return the last such place."""
    low, high = 0, len(one)
    while high - low > 1:
        middle = (low + high) // 2
        if one[middle:high] == other[middle:high]:
            high = middle
        else:
            low = middle
    return low


def uniform(data: bytes) -> int | None:
    """Return the one value that every byte has, None where they differ."""
    if data and data.count(data[:1], 0, 64) == min(len(data), 64):
        return data[0] if data == data[:1] * len(data) else None
    return None


def _is_folded(data: bytes, line: int) -> bool:
    half, step = 1 << line, 2 << line
    if line < _CHUNKED:
        return all(
            data[lane::step] == data[lane + half :: step] for lane in range(half)
        )
    return all(
        data[start : start + half] == data[start + half : start + step]
        for start in range(0, len(data), step)
    )


def _with_line(data: bytes, line: int, *, high: bool) -> bytes:
    """Return what is read where one address line stands at 0 or at 1."""
    half, step = 1 << line, 2 << line
    whole = len(data) - len(data) % step
    if line < _CHUNKED:
        out = bytearray(data)
        for lane in range(half):
            low, up = slice(lane, whole, step), slice(lane + half, whole, step)
            if high:
                out[low] = data[up]
            else:
                out[up] = data[low]
        return bytes(out)
    parts = []
    for start in range(0, whole, step):
        first = start + half if high else start
        parts += [data[first : first + half]] * 2
    return b"".join(parts) + data[whole:]
