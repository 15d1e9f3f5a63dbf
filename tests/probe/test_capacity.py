"""The capacity proof: which blocks are taken, why it ends, what it proves.

The GeForce GTX 970's last 512 MiB at 1/7 of the speed: NVIDIA's statement of January
2015, from memory. The march pattern: van de Goor, "Testing Semiconductor Memories".
"""

import pytest
from fake_card import GIB, MIB, FakeCard, cells
from hypothesis import given
from hypothesis import strategies as st

from probe.capacity import Proof, prove, second_pass
from probe.device import Census
from probe.errors import CardError
from probe.events import MapChanged, Progressed
from probe.practice import conditions


def proof_on(card, link_rate=None, **more):
    proof = Proof(card, lambda _: None, **more)
    if link_rate is not None:
        proof.link(link_rate)
    return proof


def whole(card, **more):
    proof = proof_on(card, **more)
    prove(proof, lambda _name, _title, work: work())
    return proof.result()


def taken(card, **more):
    proof = proof_on(card, **more)
    proof.take()
    return proof


@pytest.mark.parametrize("memory", [256 * MIB, 2 * GIB, 8 * GIB, 80 * GIB, 141 * GIB])
def test_the_claim_is_cut_into_at_least_64_blocks(memory):
    card = FakeCard(memory)
    proof = taken(card)
    assert proof.ended_by == "whole claim held"
    assert proof.covered_bytes == memory
    assert len(card.sizes) >= 64
    assert card.sizes == sorted(card.sizes, reverse=True)
    assert all(size & (size - 1) == 0 for size in card.sizes)
    assert card.sizes[0] <= GIB


