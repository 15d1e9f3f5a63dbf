import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
import samples
from hypothesis import given
from record_strategies import HOSTILE, records, with_every_text

from reports.pictures.memory import TEXTURES, block_map
from reports.pictures.rates import rate_axis, rate_bar, scale_of
from reports.pictures.sensors import bands_of, link_figures, sensor_lines
from reports.pictures.staircase import staircase
from reports.record import Sample, Telemetry
from reports.summary import summarise
from reports.svg import number

SVG = "{http://www.w3.org/2000/svg}"


def pictures_of(record):
    """Every picture of a record, parsed: raises where one is not well-formed."""
    summary = summarise(record)
    found = [block_map(summary.memory)] if summary.memory else []
    scale = scale_of(summary.rates)
    if scale is not None:
        ET.fromstring(rate_axis(scale))
        found += [rate_bar(row, scale, "r") for row in summary.rates]
    if record.telemetry:
        found += [line.svg for line in sensor_lines(record.telemetry)]
    if (drawn := staircase(record)) is not None:
        found.append(drawn)
    return [ET.fromstring(svg) for svg in found]


def words_of(svg):
    title, text = svg.find(f"{SVG}title"), svg.find(f"{SVG}desc")
    return title.text, text.text


@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_every_picture_says_in_words_what_it_shows(make):
    for svg in pictures_of(make()):
        title, text = words_of(svg)
        assert len(title) > 3
        assert len(text) > 10
        assert svg.get("aria-labelledby").split() == [
            svg.find(f"{SVG}title").get("id"),
            svg.find(f"{SVG}desc").get("id"),
        ]


@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_pictures_are_the_same_every_time(make):
    once, again = ([ET.tostring(svg) for svg in pictures_of(make())] for _ in range(2))
    assert once == again


def test_the_map_draws_each_block_in_its_texture():
    svg = ET.fromstring(block_map(summarise(samples.mirrored_1070()).memory))
    cells = [use.get("href") for use in svg.iter(f"{SVG}use")]
    assert cells == (
        ["#cell-mirrored"] * 23 + ["#cell-proven"] * 8 + ["#cell-unreached"]
    )
    arcs = [path for path in svg.iter(f"{SVG}path") if path.get("class") == "arc"]
    assert len(arcs) == 3
    assert "2.00 GiB proven of 8.00 GiB" in words_of(svg)[1]


@pytest.mark.parametrize(("twin", "is_aside"), [(3, True), (4, False)])
def test_an_arc_within_a_column_bends_to_the_side(twin, is_aside):
    memory = summarise(samples.mirrored_1070()).memory
    svg = ET.fromstring(block_map(replace(memory, twins=((19, twin),))))
    (arc,) = [path for path in svg.iter(f"{SVG}path") if path.get("class") == "arc"]
    figures = [float(figure) for figure in re.findall(r"-?[0-9.]+", arc.get("d"))]
    xs, ys = figures[::2], figures[1::2]
    assert (len(set(xs)), max(xs) > max(xs[0], xs[-1])) == (2, is_aside)
    assert (min(ys) < min(ys[0], ys[-1])) != is_aside


def test_textures_differ_without_colour():
    shapes = {
        state: ET.fromstring(f"<g>{shape}</g>") for state, shape in TEXTURES.items()
    }
    drawn = {
        state: [(part.tag, part.get("d"), part.get("class")) for part in shape]
        for state, shape in shapes.items()
    }
    assert len({str(parts) for parts in drawn.values()}) == len(TEXTURES)


def test_a_map_of_very_many_blocks_stays_small():
    memory = summarise(samples.mirrored_1070()).memory
    states = ("proven",) * 80_000
    many = replace(memory, states=states, starts=tuple(range(80_000)), twins=())
    svg = ET.fromstring(block_map(many))
    assert len(list(svg.iter(f"{SVG}use"))) == 2048


def test_bars_share_one_scale():
    rows = summarise(samples.mirrored_1070()).rates
    scale = scale_of(rows)
    places = [scale.place(row.value) for row in rows if row.value]
    assert 0 < min(places) < max(places) < 1
    assert scale.place(1e12) - scale.place(1e11) == pytest.approx(
        scale.place(1e11) - scale.place(1e10)
    )


