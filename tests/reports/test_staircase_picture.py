"""The staircase of units as a picture: points as measured, marks, words.

The H100's times were measured on a real card (132 streaming multiprocessors: NVIDIA
H100 whitepaper, SXM5); those of the GK107 are the practice card's.
"""

from xml.etree import ElementTree as ET

import pytest
import samples
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from record_strategies import HOSTILE
from sample_parts import envelope
from sample_structure import GK107_US, H100_US, stairs

from reports.page import render_page
from reports.pictures.staircase import describe, staircase
from reports.record import Finding, Genuine, Stair, Structure

SVG = "{http://www.w3.org/2000/svg}"


def record(times, units=None, low=15, high=None, **more):
    """A record with this staircase, claimed to have `low` to `high` units."""
    built = Structure(
        units=units,
        units_low=units,
        units_high=units,
        step=1.97 if units else None,
        second_step=True if units and units > 1 else None,
        stairs=stairs(times),
    )
    one = envelope("compute_units", low, high or low, "") if low else None
    genuine = Genuine(
        model="GeForce GTX 1070",
        chips=("GP104",),
        variants=("gtx-1070",),
        envelopes=(one,) if one else (),
    )
    return replace(samples.minimal(), structure=replace(built, **more), genuine=genuine)


def parsed(made):
    return ET.fromstring(staircase(made))


def labels(root):
    return [text.text for text in root.iter(f"{SVG}text")]


def of_class(root, name):
    return [one for one in root.iter() if one.get("class") == name]


def at(one, key="x1"):
    return float(one.get(key).removesuffix("%"))


@pytest.mark.parametrize(
    ("times", "units", "words"),
    [
        (H100_US, 132, ["132 units", "twice 132", "188 µs", "twice that"]),
        (GK107_US, 2, ["2 units", "twice 2", "210 µs", "three times"]),
        ({1: 200.0, 2: 400.0, 3: 600.0, 4: 800.0}, 1, ["1 unit", "four times"]),
        (
            {1: 9.0, 4000: 9.1, 4096: 9.2, 4097: 18.1, 8192: 18.2, 8193: 27.0},
            4096,
            ["4,096 units", "twice 4,096", "9.00 µs"],
        ),
    ],
)
def test_every_point_and_both_steps_are_drawn(times, units, words):
    root = parsed(record(times, units))
    assert len(of_class(root, "point")) == len(times)
    assert set(words) <= set(labels(root))
    (line,) = of_class(root, "stairs")  # every point bears the next one out
    heights = {pair.partition(",")[2] for pair in line.get("points").split()}
    assert len(heights) >= 3
    assert len(of_class(root, "mark")) == (1 if units == 1 else 2)


def test_the_line_breaks_where_nothing_was_looked_at():
    root = parsed(record({1: 10.0, 2: 10.1, 8: 20.0, 9: 20.1, 12: 9.0}, None))
    first, second, third = of_class(root, "stairs")
    assert len(first.get("points").split()) == len(second.get("points").split()) == 4
    assert len(third.get("points").split()) == 2


def test_claim_stands_against_measurement():
    root = parsed(record(GK107_US, 2, 15, 16))
    assert "a genuine one: 15 or 16" in labels(root)
    upright = [one for one in of_class(root, "claimed") if one.get("x1") != "0%"]
    steps = [at(one) for one in of_class(root, "mark")]
    assert len(upright) == 2
    assert max(steps) < min(at(one) for one in upright)
    (band,) = of_class(root, "envelope")
    assert at(band, "x") == at(upright[0])


def test_a_genuine_card_steps_where_it_was_measured_to():
    root = parsed(record(H100_US, 132, 132))
    upright = [one for one in of_class(root, "claimed") if one.get("x1") != "0%"]
    assert [at(one) for one in upright] == [at(of_class(root, "mark")[0])]
    assert "a genuine one: 132" in labels(root)


def test_a_step_far_outside_is_told_not_drawn():
    root = parsed(record(GK107_US, 2, 132))
    assert "a genuine one: 132 →" in labels(root)
    assert all(one.get("x1") == "0%" for one in of_class(root, "claimed"))


