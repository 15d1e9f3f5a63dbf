"""The soak on practice and fake cards: its finds, its ends, what it never does."""

from itertools import pairwise

import msgspec
import pytest
from fake_card import GIB, MIB, FakeCard
from hypothesis import given
from hypothesis import strategies as st

from probe.device import Block, Burst, Census
from probe.errors import CardError, DeviceLostError, MemoryRefusedError, UsageError
from probe.events import Noted, Progressed, Soaked
from probe.practice.build import Build
from probe.practice.card import PracticeCard
from probe.practice.chip import GP104
from probe.practice.conditions import open_practice
from probe.practice.heat import Cooling
from probe.practice.reported import GTX_1070
from probe.soak import (
    FIRST_SCALE,
    LAUNCH_SECONDS,
    MOST_TOLD,
    RESTS,
    TURN_SECONDS,
    Pace,
    Soaker,
    Walk,
    asked_seconds,
)
from probe.soaked import Finds
from reports.lasting import MOST_POINTS, MOST_SPOTS, Soak
from reports.record import Sample

GRANTED = 8 * GIB - 64 * MIB


def soaker_of(card, seconds=20.0, memory=GRANTED, **more):
    """Return a soaker, and the list of what it tells."""
    told = []
    sense = more.pop("sense", lambda: card.sense("soak"))
    watch = more.pop("watch", told.append)
    soaker = Soaker(card, seconds, watch, sense, memory_bytes=memory, **more)
    return soaker, told


def soaked(card, seconds=20.0, memory=GRANTED, **more):
    soaker, told = soaker_of(card, seconds, memory, **more)
    soaker.run()
    assert told[-1] == Soaked(soak=soaker.result())
    return soaker.result()


def fits(soak):
    """Whether a record could hold it: bounds are checked on reading alone."""
    return msgspec.json.decode(msgspec.json.encode(soak), type=Soak) == soak


# ------------------------------------------------------------------- a healthy card


def test_a_healthy_card_has_nothing_wrong():
    card = open_practice("as-claimed")
    soak = soaked(card, 60.0)
    assert (soak.wrong, soak.spots, soak.more_spots, soak.stopped_by) == (
        0,
        (),
        0,
        None,
    )
    assert soak.checked > 0
    assert soak.launches == sum(test.launches for test in soak.tests)
    assert {test.name for test in soak.tests} == {
        "fp32", "fp64", "fp16", "int32", "transcendental", "local_memory",
    }  # fmt: skip
    assert soak.held_bytes == GRANTED
    assert soak.cells.intact == soak.cells.cells == soak.memory_bytes // 16
    assert soak.memory_bytes >= soak.passes * soak.held_bytes > 0
    assert soak.steps == len(RESTS) * int(60.0 / TURN_SECONDS)
    assert soak.rate_end == pytest.approx(soak.rate_start, rel=0.01)
    # 15 units x 128 lanes x 2 x 1.683 GHz (NVIDIA's product page), 95.5 % reached
    assert soak.rate_start == pytest.approx(6.17e12, rel=0.01)
    assert card.sense("after").memory_used_bytes == 64 * MIB
    assert fits(soak)


@pytest.mark.parametrize("seconds", [0.5, 2.5, 8.0, 33.3, 300.0])
def test_it_lasts_as_long_as_asked(seconds):
    card = open_practice("as-claimed")
    began = card.now()
    soak = soaked(card, seconds)
    assert abs(card.now() - began - seconds) < 2.0
    assert soak.seconds == pytest.approx(seconds, abs=0.5)
    assert soak.rate_end
    assert seconds < 1.0 or (soak.steps and soak.passes)  # each has had its turn


def test_a_day_of_it_fits_a_record_and_a_journal():
    card = FakeCard()
    card.flops = 65e12
    soaker, told = soaker_of(card, 24 * 3600.0, 0, sense=lambda: None)
    bursts = card.burst

    def slow(workload, scale, meanwhile=None):
        burst = bursts(workload, scale, meanwhile)
        card.clock += 20.0  # a day in four thousand launches
        return burst

    card.burst = slow
    soaker.run()
    soak = soaker.result()
    assert len(soak.series) <= MOST_POINTS
    assert sum(isinstance(event, Soaked) for event in told) <= MOST_TOLD + 2
    assert fits(soak)


