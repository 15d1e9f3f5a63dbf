"""How a soak is shown: its line, its places, its pictures, on page and terminal."""

from xml.etree import ElementTree as ET

import pytest
import sample_soak as soaks
import samples
from consoles import console_of
from hypothesis import given
from hypothesis import strategies as st
from msgspec import convert, inspect
from msgspec.structs import replace
from record_strategies import HOSTILE, of

from reports import words
from reports.codec import decode, encode
from reports.errors import RecordError
from reports.figures import tables_of
from reports.lasting import MOST_POINTS, MOST_SPOTS, Soak, SoakPoint
from reports.method import cautions_of, method_of
from reports.page import render_page
from reports.pictures.soak import soak_lines
from reports.record import Flips
from reports.soaked import bits_of, place_of, view_of
from reports.summary import summarise
from reports.terminal import render_result
from reports.units import many, moved

SVG = "{http://www.w3.org/2000/svg}"
LINE = (
    "Soak, 10 min: 4.10 trillion results and 1.20 TiB of memory verified, none wrong; "
    "64.0 to 78.0 °C; 1780 to 1820 MHz; 98.0 % of the rate kept (6.08 TFLOP/s); 225 "
    "load steps."
)


def soaked(soak):
    return replace(samples.genuine_h100(), soak=soak)


# ---------------------------------------------------------------------------- its words


def test_a_clean_soak_in_one_line():
    view = view_of(soaks.clean())
    assert view.line == LINE
    assert (view.wrong, view.stopped) == ((), None)


def test_wrong_results_are_told_with_place_and_time():
    view = view_of(soaks.computing_wrong())
    assert "verified, 12 wrong;" in view.line
    (place,) = view.wrong
    assert place == (
        "Single precision (fp32), work-group 37: 12 results in 3 launches wrong, first "
        "after 3 min 20 s at 78 °C and 1797 MHz, last after 9 min 40 s."
    )


def test_wrong_cells_are_told_with_place_and_bit():
    view = view_of(soaks.failing_when_hot())
    assert "verified, 40 wrong;" in view.line
    (place,) = view.wrong
    assert place == (
        "Memory at 2.92 GiB (bit 46 of the cell): 40 readings of a cell in 40 walks "
        "wrong, first after 2 min at 76 °C, last after 9 min 50 s."
    )


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        (
            {"times": 1, "wrong": 1, "temperature_c": None, "scrambled": 1},
            "at 2.92 GiB: 1 reading of a cell in 1 walk wrong, first after 2 min.",
        ),
        (
            {"last_byte": 6 * 2**30, "temperature_c": None},
            "at 2.92 to 6.00 GiB (bit 46 of the cell): 40 readings of cells in 40",
        ),
        (
            {"first_byte": None, "last_byte": None, "flips": None, "times": 1},
            "from 2.50 GiB on: 40 readings of a cell in 1 walk wrong, first",
        ),
        (
            {
                "flips": Flips(
                    any_mask=(31, 0, 0, 1),
                    all_mask=(0, 0, 0, 0),
                    first_byte=0,
                    last_byte=0,
                ),
                "times": 1,
            },
            "at 2.92 GiB (6 of the cell's 128 bits): 40 readings of a cell in 1 walk",
        ),
    ],
)
def test_places_in_memory_in_words(fields, said):
    assert place_of(replace(soaks.MEMORY, **fields)).startswith(f"Memory {said}")


def test_a_place_without_a_group_or_a_known_test():
    spot = replace(soaks.RESULTS, test="\x1b[31mfp8", group=None, times=1, wrong=1)
    assert place_of(spot) == (
        "\N{REPLACEMENT CHARACTER}[31mfp8: 1 result in 1 launch wrong, first after 3 "
        "min 20 s at 78 °C and 1797 MHz."
    )


def test_many_places_are_counted():
    spots = tuple(replace(soaks.RESULTS, group=group) for group in range(9))
    soak = replace(soaks.computing_wrong(), spots=spots)
    assert view_of(soak).wrong[4:] == ("5 further places were wrong as well.",)
    soak = replace(soak, more_spots=3)
    assert view_of(soak).wrong[4:] == ("5 or more further places were wrong as well.",)


