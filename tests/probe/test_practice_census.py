"""The practice card's census against brute force.

The other side here stores every cell as real tag words, follows the order of accesses
one by one, and judges words by looking them up among all tags there can be. It shares
only `probe.tags.tags`, which is tested against the kernels, with what it checks.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe.device import CELL_BYTES, Census, Tagging
from probe.practice.conditions import NAMES, open_practice
from probe.practice.memory import Memory
from probe.practice.wiring import DeadChip, StuckBit, Wiring
from probe.tags import tags

NONCES = (0x0123_4567_89AB_CDEF, 0xFEDC_BA98_7654_3210, 0x5A17_0C3E_99D2_4B68)
ONES = 0xFFFFFFFF


class Brute:
    """Cells as words; `numbers` are all the cell numbers that may occur."""

    def __init__(self, wiring, numbers):
        self.wiring = wiring
        self.real = wiring.real_bytes and wiring.real_bytes // CELL_BYTES
        self.cells = {}
        self.garbage = np.random.default_rng(7)
        self.tags, self.owner = {}, {}
        ordered = sorted(set(numbers))
        for nonce in NONCES:
            for flipped in (False, True):
                rows = tags(nonce, np.array(ordered, np.uint64), complemented=flipped)
                for number, row in zip(ordered, rows.tolist(), strict=True):
                    self.tags[nonce, flipped, number] = tuple(row)
                    self.owner[nonce, tuple(row)] = number

    def place(self, address):
        if self.real is None or address < self.real:
            return address
        if self.wiring.beyond == "wraps":
            return address % self.real
        return ("host", address) if self.wiring.beyond == "spilled" else None

    def read(self, address):
        place = self.place(address)
        if place is None:
            return (ONES,) * 4
        dead = self.wiring.dead
        if (
            dead
            and isinstance(place, int)
            and (place // dead.stripe_cells) % dead.chips == dead.index
        ):
            return tuple(self.garbage.integers(0, 2**32, 4).tolist())
        words = list(self.cells.get(place, (0, 0, 0, 0)))
        for bit in self.wiring.stuck:
            if bit.cell == place:
                mask = 1 << bit.bit
                old = words[bit.word]
                words[bit.word] = old | mask if bit.high else old & (ONES ^ mask)
        return tuple(words)

    def sweep(self, action, address, cells, first_cell, tagging):
        nonce, flipped = tagging.nonce, tagging.complemented
        read = {}
        for index in range(cells)[:: -1 if action == "turn" else 1]:
            if action != "write":
                read[index] = self.read(address + index)
            if (
                action != "verify"
                and (place := self.place(address + index)) is not None
            ):
                leaves = flipped if action == "write" else not flipped
                self.cells[place] = self.tags[nonce, leaves, first_cell + index]
        return None if action == "write" else self.judged(read, first_cell, tagging)

    def judged(self, read, first_cell, tagging):
        kinds, flips, named = {}, [], {}
        for index, words in sorted(read.items()):
            own = first_cell + index
            due = self.tags[tagging.nonce, tagging.complemented, own]
            off = [a ^ b for a, b in zip(words, due, strict=True)]
            owner = self.owner.get((tagging.nonce, words))
            if not any(off):
                kinds[index] = "intact"
            elif words == (words[0],) * 4:
                kinds[index] = "hollow"
            elif owner is not None and owner != own:
                kinds[index] = "mirrored"
                named[index] = owner
            elif sum(word.bit_count() for word in off) <= 16:
                kinds[index] = "failing"
                flips.append(off)
            else:
                kinds[index] = "scrambled"
        wrong = [index for index, kind in kinds.items() if kind != "intact"]
        rows = np.array(flips or [[0] * 4], np.uint64)
        at = min(named, default=None)
        return Census(
            **{
                kind: list(kinds.values()).count(kind)
                for kind in ("intact", "mirrored", "hollow", "failing", "scrambled")
            },
            first_wrong=min(wrong, default=None),
            last_wrong=max(wrong, default=None),
            any_flips=tuple(np.bitwise_or.reduce(rows).tolist()),
            all_flips=tuple(np.bitwise_and.reduce(rows).tolist()),
            foreign_cell=named.get(at),
            foreign_at=at,
        )


@st.composite
def wirings(draw):
    real = draw(st.none() | st.integers(1, 40))
    bits = st.builds(
        StuckBit,
        cell=st.integers(0, 60),
        word=st.integers(0, 3),
        bit=st.integers(0, 31),
        high=st.booleans(),
    )
    chips = draw(st.integers(2, 5))
    dead = st.builds(
        DeadChip,
        chips=st.just(chips),
        index=st.integers(0, chips - 1),
        stripe_cells=st.integers(1, 5),
    )
    return Wiring(
        real_bytes=real and real * CELL_BYTES,
        beyond=draw(st.sampled_from(["wraps", "hollow", "spilled"])),
        stuck=tuple(draw(st.lists(bits, max_size=4))),
        dead=draw(st.none() | dead),
    )


@st.composite
def layouts(draw):
    """Blocks as (address, cells, first_cell), apart from each other."""
    blocks, address = [], draw(st.integers(0, 20))
    number = draw(st.sampled_from([0, 17, 2**32 - 20, 2**39]))
    for cells in draw(st.lists(st.integers(1, 30), min_size=1, max_size=5)):
        blocks.append((address, cells, number))
        address += cells + draw(st.sampled_from([0, 0, 1, 8]))
        number += cells
    return blocks


taggings = st.builds(Tagging, nonce=st.sampled_from(NONCES), complemented=st.booleans())
steps = st.lists(
    st.tuples(st.sampled_from(["write", "verify", "turn"]), st.booleans(), taggings),
    min_size=1,
    max_size=8,
)


@given(wirings(), layouts(), steps)
def test_any_sweeps_over_any_wiring_count_what_brute_force_counts(
    wiring, blocks, script
):
    memory = Memory(wiring)
    numbers = [first + index for _, cells, first in blocks for index in range(cells)]
    brute = Brute(wiring, numbers)
    for action, downward, tagging in script:
        for address, cells, first in blocks[:: -1 if downward else 1]:
            arguments = (action, address, cells, first, tagging)
            assert memory.sweep(*arguments) == brute.sweep(*arguments)


@given(wirings(), layouts(), taggings)
def test_the_proofs_own_sweeps_count_what_brute_force_counts(wiring, blocks, tagging):
    numbers = [first + index for _, cells, first in blocks for index in range(cells)]
    memory, brute = Memory(wiring), Brute(wiring, numbers)
    turned = replace(tagging, complemented=not tagging.complemented)
    script = [
        ("write", 1, tagging),
        ("verify", 1, tagging),
        ("turn", -1, tagging),
        ("verify", 1, turned),
        ("turn", 1, turned),
        ("verify", -1, tagging),
    ]
    for action, way, expected in script:
        for address, cells, first in blocks[::way]:
            arguments = (action, address, cells, first, expected)
            assert memory.sweep(*arguments) == brute.sweep(*arguments)


def promised(name, real):
    """What each condition promises; sound memory where not named."""
    cell = 0x1234_5678 * 4 * real // (8 << 30)
    stuck = StuckBit(cell=cell, word=2, bit=17, high=True)
    return {
        "mirrored": Wiring(real_bytes=real),
        "hollow": Wiring(real_bytes=real, beyond="hollow"),
        "spilled": Wiring(real_bytes=real, beyond="spilled"),
        "scrambled": Wiring(dead=DeadChip(chips=8, index=5)),
        "failing-cell": Wiring(stuck=(stuck,)),
    }.get(name, Wiring())


CUT_OFF = {"device-lost", "crashing-driver", "hanging-driver"}
"""Conditions whose sweeps do not come to their end."""


@pytest.mark.parametrize(
    ("name", "real", "block_bytes"),
    [
        *((name, 16 << 10, 4096) for name in NAMES if name not in CUT_OFF),
        *((name, 16 << 10, 12288) for name in ("mirrored", "hollow", "spilled")),
        ("mirrored", 64 << 10, 64 << 10),
    ],
)
def test_each_condition_counts_what_brute_force_counts(name, real, block_bytes):
    with open_practice(name, claimed=4 * real) as card:
        blocks, cell = [], 0
        share = {"busy": 0.35, "refused": 0.25}.get(name, 0.9)
        while sum(b.size_bytes for b in blocks) + block_bytes <= 4 * real * share:
            blocks.append(card.take(len(blocks), cell, block_bytes))
            cell += blocks[-1].cells
        brute = Brute(promised(name, real), range(cell))
        for action, way, nonce, flipped, some in [
            ("verify", 1, 0, False, 1),
            ("write", 1, 0, False, 1),
            ("verify", 1, 0, False, 1),
            ("turn", -1, 0, False, 1),
            ("verify", 1, 0, True, 1),
            ("write", -1, 1, True, 2),
            ("verify", 1, 1, True, 1),
            ("verify", 1, 0, False, 1),
        ]:
            tagging = Tagging(nonce=NONCES[nonce], complemented=flipped)
            walked = blocks[::way][::some]
            found = []
            card.sweep(action, walked, tagging, found.append)
            assert [swept.block for swept in found] == walked
            for block, swept in zip(walked, found, strict=True):
                expected = brute.sweep(
                    action,
                    block.handle // CELL_BYTES,
                    block.cells,
                    block.first_cell,
                    tagging,
                )
                assert swept.census == expected


def test_a_block_larger_than_the_storage_keeps_the_last_written_alias():
    # By hand: 8 cells over 3 of storage leave cells 6, 7, 5 there.
    memory = Memory(Wiring(real_bytes=3 * CELL_BYTES))
    tagging = Tagging(nonce=NONCES[0], complemented=False)
    memory.sweep("write", 0, 8, 0, tagging)
    assert memory.sweep("verify", 0, 8, 0, tagging) == Census(
        intact=3, mirrored=5, first_wrong=0, last_wrong=4, foreign_cell=6, foreign_at=0
    )


def test_a_stuck_bit_shows_in_exactly_one_polarity():
    for nonce in NONCES:
        seen = []
        for flipped in (False, True):
            bit = StuckBit(cell=5, word=1, bit=30, high=False)
            memory = Memory(Wiring(stuck=(bit,)))
            tagging = Tagging(nonce=nonce, complemented=flipped)
            memory.sweep("write", 0, 9, 0, tagging)
            seen.append(memory.sweep("verify", 0, 9, 0, tagging))
        assert sorted(census.failing for census in seen) == [0, 1]
        (failing,) = [census for census in seen if census.failing]
        assert failing.any_flips == failing.all_flips == (0, 1 << 30, 0, 0)
        assert failing.first_wrong == failing.last_wrong == 5