def test_another_way_of_counting_is_not_held_against_it():
    agrees = Finding(
        rule="counted-units",
        strength="supporting",
        bearing="agrees",
        claim="66",
        measured="132",
        envelope="66",
        sentence="The chip itself runs 132 at a time, as one with 66 does.",
    )
    made = replace(record(H100_US, 132, 66), findings=(agrees,))
    assert not of_class(parsed(made), "claimed")
    assert "genuine" not in describe(made)


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (
            record(GK107_US, 2, 15, 16),
            (
                "Up to 2 work-groups together take 210 µs, one more takes 1.97 times "
                "as long: 2 units work at a time. With more than twice 2 it steps "
                "again. A genuine one (dashed) steps after 15 or 16."
            ),
        ),
        (
            record({1: 200.0, 2: 400.0, 3: 600.0}, 1, 5, 7),
            (
                "One work-group takes 200 µs, one more takes 1.97 times as long: 1 "
                "unit works at a time. A genuine one (dashed) steps after 5 to 7."
            ),
        ),
        (
            record(H100_US, 132, None, units_high=140, second_step=False),
            (
                "Up to 132 work-groups together take 188 µs, and somewhere up to 141 "
                "it takes 1.97 times as long. What comes after is not regular."
            ),
        ),
        (
            record({1 << n: 50.0 for n in range(13)}, None, None),
            (
                "Up to 4,096 work-groups together take no longer than one, 50.0 µs: "
                "without a step the units cannot be counted."
            ),
        ),
        (
            record({1: 50.0, 2: 50.0, 4: 100.0}, None, None),
            "The units could not be counted.",
        ),
        (samples.minimal(), ""),
    ],
)
def test_the_staircase_in_words(made, words):
    assert describe(made) == words
    drawn = staircase(made)
    if words:
        root = ET.fromstring(drawn)
        assert root.find(f"{SVG}desc").text == words


def test_without_a_step_the_axis_is_logarithmic():
    root = parsed(record({1 << n: 50.0 for n in range(13)}, None, None))
    places = [at(point, "cx") for point in of_class(root, "point")]
    assert places[5] == pytest.approx((places[0] + places[10]) / 2, abs=0.3)
    assert not of_class(root, "mark")


@pytest.mark.parametrize("built", [None, Structure(), Structure(units=15, step=1.97)])
def test_an_older_record_has_no_staircase(built):
    made = replace(samples.minimal(), structure=built)
    assert staircase(made) is None
    assert "How many units it has" not in render_page(made)


def test_the_page_shows_it_before_the_latency_curve():
    page = render_page(record(H100_US, 132, 132))
    assert "How many units it has" in page
    assert "One work-group fills one unit." in page
    assert "132 units work at a time" in page


@pytest.mark.parametrize("text", HOSTILE)
def test_nothing_from_outside_enters(text):
    made = record(GK107_US, 2)
    bad = replace(
        made.genuine, model=text, envelopes=(envelope("compute_units", 5, 9, text),)
    )
    assert staircase(replace(made, genuine=bad)) == staircase(record(GK107_US, 2, 5, 9))


counts = st.integers(0, 2**63 - 1) | st.integers(0, 9)
reals = st.floats(0, 1e30) | st.sampled_from((0.0, 5e-324, 1e-9, 1e30))


@given(
    st.lists(st.tuples(counts, reals), max_size=30),
    st.tuples(st.none() | counts, st.none() | counts, st.none() | counts),
    st.none() | reals,
    st.none() | st.booleans(),
    st.tuples(st.floats(-1e30, 1e30), st.floats(-1e30, 1e30))
    | st.tuples(st.integers(0, 9), st.integers(0, 9)),
)
def test_any_staircase_is_drawn_or_left_out(points, units, step, second, genuine):
    made = record({})
    built = Structure(
        units=units[0],
        units_low=units[1],
        units_high=units[2],
        step=step,
        second_step=second,
        stairs=tuple(Stair(groups=a, seconds=b) for a, b in points),
    )
    claimed = envelope("compute_units", *genuine, "units")
    claim = replace(made.genuine, envelopes=(claimed,))
    made = replace(made, genuine=claim, structure=built)
    drawn = staircase(made)
    describe(made)
    if drawn is not None:
        ET.fromstring(drawn)
        assert "nan" not in drawn
        assert "inf" not in drawn
        assert len(drawn) < 100_000


def test_very_many_points_do_not_make_a_very_large_page():
    made = record({n: 1.0 + n % 7 for n in range(1, 20_000)}, 3)
    assert len(staircase(made)) < 200_000
