"""Whole runs that are ended or interrupted at a random instant.

Simulated cards and the processor in turn. An instant lies after the run's journal was
begun; every tenth lies before, where there is nothing yet to be kept.
"""

import os
import shutil
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Protocol

import survived
import watching
from watching import Ended, Place

CPU = ("--card", "cpu", "--memory-limit", "64MiB", "--yes")
RUNS: tuple[tuple[str, ...], ...] = (
    ("--practice", "as-claimed"),
    (*CPU, "--depth", "standard"),
    ("--practice", "as-claimed", "--depth", "quick"),
    (*CPU, "--depth", "quick"),
)
LENGTH = {"--practice": 1.0, "--card": 4.0}
"""Seconds from the journal's first line to the end, at most: an instant that is too
late is drawn again."""
LATE_SECONDS = 1.0
"""A run that goes on for longer after Ctrl-C was not at its end."""
START_SECONDS = 0.8
EARLY = 10
MOST_TRIES = 50


@dataclass(frozen=True, kw_only=True)
class Cut:
    """What came of one."""

    what: str
    outcome: str
    seconds: float
    wrong: list[str]


def killed(folder: Path, rng: Random, number: int) -> Cut:
    """End a run at a random instant, and conclude it."""

    def is_cut(place: Place, ended: Ended, _: float, *, early: bool) -> bool:
        done = place.journal.exists() and not (place.out / "report.html").exists()
        return ended.code < 0 and (early or done)

    place, what, ended = _struck(folder, rng, number, watching.kill, is_cut)
    wrong = survived.left_behind(ended)
    data = None
    if place.journal.exists() and place.journal.stat().st_size:
        after = _ask(place, "--conclude", "--json")
        data = _stored(place)
        wrong += survived.concluded(after, data)
        again = _ask(place, "--conclude")
        if again.code != survived.COULD_NOT_TEST or "no run" not in again.err:
            wrong.append(f"concluded twice: {again.code}: {again.err[-300:]}")
    else:
        after = _ask(place, "--conclude")
        if after.code != survived.COULD_NOT_TEST or "no run" not in after.err:
            wrong.append(f"nothing to conclude: {after.code}: {after.err[-300:]}")
    shutil.rmtree(folder)
    outcome = survived.outcome_of(data) if data else "nothing begun"
    return Cut(what=what, outcome=outcome, seconds=after.seconds, wrong=wrong)


def stopped(folder: Path, rng: Random, number: int) -> Cut:
    """Press Ctrl-C at a random instant."""

    def is_cut(_: Place, ended: Ended, seconds: float, *, early: bool) -> bool:
        return early or ended.code == survived.INTERRUPTED or seconds > LATE_SECONDS

    place, what, ended = _struck(folder, rng, number, watching.interrupt, is_cut)
    data = _stored(place)
    wrong = survived.interrupted(ended, data, began=place.journal.exists())
    shutil.rmtree(folder)
    outcome = survived.outcome_of(data) if data else "nothing begun"
    return Cut(what=what, outcome=outcome, seconds=ended.seconds, wrong=wrong)


def _struck(
    folder: Path,
    rng: Random,
    number: int,
    strike: Callable[[subprocess.Popen[bytes]], None],
    is_cut: "IsCut",
) -> tuple[Place, str, Ended]:
    """Run until a run was struck before it was over."""
    early = number % EARLY == EARLY - 1
    options = RUNS[3] if early else RUNS[number % len(RUNS)]
    for _ in range(MOST_TRIES):
        shutil.rmtree(folder, ignore_errors=True)
        place = Place(folder)
        instant = rng.uniform(0, START_SECONDS if early else LENGTH[options[0]])
        struck_at: list[float] = []

        def note(
            process: subprocess.Popen[bytes], struck_at: list[float] = struck_at
        ) -> None:
            struck_at.append(time.perf_counter())
            strike(process)

        waits = watching.after_start if early else watching.after_journal
        ended = place.run(
            *options,
            *("--out", str(place.out), "--patience", "5", "--quiet"),
            environment=_clean(),
            meanwhile=waits(place, instant, note),
        )
        lasted = time.perf_counter() - struck_at[0] if struck_at else 0.0
        if struck_at and is_cut(place, ended, lasted, early=early):
            since = "its process was there" if early else "its journal was"
            return place, f"{' '.join(options)}, {instant:.3f} s after {since}", ended
    raise RuntimeError(f"{options}: it was always over before it was struck")


class IsCut(Protocol):
    """Whether a run was struck before it was over."""

    def __call__(
        self, place: Place, ended: Ended, seconds: float, *, early: bool
    ) -> bool:
        """`seconds`: how long it went on after it was struck."""


def _ask(place: Place, *options: str) -> Ended:
    return place.run(*options, environment=_clean())


def _stored(place: Place) -> bytes | None:
    path = place.out / "record.json"
    return path.read_bytes() if path.exists() else None


def _clean() -> dict[str, str]:
    return {**os.environ, "PYOPENCL_NO_CACHE": "1", "OPENCL_LAYERS": ""}
