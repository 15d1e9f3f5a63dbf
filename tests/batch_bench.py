"""A bench for batches: cards that are not there, and checks that do what is told.

A fake check writes a record that a real H100 gave, as of now; or whatever a test wants
to become of a card.
"""

import itertools
import os
import sys
import threading
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from types import SimpleNamespace

from msgspec.structs import replace

from probe import cli
from probe.batch import running
from probe.batch.running import Over
from probe.events import PhaseBegan, RunBegan
from probe.survival import benches
from reports import codec
from reports.ledger.query import Query
from reports.ledger.store import open_ledger
from reports.listing import ListedCard, Listing

GOLDEN = Path(__file__).parent / "data" / "golden" / "h100-sxm.json"
SECONDS = (5.0 + number / 1000 for number in itertools.count())
PLACES = ("0000:41:00.0", "0000:c1:00.0", "0000:c2:00.0")


def golden():
    return codec.load(GOLDEN)


def card(place=PLACES[0], index=0, **fields):
    """The H100 as it is listed, in some slot."""
    record = golden()
    identity = replace(record.card, pci_address=place, index=index)
    identity = replace(identity, **{k: v for k, v in fields.items() if k != "other"})
    claims = tuple(one for one in record.claims if one.layer != "listing")
    return ListedCard(identity=identity, claims=claims, **fields.get("other", {}))


class Typed(StringIO):
    """A person's answers."""

    def isatty(self):
        return True


class FakeRun:
    def __init__(self, job, hear, become):
        self.job, self.hear, self.become = job, hear, become
        self.stopped, self.killed = threading.Event(), threading.Event()

    def wait(self):
        return self.become(self)

    def stop(self):
        self.stopped.set()

    def kill(self):
        self.killed.set()
        self.stopped.set()

    def store(self, **fields):
        """Write the record that this check came to; return it."""
        place = next(
            one.split("=", 1)[1] for one in self.job.arguments if "--card=" in one
        )
        now = datetime.now(UTC).isoformat(timespec="seconds")
        base = golden()
        told = {
            "card": replace(base.card, pci_address=place),
            "started": now,
            "seconds": next(SECONDS),  # no two tests take the same time
        }
        record = replace(base, **(told | fields))
        codec.save(codec.encode(record), self.job.folder / "record.json")
        return record


def genuine(run):
    """What becomes of a genuine card."""
    run.hear(
        RunBegan(
            label="NVIDIA H100", practice_condition=None, folder=None,
            expected_seconds=None,
        )
    )  # fmt: skip
    run.hear(PhaseBegan(name="take", title="Taking memory"))
    run.store()
    return Over(code=0)


class Bench:
    """The cards that are here, and what becomes of each: by stock number."""

    def __init__(self, monkeypatch, capsys, folder):
        self.cards = [card()]
        self.become = {}
        self.runs = []
        self.listed = 0
        self.folder, self._capsys, self._monkeypatch = folder, capsys, monkeypatch
        monkeypatch.setattr(benches, "open_bench", lambda _: self)
        monkeypatch.setattr(running, "Check", self._start)
        # What fsync is for, a test of the same process cannot see.
        monkeypatch.setattr(os, "fsync", lambda _: None)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None

    def listing(self):
        self.listed += 1
        return Listing(cards=tuple(self.cards))

    def pick(self, wanted):
        return SimpleNamespace(problem="No card is here: none")

    def _start(self, job, hear):
        run = FakeRun(job, hear, self.become.get(job.number, genuine))
        self.runs.append(run)
        return run

    @property
    def out(self):
        return self.folder / "out"

    @property
    def ledger(self):
        return self.folder / "ledger.sqlite"

    @property
    def key(self):
        path = self.folder / "shop.key"
        if not path.exists():
            assert cli.main(["key", "new", "--out", str(path)]) == 0
        return path

    def run(self, *argv, typed=None, piped=None, certify=True):
        """Run `batch`; return code, standard output and error."""
        stdin = Typed(typed) if typed is not None else StringIO(piped or "")
        self._monkeypatch.setattr(sys, "stdin", stdin)
        more = [f"--key={self.key}", "--operator=R. Amund"]
        if not certify:
            more = ["--no-certificates"]
        self._capsys.readouterr()
        code = cli.main(
            [
                *("batch", f"--out={self.out}", f"--ledger={self.ledger}", *more),
                *map(str, argv),
            ]
        )
        out, err = self._capsys.readouterr()
        return code, out.decode(), err.decode()

    def rows(self):
        """What is in the ledger, the first added first."""
        with open_ledger(str(self.ledger)) as ledger:
            return ledger.find(Query(practice=True)).rows[::-1]

    def path(self, number, name="record.json"):
        return self.out / number / name
