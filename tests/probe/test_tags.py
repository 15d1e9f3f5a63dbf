"""Properties of the cells' tags, against theory."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe import tags

nonces = st.integers(0, 2**64 - 1)
cells = st.integers(0, 2**40 - 1)


@given(nonces, cells, st.booleans())
def test_a_tag_names_its_cell_in_either_polarity(nonce, cell, complemented):
    words = np.array([tags.tag_words(nonce, cell, complemented)], np.uint32)
    assert tags.owners(nonce, words).tolist() == [cell]


@given(nonces, cells)
def test_the_complement_inverts_all_128_bits(nonce, cell):
    plain = tags.tag_words(nonce, cell, False)
    turned = tags.tag_words(nonce, cell, True)
    assert all(a ^ b == tags.MASK for a, b in zip(plain, turned, strict=True))


@given(nonces, cells, st.integers(0, 127))
def test_one_flipped_bit_is_never_a_tag(nonce, cell, bit):
    words = np.array([tags.tag_words(nonce, cell, False)], np.uint32)
    words[0, bit // 32] ^= np.uint32(1 << bit % 32)
    assert tags.owners(nonce, words).tolist() == [-1]


@given(nonces, nonces, cells)
def test_another_runs_tag_names_nobody(nonce, other, cell):
    if nonce != other:
        words = np.array([tags.tag_words(other, cell, False)], np.uint32)
        assert tags.owners(nonce, words).tolist() == [-1]


def test_random_words_name_nobody():
    words = np.random.default_rng(1).integers(0, 2**32, (200_000, 4), np.uint32)
    assert (tags.owners(99, words) == -1).all()


@pytest.mark.parametrize("step", [1, 2**16, 2**32])
def test_every_bit_changes_about_half_the_time_between_neighbours(step):
    # Strict avalanche (Webster & Tavares, CRYPTO '85) asks for 1/2; the words x and
    # z/w carry address bits and their hash, so neighbours differ in 0.3 to 0.7 of
    # the bits on average, and each of the 128 bits takes both values.
    numbers = np.arange(4096, dtype=np.uint64) * np.uint64(step) % np.uint64(2**40)
    words = tags.tags(0x0123456789ABCDEF, numbers)
    bits = np.unpackbits(words.view(np.uint8), axis=1)
    if step < 2**32:
        assert 0.3 < (bits[1:] ^ bits[:-1]).mean() < 0.7
    both = tags.tags(0x0123456789ABCDEF, numbers, complemented=True)
    seen = np.concatenate([bits, np.unpackbits(both.view(np.uint8), axis=1)])
    assert (seen.min(axis=0) == 0).all()
    assert (seen.max(axis=0) == 1).all()


def test_any_two_cells_of_a_card_have_different_tags():
    # x and y alone are a one-to-one function of the cell's number.
    numbers = np.arange(2**18, dtype=np.uint64) * np.uint64(2**14 + 1)
    words = tags.tags(5, numbers)
    pairs = words[:, 0].astype(np.uint64) << np.uint64(32) | words[:, 1]
    assert len(np.unique(pairs)) == len(numbers)


def test_a_march_of_two_polarities_sees_both_values_of_every_bit():
    # MATS+ covers stuck-at faults because every cell is read as 0 and as 1
    # (van de Goor, "Testing Semiconductor Memories", 1991); so are all bits here.
    numbers = np.arange(1000, dtype=np.uint64)
    plain = tags.tags(7, numbers)
    assert ((plain ^ tags.tags(7, numbers, complemented=True)) == tags.MASK).all()
