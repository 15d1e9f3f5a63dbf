"""What the program survives: `python tests/survival_bench.py`. Prints counts.

Whole runs on the processor's OpenCL driver, with one call struck each (an error code, a
hang, the process killed, garbage returned); whole runs ended or interrupted at random
instants. Each has to end as `tests/bench/survived.py` says. Needs what the tests need:
an OpenCL device that is the processor (OCL_ICD_VENDORS), a C compiler.

    python tests/survival_bench.py
    python tests/survival_bench.py --only quick:137:hang:once

Exit code 0 where nothing failed.
"""

import argparse
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent / "bench"))

import counterfeit
import cuts
import strikes
import survived
from strikes import SCENARIOS, Point, Struck

FIRST_CALLS = 60
"""So many calls of a run are all struck: the looking for cards, the first building."""
EVENLY = {"quick": 15, "standard": 45, "wrap": 25, "cpu": 8}
"""Beside those: calls struck, evenly over the whole run."""


@dataclass
class Count:
    """What was counted of one sort."""

    points: int = 0
    missed: int = 0
    """Runs that ended before the fault's call came."""
    outcomes: Counter[str] = field(default_factory=Counter)
    names: Counter[str] = field(default_factory=Counter)
    worst: tuple[float, str] = (0.0, "")
    failures: list[tuple[str, list[str]]] = field(default_factory=list)

    def add(self, name: str, outcome: str, seconds: float, wrong: list[str]) -> None:
        self.points += 1
        self.outcomes[outcome] += 1
        self.worst = max(self.worst, (seconds, name))
        if wrong:
            self.failures.append((name, wrong))

    def line(self, title: str) -> str:
        outcomes = ", ".join(f"{one} {n}" for one, n in self.outcomes.most_common())
        return (
            f"{title:9} {self.points:4} points, {len(self.failures)} failed; "
            f"{outcomes}; longest {self.worst[0]:.1f} s ({self.worst[1]})"
        )


def say(text: str) -> None:
    print(text, flush=True)


