"""Ctrl-C, a lost device, a failing driver, a bug, a kill: at any moment of a run.

Each run is stopped at the n-th call, for all n. Whatever happens, a record that can be
read lies on the disk, and no genuine card is accused.
"""

import io
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from command_line import Meddling, command, keep_table, practise_on

from probe import folder, trial
from probe.errors import CardError, DeviceLostError
from probe.survival.attempts import MOST_PROCESSES
from reports import codec

ROOT = Path(__file__).parents[2]
CLAIMED = 8 * 2**30
HELD = CLAIMED - 64 * 2**20
EACH, SPREAD = 5, 6
"""Each test takes every n that leaves the same rest: together every fifth."""


@pytest.fixture(autouse=True)
def _one_table(monkeypatch):
    keep_table(monkeypatch)
    # What fsync is for, a test of the same process cannot see.
    monkeypatch.setattr(os, "fsync", lambda _: None)
    # The page is drawn from what is asserted here; its own tests draw it.
    monkeypatch.setattr(folder, "render_page", lambda *_: "a page")


def run(capsys, out, condition):
    argv = ("--practice", condition, "--depth", "quick", "--quiet")
    return command(capsys, out, *argv)


@pytest.fixture(scope="module")
def whole():
    """The calls of a whole run, by condition: every run of one makes the same."""
    return {}


@pytest.fixture
def calls_of(whole, monkeypatch, capsys, tmp_path):
    def calls(condition):
        if condition not in whole:
            with monkeypatch.context() as patch:
                opened = practise_on(patch, Meddling)
                run(capsys, tmp_path / "0", condition)
            whole[condition] = opened[0].called
        return whole[condition]

    return calls


def is_proven_false(record):
    """Whether the record's own counts already show memory that is not there."""
    counts = [one.counts for one in record.capacity.passes if one.counts]
    counts += [one.counts for one in record.capacity.blocks]
    return any(each.mirrored or each.hollow for each in counts)


def is_sound(ended, devices, *, code):
    assert "Traceback" not in ended.err
    assert all(one.closed == 1 for one in devices)
    record = ended.record
    if record.verdict.outcome == "not as claimed":
        assert is_proven_false(record)
    assert record.verdict.outcome != "faulty"
    if code is not None:
        assert ended.code == code
    assert (ended.folder / "report.html").exists()
    assert not (ended.folder / ".reserve").exists()
    assert [file for file in ended.folder.iterdir() if file.name.startswith(".")] == []
    return record


@pytest.mark.parametrize("rest", range(SPREAD))
@pytest.mark.parametrize("condition", ["as-claimed"])
def test_ctrl_c_at_every_call_of_the_device(
    condition, rest, calls_of, capsys, tmp_path, monkeypatch
):
    total = len(calls_of(condition))
    assert total > 100
    proven = 0
    for at in range(1 + EACH * rest, total + 1, EACH * SPREAD):
        with monkeypatch.context() as patch:
            opened = practise_on(
                patch, lambda card, at=at: Meddling(card, at, KeyboardInterrupt())
            )
            ended = run(capsys, tmp_path / str(at), condition)
        record = is_sound(ended, opened, code=130)
        assert record.interrupted
        assert ended.err == ""
        if record.capacity is not None:
            assert record.capacity.proven_bytes >= proven * (condition != "mirrored")
            proven = record.capacity.proven_bytes
    assert proven == HELD if condition == "as-claimed" else CLAIMED // 4


