# ruff: noqa: RUF001 - maps are drawn, not read
import re

import pytest
from consoles import console_of
from hypothesis import given, settings
from hypothesis import strategies as st
from record_strategies import HOSTILE

from probe.events import (
    MapChanged,
    Noted,
    PhaseBegan,
    PhaseEnded,
    Progressed,
    RunBegan,
)
from probe.progress import Live, Plain, Silent, ended, opening, running, watcher
from reports.record import Phase


class Clock:
    """A clock that stands still until it is told to go on."""

    def __init__(self):
        self.now = 100.0

    def __call__(self):
        return self.now


WRITING = "Memory, first pass: writing"


def phase(outcome="done", detail=""):
    return Phase(
        name="capacity",
        outcome=outcome,
        started_seconds=0.0,
        seconds=3.2,
        detail=detail,
    )


def play(view, clock, text=None):
    """A short run: a phase of 20 s that is half done after 10, then its end."""
    label = "GeForce GTX 1070" if text is None else text
    view(
        RunBegan(label=label, practice_condition=None, folder=text, expected_seconds=94)
    )
    view(PhaseBegan(name="capacity", title=text or WRITING))
    view(MapChanged(states=(None,) * 4))
    for turn in range(20):
        clock.now += 1
        states = ("mirrored",) * min(turn // 5 + 1, 3) + ("proven",)
        view(MapChanged(states=states))
        figure = text or f"{turn / 4:.2f} GiB written"
        view(Progressed(done=turn + 1, total=20, figure=figure))
    view(
        PhaseEnded(
            phase=phase(detail=text or ""),
            title=text or WRITING,
            figure=text or "7.75 GiB written",
        )
    )
    view(Noted(text=text or "The card drives a display."))


def test_plain_lines():
    console, clock = console_of(80), Clock()
    with Plain(console, clock) as view:
        play(view, clock)
    assert console.shown().splitlines() == [
        "Testing GeForce GTX 1070, about 1 min 34 s",
        f"{WRITING}             25 %  15 s left         1.00 GiB written",
        f"{WRITING}             50 %  10 s left         2.25 GiB written",
        f"{WRITING}             75 %  5 s left          3.50 GiB written",
        f"{WRITING}            100 %                    4.75 GiB written",
        f"{WRITING}           3.20 s  7.75 GiB written",
        "The card drives a display.",
    ]


def test_lines_that_stay_fit_80_columns():
    line = running(WRITING, Progressed(done=3, total=4, figure="41.0 GiB proven"), 99.0)
    assert len(line) <= 80


@pytest.mark.parametrize(
    ("event", "lines"),
    [
        (
            RunBegan(
                label="X1",
                practice_condition="hollow",
                folder="/tmp/card",
                expected_seconds=None,
            ),
            [
                "Practice run: no real card was tested. Simulated: hollow.",
                "Testing X1",
                "Keeping the record in /tmp/card",
            ],
        ),
        (
            RunBegan(
                label="X1",
                practice_condition=None,
                folder=None,
                expected_seconds=8040.0,
            ),
            ["Testing X1, about 2 h 14 min"],
        ),
    ],
)
def test_opening(event, lines):
    assert opening(event) == lines


@pytest.mark.parametrize(
    ("spent", "done", "left"),
    [
        (0.0, 0.0, ""),
        (1.0, 0.01, ""),  # too early to say
        (10.0, 0.5, "10 s left"),
        (0.01, 0.5, "1 s left"),
        (100.0, 0.25, "5 min left"),
        (9.0, 1.0, ""),
        (9.0, 7.0, ""),  # more than all of it
    ],
)
def test_time_left(spent, done, left):
    line = running("T", Progressed(done=done, total=1.0, figure="F"), spent)
    assert line.split("%")[1].removesuffix("F").strip() == left


def test_nothing_is_said_of_a_phase_without_an_end_in_sight():
    assert running("T", Progressed(done=1, total=0, figure="F"), 1.0) == "T"
    assert running("T", None, 1.0) == "T"


@pytest.mark.parametrize(
    ("outcome", "line"),
    [
        ("failed", "failed: the driver gave up"),
        ("skipped", "skipped: the driver gave up"),
        ("interrupted", "stopped: the driver gave up"),
    ],
)
def test_a_phase_that_did_not_end_well_says_why(outcome, line):
    event = PhaseEnded(
        phase=phase(outcome, "the driver gave up"), title="Half precision", figure=""
    )
    assert ended(event).split("  ")[-1] == line


def last_screen(shown):
    """What a terminal shows in the end: every redraw applied."""
    lines, at = [""], 0
    for token in re.findall(r"\x1b\[[?\d;]*[A-Za-z]|\r|\n|[^\x1b\r\n]+", shown):
        if token == "\n":
            at += 1
            lines += [""] * (at + 1 - len(lines))
        elif token.endswith("A") and token.startswith("\x1b"):
            at -= int(token[2:-1] or 1)
        elif token == "\x1b[2K":
            lines[at] = ""
        elif token[0] not in "\x1b\r":
            lines[at] = token
    return [line for line in lines if line]


def test_live_leaves_results_only():
    console, clock = console_of(80, terminal=True), Clock()
    with Live(console, clock) as view:
        play(view, clock)
    assert last_screen(console.shown()) == [
        "Testing GeForce GTX 1070, about 1 min 34 s",
        "Memory, first pass: writing           3.20 s  7.75 GiB written",
        "The card drives a display.",
    ]


def test_live_shows_the_phase_and_the_map():
    console, clock = console_of(80, terminal=True), Clock()
    with Live(console, clock) as view:
        play(view, clock)
    shown = console.shown()
    assert "50 %  10 s left" in shown
    assert "▏╱╱╱█▕  █ proven, 1 of 4" in shown
    assert "╱ mirrored, 3 of 4" in shown


def test_live_draws_no_more_often_than_it_should():
    console, clock = console_of(80, terminal=True), Clock()
    with Live(console, clock) as view:
        view(PhaseBegan(name="p", title="T"))
        view(Progressed(done=0, total=1000, figure="F"))
        before = len(console.shown())
        for turn in range(1000):
            view(Progressed(done=turn, total=1000, figure="F"))
        assert len(console.shown()) == before


def test_live_ends_cleanly_when_the_run_does_not():
    console, clock = console_of(80, terminal=True), Clock()

    def stopped():
        with Live(console, clock) as view:
            view(PhaseBegan(name="p", title="T"))
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert last_screen(console.shown()) == []
    assert "\x1b[?25h" in console.shown()  # the cursor is shown again


def test_silence():
    console, clock = console_of(80), Clock()
    with watcher(console, "silent", clock) as view:
        play(view, clock)
    assert console.shown() == ""


@pytest.mark.parametrize(
    ("mode", "terminal", "kind"),
    [
        ("auto", True, Live),
        ("auto", False, Plain),
        ("live", False, Live),
        ("plain", True, Plain),
        ("silent", True, Silent),
    ],
)
def test_which_view(mode, terminal, kind):
    assert type(watcher(console_of(terminal=terminal), mode)) is kind


def test_a_dumb_terminal_gets_plain_lines(monkeypatch):
    monkeypatch.setenv("TERM", "dumb")
    assert type(watcher(console_of(terminal=True), "auto")) is Plain


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp1252"])
@pytest.mark.parametrize("kind", [Plain, Live])
@pytest.mark.parametrize("text", [text for text in HOSTILE if text.strip()])
def test_hostile_text_stays_text(text, kind, encoding):
    console, clock = console_of(80, encoding, terminal=kind is Live), Clock()
    with kind(console, clock) as view:
        play(view, clock, text)
    shown = console.shown()
    assert "\x1b]0" not in shown
    assert "\x1b[31m" not in shown
    assert "\u202e" not in shown
    if text.startswith("[red]"):
        assert "[red]not red[/red]" in shown


@settings(max_examples=30)
@given(st.floats(0, 1e30), st.floats(0, 1e30), st.floats(0, 1e9), st.text())
def test_any_progress_has_a_line(done, total, spent, figure):
    line = running("T", Progressed(done=done, total=total, figure=figure), spent)
    assert "\n" not in line
