"""The command line in this process: run it, read what it left, meddle with its card."""

import functools
import json
from dataclasses import dataclass
from pathlib import Path

from probe import cli
from probe.practice import conditions
from reference import table
from reports import codec
from reports.record import Record

_load = table.load


@functools.cache
def shipped():
    return _load()


def keep_table(monkeypatch):
    """Read the shipped table once for all tests."""
    monkeypatch.setattr(
        table, "load", lambda extra=None: _load(extra) if extra else shipped()
    )


@dataclass(frozen=True)
class Ended:
    """What one command came to."""

    code: int
    out: str
    err: str
    folder: Path

    @property
    def lines(self):
        return self.out.splitlines()

    @property
    def data(self):
        return (self.folder / "record.json").read_bytes()

    @property
    def record(self) -> Record:
        return codec.decode(self.data)

    @property
    def raw(self):
        return json.loads(self.data)


def command(capsys, folder, *argv):
    """Run `check` with --out; whatever it prints is read and taken away.

    An earlier test has a folder already.
    """
    capsys.readouterr()
    earlier = {"--conclude", "--resume"} & set(argv)
    out = [] if earlier else ["--out", str(folder)]
    code = cli.main(["check", *out, *argv])
    out, err = capsys.readouterr()
    return Ended(code, out, err, Path(folder))


class Meddling:
    """A device that raises `error` at the n-th call of any of its methods.

    A lost device stays lost: every later call raises as well.
    """

    METHODS = (
        "now", "take", "release", "sweep", "supports", "burst", "settle", "sense",
        "limits", "experiment", "local_bytes",
    )  # fmt: skip

    def __init__(self, device, at=None, error=None, *, for_good=False):
        self._device, self._at, self._error = device, at, error
        self._for_good = for_good
        self.calls = 0
        self.called = []
        self.closed = 0
        self.facts = device.facts

    def __getattr__(self, name):
        if name not in self.METHODS:
            raise AttributeError(name)
        real = getattr(self._device, name)

        def call(*arguments, **more):
            self.calls += 1
            self.called.append(name)
            hit = self.calls == self._at
            if hit or (self._for_good and self._at and self.calls > self._at):
                raise self._error
            return real(*arguments, **more)

        return call

    def close(self):
        self.closed += 1
        self._device.close()


def practise_on(monkeypatch, make):
    """Have `--practice` open what `make(practice card)` gives; return what it gave."""
    opened = []
    real = conditions.open_practice

    def open_practice(name=conditions.DEFAULT, claimed=None):
        opened.append(make(real(name, claimed)))
        return opened[-1]

    monkeypatch.setattr(conditions, "open_practice", open_practice)
    return opened
