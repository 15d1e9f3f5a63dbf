"""The capacity kernels against numpy, cell by cell.

The classifier here is written from the tags' description alone: it inverts nothing,
but asks `probe.tags.tags` what the cell named would hold.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from opencl_parts import CELLS, MIB, cut, held, numbers, plant

from probe import tags
from probe.device import CELL_BYTES, Tagging

pytestmark = pytest.mark.opencl

NONCE = 0x0123456789ABCDEF
PLACES = (0, 3 * CELLS, 2**32 - 4 * CELLS, 2**32, 5 * 2**32 + 2**20, 2**40 - 4 * CELLS)
"""Numbers of a block's first cell: from none to the last of 16 TiB."""
WORD = 2**32 - 1
KINDS = ("intact", "mirrored", "hollow", "failing", "scrambled")


def tagging(*, complemented, nonce=NONCE):
    return Tagging(nonce=nonce, complemented=complemented)


def sweep(card, action, blocks, *, complemented=False):
    """Return the censuses of one sweep."""
    found = []
    card.sweep(action, blocks, tagging(complemented=complemented), found.append)
    assert [each.block for each in found] == list(blocks)
    return [each.census for each in found]


@pytest.fixture(scope="module")
def block(card):
    """Return a function: hold 1 MiB as if it began at that cell."""
    made = {}

    def at(first_cell, size_bytes=MIB):
        key = first_cell, size_bytes
        if key not in made:
            made[key] = card.take(len(made), first_cell, size_bytes)
        cut(card, MIB)
        return made[key]

    return at


# ---------------------------------------------------------------- the numpy classifier


def named(nonce, words):
    """Return whose tag each cell holds, in either polarity; -1 for nobody's."""
    owner = np.full(len(words), -1, np.int64)
    for value in (words, ~words):
        low = (value[:, 0] ^ tags.tags(nonce, np.zeros(1, np.uint64))[0, 0]).astype(
            np.uint64
        )
        high = value[:, 1] ^ tags.tags(nonce, low)[:, 1]
        cell = high.astype(np.uint64) << np.uint64(32) | low
        right = (high < 256) & (tags.tags(nonce, cell) == value).all(axis=1)
        owner[right] = cell[right].astype(np.int64)
    return owner


def classify(words, own, *, complemented, nonce=NONCE):
    """Return each cell's kind (an index into KINDS), its flips, and who it names."""
    flips = words ^ tags.tags(nonce, own, complemented=complemented)
    flipped = np.unpackbits(flips.view(np.uint8), axis=1).sum(axis=1)
    owner = named(nonce, words)
    kind = np.select(
        [
            flipped == 0,
            (words[:, :2] == words[:, 2:]).all(axis=1),
            (owner >= 0) & (owner != own.astype(np.int64)),
            flipped <= 16,
        ],
        [0, 2, 1, 3],
        4,
    )
    return kind, flips, owner


def judge(census, words, own, *, complemented, nonce=NONCE):
    """Hold a census to what the classifier says, in every field."""
    kind, flips, owner = classify(words, own, complemented=complemented, nonce=nonce)
    counted = [getattr(census, name) for name in KINDS]
    assert counted == np.bincount(kind, minlength=5).tolist()
    assert census.checked == len(words)
    wrong = np.flatnonzero(kind)
    ends = (int(wrong[0]), int(wrong[-1])) if len(wrong) else (None, None)
    assert (census.first_wrong, census.last_wrong) == ends
    failing = flips[kind == 3]
    none = np.zeros(4, np.uint32)
    either = np.bitwise_or.reduce(failing, axis=0) if len(failing) else none
    each = np.bitwise_and.reduce(failing, axis=0) if len(failing) else none
    assert census.any_flips == tuple(either.tolist())
    assert census.all_flips == tuple(each.tolist())
    mirrored = kind == 1
    assert (census.foreign_at is None) == (not mirrored.any())
    if census.foreign_at is not None:
        assert mirrored[census.foreign_at]
        assert census.foreign_cell == owner[census.foreign_at]


# ------------------------------------------------------------------------------- write


@pytest.mark.parametrize("complemented", [False, True])
@pytest.mark.parametrize("first_cell", PLACES)
def test_writing_gives_the_tags(card, block, first_cell, complemented):
    held_here = block(first_cell, 4 * MIB)
    plant(card, held_here.handle, np.zeros((held_here.cells, 4), np.uint32))
    assert sweep(card, "write", [held_here], complemented=complemented) == [None]
    want = tags.tags(NONCE, numbers(held_here), complemented=complemented)
    assert np.array_equal(held(card, held_here.handle), want)


