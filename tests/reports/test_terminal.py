# ruff: noqa: RUF001 - maps are drawn, not read
import pytest
import samples
from consoles import console_of
from hypothesis import given, settings
from hypothesis import strategies as st
from record_strategies import HOSTILE, records, with_every_text
from rich.cells import cell_len

from reports.cells import GRAVITY
from reports.terminal import (
    SIGNS,
    encodable,
    render_map,
    render_result,
    sentence_of,
)

MIRRORED_80 = """\
2.00 GiB proven of 8.00 GiB reported (25.0 %). One cell is one block of up to
256 MiB, in address order.
▏╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱████████ ▕  █ proven, 8 of 32
                                    ╱ mirrored, 23 of 32
                                    (blank) not reached, 1 of 32

                    Claimed          Found                 A genuine one shows
≠  Memory size      8.00 GiB         2.00 GiB proven, the  7.60 to 8.00 GiB,
                                     rest mirrors it       none mirrored
≠  Compute units    15               2                     15
≠  PCI id           GeForce GTX      10de:0fc6, a GK107    10de:1b81
                    1070
≠  Memory           256 GB/s         71.3 GB/s             192 to 256 GB/s
   bandwidth
?  fp16 rate        not said         not measured          0.0750 to 0.116
                                                           TFLOP/s

Not checked
 - Half precision could not be checked: the driver lacks it.
 - The listing's clock was not given, so it was not compared.

Sold as a GeForce GTX 1070 with 8.00 GiB. Found: a GK107 with 2.00 GiB. Not as
claimed.
 - Three quarters of the memory mirror the rest: 2.00 GiB are there.
 - It has 2 compute units; a genuine one has 15.
 - The bus reports a GK107.
"""


def drawn(console, thing):
    console.print(thing)
    return console.shown()


def test_a_result_at_80_columns():
    shown = drawn(console_of(80), render_result(samples.mirrored_1070(), 80))
    assert shown == MIRRORED_80


def test_a_result_where_only_ascii_can_be_written():
    result = render_result(samples.mirrored_1070(), 80)
    lines = drawn(console_of(80, "ascii"), result).splitlines()
    assert lines[2] == "|///////////////////////######## |  # proven, 8 of 32"
    assert lines[7].startswith("x  Memory size ")
    assert len(lines) == MIRRORED_80.count("\n")


def test_practice_is_said_first_and_last():
    shown = drawn(console_of(80), render_result(samples.practice(), 80)).splitlines()
    notice = "Practice run: no real card was tested. Simulated: mirrored."
    assert shown[0] == shown[-1] == notice


def test_an_interrupted_run_says_so():
    shown = drawn(console_of(80), render_result(samples.interrupted(), 80)).splitlines()
    assert (
        shown[0] == "Stopped before its end: only what was learnt until then is shown."
    )
    assert shown[-1] == "No verdict: the test was stopped before its end."


def test_what_would_settle_it_comes_last():
    shown = drawn(console_of(80), render_result(samples.spilled(), 80)).splitlines()
    assert shown[-2:] == [
        "What would settle it",
        " - Close other programs that use the card and test again.",
    ]


def test_a_quiet_run_prints_one_sentence():
    assert sentence_of(samples.failing()) == samples.failing().verdict.sentence


def test_a_map_shows_a_texture_for_each_state():
    shown = drawn(console_of(80), render_map(GRAVITY, 80)).splitlines()
    assert shown[0] == "▏█░ ≈□╱╳●▕  █ proven, 1 of 8"
    assert [line.strip() for line in shown[1:]] == [
        "░ held, not judged yet, 1 of 8",
        "╱ mirrored, 1 of 8",
        "□ hollow, 1 of 8",
        "● failing, 1 of 8",
        "╳ scrambled, 1 of 8",
        "≈ spilled, 1 of 8",
        "(blank) not reached, 1 of 8",
    ]


def test_every_texture_is_its_own_in_ascii_too():
    assert len(set(SIGNS.values())) == len(SIGNS)
    assert len({encodable(sign, "ascii") for sign in SIGNS.values()}) == len(SIGNS)


def test_a_narrow_map_has_its_key_below():
    shown = drawn(console_of(40), render_map(["proven"] * 50, 40)).splitlines()
    assert shown == [
        "▏" + "█" * 32 + "▕",
        "▏" + "█" * 18 + " " * 14 + "▕",
        "█ proven, 50 of 50",
    ]


@given(
    st.lists(st.sampled_from(GRAVITY), max_size=3000),
    st.integers(1, 200),
    st.integers(1, 12),
)
@settings(max_examples=30)
def test_a_map_never_outgrows_its_room(states, width, height):
    shown = drawn(console_of(max(width, 12)), render_map(states, width, height))
    maps = [line for line in shown.splitlines() if line.startswith("▏")]
    assert 1 <= len(maps) <= height
    assert all(len(line) <= max(width, 12) for line in shown.splitlines())


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp1252", "cp437", "shift_jis"])
@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(text, encoding):
    record = with_every_text(samples.practice(), text)
    shown = drawn(console_of(80, encoding), render_result(record, 80))
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    if text.startswith("[red]"):
        assert "[red]not red[/red]" in shown
    if len(text) < 100:
        assert shown.count("\n") < 120


@given(records())
@settings(max_examples=40)
def test_any_record_has_a_result(record):
    shown = drawn(console_of(60), render_result(record, 60))
    assert "\x1b" not in shown
    assert all(cell_len(line) <= 60 for line in shown.splitlines())
