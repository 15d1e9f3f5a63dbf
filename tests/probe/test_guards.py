"""What stops a run to protect the card, and what innocent cards never stop for.

The H100's readings are those of the golden record, measured.
"""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe.guards import Guard, display_margin
from reference.rules.memory import PROVEN
from reports import codec
from reports.record import CardIdentity, Sample

CARD = "GeForce GTX 1070"
LIMIT = 94.0


def at(seconds, heat, fan=None):
    return Sample(
        at_seconds=float(seconds), phase="x", temperature_c=heat, fan_percent=fan
    )


def fed(samples, limit=LIMIT):
    guard = Guard(CARD, limit)
    for sample in samples:
        guard.feed(sample)
    return guard


def heats(*degrees, fan=60.0):
    return [at(second, heat, fan) for second, heat in enumerate(degrees)]


def test_two_readings_at_the_cards_own_limit_stop_it():
    guard = Guard(CARD, LIMIT)
    assert guard.feed(at(0, 94.0)) is None
    said = guard.feed(at(1, 95.0))
    assert guard.stopped == said
    assert said == (
        "GeForce GTX 1070: stopped at 95 °C to protect the card (it slows itself down "
        "from 94 °C on); let it cool, clean its cooler, see that air reaches it, and "
        "test again"
    )
    assert guard.notes() == ()


def test_a_card_that_names_no_limit_stops_at_90():
    assert fed(heats(89.9, 89.9, 89.9), None).stopped is None
    said = fed(heats(90, 90), None).stopped
    assert "at 90 °C to protect the card (90 °C is the limit of a card that" in said


def test_one_wild_reading_stops_nothing():
    assert fed(heats(60, 149, 61, 120, 60, 94, 93.9, 94)).stopped is None


def test_a_missing_reading_between_two_hot_ones_does_not_hide_them():
    assert fed([at(0, 95.0), at(1, None), at(2, 95.0)]).stopped


@pytest.mark.parametrize("absurd", [-1.0, 151.0, 255.0, 65535.0, float("nan")])
def test_what_no_card_can_have_is_not_believed_and_said_once(absurd):
    guard = fed(heats(60, absurd, absurd, absurd))
    assert guard.stopped is None
    (note,) = guard.notes()
    assert note.startswith(f"{CARD}: a temperature of {absurd:.0f} °C is not believed")
    guard.feed(at(9, absurd))
    assert guard.notes() == ()


def test_an_absurd_reading_between_two_hot_ones_does_not_hide_them():
    assert fed(heats(95, 255, 95)).stopped


@pytest.mark.parametrize("limit", [0.0, -1.0, 59.9, 126.0, 255.0])
def test_a_limit_that_no_card_has_is_replaced_and_said_once(limit):
    guard = Guard(CARD, limit)
    assert guard.limit_c == 90
    (note,) = guard.notes()
    assert note == (
        f"{CARD}: a slowdown limit of {limit:.0f} °C is not believed; 90 °C counts "
        "instead"
    )
    assert guard.notes() == ()


def test_once_stopped_it_stays_so():
    guard = fed(heats(95, 95))
    said = guard.stopped
    assert guard.feed(at(9, 30.0, 50.0)) == said


def test_a_standing_fan_while_it_gets_hotter():
    rising = [at(second, 76 + 0.6 * second, 0.0) for second in range(16)]
    guard = Guard(CARD, 91.0)
    said = [guard.feed(sample) for sample in rising]
    first = next(number for number, one in enumerate(said) if one)
    assert first == 11  # ten seconds, and one reading that agrees
    assert said[first] == (
        "GeForce GTX 1070: stopped at 83 °C to protect the card (its fan stands at 0 % "
        "while it becomes hotter); see whether the fan turns freely and is plugged in, "
        "give a board without fans a stream of air, and test again"
    )


@pytest.mark.parametrize(
    "samples",
    [
        pytest.param(
            [at(s, 76 + 0.6 * s) for s in range(20)], id="a board that tells of no fan"
        ),
        pytest.param(
            [at(s, min(35 + 2 * s, 60), 0.0) for s in range(60)]
            + [at(60 + s, 62.0 + s / 10, 35.0) for s in range(60)],
            id="a fan that rests while the card is cool",
        ),
        pytest.param(
            [at(s, 82.0 + s % 2, 0.0) for s in range(600)],
            id="a board without fans that holds its heat",
        ),
        pytest.param(
            [at(s, 78 + 0.05 * s, 0.0) for s in range(200)],
            id="a board without fans that warms up slowly",
        ),
        pytest.param(
            [at(s, 76 + 2 * s, 0.0) for s in range(6)]
            + [at(6 + s, 87.0, 40.0) for s in range(30)],
            id="a fan that starts late",
        ),
        pytest.param(
            [at(s, 60 + s, 1.0) for s in range(34)], id="a fan that hardly turns"
        ),
        pytest.param(
            [at(s, 88.0 - s / 10, 0.0) for s in range(60)],
            id="a card that cools down after its load",
        ),
        pytest.param([at(s, 70 + s / 2, -1.0) for s in range(40)], id="fan of -1 %"),
    ],
)
def test_innocent_fans_stop_nothing(samples):
    assert fed(samples, 99.0).stopped is None


