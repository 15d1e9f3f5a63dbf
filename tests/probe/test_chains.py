"""The chains' ends against exact rational arithmetic (Python's fractions)."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe import chains

moderate = st.floats(-4.0, 4.0).filter(lambda v: v == 0 or abs(v) > 1e-4)


def rounded(value: Fraction, kind: type[np.floating]) -> np.floating:
    """Round a fraction once: exact below, nearest even above a tie by construction."""
    if kind is np.float64:
        return np.float64(value.numerator / value.denominator)
    near = kind(value.numerator / value.denominator)
    options = [near, np.nextafter(near, kind(9)), np.nextafter(near, kind(-9))]
    best = min(abs(Fraction(float(o)) - value) for o in options)
    nearest = [o for o in options if abs(Fraction(float(o)) - value) == best]
    word = {np.float32: np.uint32, np.float16: np.uint16}[kind]
    return min(nearest, key=lambda o: int(o.view(word)) & 1)


@pytest.mark.parametrize(
    ("kind", "fma"),
    [
        (np.float16, chains.fma16),
        (np.float32, chains.fma32),
        (np.float64, chains.fma64),
    ],
)
@given(a=moderate, b=moderate, c=moderate)
def test_a_fused_multiply_add_rounds_once(kind, fma, a, b, c):
    x, y, z = kind(a), kind(b), kind(c)
    exact = Fraction(float(x)) * Fraction(float(y)) + Fraction(float(z))
    if exact != 0 and abs(exact) < Fraction(1, 10**3):
        return  # near underflow of fp16: outside what the chains use
    got = fma(np.array([x]), np.array([y]), np.array([z]))[0]
    assert got == rounded(exact, kind)


def test_the_fp64_chain_equals_rational_arithmetic():
    seed = chains.logistic_seeds(np.float64)[5, 2]
    r, c = Fraction(3.9), Fraction(0.0001)
    x = Fraction(float(seed))
    for _ in range(chains.STEPS):
        u = Fraction(float(-x * x + x))  # Fraction to float rounds correctly
        x = Fraction(float(u * r + c))
    want = np.float64(float(x)).view(np.uint64)
    assert chains.logistic_ends(np.float64)[5, 2] == want


@pytest.mark.parametrize(
    ("kind", "mantissa", "least"),
    [(np.float16, 10, 0.75), (np.float32, 23, 0.97), (np.float64, 52, 0.98)],
)
def test_a_flipped_bit_is_still_there_at_the_end(kind, mantissa, least, monkeypatch):
    # Where the map is flat (x near 1/2) the last bits of a value do not count; every
    # other single flip of the mantissa must reach the end of the chain.
    right = chains.logistic_ends(kind)
    seeds = chains.logistic_seeds(kind)
    words = seeds.view(chains._UNSIGNED[seeds.dtype.itemsize])
    bits = np.random.default_rng(3).integers(0, mantissa, words.shape)
    words ^= (1 << bits).astype(words.dtype)
    monkeypatch.setattr(chains, "logistic_seeds", lambda _: seeds)
    assert (chains.logistic_ends(kind) != right).mean() >= least


def test_chains_do_not_collapse():
    for ends in (
        chains.logistic_ends(np.float32),
        chains.logistic_ends(np.float64),
        chains.integer_ends(),
        chains.walk_ends(),
    ):
        assert len(np.unique(ends)) >= 0.98 * ends.size


def test_the_shelf_is_summed_from_every_place():
    table = chains.shelf().astype(np.uint64)
    place, total = 7, np.zeros(4, np.uint64)
    for _ in range(chains.STEPS):
        total += table[place]
        place = int(place + table[place, 0]) % chains.TABLE
    assert (chains.shelf_ends()[7] == (total & 0xFFFFFFFF)).all()
