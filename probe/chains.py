"""What the arithmetic kernels must give: exact values for `kernels/arithmetic.cl`.

Every operation is emulated with correct rounding, so that a device's result can be
compared bit for bit. Fused multiply-adds round once: the product is exact in a wider
format (fp16, fp32) or as an unevaluated sum (fp64), and the last addition rounds to
odd before the final rounding (Boldo & Melquiond, "Emulation of FMA and correctly
rounded sums: proved algorithms using rounding to odd", IEEE Trans. Computers 57,
2008).
"""

from typing import Any

import numpy as np
import numpy.typing as npt

SEEDS = 64
"""Different starting values, four chains each."""
STEPS = 512
"""Steps of a chain; two multiply-adds each in the chains of fp32, fp64, fp16, int32."""
TABLE = 512
"""Entries of the local-memory table."""
STRIDE = 33

_R, _C = 3.9, 0.0001
_UNSIGNED = {2: np.uint16, 4: np.uint32, 8: np.uint64}

Array = npt.NDArray[Any]
Doubles = npt.NDArray[np.float64]


def logistic_seeds(dtype: type[np.floating]) -> Array:
    """Return starting values in (0.02, 0.98), shape (SEEDS, 4).

    Spread by the golden ratio: x and 1 - x, which the map sends to one value, never
    both occur.
    """
    spread = np.arange(1, SEEDS * 4 + 1) * 0.6180339887498949 % 1.0
    return (0.02 + 0.96 * spread).reshape(SEEDS, 4).astype(dtype)


def logistic_ends(dtype: type[np.floating]) -> Array:
    """Return the bits after STEPS logistic steps, as unsigned words (SEEDS, 4)."""
    fma = _FUSED[np.dtype(dtype).itemsize]
    x = logistic_seeds(dtype)
    r, c = np.full_like(x, _R), np.full_like(x, _C)
    for _ in range(STEPS):
        x = fma(fma(-x, x, x), r, c)
    return x.view(_UNSIGNED[x.dtype.itemsize])


def walk_seeds() -> npt.NDArray[np.float32]:
    """Return whole numbers below 2^22 with many bits set, shape (SEEDS, 4)."""
    numbers = np.arange(SEEDS * 4, dtype=np.uint32) * np.uint32(0x9E3779B1)
    return (numbers >> np.uint32(10)).astype(np.float32).reshape(SEEDS, 4)


def walk_ends() -> npt.NDArray[np.uint32]:
    """Return the bits after the exact walk: one is gained in every two steps."""
    ends: npt.NDArray[np.float32] = walk_seeds() + np.float32(STEPS // 2)
    return ends.view(np.uint32)


def integer_seeds() -> npt.NDArray[np.uint32]:
    """Return odd starting values, shape (SEEDS, 4)."""
    numbers = np.arange(1, SEEDS * 4 + 1, dtype=np.uint32) * np.uint32(0x85EBCA77)
    return (numbers | np.uint32(1)).reshape(SEEDS, 4)


def integer_ends() -> npt.NDArray[np.uint32]:
    """Return what int32 chains end at, shape (SEEDS, 4)."""
    x = integer_seeds()
    y = ~x | np.uint32(1)
    c = x & np.uint32(0x7FFFFFFE)
    for _ in range(STEPS):
        x = x * y + c
        y = y * x + np.uint32(0x9E3779B0)
    ends: npt.NDArray[np.uint32] = x ^ (y >> np.uint32(1))
    return ends


def fold_seeds() -> npt.NDArray[np.float32]:
    """Return starting values of the transcendental walk in (0, 1.8), (SEEDS, 4)."""
    return np.linspace(0.01, 1.79, SEEDS * 4).reshape(SEEDS, 4).astype(np.float32)


def shelf() -> npt.NDArray[np.uint32]:
    """Return the local-memory table, shape (TABLE, 4); word 0 is the stride."""
    numbers = np.arange(TABLE * 4, dtype=np.uint32) * np.uint32(0x9E3779B1)
    table = numbers.reshape(TABLE, 4)
    table[:, 0] = STRIDE
    return table


def shelf_ends() -> npt.NDArray[np.uint32]:
    """Return the sum of STEPS entries from each starting place, (TABLE, 4)."""
    table = shelf()
    places = np.arange(TABLE)[:, None] + STRIDE * np.arange(STEPS)[None, :]
    ends: npt.NDArray[np.uint32] = table[places % TABLE].sum(axis=1, dtype=np.uint32)
    return ends


def _two_sum(a: Doubles, b: Doubles) -> tuple[Doubles, Doubles]:
    total = a + b
    part = total - a
    return total, (a - (total - part)) + (b - part)


def _two_product(a: Doubles, b: Doubles) -> tuple[Doubles, Doubles]:
    def split(value: Doubles) -> tuple[Doubles, Doubles]:
        scaled = value * 134217729.0  # 2^27 + 1, Veltkamp
        high = scaled - (scaled - value)
        return high, value - high

    product = a * b
    (a1, a2), (b1, b2) = split(a), split(b)
    return product, ((a1 * b1 - product) + a1 * b2 + a2 * b1) + a2 * b2


def _sum_to_odd(a: Doubles, b: Doubles) -> Doubles:
    """Add, rounding an inexact sum to the neighbour whose last bit is odd."""
    total, rest = _two_sum(a, b)
    even = (total.view(np.uint64) & np.uint64(1)) == 0
    toward = np.nextafter(total, np.copysign(np.inf, rest))
    return np.where((rest != 0) & even, toward, total)


def fma64(a: Doubles, b: Doubles, c: Doubles) -> Doubles:
    """Return a b + c rounded once, for values far from overflow and underflow."""
    product, low = _two_product(a, b)
    top, rest = _two_sum(c, low)
    high, middle = _two_sum(product, top)
    return high + _sum_to_odd(rest, middle)


def fma32(
    a: npt.NDArray[np.float32], b: npt.NDArray[np.float32], c: npt.NDArray[np.float32]
) -> npt.NDArray[np.float32]:
    """Return a b + c rounded once to fp32: the product is exact in fp64."""
    product = a.astype(np.float64) * b.astype(np.float64)
    return _sum_to_odd(product, c.astype(np.float64)).astype(np.float32)


def fma16(
    a: npt.NDArray[np.float16], b: npt.NDArray[np.float16], c: npt.NDArray[np.float16]
) -> npt.NDArray[np.float16]:
    """Return a b + c rounded once to fp16: product and sum are exact in fp64."""
    product = a.astype(np.float64) * b.astype(np.float64)
    return (product + c.astype(np.float64)).astype(np.float16)


_FUSED: dict[int, Any] = {2: fma16, 4: fma32, 8: fma64}