def test_a_value_below_its_range_is_drawn_and_told_apart():
    rows = summarise(samples.mirrored_1070()).rates
    svg = ET.fromstring(rate_bar(rows[0], scale_of(rows), "r"))
    kinds = [part.get("class") for part in svg.iter()]
    assert kinds.count("bracket") == 2
    assert "tick below" in kinds
    assert words_of(svg)[1] == (
        "Measured: 780 GFLOP/s. A genuine card shows 4.80 to 7.40 TFLOP/s. "
        "It lies below that range."
    )


def test_no_scale_without_figures():
    assert scale_of(()) is None


def test_phases_are_shaded_in_turn_and_numbered():
    telemetry = samples.mirrored_1070().telemetry
    bands = bands_of(telemetry)
    assert [band.number for band in bands] == [1, 2, 3, 4, 5]
    assert bands[0].start == 0
    assert bands[-1].end == 1
    assert all(a.end == b.start for a, b in pairwise(bands))
    svg = ET.fromstring(sensor_lines(telemetry)[0].svg)
    shades = [box for box in svg.iter(f"{SVG}rect") if box.get("class") == "shade"]
    assert len(shades) == 2


def test_a_gap_in_the_readings_breaks_the_line():
    readings = (30.0, 31.0, None, 33.0, 34.0)
    telemetry = Telemetry(
        samples=tuple(
            Sample(at_seconds=float(turn), phase="p", temperature_c=value)
            for turn, value in enumerate(readings)
        )
    )
    (line,) = sensor_lines(telemetry)
    assert len(list(ET.fromstring(line.svg).iter(f"{SVG}polyline"))) == 2


def linked(*states):
    return [
        Sample(at_seconds=float(turn), phase="p", link_generation=a, link_width=b)
        for turn, (a, b) in enumerate(states)
    ]


@pytest.mark.parametrize(
    ("states", "words"),
    [
        # Bytes each way: PCI Express Base Specification, after line coding.
        ([(1, 16), (3, 16)], "PCIe 1.0 x16 at rest, 3.0 x16 at work: 15.8 GB/s"),
        ([(5, 16), (5, 16)], "PCIe 5.0 x16: 63.0 GB/s"),
        ([(3, 16), (3, 1)], "between PCIe 3.0 x1 and 3.0 x16: 15.8 GB/s"),
        ([(None, None), (2, 4), (9, 16), (3, 200)], "PCIe 2.0 x4: 2.00 GB/s"),
    ],
)
def test_the_link_in_figures(states, words):
    assert link_figures(linked(*states)) == f"{words} each way"


def test_the_link_is_a_line_over_time():
    samples_taken = tuple(linked((1, 16), (3, 16), (None, 16), (3, 16)))
    (line,) = sensor_lines(Telemetry(samples=samples_taken))
    assert line.title == "Link to the PC"
    assert "at rest, 3.0 x16 at work" in words_of(ET.fromstring(line.svg))[1]
    assert len(list(ET.fromstring(line.svg).iter(f"{SVG}polyline"))) == 2
    odd = Telemetry(samples=tuple(linked((0, 16), (3, 0), (2**63 - 1, 2**63 - 1))))
    assert sensor_lines(odd) == ()


def test_readings_that_never_change_and_a_single_one_are_drawn():
    for count in (1, 5):
        telemetry = Telemetry(
            slowdown_c=0.0,
            samples=tuple(
                Sample(at_seconds=0.0, phase="p", temperature_c=0.0)
                for _ in range(count)
            ),
        )
        assert "polyline" in sensor_lines(telemetry)[0].svg


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(text):
    for svg in pictures_of(with_every_text(samples.mirrored_1070(), text)):
        names = {part.tag.removeprefix(SVG) for part in svg.iter()}
        assert names <= {
            "svg", "title", "desc", "defs", "symbol", "g", "rect", "path", "circle",
            "use", "text", "line", "polyline",
        }  # fmt: skip


@given(records())
def test_any_record_has_well_formed_pictures(record):
    pictures_of(record)


@pytest.mark.parametrize(
    ("value", "shown"), [(0, "0"), (-0.001, "0"), (1.5, "1.5"), (100, "100")]
)
def test_coordinates_are_short(value, shown):
    assert number(value) == shown