def test_no_launch_reaches_a_tenth_of_a_second():
    longest = {"burst": 0.0}
    card = open_practice("as-claimed")
    burst = card.burst

    def watched(*given):
        made = burst(*given)
        longest["burst"] = max(longest["burst"], made.seconds)
        return made

    card.burst = watched
    soaked(card, 20.0)
    assert LAUNCH_SECONDS / 2 < longest["burst"] < 0.06


def test_a_clock_that_falls_to_a_sixth_makes_no_long_launch():
    card = FakeCard()
    soaker, _ = soaker_of(card, 16.0, 0, sense=lambda: None)
    settle = card.settle

    def rest(seconds):
        settle(seconds)
        card.flops = 65e12 / 6  # out of rest, and it stays

    card.settle = rest
    soaker.run()
    assert max(seconds for _, _, seconds in card.launches) < 0.1


def test_it_tells_how_far_it_is_and_what_it_has_found():
    card = open_practice("unstable")
    soaker, told = soaker_of(card, 30.0)
    soaker.run()
    shown = [event for event in told if isinstance(event, Progressed)]
    assert 30 < len(shown) < 90
    assert [event.done for event in shown] == sorted(event.done for event in shown)
    assert all(event.total == 30.0 >= event.done for event in shown)
    assert shown[-1].figure.endswith(" wrong")
    assert "°C, 6.17 TFLOP/s" in shown[-1].figure
    facts = [event.soak for event in told if isinstance(event, Soaked)]
    assert 5 < len(facts) < 30
    seconds = [soak.seconds for soak in facts]
    assert max(b - a for a, b in pairwise(seconds)) < 6.0
    assert all(map(fits, facts))


# ------------------------------------------------------------------------ what is wrong


def test_wrong_results_are_counted_and_placed():
    soak = soaked(open_practice("unstable"))
    by_name = {test.name: test.wrong for test in soak.tests}
    assert soak.wrong == by_name.pop("fp32") > 100
    assert not any(by_name.values())
    assert {spot.kind for spot in soak.spots} == {"results"}
    # All of them in the work-groups of one unit of fifteen.
    assert {spot.group % 15 for spot in soak.spots} == {7}
    assert len(soak.spots) == 16
    assert sum(spot.wrong for spot in soak.spots) <= soak.wrong
    assert sum(point.wrong for point in soak.series) == soak.wrong
    first = soak.spots[0]
    assert first.at_seconds < 1.0 < first.last_seconds < 20.0
    assert first.temperature_c == pytest.approx(38.0, abs=2.0)
    assert fits(soak)


def test_memory_that_fails_only_when_hot_is_found_with_place_bit_and_heat():
    soak = soaked(open_practice("weak-when-hot"), 200.0)
    (spot,) = soak.spots
    assert spot.kind == "memory"
    assert spot.temperature_c >= 55.0
    assert spot.at_seconds > 60.0
    # As built: one cell of the storage, bit 14 of word 1, stuck low.
    assert spot.first_byte == spot.last_byte == spot.flips.first_byte
    assert spot.block_bytes <= spot.first_byte < spot.block_bytes + GIB
    assert spot.flips.any_mask == spot.flips.all_mask == (0, 1 << 14, 0, 0)
    assert spot.wrong == spot.times == soak.cells.failing > 5
    assert soak.cells.intact + soak.cells.failing == soak.cells.cells
    assert soak.wrong == 0


def test_cool_the_same_card_is_sound():
    soak = soaked(open_practice("weak-when-hot"), 30.0)
    assert soak.cells.intact == soak.cells.cells
    assert soak.spots == ()