@pytest.mark.parametrize("rest", range(SPREAD))
@pytest.mark.parametrize("condition", ["mirrored"])
def test_a_device_lost_at_every_call(
    condition, rest, calls_of, capsys, tmp_path, monkeypatch
):
    total = len(calls_of(condition))
    lost = DeviceLostError("GeForce GTX 1070: the device no longer answers", "LOST")
    for at in range(1 + EACH * rest, total + 1, EACH * SPREAD):
        with monkeypatch.context() as patch:
            opened = practise_on(
                patch, lambda card, at=at: Meddling(card, at, lost, for_good=True)
            )
            ended = run(capsys, tmp_path / str(at), condition)
        record = is_sound(ended, opened, code=None)
        assert not record.interrupted
        failed = [phase for phase in record.phases if phase.outcome == "failed"]
        assert failed or at >= total - 2
        # once more where it may have been the proof's fault, never without end
        assert len(opened) <= MOST_PROCESSES
        assert len(record.incidents) >= len(failed) - 1
        assert all("no longer answers (LOST)" in one.detail for one in failed)
        if record.verdict.outcome != "not as claimed" and failed:
            assert (ended.code, record.verdict.outcome) == (3, "undetermined") or (
                record.capacity.proven_bytes == HELD
            )


@pytest.mark.parametrize("rest", range(SPREAD))
@pytest.mark.parametrize("condition", ["as-claimed"])
def test_a_driver_that_fails_once_at_every_call(
    condition, rest, calls_of, capsys, tmp_path, monkeypatch
):
    names = calls_of(condition)
    error = CardError("GeForce GTX 1070: its driver failed", "CL_OUT_OF_RESOURCES")
    for at in range(1 + EACH * rest, len(names) + 1, EACH * SPREAD):
        with monkeypatch.context() as patch:
            opened = practise_on(patch, lambda card, at=at: Meddling(card, at, error))
            ended = run(capsys, tmp_path / str(at), condition)
        record = is_sound(ended, opened, code=None)
        name = names[at - 1]
        assert not record.interrupted
        assert ended.err == ""
        if name in {"sense", "now", "release"}:  # the card could be tested all the same
            whole = record.capacity is not None and record.capacity.proven_bytes == HELD
            assert (whole and all(one.value for one in record.rates)) or name == "now"
        if name in {"take", "sweep", "burst"}:
            details = [one.detail for one in record.phases if one.outcome == "failed"]
            assert any("its driver failed (CL_OUT_OF_RESOURCES)" in one
                       for one in details)  # fmt: skip


@pytest.mark.parametrize("rest", range(SPREAD))
def test_ctrl_c_at_every_event(rest, whole, capsys, tmp_path, monkeypatch):
    class Interrupting:
        def __init__(self, view, at):
            self.view, self.at, self.events = view, at, 0

        def __enter__(self):
            self.view.__enter__()
            return self

        def __exit__(self, *problem):
            return self.view.__exit__(*problem)

        def __call__(self, event):
            self.events += 1
            if self.events == self.at:
                raise KeyboardInterrupt
            self.view(event)

    real = trial.watcher
    views = []

    def watch_with(at):
        def watcher(*arguments):
            views.append(Interrupting(real(*arguments), at))
            return views[-1]

        return watcher

    if "events" not in whole:
        with monkeypatch.context() as patch:
            patch.setattr(trial, "watcher", watch_with(None))
            run(capsys, tmp_path / "0", "mirrored")
        whole["events"] = views[-1].events
    total = whole["events"]
    assert total > 100
    for at in range(1 + EACH * rest, total + 1, EACH * SPREAD):
        with monkeypatch.context() as patch:
            patch.setattr(trial, "watcher", watch_with(at))
            opened = practise_on(patch, Meddling)
            ended = run(capsys, tmp_path / str(at), "mirrored")
        record = is_sound(ended, opened, code=130)
        assert record.interrupted
        assert ended.err == ""


def test_ctrl_c_at_every_storing(capsys, tmp_path, monkeypatch):
    real = codec.save
    stored = []

    def save_until(at):
        def save(data, path):
            stored.append(path)
            if len(stored) == at:
                raise KeyboardInterrupt
            real(data, path)

        return save

    with monkeypatch.context() as patch:
        patch.setattr(codec, "save", save_until(None))
        run(capsys, tmp_path / "0", "mirrored")
    total = len(stored)
    for at in range(1, total + 1):
        stored.clear()
        with monkeypatch.context() as patch:
            patch.setattr(codec, "save", save_until(at))
            ended = run(capsys, tmp_path / str(at), "mirrored")
        assert ended.code == 130
        assert ended.err == ("cardassay: stopped\n" if at >= total - 1 else "")
        # the last is the page's: the finished record is there already
        assert ended.record.interrupted == (at < total)


