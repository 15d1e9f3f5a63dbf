"""Reads held against one another: each way in which a reader goes wrong is told."""

import hashlib
import random

import made_firmware as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reference.firmware import lines
from reference.firmware.errors import ReadError
from reference.firmware.reads import compare
from reports.firmware_report import READS_LIMIT, SIZE_LIMIT

GOOD = made.nvidia()


def one(bad, good=GOOD):
    """Compare a bad read with two good ones; return what differs."""
    found = compare([("good", good), ("bad", bad), ("again", good)])
    assert not found.identical
    assert found.agreeing == (0, 2)
    (difference,) = found.differences
    assert (difference.read, difference.against) == (1, 0)
    return difference


def test_reads_that_are_the_same():
    found = compare([("a", GOOD), ("b", GOOD), ("c", GOOD)])
    assert found.identical
    assert found.agreeing == (0, 1, 2)
    assert found.reads[0].sha256 == hashlib.sha256(GOOD).hexdigest()
    assert found.differences == ()


def test_scattered_flips_are_a_loose_contact():
    bad = bytearray(GOOD)
    places = range(777, len(GOOD), 9999)
    for place in places:
        bad[place] ^= 1 << place % 8
    difference = one(bytes(bad))
    assert difference.kind == "scattered"
    assert difference.differing_bytes == len(places)
    assert difference.risen_bits + difference.fallen_bits == len(places)
    assert (difference.first_byte, difference.last_byte) == (places[0], places[-1])
    assert "loose contact" in difference.sentence
    assert difference.map.count("few") == len({p // 2048 for p in places})


@pytest.mark.parametrize("bit", range(8))
@pytest.mark.parametrize("high", [False, True])
def test_a_data_line_that_stands_still(bit, high):
    mask = 1 << bit
    table = bytes(n | mask if high else n & ~mask for n in range(256))
    difference = one(GOOD.translate(table))
    assert (difference.kind, difference.line) == ("data line", bit)
    assert difference.bit_mask == mask
    assert f"reads as {int(high)}" in difference.sentence


@pytest.mark.parametrize(
    ("mask", "line", "said"),
    [
        (0x11, 0, "Only bits 0, 4 of a byte ever differ, and they always read as 0"),
        (0x88, 3, "data line 3 of 4 does not move"),
        (0x55, 0, "data line 0 of 2 does not move"),
        (0xAA, 1, "Only bits 1, 3, 5, 7 of a byte ever differ"),
    ],
)
def test_a_line_of_a_reader_that_takes_several_bits_at_a_time(mask, line, said):
    difference = one(bytes(n & ~mask for n in GOOD))
    assert (difference.kind, difference.line) == ("data line", line)
    assert said in difference.sentence


@pytest.mark.parametrize("line", [0, 3, 7, 8, 12, 15, 16])
@pytest.mark.parametrize("high", [False, True])
def test_an_address_line_that_stands_still(line, high):
    bit = 1 << line
    bad = bytes(
        GOOD[place | bit if high else place & ~bit] for place in range(len(GOOD))
    )
    difference = one(bad)
    assert (difference.kind, difference.line) == ("address line", line)
    assert f"stands at {int(high)}" in difference.sentence


@pytest.mark.parametrize("value", [0x00, 0xFF])
def test_a_chip_without_power(value):
    difference = one(bytes([value]) * len(GOOD))
    assert difference.kind == "blank"
    assert f"Every byte is {value:02X}" in difference.sentence
    assert set(difference.map) <= {"blank", "same"}


def test_a_blank_read_is_never_the_one_believed():
    blank = b"\xff" * len(GOOD)
    found = compare([("a", blank), ("b", blank), ("c", GOOD)])
    assert found.agreeing == (2,)
    assert {difference.kind for difference in found.differences} == {"blank"}


@pytest.mark.parametrize("value", [0x00, 0xFF])
def test_contact_lost_for_a_moment(value):
    bad = GOOD[:0x5000] + bytes([value]) * 0x3000 + GOOD[0x8000:]
    difference = one(bad)
    assert difference.kind == "dropped out"
    assert difference.first_byte >= 0x5000
    assert difference.last_byte < 0x8000
    assert "blank" in difference.map


@pytest.mark.parametrize(("lost", "offset"), [(1, -1), (7, -7), (300, -300)])
def test_bytes_that_a_reader_lost(lost, offset):
    bad = GOOD[:0x4321] + GOOD[0x4321 + lost :] + b"\xff" * lost
    difference = one(bad)
    assert (difference.kind, difference.offset_bytes) == ("shifted", offset)
    assert "lost bytes" in difference.sentence


def test_bytes_that_a_reader_added():
    bad = (GOOD[:0x4321] + b"\0\0\0" + GOOD[0x4321:])[: len(GOOD)]
    difference = one(bad)
    assert (difference.kind, difference.offset_bytes) == ("shifted", 3)


@pytest.mark.parametrize("late", [False, True])
def test_a_clock_edge_too_many(late):
    tail = int.from_bytes(GOOD[0x2000:], "big")
    size = len(GOOD) - 0x2000
    moved = tail >> 1 if late else (tail << 1) & ((1 << 8 * size) - 1)
    difference = one(GOOD[:0x2000] + moved.to_bytes(size, "big"))
    assert difference.kind == "slipped"
    assert "one bit out of step" in difference.sentence


def test_a_read_that_stops_early():
    difference = one(GOOD[: len(GOOD) // 2])
    assert difference.kind == "length"
    assert difference.differing_bytes == 0
    assert difference.map[-1] == "beyond"


def test_no_two_alike():
    noise = random.Random(3)
    reads = []
    for number in range(3):
        bad = bytearray(GOOD)
        for _ in range(20):
            bad[noise.randrange(0xE000)] ^= 0x10 << number % 2
        reads.append((str(number), bytes(bad)))
    found = compare(reads)
    assert len(found.agreeing) == 1
    assert len(found.differences) == 2


@pytest.mark.parametrize(
    ("reads", "said"),
    [
        ([], "no read was given"),
        ([("a", b"")], "a: the file is empty"),
        ([("a", b"1")] * (READS_LIMIT + 1), "17 reads: up to 16 are compared"),
        ([("a\x1b[31m", bytes(SIZE_LIMIT + 1))], "a�[31m: larger than 64 MiB"),
    ],
)
def test_what_cannot_be_compared_is_one_clear_error(reads, said):
    with pytest.raises(ReadError, match="^" + said.replace("[", r"\[")):
        compare(reads)


@given(st.lists(st.binary(min_size=1, max_size=600), min_size=1, max_size=5))
def test_any_reads_are_compared(reads):
    found = compare([(str(number), data) for number, data in enumerate(reads)])
    assert found.identical == (len(set(reads)) == 1)
    assert len(found.agreeing) + len(found.differences) == len(reads)
    for difference in found.differences:
        left, right = reads[difference.against], reads[difference.read]
        pairs = list(zip(left, right, strict=False))
        wrong = [at for at, (x, y) in enumerate(pairs) if x != y]
        assert difference.differing_bytes == len(wrong)
        if wrong:
            assert (difference.first_byte, difference.last_byte) == (
                wrong[0],
                wrong[-1],
            )
        rises = sum((y & ~x).bit_count() for x, y in pairs)
        falls = sum((x & ~y).bit_count() for x, y in pairs)
        assert (difference.risen_bits, difference.fallen_bits) == (rises, falls)


@given(st.binary(min_size=1, max_size=300))
def test_folding_is_what_a_loop_says(data):
    value = int.from_bytes(data, "little")
    every, some = 0xFF, 0
    for byte in data:
        every, some = every & byte, some | byte
    assert lines.fold(value, len(data), ones=True) == every
    assert lines.fold(value, len(data), ones=False) == some
    assert lines.stuck_bits(data) == (every, some ^ 0xFF)


@given(st.binary(min_size=8, max_size=8), st.integers(0, 5))
def test_a_folded_line_is_found(seed, line):
    bit = 1 << line
    data = bytes(seed[(place & ~bit) % 7] ^ (place & ~bit) for place in range(128))
    found = lines.folded_line(data)
    if lines.uniform(data) is None:
        assert found is not None
        assert found <= line
        assert all(data[p] == data[p ^ 1 << found] for p in range(128))
