"""How often the judge is wrong: `python tests/truth_bench.py`. Prints, asserts nothing.

Simulates cards of every row of the table through the whole judge, with noise that is
written apart from the envelopes (`tests/truth/`), and prints false accusations, misses,
how often the chip was told, and whether probabilities hold. Run `n` of a seed is always
the same run, however many workers share the work; `--only` shows one of them whole.

    python tests/truth_bench.py --runs 200000
    python tests/truth_bench.py --only genuine:17
"""

import argparse
import gc
import json
import multiprocessing
import os
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random

import msgspec
from truth import runs
from truth.pairs import Pairs
from truth.score import BINS, Tally, count

from reference.case import Case
from reference.judge import judge
from reference.table import Table, load

PART = 500
"""Runs of one piece of work."""
SHOWN = 40
TOO_MANY_MISSES = 0.001


@cache
def _made() -> tuple[Table, Pairs]:
    table = load()
    made = table, Pairs(table)
    gc.freeze()  # what stays need not be looked through for garbage
    return made


def simulate(kind: str, number: int, seed: int) -> runs.Run:
    """Return run `number` of a kind, genuine or forged: always the same one."""
    table, pairs = _made()
    rng = Random(f"{seed}/{kind}/{number}")
    if kind == "genuine":
        row = table.variants[number % len(table.variants)]
        return runs.genuine(rng, row, table)
    while True:
        true, claimed = pairs.draw(rng, number)
        run = runs.forged(rng, true, claimed, table)
        told = Case(run.record, table).all_rows
        if pairs.beyond(true, told):
            return replace(run, told=told or (claimed,))


def work_off(work: tuple[str, int, int, int, bool]) -> Tally:
    """Judge the runs of one kind from the first to before the last."""
    kind, first, last, seed, matching = work
    table, _ = _made()
    tally = Tally()
    gc.disable()  # nothing here refers to itself; once a part is enough
    try:
        with nullcontext() if matching else unmatched():
            for number in range(first, last):
                run = simulate(kind, number, seed)
                count(tally, run, judge(run.record, table), f"{kind}:{number}")
    finally:
        gc.enable()
    return tally


@contextmanager
def unmatched() -> Iterator[None]:
    """Let no case look for its chip."""
    kept = vars(Case)["identified"]
    Case.identified = None
    try:
        yield
    finally:
        Case.identified = kept


def bench(
    genuine: int, forged: int, seed: int, workers: int, *, matching: bool = True
) -> Tally:
    """Judge so many genuine and forged runs, in that many processes.

    Without matching the chip is not looked for, and rules that ask for it (units
    counted by time) stay short of a verdict: misses can only become more, and false
    accusations of those rules are not seen.
    """
    work = [
        (kind, first, min(first + PART, total), seed, matching)
        for kind, total in (("genuine", genuine), ("forged", forged))
        for first in range(0, total, PART)
    ]
    tally = Tally()
    if workers == 1:
        for part in map(work_off, work):
            tally.add(part)
        return tally
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        for part in pool.imap_unordered(work_off, work):
            tally.add(part)
    return tally


def _share(count: int, total: int) -> str:
    return f"{count} of {total} ({count / total:.4%})" if total else "none"


def report(tally: Tally, seconds: float, workers: int) -> list[str]:
    """Return what was found, as lines."""
    table, _ = _made()
    genuine, forged = tally.genuine.total(), tally.forged.total()
    accused = tally.genuine["not as claimed"] + tally.genuine["faulty"]
    missed = tally.forged["as claimed"]
    each = (genuine + forged) / seconds / workers
    lines = [
        (
            f"{genuine} genuine runs over {len(tally.rows)} of {len(table.variants)} "
            f"rows, {forged} forged runs over {len(tally.pairs)} pairs of chips; "
            f"{seconds:.0f} s, {each:.0f} runs a second and worker"
        ),
        f"false accusations  {_share(accused, genuine)}",
        *(f"    {number:6}  {model}: {rules}"
          for (model, rules), number in tally.accused.most_common(SHOWN)),
        f"genuine            {_outcomes(tally.genuine)}",
        *(f"    {number:6}  held back by {rule}"
          for rule, number in tally.doubts.most_common(16)),
        *_by_depth(tally, "genuine"),
        f"misses             {_told(tally, '')} of pairs that a test can tell apart",
        f"  of them with less {_told(tally, ', less')}",
        f"  of all pairs      {_share(missed, forged)}",
        *(f"    {number:6}  {why}" for why, number in tally.missed_why.most_common()),
        "pairs that no test tells apart, so many of them as claimed",
        *(f"    {tally.not_tellable[f'missed: {why}']:6}  of {number}: {why}"
          for why, number in tally.not_tellable.most_common()
          if not why.startswith("missed: ")),
        f"forged             {_outcomes(tally.forged)}",
        *_by_depth(tally, "forged"),
        *(f"    {number:6}  caught by {rule}"
          for rule, number in tally.caught_by.most_common(16)),
    ]  # fmt: skip
    lines += _identified(tally)
    if tally.missed:
        lines.append("misses by true chip and claimed chip")
    for pair, number in tally.missed.most_common(SHOWN):
        seen = ", ".join(
            f"{rule} {times}"
            for rule, times in tally.missed_findings[pair].most_common(6)
        )
        lines.append(
            f"    {number:6}  of {tally.pairs[pair]}: {pair[0]} as {pair[1]}: {seen}"
        )
        lines.append(f"            could be told by: {_most(tally, pair)}")
    return lines


