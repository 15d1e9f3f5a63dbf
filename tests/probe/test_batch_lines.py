"""What is typed and scanned at a real terminal, before a question and after it."""

import io
import os
import sys

import pytest

from probe.batch.lines import EndOfInputError, Lines

pty = pytest.importorskip("pty")


@pytest.fixture
def keyboard():
    """Return what types, and the lines that come of it."""
    keys, screen = pty.openpty()
    with os.fdopen(screen) as stream:
        yield (lambda text: os.write(keys, text.encode())), Lines(stream)
    os.close(keys)


def test_a_scanner_that_ends_with_two_signs_answers_one_question(keyboard, capsys):
    scan, lines = keyboard
    assert lines.is_person
    scan("S-1\r\n")
    assert lines.ask("first? ") == "S-1\n"
    scan("S-2\r\n")
    assert lines.ask("second? ") == "S-2\n"
    scan("S-3\r\nS-4\r\n")
    assert (lines.ask("third? "), lines.ask("fourth? ")) == ("S-3\n", "S-4\n")
    shown = capsys.readouterr().err
    assert shown == "first? S-1\nsecond? S-2\nthird? S-3\nfourth? S-4\n"


def test_enter_before_the_question_is_no_answer(keyboard):
    press, lines = keyboard
    press("\n\n\ny\n")
    assert lines.ask("certify? ") == "y\n"
    press("\n\x04")
    with pytest.raises(EndOfInputError):
        lines.ask("next? ")


def test_a_question_asked_afresh_takes_no_earlier_answer(keyboard):
    press, lines = keyboard
    press("S-1\n")
    lines.give_back("S-1\n")
    press("\x04")
    with pytest.raises(EndOfInputError):
        lines.ask("the same again? ", afresh=True)


def test_what_is_given_back_answers_the_next_question(capsys):
    lines = Lines(io.StringIO("S-2\n"))
    lines.give_back("S-1\n")
    assert (lines.ask("first? "), lines.ask("second? ")) == ("S-1\n", "S-2\n")
    assert capsys.readouterr().err == "first? S-1\nsecond? "


def test_a_closed_terminal_is_the_end(keyboard):
    keys, screen = pty.openpty()
    with os.fdopen(screen) as stream:
        os.close(keys)
        with pytest.raises(EndOfInputError):
            Lines(stream).ask("? ")


@pytest.mark.parametrize("stream", [None, io.StringIO(), object()])
def test_without_anybody_it_is_the_end(stream, monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    lines = Lines(stream)
    assert not lines.is_person
    with pytest.raises(EndOfInputError):
        lines.ask("? ")


def test_ctrl_c_ends_the_line(capsys):
    class Pressed(io.StringIO):
        def readline(self, *_):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        Lines(Pressed()).ask("number? ")
    assert capsys.readouterr().err == "number? \n"
