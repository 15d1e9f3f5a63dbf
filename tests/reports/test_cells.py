import samples
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from reports.cells import (
    GRAVITY,
    condense,
    edges,
    starts_of,
    states_of,
    totals_of,
    twins_of,
)

GIB = 2**30
MIB = 2**20


@given(st.lists(st.sampled_from(GRAVITY), max_size=300), st.integers(1, 100))
def test_condensing_keeps_the_gravest_and_never_exceeds_the_room(states, most):
    cells = condense(states, most)
    assert len(cells) == min(len(states), most)
    if states:
        assert max(map(GRAVITY.index, cells)) == max(map(GRAVITY.index, states))


@given(st.integers(0, 500), st.integers(-3, 100))
def test_groups_cover_everything_once(count, most):
    found = edges(count, most)
    assert found[0] == 0
    assert found[-1] == count
    assert list(found) == sorted(found)


def test_one_failing_block_among_thousands_is_seen():
    states = ["proven"] * 5000
    states[3210] = "failing"
    assert condense(states, 100).count("failing") == 1


def test_memory_out_of_reach_follows_the_blocks():
    capacity = samples.mirrored_1070().capacity
    assert states_of(capacity) == ("mirrored",) * 23 + ("proven",) * 8 + ("unreached",)
    assert starts_of(capacity)[-1] == 31 * 256 * MIB


def test_what_a_driver_keeps_for_itself_is_not_drawn():
    assert "unreached" not in states_of(samples.genuine_h100().capacity)


def test_totals_stand_in_the_order_of_the_key():
    assert totals_of(samples.mirrored_1070().capacity) == (
        ("proven", 8, 2 * GIB),
        ("mirrored", 23, 23 * 256 * MIB),
        ("unreached", 1, 256 * MIB),
    )


def test_twins_are_where_the_foreign_tag_belongs():
    # 2 GiB further on: eight blocks of 256 MiB.
    assert twins_of(samples.mirrored_1070().capacity, 3) == ((0, 8), (1, 9), (2, 10))


def test_a_twin_outside_the_memory_held_is_left_out():
    capacity = samples.mirrored_1070().capacity
    far = tuple(replace(b, mirror_distance_bytes=-(2**62)) for b in capacity.blocks)
    assert twins_of(replace(capacity, blocks=far), 3) == ()
