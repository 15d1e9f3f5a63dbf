"""The file as a whole: emptiness, repetition, stuck bits, entropy."""

import math
import random

import made_firmware as made
from hypothesis import given
from hypothesis import strategies as st

from reference.firmware.image import entropy, repeats, surface

GOOD = made.nvidia()


def test_a_whole_chip():
    found = surface(GOOD)
    assert found.size_bytes == 256 * 1024
    assert found.power_of_two
    assert found.tail_bytes >= 256 * 1024 - 84 * 1024
    assert found.ones_bytes == GOOD.count(b"\xff")
    assert found.zero_bytes == GOOD.count(b"\0")
    assert (found.repeats_bytes, found.folded_line) == (None, None)
    assert (found.stuck_ones, found.stuck_zeros) == (0, 0)
    assert found.entropy[2] > 7.5
    assert found.entropy[-1] == 0.0


def test_mirrored_halves_tell_a_smaller_chip():
    assert surface(GOOD * 2).repeats_bytes == len(GOOD)
    assert surface(GOOD * 4).repeats_bytes == len(GOOD)
    assert surface(GOOD * 2).folded_line is None
    assert surface(GOOD * 4).folded_line is None
    assert repeats(GOOD * 3) is None


def test_a_blank_chip_repeats_nothing():
    for value in (b"\xff", b"\0"):
        found = surface(value * 4096)
        assert (found.repeats_bytes, found.folded_line) == (None, None)
        assert (found.stuck_ones, found.stuck_zeros) == (0, 0)
        assert set(found.entropy) == {0.0}


def test_a_stuck_bit_shows_in_one_read():
    assert surface(bytes(n & 0xFB for n in GOOD)).stuck_zeros == 0x04
    assert surface(bytes(n | 0x20 for n in GOOD)).stuck_ones == 0x20


def test_a_stuck_bit_needs_every_byte():
    data = bytearray(n & 0xFB for n in GOOD)
    data[12345] |= 0x04
    assert surface(bytes(data)).stuck_zeros == 0


def test_a_folded_address_line_shows_in_one_read():
    for line in (2, 9, 13):
        bad = bytes(GOOD[place & ~(1 << line)] for place in range(len(GOOD)))
        assert surface(bad).folded_line == line


def test_entropy_is_shannons():
    assert entropy(bytes(range(256)) * 16, cells=1) == (8.0,)
    assert entropy(b"\x00\x01" * 512, cells=2) == (1.0, 1.0)
    noise = random.Random(5).randbytes(4096)
    shares = [noise.count(bytes([n])) / 4096 for n in range(256)]
    expected = -sum(share * math.log2(share) for share in shares if share)
    assert abs(entropy(noise, cells=1)[0] - expected) < 1e-3


@given(st.binary(min_size=1, max_size=700))
def test_any_file_has_a_surface(data):
    found = surface(data)
    assert found.ones_bytes == data.count(b"\xff")
    assert found.zero_bytes == data.count(b"\0")
    assert all(0.0 <= value <= 8.0 for value in found.entropy)
    assert len(found.entropy) <= 64
    if found.repeats_bytes:
        assert data == data[: found.repeats_bytes] * (len(data) // found.repeats_bytes)
