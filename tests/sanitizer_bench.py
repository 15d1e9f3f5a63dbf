"""Our kernels under NVIDIA's compute-sanitizer: `python tests/sanitizer_bench.py`.

The tool sees CUDA's calls alone. So a small whole run is recorded through OpenCL in one
process, and each tool watches another that does the same again through CUDA: the PTX
that OpenCL's driver made, every launch with its sizes, arguments and memory, and what
comes back held against what came back then. Each tool also has to report the fault
that was planted for it. No report is filtered out: initcheck, too, has to find nothing
that is read before it was written. Needs an NVIDIA card with its drivers, and
compute-sanitizer.

    python tests/sanitizer_bench.py --card 0
    python tests/sanitizer_bench.py --sanitizer /opt/cuda/bin/compute-sanitizer

Exit code 0 where every kernel ran under every tool, without an error, alike, and every
planted fault was reported.
"""

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sanitizer.recording import Folder, Launched, Recording, kernels
from sanitizer.replay import MARK

TESTS = Path(__file__).resolve().parent
LIMIT = ("--print-limit", "20")
TOOLS: dict[str, tuple[str, ...]] = {
    "memcheck": ("--leak-check", "full", "--padding", "65536"),
    "initcheck": (),
    "racecheck": ("--racecheck-report", "all"),
    "synccheck": (),
}
LONGEST_SECONDS = 300.0
"""One process under a tool."""
LONGEST_FAULT_SECONDS = 60.0
"""A planted fault may hang."""
"""Padding: buffers lie side by side, and what is written past the end of one would be
another's."""
SHOWN_LINES = 40
_ERRORS = re.compile(r"ERROR SUMMARY: (\d+) errors?")
_RACES = re.compile(
    r"RACECHECK SUMMARY: (\d+) hazards? displayed \((\d+) errors?, (\d+) warnings?"
)
_LEAKS = re.compile(r"LEAK SUMMARY: (\d+) bytes leaked")


@dataclass
class Watched:
    """One process under a tool, and what the tool said."""

    tool: str
    text: str
    seconds: float
    told: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        lines = [x for x in self.text.splitlines() if x.startswith(MARK)]
        if lines:
            self.told = json.loads(lines[-1].removeprefix(MARK))

    @property
    def errors(self) -> int | None:
        """What the tool counted; None where it did not come to its summary."""
        found = (_RACES if self.tool == "racecheck" else _ERRORS).findall(self.text)
        if not found:
            return None
        return max(int(n) for n in (found[-1] if self.tool == "racecheck" else found))

    @property
    def summaries(self) -> list[str]:
        return [x.strip(" =") for x in self.text.splitlines() if "SUMMARY" in x]

    def reports(self) -> list[str]:
        """Return the tool's own lines."""
        return [x for x in self.text.splitlines() if x.startswith("=====")]


def say(text: str) -> None:
    print(text, flush=True)


def environment() -> dict[str, str]:
    """Return what finds the tests' modules, and ours, wherever it is started."""
    given = os.environ.get("PYTHONPATH", "")
    folders = [str(TESTS), str(TESTS.parent), *filter(None, [given])]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(folders)}