@pytest.mark.parametrize(
    ("name", "kind"), [("mirrored", "mirrored"), ("hollow", "hollow")]
)
def test_memory_that_is_not_there_is_counted_as_such_and_is_no_failure(name, kind):
    soak = soaked(open_practice(name))
    cells = soak.cells
    share = getattr(cells, kind) / cells.cells
    # 2 GiB of 8 are there.
    assert 0.7 < share < 0.999
    assert cells.failing == cells.scrambled == 0
    assert soak.spots == ()
    assert not any(point.wrong for point in soak.series)


def test_a_stuck_bit_is_one_place_however_often_it_is_read():
    soak = soaked(open_practice("failing-cell"))
    (spot,) = soak.spots
    assert spot.times == soak.cells.failing > 10
    assert spot.first_byte == 0x1234_5678 * 16
    assert spot.flips.any_mask == (0, 0, 1 << 17, 0)


def test_scrambled_cells_have_no_flips():
    soak = soaked(open_practice("scrambled"), 4.0)
    assert len(soak.spots) > 1
    spot = soak.spots[0]
    assert spot.flips is None
    assert spot.scrambled == spot.wrong > 0
    assert spot.last_byte > spot.first_byte


def test_a_dirty_cooler_shows_in_rate_clock_and_heat():
    card = PracticeCard(
        seed="dusty",
        reported=GTX_1070,
        build=Build(chip=GP104, cooling=Cooling(kelvin_per_watt=0.8, start_c=60.0)),
        claimed_bytes=8 * GIB,
    )
    soak = soaked(card, 300.0)
    assert soak.rate_end < 0.95 * soak.rate_start
    heats = [point.temperature_c for point in soak.series]
    assert heats[-1] > 83.0 > heats[0]
    clocks = [point.core_mhz for point in soak.series if point.rate]
    assert clocks[-1] < max(clocks)


# ------------------------------------------------------------------------ how it ends


def test_a_person_or_a_guard_may_stop_it_at_any_moment():
    class TooHotError(Exception):
        pass

    for error, said in (
        (KeyboardInterrupt(), "the person at the keyboard"),
        (TooHotError("it is 95 °C hot; let it cool"), "it is 95 °C hot; let it cool"),
        (TooHotError(), "TooHotError"),
    ):
        for after in (1, 2, 5, 11):
            card = open_practice("unstable")
            left = [after]

            def sense(card=card, left=left, error=error):
                left[0] -= 1
                if not left[0]:
                    raise error
                return card.sense("soak")

            soaker, told = soaker_of(card, 60.0, sense=sense)
            with pytest.raises(type(error)):
                soaker.run()
            soak = told[-1].soak
            assert soak == soaker.result()
            assert soak.stopped_by == said
            assert soak.seconds < 60.0
            assert after == 1 or soak.checked > 0
            assert card.sense("after").memory_used_bytes == 64 * MIB
            assert fits(soak)


def test_a_lost_device_leaves_what_was_found():
    soaker, told = soaker_of(open_practice("device-lost"))
    with pytest.raises(DeviceLostError):
        soaker.run()
    soak = told[-1].soak
    assert "no longer answers" in soak.stopped_by
    assert soak.launches > 0


def test_a_driver_that_does_not_count_is_refused():
    card = FakeCard()
    card.census_of = lambda block: Census(intact=block.cells - 1)
    soaker, _ = soaker_of(card, 8.0, GIB, sense=lambda: None)
    with pytest.raises(CardError, match=r"Card: its driver counted .* of .* cells in"):
        soaker.run()


@pytest.mark.parametrize(
    ("seconds", "work"), [(-1.0, 1.0), (float("inf"), 1.0), (1, 0)]
)
def test_an_account_that_cannot_be_true_is_refused(seconds, work):
    card = FakeCard()
    card.burst = lambda *_: Burst(seconds=seconds, work=work, checked=0, wrong=0)
    soaker, told = soaker_of(card, 8.0, 0, sense=lambda: None)
    with pytest.raises(CardError, match="its driver says that a launch"):
        soaker.run()
    assert told[-1].soak.stopped_by