def points(layer: Path, folder: Path, share: float) -> list[Point]:
    """Return the points of the whole sweep; says how many calls a run makes."""
    found: list[Point] = []
    for scenario in SCENARIOS:
        calls, ended, record = strikes.whole(layer, folder / scenario, scenario)
        known = survived.as_if_known(survived.codec.decode(record))
        say(
            f"{scenario}: {calls} calls, {ended.seconds:.1f} s, code {ended.code}; "
            f"{known} if the table knew its name"
        )
        if scenario == "quick":
            first = range(1, FIRST_CALLS + 1)
            found += strikes.spread(scenario, first[:: round(1 / share)])
        number = round(EVENLY[scenario] * share)
        later = strikes.evenly(calls * 19 // 20, number, FIRST_CALLS + 1)
        found += strikes.spread(scenario, later)
    return found


def sweep(
    layer: Path, folder: Path, asked: Sequence[Point], hangs: int, others: int
) -> dict[str, Count]:
    """Carry the points out, hanging ones beside the others: those only wait."""
    counts = {fault: Count() for fault in strikes.FAULTS}

    def one(point: Point) -> None:
        struck = strikes.strike(layer, folder / str(point), point)
        count = counts[point.fault]
        wrong = survived.wrong(struck)
        with _TELLING:
            if not struck.names:
                count.missed += 1
            count.names.update(struck.names[:1])
            _tell(str(point), struck, wrong)
            seconds = struck.ended.seconds
            count.add(str(point), survived.outcome(struck), seconds, wrong)

    hang = [point for point in asked if point.fault == "hang"]
    rest = [point for point in asked if point.fault != "hang"]
    with ThreadPoolExecutor(hangs) as some, ThreadPoolExecutor(others) as more:
        done = [some.submit(one, point) for point in hang]
        done += [more.submit(one, point) for point in rest]
        for each in done:
            each.result()
    return counts


_TELLING = threading.Lock()


def _tell(name: str, struck: Struck, wrong: list[str]) -> None:
    call = struck.names[0] if struck.names else "(not reached)"
    times = f" x{len(struck.names)}" if len(struck.names) > 1 else ""
    verdict = survived.outcome(struck)
    mark = "FAILED " if wrong else ""
    say(
        f"  {mark}{name} {call}{times}: code {struck.ended.code}, {verdict}, "
        f"{struck.ended.seconds:.1f} s"
    )
    for each in wrong:
        say(f"      {each}")


def instants(
    what: str, numbers: Iterable[int], one: Callable[[int], cuts.Cut], workers: int
) -> Count:
    """Strike runs at random instants."""
    counted = Count()

    def carry_out(number: int) -> None:
        cut = one(number)
        with _TELLING:
            mark = "FAILED " if cut.wrong else ""
            say(f"  {mark}{what}:{number} {cut.what}: {cut.outcome}")
            for each in cut.wrong:
                say(f"      {each}")
            counted.add(f"{what}:{number}", cut.outcome, cut.seconds, cut.wrong)

    with ThreadPoolExecutor(workers) as pool:
        for done in [pool.submit(carry_out, number) for number in numbers]:
            done.result()
    return counted


def report(counts: dict[str, Count], seconds: float) -> int:
    """Print what was counted; return how many failed."""
    total = sum(count.points for count in counts.values())
    failures = [each for count in counts.values() for each in count.failures]
    say(f"\n{total} points, {len(failures)} failed, {seconds:.0f} s")
    for title, count in counts.items():
        if count.points:
            say(count.line(title))
        if count.missed:
            say(f"          {count.missed} runs ended before the call came")
    names: Counter[str] = Counter()
    for count in counts.values():
        names.update(count.names)
    if names:
        said = ", ".join(f"{name} {n}" for name, n in names.most_common())
        say(f"struck: {said}")
    for name, wrong in failures:
        say(f"failed: --only {name}")
        for each in wrong:
            say(f"    {each}")
    return len(failures)


def main(arguments: Iterable[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Count what the program survives.")
    parser.add_argument("--only", action="append", metavar="POINT", default=[])
    parser.add_argument("--share", type=float, default=1.0, help="of the sweep, to 1")
    parser.add_argument("--kills", type=int, default=100, help="runs to be ended")
    parser.add_argument("--stops", type=int, default=40, help="runs to be interrupted")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--hangs", type=int, default=6, help="hanging runs at a time")
    parser.add_argument("--workers", type=int, default=2, help="other runs at a time")
    parser.add_argument("--without-sweep", action="store_true")
    asked = parser.parse_args(None if arguments is None else list(arguments))
    strikes.hidden()
    began = time.perf_counter()
    counts: dict[str, Count] = {}
    with tempfile.TemporaryDirectory(prefix="survival-") as scratch:
        folder = Path(scratch)
        (folder / "layer").mkdir()
        layer = counterfeit.build(folder / "layer")
        only = [one for one in asked.only if not one.startswith(("ended:", "stopped:"))]
        if only or not (asked.only or asked.without_sweep):
            chosen = [Point.parse(one) for one in only]
            chosen = chosen or points(layer, folder / "whole", asked.share)
            Random(asked.seed).shuffle(chosen)
            say(f"{len(chosen)} points")
            counts |= sweep(layer, folder, chosen, asked.hangs, asked.workers)
        for what, number, carry_out in (
            ("ended", asked.kills, cuts.killed),
            ("stopped", asked.stops, cuts.stopped),
        ):
            numbers: Iterable[int] = range(number)
            if asked.only:
                mine = [one for one in asked.only if one.startswith(f"{what}:")]
                numbers = [int(one.removeprefix(f"{what}:")) for one in mine]
            counts[what] = instants(
                what, numbers, _cutting(carry_out, folder, asked.seed), asked.workers
            )
    return min(report(counts, time.perf_counter() - began), 1)


def _cutting(
    carry_out: Callable[[Path, Random, int], cuts.Cut], folder: Path, seed: int
) -> Callable[[int], cuts.Cut]:
    def one(number: int) -> cuts.Cut:
        place = folder / f"{carry_out.__name__}-{number}"
        return carry_out(place, Random(f"{seed}/{carry_out.__name__}/{number}"), number)

    return one


if __name__ == "__main__":
    sys.exit(main())