def test_memory_that_is_not_there_is_told_as_such():
    clean = soaks.clean()
    soak = soaks.with_cells(clean, mirrored=clean.cells.cells * 3 // 4)
    line = view_of(soak).line
    assert "none wrong; 75.0 % of the memory read was mirrored or hollow;" in line


def test_a_soak_that_was_stopped_says_by_what():
    soak = replace(soaks.clean(), seconds=94.0, stopped_by="Card: it is 95 °C hot.")
    assert view_of(soak).stopped == (
        "Stopped after 1 min 34 s of 10 min: Card: it is 95 °C hot."
    )


def test_a_soak_without_anything_is_a_line():
    view = view_of(Soak(asked_seconds=60.0, seconds=0.0))
    assert view.line == "Soak, 0 s: 0 results verified, none wrong."


@given(st.tuples(*(st.integers(0, 2**32 - 1) for _ in range(4))))
def test_bits_are_numbered_through_the_cell(mask):
    whole = sum(word << 32 * place for place, word in enumerate(mask))
    assert sum(1 << bit for bit in bits_of(mask)) == whole


@given(of(inspect.type_info(Soak)))
def test_any_soak_has_words_pictures_and_tables(values):
    record = soaked(convert(values, Soak))
    view = view_of(record.soak)
    for text in (view.line, *view.wrong, view.stopped or ""):
        assert text == " ".join(text.split())
        assert "\x1b" not in text
    for line in soak_lines(record.soak, record.telemetry):
        ET.fromstring(line.svg)
    tables_of(record)
    method_of(record)


# -------------------------------------------------------------------- where it is shown


def test_the_terminal_shows_it_before_what_was_not_checked():
    console = console_of(80)
    record = replace(samples.mirrored_1070(), soak=soaks.failing_when_hot())
    console.print(render_result(record, 80))
    lines = console.shown().splitlines()
    at = lines.index(words.SOAK)
    assert lines[at + 1].startswith(" - Soak, 10 min: 4.10 trillion results and 1.20")
    assert any(line.startswith(" - Memory at 2.92 GiB (bit 46") for line in lines[at:])
    assert lines.index("Not checked") > at
    assert all(len(line) <= 80 for line in lines)


def test_a_record_without_a_soak_says_nothing_of_one():
    record = samples.genuine_h100()
    assert summarise(record).soak is None
    page = render_page(record)
    assert words.SOAK not in page
    assert words.CAVEAT_SOAK not in page


def test_the_page_shows_line_places_and_pictures():
    soak = replace(soaks.failing_when_hot(), stopped_by="the person at the keyboard")
    page = render_page(soaked(soak))
    assert f'<h2 id="soak">{words.SOAK}</h2>' in page
    assert LINE.replace("none wrong", "40 wrong") in page
    assert "Memory at 2.92 GiB (bit 46 of the cell)" in page
    assert "Stopped after 10 min of 10 min: the person at the keyboard." in page
    assert words.CAVEAT_SOAK in page
    for ident in ("soak-rate", "soak-core", "soak-temperature", "soak-power"):
        assert page.count(f'id="{ident}-title"') == 1
    assert page.index('id="soak"') < page.index('id="sensors"') < page.index('id="raw"')


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_of_a_soak_stays_text(text):
    hostile = replace(soaks.computing_wrong(), stopped_by=text)
    page = render_page(soaked(hostile))
    assert "<script" not in page
    assert "<img" not in page
    assert "\x1b" not in page


def test_how_it_was_tested_and_what_to_bear_in_mind():
    record = soaked(soaks.clean())
    (said,) = [line for line in method_of(record) if "full load" in line]
    assert said == (
        "Then it was kept under full load for 10 min: 4.10 trillion results compared "
        "bit for bit, 7.94 GiB of memory held, read and turned over in 154 walks, and "
        "225 load steps from rest to full load in one launch."
    )
    assert cautions_of(record)[-1] == words.CAVEAT_SOAK
    bare = soaked(replace(soaks.clean(), held_bytes=0, passes=0, steps=1))
    assert any("bit for bit, and 1 load step from" in line for line in method_of(bare))


def test_the_raw_figures_hold_all_of_it():
    soak = replace(soaks.failing_when_hot(), spots=(soaks.MEMORY, soaks.RESULTS))
    tables = {table.title: table for table in tables_of(soaked(soak))}
    assert ("checked", "4,100,000,000,000") in tables["Soak"].rows
    assert tables["Soak: results"].rows[0][:2] == ("Single precision (fp32)", "18,000")
    assert tables["Soak: cells read"].rows[0][4] == "40"
    memory, results = tables["Soak: where it was wrong"].rows
    assert memory[9] == "00000000 00004000 00000000 00000000"
    assert results[6] == "37"
    assert len(tables["Soak: over time"].rows) == len(soak.series)
    assert all(
        len(row) == len(table.heads) or not table.heads[0]
        for table in tables.values()
        for row in table.rows
    )


# ------------------------------------------------------------------------- its pictures


def test_rate_and_clock_are_drawn_through_rest_and_limits_are_the_cards():
    record = soaked(soaks.clean())
    lines = {line.title: line for line in soak_lines(record.soak, record.telemetry)}
    assert list(lines) == [
        "Rate, fp32",
        "Core clock under steady load",
        "Temperature",
        "Power",
    ]
    assert lines["Rate, fp32"].figures == "6.08 to 6.20 TFLOP/s"
    for line in lines.values():
        svg = ET.fromstring(line.svg)
        assert len(list(svg.iter(f"{SVG}polyline"))) == 1
    assert 'class="limit"' in lines["Temperature"].svg
    assert "limit 87.0 °C" in lines["Temperature"].figures
    assert 'class="limit"' not in lines["Rate, fp32"].svg
    assert 'class="wrong"' not in lines["Rate, fp32"].svg


def test_moments_at_which_something_was_wrong_are_struck():
    points = tuple(
        SoakPoint(at_seconds=float(at), temperature_c=60.0 + at, wrong=at in (3, 7))
        for at in range(11)
    )
    (line,) = soak_lines(replace(soaks.clean(), series=points), None)
    svg = ET.fromstring(line.svg)
    strokes = [one for one in svg.iter(f"{SVG}line") if one.get("class") == "wrong"]
    assert [one.get("x1") for one in strokes] == ["30%", "70%"]
    (told,) = [one.text for one in svg.iter(f"{SVG}desc")]
    assert told == (
        "60.0 to 70.0 °C over 10 s; 2 moments at which something was wrong."
    )


def test_a_soak_without_sensors_draws_its_rate_alone():
    points = (SoakPoint(at_seconds=1.0, rate=1e12), SoakPoint(at_seconds=2.0))
    lines = soak_lines(replace(soaks.clean(), series=points), None)
    assert [line.title for line in lines] == ["Rate, fp32"]
    assert soak_lines(replace(soaks.clean(), series=()), None) == ()


# ------------------------------------------------------------------------------- bounds


def test_a_soak_is_stored_and_read_again():
    for soak in (soaks.clean(), soaks.computing_wrong(), soaks.failing_when_hot()):
        assert decode(encode(soaked(soak))).soak == soak


@pytest.mark.parametrize(
    "fields",
    [
        {"series": (SoakPoint(at_seconds=1.0),) * (MOST_POINTS + 1)},
        {"spots": (soaks.RESULTS,) * (MOST_SPOTS + 1)},
        {"tests": soaks.clean().tests * 9},
        {"seconds": -1.0},
        {"spots": (replace(soaks.RESULTS, wrong=-1),)},
    ],
)
def test_what_no_soak_can_have_is_kept_out(fields):
    with pytest.raises(RecordError):
        encode(soaked(replace(soaks.clean(), **fields)))


# -------------------------------------------------------------------------------- units


@pytest.mark.parametrize(
    ("count", "said"),
    [
        (0, "0"),
        (1, "1"),
        (999_499, "999,499"),
        (999_500, "1.00 million"),
        (12_340_000, "12.3 million"),
        (999_600_000, "1.00 billion"),
        (4_100_000_000_000, "4.10 trillion"),
        (2**63 - 1, "9220000 trillion"),
    ],
)
def test_counts_too_long_to_read_are_words(count, said):
    assert many(count) == said


@pytest.mark.parametrize(
    ("size", "said"),
    [
        (0, "0 bytes"),
        (80 * 2**30, "80.0 GiB"),
        (1023 * 2**30, "1020 GiB"),
        (2**40, "1.00 TiB"),
        (23 * 2**40, "23.0 TiB"),
        (3 * 2**50, "3.00 PiB"),
    ],
)
def test_data_that_went_by_is_told_in_larger_steps(size, said):
    assert moved(size) == said


def test_a_line_of_very_many_points_is_drawn_to_its_end():
    points = tuple(
        SoakPoint(at_seconds=float(at), temperature_c=40.0 + at % 17)
        for at in range(MOST_POINTS)
    )
    (line,) = soak_lines(replace(soaks.clean(), series=points), None)
    (drawn,) = ET.fromstring(line.svg).iter(f"{SVG}polyline")
    pairs = [pair.split(",") for pair in drawn.get("points").split(" ")]
    assert len(pairs) == MOST_POINTS
    assert float(pairs[-1][0]) == 1000.0