def _most(tally: Tally, pair: tuple[str, str]) -> str:
    told = tally.missed_telling[pair].most_common()
    return ", ".join(f"{what} {times}" for what, times in told)


def _by_depth(tally: Tally, kind: str) -> list[str]:
    """Return outcomes by how the runs were measured."""
    ways: dict[str, Counter[str]] = defaultdict(Counter)
    for (of, way, outcome), number in tally.by_depth.items():
        if of == kind:
            ways[way][outcome] += number
    return [
        f"    {counts.total():6}  {way}: {_outcomes(counts)}"
        for way, counts in sorted(ways.items())
    ]


def _told(tally: Tally, of: str) -> str:
    return _share(tally.tellable[f"missed{of}"], tally.tellable[f"all{of}"])


def _outcomes(counts: Counter[str]) -> str:
    total = counts.total()
    return ", ".join(f"{one} {n / total:.3%}" for one, n in counts.most_common())


def _identified(tally: Tally) -> list[str]:
    if not any(key.endswith(" of") for key in tally.named):
        return ["right chip         not yet", "right model set    not yet",
                "calibration        not yet"]  # fmt: skip
    lines = []
    for of, number in sorted(tally.named.items()):
        if of.endswith(" of"):
            right = tally.named[of.removesuffix(" of")]
            lines.append(f"right {of.removesuffix(' of'):37} {_share(right, number)}")
    for kind in ("genuine", "forged"):
        for what in ("differ", "chip held nothing"):
            right, of = tally.named[f"{kind} {what}"], tally.named[f"{kind} all"]
            lines.append(f"{kind} {what:20} {_share(right, of)}")
    for what, counts in sorted(tally.calibration.items()):
        lines.append(f"calibration of {what}: said, right, runs")
        for place, (low, high) in enumerate(pairwise(BINS)):
            of = counts[place * 2] + counts[place * 2 + 1]
            if of:
                right = counts[place * 2 + 1] / of
                lines.append(
                    f"    {low:5.3f} to {min(high, 1):5.3f}  {right:7.4f} {of:9}"
                )
    lines.append("another chip told, by how the run was measured")
    lines += [f"    {n:6}  {gap}" for gap, n in tally.wrong_gaps.most_common() if n]
    wrong = tally.wrong_chips.most_common(SHOWN)
    if wrong:
        lines.append("wrong chips: true, told")
        lines += [f"    {n:6}  {true} told as {told}" for (true, told), n in wrong]
    return lines


def _json(tally: Tally, lines: list[str]) -> str:
    def flat(counts: Counter[tuple[str, str]]) -> dict[str, int]:
        return {" | ".join(key): number for key, number in counts.most_common()}

    return json.dumps(
        {
            "genuine": tally.genuine,
            "forged": tally.forged,
            "rows": len(tally.rows),
            "less": tally.less,
            "tellable": tally.tellable,
            "not_tellable": tally.not_tellable,
            "by_depth": {" | ".join(k): n for k, n in tally.by_depth.items()},
            "missed_why": tally.missed_why,
            "accused": flat(tally.accused),
            "missed": flat(tally.missed),
            "pairs": flat(tally.pairs),
            "doubts": tally.doubts,
            "caught_by": tally.caught_by,
            "named": tally.named,
            "wrong_chips": flat(tally.wrong_chips),
            "cases": tally.cases,
            "report": lines,
        },
        indent=1,
    )


def _show(name: str, seed: int) -> None:
    kind, _, number = name.partition(":")
    run = simulate(kind, int(number), seed)
    judged = judge(run.record, _made()[0])
    print(f"true {run.true.id}, claimed {run.claimed.id}, {run.lies}, {run.troubles}")
    text = msgspec.json.format(msgspec.json.encode(judged), indent=1)
    print(text.decode())


def _arguments(given: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=20_000, help="genuine runs")
    parser.add_argument("--forged", type=int, help="forged runs (as many as genuine)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument(
        "--no-match", action="store_true", help="do not rank chips: ten times as fast"
    )
    parser.add_argument("--json", type=Path, help="keep all counts in this file")
    parser.add_argument("--cases", type=int, default=20, help="single cases to print")
    parser.add_argument("--only", help="show one run whole: genuine:17, forged:3")
    return parser.parse_args(given)


def main(given: list[str]) -> int:
    asked = _arguments(given)
    if asked.only:
        _show(asked.only, asked.seed)
        return 0
    began = time.perf_counter()
    forged = asked.runs if asked.forged is None else asked.forged
    tally = bench(
        asked.runs, forged, asked.seed, asked.workers, matching=not asked.no_match
    )
    lines = report(tally, time.perf_counter() - began, asked.workers)
    print("\n".join(lines))
    for case in tally.cases[: asked.cases]:
        print(f"  {case}")
    if asked.json:
        asked.json.write_text(_json(tally, lines))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