def test_kinds_that_do_not_run_after_all_are_left_out_and_named():
    card = FakeCard()
    card.fails = {"fp64": CardError("Card: it does not build")}
    card.lacks = {"fp16": "no fp16"}
    soaker, told = soaker_of(card, 8.0, 0, sense=lambda: None)
    soaker.run()
    assert {test.name for test in soaker.result().tests} == {
        "fp32", "int32", "transcendental", "local_memory",
    }  # fmt: skip
    notes = [event.text for event in told if isinstance(event, Noted)]
    assert notes == ["Arithmetic, fp64 left out: Card: it does not build"]


def test_without_steady_arithmetic_there_is_no_soak():
    card = FakeCard()
    card.fails = {"fp32": CardError("Card: it does not build")}
    soaker, told = soaker_of(card, 8.0, 0, sense=lambda: None)
    with pytest.raises(CardError, match="does not build"):
        soaker.run()
    assert told[-1].soak.stopped_by == "Card: it does not build"


# --------------------------------------------------------------------------- the memory


def test_it_takes_no_more_than_was_held_before():
    card = FakeCard()
    soaker, _ = soaker_of(card, 2.0, 5 * GIB + 3 * MIB, sense=lambda: None)
    soaker.run()
    assert sum(card.sizes) == soaker.result().held_bytes == 5 * GIB + 3 * MIB
    assert card.held == 0


def test_a_driver_that_gives_less_now_is_taken_at_its_word():
    card = FakeCard(granted=3 * GIB + 5 * MIB)
    soaker, _ = soaker_of(card, 2.0, 6 * GIB, sense=lambda: None)
    soaker.run()
    assert soaker.result().held_bytes == 3 * GIB + 5 * MIB


def test_a_pc_that_runs_short_ends_the_taking():
    card = FakeCard()
    soaker, _ = soaker_of(
        card, 2.0, 6 * GIB, sense=lambda: None, may_take=lambda: card.held < GIB
    )
    soaker.run()
    assert soaker.result().held_bytes == GIB
    assert soaker.result().passes > 0


def test_no_memory_at_all_leaves_the_arithmetic():
    card = FakeCard(granted=0)
    soaker, _ = soaker_of(card, 8.0, GIB, sense=lambda: None)
    soaker.run()
    soak = soaker.result()
    assert (soak.held_bytes, soak.passes, soak.cells) == (0, 0, None)
    assert soak.checked > 0


def test_memory_found_missing_at_the_first_write_is_given_back_by_halves():
    card = FakeCard()
    sweep = card.sweep

    def refusing(action, blocks, tagging, done):
        if action == "write" and card.held > 2 * GIB:
            raise MemoryRefusedError("Card: no more", "NO")
        return sweep(action, blocks, tagging, done)

    card.sweep = refusing
    soaker, _ = soaker_of(card, 8.0, 8 * GIB, sense=lambda: None)
    soaker.run()
    assert soaker.result().held_bytes == 2 * GIB
    assert soaker.result().passes > 0
    assert card.held == 0


def test_all_is_written_before_any_is_read_and_walks_alternate():
    seen = []
    card = FakeCard()
    sweep = card.sweep

    def watched(action, blocks, tagging, done):
        seen.extend((action, block.number, tagging.complemented) for block in blocks)
        return sweep(action, blocks, tagging, done)

    card.sweep = watched
    card.memory_rate = 60e9  # several stretches a walk
    soaker, _ = soaker_of(card, 12.0, 4 * GIB, sense=lambda: None)
    soaker.run()
    count = 8
    walks = [seen[at : at + count] for at in range(0, len(seen), count)]
    assert walks[0] == [("write", n, False) for n in range(count)]
    assert len(walks) > 4
    for place, walk in enumerate(walks[1:-1]):
        turned = bool(place % 2)
        assert walk == [("turn", n, turned) for n in reversed(range(count))]


