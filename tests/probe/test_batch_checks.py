"""Batches whose checks are real processes, on practice cards; and the line between."""

import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest
from command_line import keep_table
from cut_runs import gone, until

from probe import cli
from probe.batch import running
from probe.batch.running import Check, Job
from probe.events import Event, MapChanged, Noted, PhaseBegan, Troubled
from probe.relay import EventLines
from reports import codec
from reports.lasting import Incident

ROOT = Path(__file__).parents[2]
posix = pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX's")
LONG = ("--depth=thorough", "--soak=600")
"""A practice card's minutes are shorter than ours, but not so short."""


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


def test_two_practice_cards_at_once(capsys, tmp_path):
    assert cli.main(["key", "new"]) == 0
    ledger = tmp_path / "ledger.sqlite"
    argv = [
        *("batch", "--yes", "--depth=quick", "--at-once=2", "--operator=R. Amund"),
        *("--practice=as-claimed", "--practice=mirrored", f"--ledger={ledger}"),
        *("--stock-no", "S-1", "S-2", f"--out={tmp_path / 'out'}"),
    ]
    capsys.readouterr()
    assert cli.main(argv) == 1
    out, err = capsys.readouterr()
    flat = " ".join(out.split())
    assert err == ""
    for number in ("S-1", "S-2"):
        assert f"{number}: testing GeForce GTX 1070" in flat
        assert f"{number}: Taking memory" in flat
        assert codec.load(tmp_path / "out" / number / "record.json").practice
        assert not (tmp_path / "out" / number / "certificate.html").exists()
    assert "≠ S-2: Practice run: no real card was tested." in flat
    assert "Not certified. It is a practice run: no real card was tested." in flat
    assert cli.main(["ledger", "find", "--practice", f"--ledger={ledger}"]) == 0
    assert "2 found." in capsys.readouterr().out
    begun = [flat.index(f"{number}: testing") for number in ("S-1", "S-2")]
    assert max(begun) < flat.index("? S-1: ") or max(begun) < flat.index("≠ S-2: ")


class Started:
    """A batch in a process of its own, on a card whose test takes long."""

    def __init__(self, folder):
        self.folder = folder
        self.ledger = folder / "ledger.sqlite"
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "probe", *self.argv, "--practice=as-claimed"),
                *("--stock-no", "S-1", *LONG),
            ],
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.first = self.process.stdout.readline()

    @property
    def argv(self):
        return (
            *("batch", "--yes", "--no-certificates", f"--ledger={self.ledger}"),
            f"--out={self.folder / 'out'}",
        )

    @property
    def record(self):
        return codec.load(self.folder / "out" / "S-1" / "record.json")

    def under_way(self):
        """The check's process, once its record is kept for the first time."""
        until((self.folder / "out" / "S-1" / "record.json").exists)
        mark = until(lambda: list(Path(os.environ["XDG_STATE_HOME"]).rglob("runs/*")))
        return json.loads(mark[0].read_bytes())["pid"]


def ended(record):
    return [(phase.name, phase.outcome) for phase in record.phases]


@posix
def test_ctrl_c_ends_a_real_check_in_order(tmp_path):
    batch = Started(tmp_path)
    pid = batch.under_way()
    batch.process.send_signal(signal.SIGINT)
    out, err = batch.process.communicate(timeout=60)
    assert batch.process.returncode == 130
    assert "Traceback" not in err
    assert "Stopped before its end." in " ".join(out.split())
    assert batch.record.interrupted
    assert ("soak", "done") not in ended(batch.record)
    assert not (tmp_path / "out" / "S-1" / "journal.txt").exists()
    assert gone(pid)


@posix
def test_a_check_outlives_no_batch_and_loses_nothing(tmp_path, capsys):
    batch = Started(tmp_path)
    pid = batch.under_way()
    batch.process.kill()
    batch.process.communicate(timeout=60)
    until(lambda: gone(pid))
    assert batch.record.interrupted
    assert ("soak", "done") not in ended(batch.record)
    assert not (tmp_path / "out" / "S-1" / "journal.txt").exists()
    assert (tmp_path / "out" / "S-1" / "report.html").exists()
    capsys.readouterr()
    argv = (*batch.argv, "--json", "--practice=mirrored", "--depth=quick")
    assert cli.main([*argv, "--stock-no=S-2"]) == 1
    told = [json.loads(one) for one in capsys.readouterr().out.splitlines()]
    assert [(one["stock_no"], one["picked_up"]) for one in told] == [
        ("S-1", True),
        ("S-2", False),
    ]
    assert all(one["ledger"] for one in told)


@posix
def test_what_is_no_event_is_passed_over(tmp_path, monkeypatch):
    script = tmp_path / "python"
    script.write_text(
        "#!/bin/sh\n"
        'printf \'nonsense\\n\\377\\376\\n{"type":"Noted","text":"a"}\\n{"type":1}\'\n'
        "printf 'cardassay: one \\033[2J\\n\\n' >&2\n"
        "i=0; while [ $i -lt 99 ]; do echo $i >&2; i=$((i+1)); done\n"
        "exit 7\n"
    )
    script.chmod(0o755)
    monkeypatch.setattr(running.sys, "executable", str(script))
    heard = []
    job = Job(number="S-1", folder=tmp_path, arguments=("--card=0",))
    over = Check(job, heard.append).wait()
    assert heard == [Noted(text="a")]
    assert over.code == 7
    assert over.said == tuple(str(number) for number in range(79, 99))


def test_events_cross_the_line_unchanged():
    stream = io.BytesIO()
    view = EventLines(stream)
    incident = Incident(kind="hung", phase="take", doing="taking", detail="\x1b[2J")
    sent = [
        PhaseBegan(name="take", title="Taking \u202e memory"),
        Troubled(incident=incident),
    ]
    with view:
        for event in (*sent, MapChanged(states=(None,))):
            view(event)
    lines = stream.getvalue().splitlines()
    assert [msgspec.json.decode(one, type=Event) for one in lines] == sent
    assert b"\x1b" not in stream.getvalue()
    assert "\u202e" not in stream.getvalue().decode()
