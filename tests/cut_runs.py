"""Measuring processes that are ended, stopped or false, and runs that were cut off.

Waits for what happens, never for a time to pass.
"""

import os
import subprocess
import sys
import time
from pathlib import Path

import psutil
from told_runs import started

from probe.practice import conditions
from probe.session import Plan
from probe.story import Story
from probe.survival import parent
from probe.survival.bench import Supervised
from probe.survival.talk import Target

ROOT = Path(parent.__file__).resolve().parents[2]
LONGEST_SECONDS = 60.0


def until(happened, seconds=LONGEST_SECONDS):
    """Return what `happened()` gives as soon as it is true; fail after so long."""
    end = time.monotonic() + seconds
    while not (found := happened()):
        if time.monotonic() > end:
            raise TimeoutError(happened)
        time.sleep(0.005)
    return found


def gone(pid):
    """Whether a process is no more, or only its parent has not noticed."""
    try:
        return psutil.Process(pid).status() == psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return True


class Watched:
    """A test of a practice card in real processes, with its facts and views kept."""

    def __init__(self, condition="as-claimed", patience=5.0, **plan):
        card = conditions.open_practice(condition)
        self.target = Target(identity=card.facts.identity, claims=card.facts.claims)
        card.close()
        asked = {"depth": "quick", "practice_condition": condition}
        self.plan = Plan(**(asked | plan))
        self.patience = patience
        self.kept, self.shown, self.pids = [], [], []
        begun = started(practice_condition=condition)
        self.story = Story(begun, identity=self.target.identity)

    def run(self, meddle=None):
        """Measure; `meddle(fact, pid)` is called as each fact is kept."""
        with Supervised(self.patience) as bench:

            def keep(fact):
                pid = bench._process._process.pid if bench._process else None
                if pid not in self.pids and pid is not None:
                    self.pids.append(pid)
                self.kept.append(fact)
                if meddle is not None:
                    meddle(fact, pid)

            bench.measure(self.target, self.plan, self.story, keep, self.shown.append)
        return self

    @property
    def record(self):
        return self.story.record(1.0)

    @property
    def incidents(self):
        return self.story.incidents


def once(kind, act, **fields):
    """Meddling that does something at the first fact of a kind."""
    done = []

    def meddle(fact, pid):
        if done or not isinstance(fact, kind):
            return
        if all(getattr(fact, name) == value for name, value in fields.items()):
            done.append(pid)
            act(pid)

    return meddle


SPEAKS = """
import os, sys
from probe.events import *
from probe.survival import talk
def say(word):
    talk.send(sys.stdout.buffer, word)
def order():
    return talk.orders.decode(talk.receive(sys.stdin.buffer))
"""


def instead(monkeypatch, code):
    """Have a process of our own measure; return the processes that were started."""
    processes = []

    def start():
        processes.append(
            subprocess.Popen(
                [sys.executable, "-c", SPEAKS + code],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                env=os.environ | {"PYTHONPATH": str(ROOT)},
                start_new_session=True,
            )
        )
        return processes[-1]

    monkeypatch.setattr(parent, "_start", start)
    return processes


def check(folder, *options, **more):
    """Start the program on a practice card, its standard streams kept."""
    return subprocess.Popen(
        [sys.executable, "-m", "probe", "check", "--out", str(folder), *options],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        **more,
    )


HANGS_AT = b'"BlockSwept","action":"write","number":15,'
"""The last block below 2 GiB: what comes after it never ends."""


def hanging(folder, *, patience="120", **more):
    """Start a run and return it, and its measuring process, when that one hangs."""
    run = check(
        folder, "--practice", "hanging-driver", "--depth", "quick", "--patience",
        patience, **more,
    )  # fmt: skip
    journal = Path(folder) / "journal.txt"

    def hangs():
        return journal.exists() and HANGS_AT in journal.read_bytes()

    until(hangs)
    children = psutil.Process(run.pid).children()
    assert len(children) == 1
    return run, children[0]


def killed(folder):
    """Kill a run while its launch hangs: it leaves its journal and its mark."""
    run, child = hanging(folder)
    run.kill()
    run.communicate()
    until(lambda: gone(child.pid), 2.0)
    return Path(folder) / "journal.txt"