@pytest.mark.parametrize("launch_mib", [1, 2, 4, 8])
def test_the_launches_size_changes_nothing(card, block, launch_mib):
    held_here = block(2**32 - 4 * CELLS, 4 * MIB)
    plant(card, held_here.handle, np.zeros((held_here.cells, 4), np.uint32))
    cut(card, launch_mib * MIB)
    sweep(card, "write", [held_here])
    words = tags.tags(NONCE, numbers(held_here))
    assert np.array_equal(held(card, held_here.handle), words)
    rows = [0, CELLS - 1, CELLS, 3 * CELLS + 5, 4 * CELLS - 1]
    for row in rows:
        words[row, row % 4] ^= np.uint32(0b101 << row % 29)
        plant(card, held_here.handle, words[row : row + 1], row)
    for action in ("verify", "turn"):
        (census,) = sweep(card, action, [held_here])
        judge(census, words, numbers(held_here), complemented=False)
    want = tags.tags(NONCE, numbers(held_here), complemented=True)
    assert np.array_equal(held(card, held_here.handle), want)


@given(nonce=st.integers(0, 2**64 - 1), unit=st.integers(0, 2**24 - 1))
def test_any_nonce_any_place(card, block, nonce, unit):
    block(0)
    swept = card._sweeps()
    held_here = block(0)
    moved = type(held_here)(0, unit * CELLS, MIB, held_here.handle)
    swept.sweep("write", [moved], tagging(complemented=True, nonce=nonce), lambda _: 0)
    want = tags.tags(nonce, numbers(moved), complemented=True)
    assert np.array_equal(held(card, moved.handle), want)


# -------------------------------------------------------------------- verify and turn