@given(
    sizes=st.lists(st.integers(1, 64), min_size=1, max_size=20),
    rate=st.floats(1e6, 1e12),
)
def test_walks_miss_no_block(sizes, rate):
    blocks, first = [], 0
    for number, size in enumerate(sizes):
        blocks.append(Block(number, first, size * MIB))
        first += blocks[-1].cells
    walk = Walk(blocks, rate=rate)
    for expected in (blocks, blocks[::-1], blocks[::-1]):
        action, seen, over = walk.action, [], False
        while len(seen) < len(blocks):
            chunk = walk.chunk(0.4)
            seen += chunk
            over = walk.passed(chunk, 0.1)
        assert seen == expected
        assert over == (action == "turn")


# ---------------------------------------------------------------------------- its parts


@given(st.lists(st.floats(1e-7, 10.0), max_size=60))
def test_a_pace_never_jumps(times):
    pace = Pace()
    for seconds in times:
        before = pace.scale
        pace.learn(seconds)
        assert FIRST_SCALE <= pace.scale <= before * 8.0
        if seconds > LAUNCH_SECONDS:
            assert pace.scale <= before


def test_a_pace_finds_its_target():
    pace = Pace()
    for _ in range(20):
        pace.learn(20e-6 + pace.scale * 3e-4)
    assert pace.scale * 3e-4 == pytest.approx(LAUNCH_SECONDS, rel=0.02)


def test_more_places_than_there_is_room_for_are_counted():
    finds = Finds(asked_seconds=60.0)
    for group in range(MOST_SPOTS + 10):
        burst = Burst(
            seconds=0.01, work=1.0, checked=8, wrong=3, worst_groups=((group, 3),)
        )
        finds.launch("fp32", burst, float(group))
    soak = finds.soak()
    assert len(soak.spots) == MOST_SPOTS
    assert soak.more_spots == 10
    assert soak.wrong == 3 * (MOST_SPOTS + 10)
    assert [spot.group for spot in soak.spots] == list(range(MOST_SPOTS))


def test_results_that_nobody_places_are_told_without_a_group():
    finds = Finds(asked_seconds=60.0)
    finds.sample = Sample(at_seconds=1.0, phase="soak", temperature_c=70.0)
    for at in (1.0, 2.0):
        finds.launch("int32", Burst(seconds=1, work=1, checked=9, wrong=2), at)
    (spot,) = finds.soak().spots
    assert (spot.group, spot.times, spot.wrong) == (None, 2, 4)
    assert (spot.at_seconds, spot.last_seconds, spot.temperature_c) == (1.0, 2.0, 70.0)


def test_flips_of_several_readings_add_up():
    finds = Finds(asked_seconds=60.0)
    block = Block(3, 1000, MIB)
    for first, mask in ((5, 0b110), (2, 0b011)):
        census = Census(
            failing=1, intact=block.cells - 1, first_wrong=first, last_wrong=first,
            any_flips=(mask, 0, 0, 0), all_flips=(mask, 0, 0, 0),
        )  # fmt: skip
        finds.reading(block, census, 1.0)
    (spot,) = finds.soak().spots
    assert spot.flips.any_mask == (0b111, 0, 0, 0)
    assert spot.flips.all_mask == (0b010, 0, 0, 0)
    assert (spot.first_byte, spot.last_byte) == (1002 * 16, 1005 * 16)


def test_a_soak_that_never_began_is_one():
    soak = Finds(asked_seconds=60.0).soak()
    assert (soak.checked, soak.cells, soak.rate_start, soak.series) == (
        0,
        None,
        None,
        (),
    )
    assert fits(soak)


# --------------------------------------------------------------------------- the option


@pytest.mark.parametrize(
    ("text", "depth", "seconds"),
    [
        (None, "thorough", 300.0),
        (None, "standard", None),
        (None, "quick", None),
        ("0", "thorough", None),
        ("0.5", "quick", 30.0),
        ("10", "thorough", 600.0),
        ("1440", "standard", 86400.0),
        (" 2 ", "standard", 120.0),
    ],
)
def test_how_long_is_asked_for(text, depth, seconds):
    assert asked_seconds(text, depth) == seconds


@pytest.mark.parametrize("text", ["", "ten", "-1", "nan", "inf", "1441", "1e9", "0x5"])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(UsageError, match=r"--soak: .* is no number of minutes from 0"):
        asked_seconds(text, "thorough")