@given(
    memory=st.integers(MIB, 200 * GIB),
    granted=st.integers(0, 200 * GIB),
    largest=st.integers(0, 4 * GIB),
    limit=st.none() | st.integers(MIB, 300 * GIB),
)
def test_taking_is_dense_and_its_end_is_named(memory, granted, largest, limit):
    card = FakeCard(memory, granted=granted, largest=max(largest, memory // 4096))
    proof = taken(card, limit_bytes=limit)
    covered = proof.covered_bytes
    assert covered <= min(memory, limit or memory)
    assert covered % MIB == 0
    assert [each.block.first_cell for each in proof.held] == [
        cells(sum(card.sizes[:at])) for at in range(len(card.sizes))
    ]
    whole_mib = min(memory, limit or memory) // MIB * MIB
    if covered == whole_mib:
        limited = limit is not None and limit < memory
        assert proof.ended_by == ("limit asked for" if limited else "whole claim held")
    else:
        assert proof.ended_by == "driver refused"
        assert proof.refusal == "Card: the driver gave no more (NO)"
        # nothing of a MiB or more was left on the table
        assert granted - covered < MIB or card.facts.largest_block_bytes < MIB


def test_blocks_halve_down_to_one_mib():
    card = FakeCard(8 * GIB, granted=3 * GIB + 37 * MIB)
    proof = taken(card)
    assert proof.covered_bytes == 3 * GIB + 37 * MIB
    assert [size // MIB for size in card.sizes[24:]] == [32, 4, 1]
    assert min(card.asked) == MIB
    assert proof.ended_by == "driver refused"


def test_a_refusal_that_smaller_blocks_overcome_is_no_end():
    card = FakeCard(8 * GIB, largest=16 * MIB)
    proof = taken(card)
    assert proof.ended_by == "whole claim held"
    assert max(card.asked) == 16 * MIB


@pytest.mark.parametrize(
    ("memory", "display", "kind", "margin"),
    [
        (8 * GIB, True, "gpu", int(8 * GIB * 0.04)),
        (2 * GIB, True, "gpu", 256 * MIB),
        (8 * GIB, None, "gpu", 128 * MIB),
        (GIB, None, "gpu", int(GIB * 0.04)),
        (8 * GIB, False, "gpu", 0),
        (8 * GIB, None, "cpu", 0),
    ],
)
def test_a_display_keeps_its_margin(memory, display, kind, margin):
    card = FakeCard(memory, drives_display=display, kind=kind)
    result = whole(card)
    assert result.margin_bytes == margin
    assert result.covered_bytes == (memory - margin) // MIB * MIB
    assert result.ended_by == "whole claim held"


def test_a_driver_that_gives_nothing_is_an_error_in_words():
    with pytest.raises(CardError) as caught:
        whole(FakeCard(8 * GIB, granted=0))
    assert str(caught.value) == (
        "Card: its driver gave no memory at all: Card: the driver gave no more (NO)"
    )


def test_the_pc_is_not_taken_down_with_the_card():
    card = FakeCard(8 * GIB)
    proof = taken(card, host_available=lambda: 16 * GIB - card.held * 4)
    assert proof.ended_by == "host memory"
    assert 0 <= proof.covered_bytes - 3.5 * GIB <= 128 * MIB  # an eighth is left


def test_a_pc_with_little_memory_can_still_test_a_card():
    proof = taken(FakeCard(8 * GIB), host_available=lambda: 300 * MIB)
    assert proof.ended_by == "whole claim held"


def test_a_processor_takes_half_of_what_is_free():
    card = FakeCard(8 * GIB, kind="cpu", unified_memory=True)
    proof = taken(card, host_available=lambda: 6 * GIB - card.held)
    assert proof.ended_by == "host memory"
    assert 3 * GIB <= proof.covered_bytes < 3.2 * GIB


def test_a_pc_that_runs_out_at_once_is_said():
    answers = iter([8 * GIB, 0])
    with pytest.raises(CardError, match="the PC has too little memory free; close"):
        whole(FakeCard(), host_available=lambda: next(answers))


def test_the_march_goes_up_up_down_down():
    result = whole(FakeCard(GIB))
    steps = [(one.name, one.upward, one.complemented) for one in result.passes]
    assert steps == [
        ("write", True, False),
        ("verify", True, False),
        ("turn", False, True),
        ("verify", False, True),
    ]
    assert [one.bytes_moved // GIB for one in result.passes] == [1, 1, 2, 1]


def test_wrong_cells_are_read_once_more():
    card = FakeCard(GIB)
    card.census_of = lambda block: Census(
        intact=block.cells - (block.number == 3), failing=int(block.number == 3),
        first_wrong=7 if block.number == 3 else None,
        last_wrong=7 if block.number == 3 else None,
        any_flips=(0, 0, 4, 0), all_flips=(0, 0, 4, 0),
    )  # fmt: skip
    result = whole(card)
    assert [one.name for one in result.passes].count("verify") == 3
    block = result.blocks[3]
    assert block.state == "failing"
    assert block.flips.first_byte == block.flips.last_byte
    assert block.flips.first_byte == block.offset_bytes + 7 * 16
    assert result.proven_bytes == GIB - 16


def test_a_driver_that_skips_work_is_no_fake():
    card = FakeCard(GIB)
    card.census_of = lambda block: Census(intact=block.cells // 2)
    with pytest.raises(CardError, match="it does not run what it is given"):
        whole(card)


@given(
    intact=st.lists(
        st.tuples(st.integers(0, 65536), st.integers(0, 65536)), min_size=4, max_size=4
    )
)
def test_proven_is_the_worst_reading_of_all_blocks_together(intact):
    card = FakeCard(4 * MIB)
    reading = [0]

    def census(block):
        good = intact[block.number][0 if reading[0] < 4 else 1]
        reading[0] += 1
        return Census(intact=good, mirrored=block.cells - good)

    card.census_of = census
    result = whole(card)
    first, rest = (sum(good[at] for good in intact) for at in (0, 1))
    assert result.proven_bytes == min(first, rest) * 16


def test_while_the_first_reading_goes_on_what_it_found_counts():
    card = FakeCard(GIB)
    proof = proof_on(card)
    proof.take()
    proof.write()
    assert proof.result().proven_bytes == 0

    def stop(block):
        if block.number == 32:
            raise KeyboardInterrupt
        return Census(intact=block.cells)

    card.census_of = stop
    with pytest.raises(KeyboardInterrupt):
        proof.verify()
    result = proof.result()
    assert result.proven_bytes == 32 * 16 * MIB
    assert [block.state for block in result.blocks].count("unreached") == 32
    assert [one.name for one in result.passes] == ["write"]


def with_slow(card, slow, rate):
    """Let blocks from a share of the memory on run at another rate."""
    limit = cells(int(card.facts.memory_bytes * slow))
    card.speed_of = lambda b: rate if b.first_cell >= limit else card.memory_rate


@pytest.mark.parametrize("real", [1 / 2, 1 / 4, 1 / 8, 1 / 24, 1 / 32])
def test_blocks_at_the_links_speed_are_spilled(real):
    card = FakeCard(8 * GIB)
    card.memory_rate = 200e9
    with_slow(card, real, 12e9)
    result = whole(card, link_rate=12e9)
    spilled = [block for block in result.blocks if block.state == "spilled"]
    assert result.spilled_bytes == sum(block.size_bytes for block in spilled)
    assert abs(result.proven_bytes - 8 * GIB * real) <= 128 * MIB
    assert result.proven_bytes + result.spilled_bytes == 8 * GIB


@pytest.mark.parametrize(
    ("kind", "rate", "real_rate"),
    [
        ("hollow", 500e9, 10e9),  # nothing answers at once: no measure of memory
        ("hollow", 1e9, 200e9),  # each access waits for an answer that never comes
        ("mirrored", 1e9, 200e9),
    ],
)
def test_what_keeps_no_data_does_not_lie_in_the_pcs_memory(kind, rate, real_rate):
    card = FakeCard(8 * GIB)
    card.memory_rate = real_rate
    with_slow(card, 1 / 4, rate)
    card.census_of = lambda block: (
        Census(intact=block.cells)
        if block.first_cell < cells(2 * GIB)
        else Census(**{kind: block.cells})
    )
    result = whole(card, link_rate=12e9)
    assert result.spilled_bytes == 0
    assert {block.state for block in result.blocks} == {"proven", kind}
    assert result.proven_bytes == 2 * GIB


@pytest.mark.parametrize(("slow_for", "spilled"), [(4, 0), (10**6, 2)])
def test_few_slow_blocks_are_timed_again(slow_for, spilled):
    """Something that came between in every pass is gone when it is looked at again."""
    card = FakeCard(8 * GIB)
    card.memory_rate = 200e9
    seen = {7: 0, 40: 0}

    def speed(block):
        if block.number not in seen:
            return card.memory_rate
        seen[block.number] += 1
        return 10e9 if seen[block.number] <= slow_for else card.memory_rate

    card.speed_of = speed
    result = whole(card, link_rate=12e9)
    assert result.spilled_bytes == spilled * 128 * MIB
    assert len(result.passes) == 4
    assert sum(pass_.bytes_moved for pass_ in result.passes) == 5 * 8 * GIB


def test_many_slow_blocks_need_no_second_look():
    card = FakeCard(8 * GIB)
    card.memory_rate = 200e9
    with_slow(card, 7 / 8, 12e9)
    names = []

    def phase(name, _title, work):
        names.append(name)
        work()

    prove(proof_on(card, link_rate=12e9), phase)
    assert names == ["take", "write", "verify", "turn", "verify complement"]


def test_a_slow_last_part_alone_is_not_spilled():
    """As the GTX 970's: 196 GB/s, the last eighth at 28, behind a link of 12."""
    card = FakeCard(4 * GIB)
    card.memory_rate = 196e9
    with_slow(card, 7 / 8, 28e9)
    result = whole(card, link_rate=12e9)
    assert result.spilled_bytes == 0
    assert result.proven_bytes == 4 * GIB


def test_memory_hardly_faster_than_the_link_is_not_spilled():
    """As an old card with 64 bits of DDR3: 14 GB/s behind a link of 12."""
    card = FakeCard(GIB)
    card.memory_rate = 14e9
    assert whole(card, link_rate=12e9).spilled_bytes == 0


def test_without_a_link_there_is_nothing_to_spill_over():
    card = FakeCard(8 * GIB, unified_memory=True)
    with_slow(card, 1 / 4, 1e9)
    assert whole(card, link_rate=1e9).spilled_bytes == 0
    card = FakeCard(8 * GIB)
    with_slow(card, 1 / 4, 1e9)
    assert whole(card).spilled_bytes == 0


@pytest.mark.parametrize("claimed", [256 * MIB, GIB, 3 * GIB, 24 * GIB])
@pytest.mark.parametrize("name", ["mirrored", "hollow", "spilled"])
def test_a_quarter_is_real_whatever_the_size(name, claimed):
    card = conditions.open_practice(name, claimed)
    result = whole(card, link_rate=12e9)
    assert result.proven_bytes == claimed // 4
    states = [block.state for block in result.blocks]
    far = {"mirrored", "hollow", "spilled"}
    assert {state for state in states if state in far} == {name}
    assert states.index(name) == sum(
        block.offset_bytes < claimed // 4 for block in result.blocks
    )


def test_mirrored_blocks_name_the_distance():
    result = whole(conditions.open_practice("mirrored"))
    distances = {block.mirror_distance_bytes for block in result.blocks}
    assert distances - {None}
    assert all(one % (2 * GIB) == 0 for one in distances if one is not None)


def test_each_round_has_its_own_seed():
    proof = taken(FakeCard(GIB))
    first = proof.nonce
    proof.renew()
    assert proof.nonce != first
    assert proof.result().nonce == f"{proof.nonce:016x}"
    assert Proof(FakeCard(), print).nonce != Proof(FakeCard(), print).nonce


def test_titles_tell_the_phases_apart():
    titles = []

    def phase(_name, title, work):
        titles.append(title)
        work()

    proof = proof_on(FakeCard(GIB))
    prove(proof, phase)
    second_pass(proof, phase, "round 2", "verifying turned")
    assert titles == [
        "Taking memory",
        "Memory, first pass: writing",
        "Memory, first pass: verifying",
        "Memory, second pass: turning",
        "Memory, second pass: verifying",
        "Memory, round 2: turning",
        "Memory, round 2: verifying turned",
    ]
    assert max(map(len, titles)) <= 34


def test_progress_ends_at_all_and_maps_fill():
    events = []
    proof = Proof(conditions.open_practice("mirrored"), events.append)
    prove(proof, lambda _name, _title, work: work())
    for event in events:
        if isinstance(event, Progressed):
            assert 0 <= event.done <= event.total
    maps = [event.states for event in events if isinstance(event, MapChanged)]
    assert set(maps[0]) == {None}
    assert set(maps[-1]) == {"proven", "mirrored"}