def fault_rows(rng, kind, own, right, *, complemented):
    """Return what cells hold that have one kind of fault."""
    count = len(own)
    noise = rng.integers(2**32, size=(count, 4), dtype=np.uint32)
    other = own ^ rng.integers(1, 2**40, count, dtype=np.uint64)

    def tagged(cells, polarity=complemented, nonce=NONCE):
        return tags.tags(nonce, cells, complemented=polarity)

    made = {
        "mirror": lambda: tagged(other),
        "turned mirror": lambda: tagged(other, not complemented),
        "neighbour": lambda: tagged(own ^ np.uint64(1)),
        # a tag, but of a cell that no card can have
        "far beyond": lambda: tagged(own | np.uint64(2**40)),
        "own complement": lambda: ~right,
        "other nonce": lambda: tagged(own, nonce=NONCE + 1),
        "zeros": lambda: np.zeros_like(right),
        "ones": lambda: np.full_like(right, WORD),
        "one word": lambda: np.repeat(noise[:, :1], 4, axis=1),
        "three words": lambda: np.where(
            np.arange(4) == rng.integers(4, size=(count, 1)), noise, noise[:, :1] ^ 1
        ),
        "noise": lambda: noise,
        # z and w fit each other, and nothing else
        "half noise": lambda: np.hstack([noise[:, :3], ~noise[:, 2:3]]),
    }
    if kind in made:
        return made[kind]()
    flipped = right.copy()  # that many bits
    for row in flipped:
        for bit in rng.choice(128, kind, replace=False).tolist():
            row[bit // 32] ^= np.uint32(1 << bit % 32)
    return flipped


def spoil(rng, words, own, kind, rows, *, complemented):
    words[rows] = fault_rows(
        rng, kind, own[rows], words[rows], complemented=complemented
    )


FAULTS = (
    *("mirror", "turned mirror", "neighbour", "far beyond", "own complement"),
    *("other nonce", "zeros", "ones", "one word", "three words"),
    *("noise", "half noise"),
    *(1, 2, 15, 16, 17, 18, 40),
)
JUDGED_AS = {
    "mirror": 1,
    "turned mirror": 1,
    "neighbour": 1,
    "far beyond": 4,
    "own complement": 4,
    "other nonce": 4,
    "zeros": 2,
    "ones": 2,
    "one word": 2,
    "three words": 4,
    "noise": 4,
    "half noise": 4,
    **dict.fromkeys((1, 2, 15, 16), 3),
    **dict.fromkeys((17, 18, 40), 4),
}


def verify_and_turn(card, held_here, words, *, complemented):
    own = numbers(held_here)
    plant(card, held_here.handle, words)
    (seen,) = sweep(card, "verify", [held_here], complemented=complemented)
    judge(seen, words, own, complemented=complemented)
    assert np.array_equal(held(card, held_here.handle), words), "verify wrote"
    (turned,) = sweep(card, "turn", [held_here], complemented=complemented)
    judge(turned, words, own, complemented=complemented)
    want = tags.tags(NONCE, own, complemented=not complemented)
    assert np.array_equal(held(card, held_here.handle), want)
    (after,) = sweep(card, "verify", [held_here], complemented=not complemented)
    assert after.intact == held_here.cells
    return seen


@pytest.mark.parametrize("complemented", [False, True])
@pytest.mark.parametrize("fault", FAULTS)
def test_every_cell_spoilt_alike(card, block, fault, complemented):
    held_here = block(5 * 2**32 + 2**20)
    rows = slice(0, held_here.cells)
    if isinstance(fault, int):
        rows = slice(7, held_here.cells, 61)  # bit by bit is slow here
    own = numbers(held_here)
    words = tags.tags(NONCE, own, complemented=complemented)
    rng = np.random.default_rng(1)
    spoil(rng, words, own, fault, rows, complemented=complemented)
    census = verify_and_turn(card, held_here, words, complemented=complemented)
    spoilt = len(words[rows])
    assert getattr(census, KINDS[JUDGED_AS[fault]]) == spoilt
    assert census.intact == held_here.cells - spoilt


spots = st.tuples(
    st.sampled_from(FAULTS),
    st.integers(0, CELLS - 1),
    st.sampled_from([1, 2, 63, 64, 256, 2048]),
    st.sampled_from([1, 1, 7, 256]),
)


@given(
    faults=st.lists(spots, max_size=12),
    seed=st.integers(0, 2**32 - 1),
    first_cell=st.sampled_from([0, 2**32 - CELLS, 2**32, 2**40 - CELLS]),
    complemented=st.booleans(),
)
def test_any_mixture_of_faults(card, block, faults, seed, first_cell, complemented):
    held_here = block(first_cell)
    own = numbers(held_here)
    words = tags.tags(NONCE, own, complemented=complemented)
    rng = np.random.default_rng(seed)
    for fault, first, count, step in faults:
        many = min(count, 64) if isinstance(fault, int) else count
        rows = slice(first, min(first + many * step, CELLS), step)
        spoil(rng, words, own, fault, rows, complemented=complemented)
    verify_and_turn(card, held_here, words, complemented=complemented)


def test_a_stuck_bit_is_named_by_both_masks(card, block):
    held_here = block(0)
    words = tags.tags(NONCE, numbers(held_here))
    stuck = words[:, 2] | np.uint32(1 << 9)
    struck = int((stuck != words[:, 2]).sum())
    words[:, 2] = stuck
    census = verify_and_turn(card, held_here, words, complemented=False)
    assert census.failing == struck > CELLS // 3
    assert census.any_flips == census.all_flips == (0, 0, 1 << 9, 0)


@pytest.mark.parametrize("apart", [1, 63, 64, 256, 512, 2048, 2048 * 7 + 256])
@pytest.mark.parametrize("flips", [(0b0100, 0b0110), (0b0110, 0b0100), (0b011, 0b110)])
def test_masks_of_two_cells_wherever_they_lie(card, block, apart, flips):
    # Same work-item, same group, another group: each has its own way to the sums.
    held_here = block(0)
    words = tags.tags(NONCE, numbers(held_here))
    for row, flipped in zip((4099, 4099 + apart), flips, strict=True):
        words[row, 1] ^= np.uint32(flipped)
    census = verify_and_turn(card, held_here, words, complemented=False)
    assert census.failing == 2
    assert census.any_flips[1] == flips[0] | flips[1]
    assert census.all_flips[1] == flips[0] & flips[1]


def test_wrapped_memory_names_the_cell_that_won(card, block):
    near, far = block(0), block(2**32)
    sweep(card, "write", [near])
    plant(card, far.handle, held(card, near.handle))
    (census,) = sweep(card, "verify", [far])
    assert census.mirrored == CELLS
    assert census.foreign_cell == census.foreign_at


def test_each_blocks_counters_are_its_own(card, block):
    blocks = [block(n * CELLS) for n in (0, 1, 2, 3)]
    sweep(card, "write", blocks)
    for count, each in enumerate(blocks):
        if count:
            noise = np.arange(count * 4, dtype=np.uint32).reshape(count, 4)
            plant(card, each.handle, noise, 100 * count)
    for order in (blocks, blocks[::-1]):
        censuses = sweep(card, "verify", order)
        for each, census in zip(order, censuses, strict=True):
            judge(census, held(card, each.handle), numbers(each), complemented=False)
            assert census.scrambled == blocks.index(each)


@given(x=st.integers(0, WORD), high=st.integers(0, 255), second=st.integers(0, WORD))
def test_the_wrong_polarity_never_names_a_cell(x, high, second):
    # What lets the kernel pick a tag's polarity by one look: x M and (-1 - x) M differ
    # in their top bits whatever x is, as M - 1 is no small number.
    words = np.array([x], np.uint32)
    y = tags._spread(words) ^ np.uint32(high) ^ np.uint32(second)
    wrongly = tags._spread(~words) ^ ~y ^ np.uint32(second)
    assert wrongly[0] >= tags.HIGH_LIMIT << 8


def test_cells_are_sixteen_bytes(card, block):
    assert block(0).cells * CELL_BYTES == MIB