def watch(tool: str, sanitizer: str, folder: Path, *options: str) -> Watched:
    """Replay a recording under a tool; `tool` may be "" for none."""
    watcher = [sanitizer, "--tool", tool, *LIMIT, *TOOLS[tool]] if tool else []
    began = time.perf_counter()
    longest = LONGEST_FAULT_SECONDS if options else LONGEST_SECONDS
    replay = [sys.executable, "-m", "sanitizer.replay", str(folder)]
    try:
        done = subprocess.run(
            [*watcher, *replay, *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            env=environment(),
            timeout=longest,
            check=False,
        )
        text = done.stdout
    except subprocess.TimeoutExpired as late:
        text = f"{_text(late.stdout)}\nended after {longest:.0f} s"
    said = "-".join(["said", tool or "plain", *options[1:]])
    (folder / f"{said}.txt").write_text(text, "utf-8")
    return Watched(tool, text, time.perf_counter() - began)


def _text(output: bytes | str | None) -> str:
    return (
        output.decode(errors="replace") if isinstance(output, bytes) else output or ""
    )


def record(folder: Path, card: str, limit_mib: int) -> None:
    """Record in a process of its own."""
    subprocess.run(
        [
            *(sys.executable, "-m", "sanitizer.small_run", str(folder)),
            *("--card", card, "--limit-mib", str(limit_mib)),
        ],
        env=environment(),
        check=True,
        timeout=LONGEST_SECONDS,
    )


def describe(recording: Recording) -> list[str]:
    """Print what was recorded; return what is wrong with it."""
    launches = recording.launches()
    kinds = Counter(type(event).__name__ for event in recording.events)
    programs = {e.program for e in recording.events if isinstance(e, Launched)}
    say(f"recorded on {recording.device}; {recording.driver}")
    say(
        f"  {launches.total()} launches of {len(launches)} kernels out of "
        f"{len(programs)} programs; {kinds['Made']} buffers, {kinds['Put']} copies up, "
        f"{kinds['Got']} down, {kinds['Moved']} within"
    )
    say("  " + ", ".join(f"{name} {n}" for name, n in sorted(launches.items())))
    excused, missing = recording.missing()
    for name, reason in excused.items():
        say(f"  not on this card: {name}: {reason}")
    foreign = sorted(launches.keys() - kernels())
    return [f"never launched: {name}" for name in missing] + [
        f"launched, but none of our kernels: {name}" for name in foreign
    ]


def judge(watched: Watched, recording: Recording) -> list[str]:
    """Print one tool's result over the whole recording; return what is wrong."""
    told = watched.told
    ran = Counter(told.get("launches", {}))
    wrong = []
    if told.get("problem") or not told:
        wrong.append(
            f"the replay ended early: {told.get('problem', 'it told nothing')}"
        )
    if ran != recording.launches():
        short = recording.launches() - ran
        wrong.append(f"not replayed: {dict(short)}")
    if told.get("alike") != told.get("got"):
        wrong.append(f"came back otherwise: {told.get('differing')}")
    errors = watched.errors
    if watched.tool and errors is None:
        wrong.append("the tool came to no summary")
    if errors:
        wrong.append(f"{errors} errors")
    leaks = _LEAKS.findall(watched.text)
    if watched.tool == "memcheck" and leaks != ["0"]:
        wrong.append(f"leaks: {leaks}")
    counted = "" if not watched.tool else f"{errors} errors, "
    say(
        f"{watched.tool or 'untooled':9} {len(ran)} kernels, {ran.total()} launches, "
        f"{counted}{told.get('alike')} of {told.get('got')} copies down as recorded; "
        f"{watched.seconds:.0f} s  {watched.summaries}"
    )
    if wrong:
        shown = watched.reports() if watched.tool else watched.text.splitlines()
        say("\n".join(f"    {line}" for line in shown[:SHOWN_LINES]))
    return [f"{watched.tool or 'untooled'}: {one}" for one in wrong]


def judge_fault(watched: Watched, what: str, said: str, kernel: str) -> list[str]:
    """Print whether a planted fault was reported; return what is wrong."""
    reports = watched.reports()
    seen = [line for line in reports if re.search(said, line)]
    placed = any(kernel in line for line in reports)
    first = seen[0].strip("= ") if seen else "nothing"
    say(f"planted   {watched.tool}: {what}: {watched.errors} errors: {first}")
    if watched.errors and seen and placed:
        return []
    shown = (reports or watched.text.splitlines())[:SHOWN_LINES]
    say("\n".join(f"    {line}" for line in shown))
    return [f"{watched.tool} did not report: {what}"]


def bench(folder: Path, sanitizer: str, tools: Sequence[str], workers: int) -> int:
    """Watch a recording and its faults under every tool; return how much is wrong."""
    recording = Folder(folder).read()
    wrong = describe(recording)
    plain = judge(watch("", sanitizer, folder), recording)
    if plain:
        say("\n".join(plain))
        return len(plain)
    with ThreadPoolExecutor(workers) as pool:
        whole = [pool.submit(watch, tool, sanitizer, folder) for tool in tools]
        faults = [
            (
                fault,
                pool.submit(
                    watch, fault.tool, sanitizer, folder, "--fault", str(number)
                ),
            )
            for number, fault in enumerate(recording.faults)
            if fault.tool in tools
        ]
        for each in whole:
            wrong += judge(each.result(), recording)
        for fault, done in faults:
            wrong += judge_fault(
                done.result(), fault.what, fault.said, fault.kernels[-1]
            )
    if {fault.tool for fault, _ in faults} != set(tools):
        wrong.append("not every tool had a fault to report")
    say(f"\n{len(tools)} tools, {len(faults)} planted faults; {len(wrong)} wrong")
    for one in wrong:
        say(f"  {one}")
    return len(wrong)


def main(arguments: Iterable[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Watch our kernels for errors.")
    parser.add_argument("--card", default="0", help="index or address")
    parser.add_argument("--sanitizer", default="compute-sanitizer", metavar="FILE")
    parser.add_argument(
        "--tool", action="append", choices=TOOLS, help="not all of them"
    )
    parser.add_argument("--limit-mib", type=int, default=32, help="memory to prove")
    parser.add_argument("--keep", type=Path, help="keep it all in this folder")
    parser.add_argument("--again", type=Path, help="watch the recording in this folder")
    parser.add_argument("--workers", type=int, default=4, help="tools at a time")
    asked = parser.parse_args(None if arguments is None else list(arguments))
    sanitizer = shutil.which(asked.sanitizer)
    if sanitizer is None:
        parser.error(f"no compute-sanitizer: {asked.sanitizer}; it comes with CUDA")
    with tempfile.TemporaryDirectory(prefix="sanitizer-") as scratch:
        folder = asked.again or asked.keep or Path(scratch)
        if asked.again is None:
            record(folder, asked.card, asked.limit_mib)
        return min(
            bench(folder, sanitizer, asked.tool or list(TOOLS), asked.workers), 1
        )


if __name__ == "__main__":
    sys.exit(main())