@pytest.mark.parametrize("rest", range(SPREAD))
def test_a_bug_at_every_call(rest, calls_of, capsys, tmp_path, monkeypatch):
    total = len(calls_of("as-claimed"))
    bug = ValueError("an \x1b[31munlucky value")
    for at in range(1 + EACH * rest, total + 1, EACH * SPREAD):
        with monkeypatch.context() as patch:
            opened = practise_on(patch, lambda card, at=at: Meddling(card, at, bug))
            ended = run(capsys, tmp_path / str(at), "as-claimed")
        assert ended.code == 70
        (line,) = ended.err.splitlines()
        assert line.startswith(
            "cardassay: a bug in cardassay: ValueError: an \N{REPLACEMENT CHARACTER}"
            "[31munlucky value (tests/command_line.py, line "
        )
        assert line.endswith("); please report this line")
        record = is_sound(ended, opened, code=70)
        assert record.interrupted
        assert record.verdict.outcome == "undetermined"


def test_a_bug_of_the_judge_keeps_the_measurements(capsys, tmp_path, monkeypatch):
    def broken(record, _):
        raise LookupError(record.card.label)

    monkeypatch.setattr(trial, "judge", broken)
    ended = run(capsys, tmp_path, "mirrored")
    assert ended.code == 70
    assert ended.record.interrupted
    assert ended.record.verdict is None


SLOWED = """
import sys
from probe import cli
from probe.practice.card import PracticeCard

told = False
real = PracticeCard.sense

def sense(self, phase):
    global told
    if phase == {phase!r} and not told:
        told = True
        print("here", file=sys.stderr, flush=True)
        sys.stdin.read()
    return real(self, phase)

PracticeCard.sense = sense
sys.exit(cli.main(["check", "--practice", "mirrored", "--quiet", "--out", sys.argv[1]]))
"""


def start_and_wait(out, phase):
    """Start a run that stops to wait once it is in a phase."""
    process = subprocess.Popen(
        [sys.executable, "-c", SLOWED.format(phase=phase), str(out)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    watchdog = threading.Timer(60, process.kill)
    watchdog.start()
    try:
        assert process.stderr.readline() == b"here\n"
    finally:
        watchdog.cancel()
    return process


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
@pytest.mark.parametrize("phase", ["link", "verify", "memory_copy"])
def test_killed_at_once_leaves_a_record(phase, tmp_path):
    process = start_and_wait(tmp_path, phase)
    process.send_signal(signal.SIGKILL)
    process.communicate()
    assert process.returncode == -signal.SIGKILL
    record = codec.load(tmp_path / "record.json")
    assert record.interrupted
    assert record.practice
    names = [one.name for one in record.phases]
    assert phase not in names
    assert record.verdict.outcome == (
        "not as claimed" if phase == "memory_copy" else "undetermined"
    )


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_a_real_ctrl_c(tmp_path):
    process = start_and_wait(tmp_path, "turn")
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert err == b""
    assert out.startswith(b"Practice run: no real card was tested. Simulated: mirrored")
    record = codec.load(tmp_path / "record.json")
    assert record.interrupted
    assert record.phases[-1].name == "turn"
    assert record.phases[-1].outcome == "interrupted"
    assert (tmp_path / "report.html").exists()


def test_a_reader_that_leaves_spoils_nothing(tmp_path):
    process = subprocess.Popen(
        [
            sys.executable, "-m", "probe", "check", "--practice", "mirrored",
            "--out", str(tmp_path),
        ],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )  # fmt: skip
    process.stdout.close()
    _, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (1, b"")
    assert not codec.load(tmp_path / "record.json").interrupted
    assert (tmp_path / "report.html").exists()


def test_a_watcher_that_fails_is_not_asked_again():
    heard = []

    def view(event):
        heard.append(event)
        raise io.UnsupportedOperation

    watch = trial._deaf(view)
    watch("first")
    watch("second")
    assert heard == ["first"]