def test_a_clock_that_starts_again_forgets_the_fan():
    first = [at(50 + s, 85 + s / 2, 0.0) for s in range(9)]
    again = [at(s, 92 + s / 4, 0.0) for s in range(5)]
    assert fed(first + again, 99.0).stopped is None


def test_the_golden_card_runs_undisturbed(pytestconfig):
    path = pytestconfig.rootpath / "tests" / "data" / "golden" / "h100-sxm.json"
    telemetry = codec.load(path).telemetry
    guard = fed(telemetry.samples, telemetry.slowdown_c)
    assert (guard.stopped, guard.notes()) == (None, ())


def test_a_name_of_any_length_leaves_room_for_the_reason():
    guard = Guard("x" * 4096, None)
    guard.feed(at(0, 99.0))
    assert len(guard.feed(at(1, 99.0))) < 600


degrees = st.none() | st.floats(-300, 300) | st.floats(allow_nan=True)
percent = st.none() | st.floats(0, 100) | st.sampled_from([0.0])
readings = st.lists(
    st.builds(
        at,
        st.floats(0, 1e6, allow_nan=False),
        degrees,
        percent,
    ),
    max_size=60,
)
limits = st.none() | st.floats(allow_nan=True)


@given(readings, limits)
def test_whatever_is_read_it_stops_only_for_two_hot_readings(samples, limit):
    guard = fed(samples, limit)
    believed = [
        one.temperature_c
        for one in samples
        if one.temperature_c is not None and 0 <= one.temperature_c <= 150
    ]
    hot = [heat >= guard.limit_c for heat in believed]
    pair = any(one and other for one, other in pairwise(hot))
    if pair:
        assert guard.stopped
    elif guard.stopped:
        assert "fan stands" in guard.stopped
        assert sum(heat >= 75 for heat in believed) >= 2


@given(readings, limits)
def test_a_card_below_75_degrees_is_never_stopped(samples, limit):
    cool = [
        one for one in samples if one.temperature_c is None or one.temperature_c < 75
    ]
    guard = fed(cool, limit)
    assert guard.limit_c < 75 or guard.stopped is None


@given(readings, limits)
def test_reading_further_never_takes_a_stop_back(samples, limit):
    guard, before = Guard(CARD, limit), None
    for sample in samples:
        said = guard.feed(sample)
        assert before is None or said == before
        before = said
    assert len(guard.notes()) <= 2


@given(st.lists(st.floats(0, 89.9), max_size=60), st.floats(0.01, 10))
def test_no_fan_reading_no_fan_guard(heats, step):
    samples = [at(number * step, heat) for number, heat in enumerate(heats)]
    assert fed(samples, None).stopped is None


MIB, GIB = 2**20, 2**30


def margin(memory_bytes, display, kind="gpu"):
    card = CardIdentity(label=CARD, kind=kind, index=0, drives_display=display)
    return display_margin(card, memory_bytes)


@pytest.mark.parametrize(
    ("memory", "display", "kind", "left"),
    [
        (8 * GIB, True, "gpu", int(8 * GIB * 0.04)),
        (80 * GIB, True, "gpu", int(80 * GIB * 0.04)),
        (2 * GIB, True, "gpu", 256 * MIB),
        (GIB, True, "gpu", 128 * MIB),
        (256 * MIB, True, "gpu", 32 * MIB),
        (0, True, "gpu", 0),
        (8 * GIB, None, "gpu", 128 * MIB),
        (GIB, None, "gpu", int(GIB * 0.04)),
        (8 * GIB, False, "gpu", 0),
        (8 * GIB, None, "cpu", 0),
        (8 * GIB, None, "accelerator", 0),
        (8 * GIB, True, "accelerator", int(8 * GIB * 0.04)),
    ],
)
def test_what_is_left_to_a_display(memory, display, kind, left):
    assert margin(memory, display, kind) == left


@given(st.integers(0, 2**40), st.sampled_from([True, False, None]))
def test_the_margin_never_costs_a_genuine_card_its_proof(memory, display):
    left = margin(memory, display)
    assert 0 <= left <= (1 - PROVEN) * memory
    assert margin(memory, False) <= margin(memory, None) <= margin(memory, True)
