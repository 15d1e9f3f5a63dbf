"""How what cut a test off is shown: its lines, on page and terminal, and what it means.

The wording is ours; nothing here is held against anything outside.
"""

import pytest
import samples
from consoles import console_of
from hypothesis import given
from hypothesis import strategies as st
from msgspec import convert, inspect
from msgspec.structs import replace
from record_strategies import HOSTILE, of
from told_runs import GIB, incident

from reports import words
from reports.cut_off import SHOWN, lines_of
from reports.figures import tables_of
from reports.lasting import Incident
from reports.method import cautions_of
from reports.page import render_page
from reports.summary import summarise
from reports.terminal import render_result

WRITING = "Memory, first pass: writing"


def cut_off(*incidents):
    return replace(samples.undetermined(), incidents=incidents)


def shown(record, width=80):
    console = console_of(width)
    console.print(render_result(record, width))
    return console.shown()


KINDS = {
    "crashed": "its driver crashed",
    "killed": "its process was killed",
    "hung": "the card did not answer",
    "lost": "the driver lost the card",
    "babbled": "its process told nonsense",
    "frozen": "the PC went down",
    "ended": "the program was ended",
}


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_in_one_line(kind):
    """What, where in memory, how, and the system's own words for it."""
    said = f"{WRITING} at 2.00 GiB: {KINDS[kind]} (no answer for 10 s)."
    assert lines_of((incident(kind, detail="no answer for 10 s"),)) == (said,)


def test_what_is_not_known_is_left_out():
    cut = incident("frozen", "fp32", None, doing="Arithmetic, fp32", detail="")
    assert lines_of((cut,)) == ("Arithmetic, fp32: the PC went down.",)
    cut = incident("lost", at_bytes=0, doing="", detail="")
    assert lines_of((cut,)) == ("Unnamed at 0 bytes: the driver lost the card.",)


def test_what_comes_again_is_told_once():
    (twice,) = lines_of((incident(), incident(detail="another word")))
    assert twice.startswith(f"{WRITING} at 2.00 GiB: its driver crashed, twice (its")
    (often,) = lines_of((incident(),) * 5)
    assert "crashed, 5 times (" in often
    two = lines_of((incident(), incident("hung"), incident(at_bytes=GIB), incident()))
    assert len(two) == 3
    assert "crashed, twice" in two[0]


def test_no_list_is_endless():
    lines = lines_of(tuple(incident(at_bytes=place * GIB) for place in range(1000)))
    assert len(lines) == SHOWN + 1
    assert lines[-1] == f"{1000 - SHOWN} further times, elsewhere or in another way."


def test_nothing_is_said_where_nothing_was_cut_off():
    record = cut_off()
    assert words.CUT_OFF not in shown(record)
    assert words.CUT_OFF not in render_page(record)
    assert words.CAVEAT_CUT_OFF not in cautions_of(record)
    assert words.CUT_OFF not in [table.title for table in tables_of(record)]


def test_page_and_terminal_say_the_same():
    record = cut_off(incident(), incident(), incident("frozen", "fp64", None))
    lines = summarise(record).cut_off
    assert len(lines) == 2
    text = " ".join(shown(record).split())
    page = render_page(record)
    assert f">{words.CUT_OFF}</h2>" in page
    for line in lines:
        assert line in text
        assert f"<li>{line}</li>" in page
    assert text.index(words.CUT_OFF) < text.index(summarise(record).sentence)
    (table,) = [one for one in tables_of(record) if one.title == words.CUT_OFF]
    assert [row[0] for row in table.rows] == ["crashed", "crashed", "frozen"]
    assert table.rows[0][2] == f"{2 * GIB:,}"


def test_it_warns_of_taking_a_crash_for_a_proof():
    record = cut_off(incident())
    assert words.CAVEAT_CUT_OFF in cautions_of(record)
    assert words.CAVEAT_CUT_OFF in render_page(record)


@given(st.lists(of(inspect.type_info(Incident)), max_size=9))
def test_any_incident_can_be_shown(incidents):
    for line in lines_of(convert(incidents, tuple[Incident, ...])):
        assert line.isprintable()
        assert len(line) < 700


@given(st.sampled_from(HOSTILE))
def test_no_word_of_a_driver_gets_through(text):
    text = text[:4096]
    record = cut_off(incident(doing=text, detail=text, phase=text))
    page = render_page(record)
    assert "<script" not in page
    assert "\x1b" not in shown(record)
    assert "\x1b" not in page
