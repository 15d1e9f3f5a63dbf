"""What a run leaves of a real card, and what others do to it: counts, from runs.

    python tests/card_bench.py --card 0 --runs 20

Tests the card so many times in a row: alone, while another process takes and frees its
memory all the time (with CuPy, where that is at hand: it must be nobody of ours),
and with every processor of the PC busy. Prints the outcomes, the units counted, and how
much of the card's memory is in use before and after, by NVML. Asserts nothing but that
a card which is what it says is never accused.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

HOG = """
import random, time
import cupy
pool, most = cupy.get_default_memory_pool(), int(cupy.cuda.Device().mem_info[1] / 2)
while True:
    try:
        held = cupy.zeros(random.randrange(1, most), dtype=cupy.uint8)
        cupy.cuda.Device().synchronize()
        del held
    except cupy.cuda.memory.OutOfMemoryError:
        pass
    pool.free_all_blocks()
    time.sleep(random.random() * 0.05)
"""
SPIN = "while True: pass"
START_SECONDS = 5.0


def used_bytes(card: int) -> int:
    """Return how much of the card's memory anybody uses. NVML's index, not ours."""
    import pynvml  # noqa: PLC0415 - only where there is a card

    pynvml.nvmlInit()
    try:
        handle = pynvml.nvmlDeviceGetHandleByIndex(card)
        return int(pynvml.nvmlDeviceGetMemoryInfo(handle).used)
    finally:
        pynvml.nvmlShutdown()


@contextmanager
def beside(programs: list[str]) -> Iterator[list[subprocess.Popen[bytes]]]:
    """Have programs run meanwhile; they are ended afterwards."""
    running = [
        subprocess.Popen([sys.executable, "-c", program], stderr=subprocess.DEVNULL)
        for program in programs
    ]
    try:
        time.sleep(START_SECONDS if running else 0.0)
        yield running
    finally:
        for one in running:
            one.kill()
            one.wait()


def check(asked: argparse.Namespace) -> dict[str, object]:
    """Test the card once; return its record."""
    with tempfile.TemporaryDirectory() as folder:
        command = [
            *(sys.executable, "-m", "probe", "check", "--yes", "--quiet"),
            *("--card", str(asked.card), "--depth", asked.depth, "--out", folder),
        ]
        subprocess.run(command, cwd=ROOT, check=False, capture_output=True)
        return dict(json.loads((Path(folder) / "record.json").read_bytes()))


def condition(name: str, programs: list[str], asked: argparse.Namespace) -> int:
    """Run one condition, print its counts; return how often the card was accused."""
    outcomes: Counter[str] = Counter()
    units: Counter[object] = Counter()
    left: Counter[str] = Counter()
    with beside(programs) as running:
        for _ in range(asked.runs):
            before = used_bytes(asked.nvml)
            record = check(asked)
            after = used_bytes(asked.nvml)
            outcomes[record["verdict"]["outcome"]] += 1  # type: ignore[index]
            units[(record.get("structure") or {}).get("units")] += 1  # type: ignore[attr-defined]
            left["as found" if after == before else f"{after - before:+} bytes"] += 1
        if any(one.poll() is not None for one in running):
            print(f"{name}: what was to run beside it did not; nothing is counted")
            return 0
    print(f"{name}: {asked.runs} runs, {dict(outcomes)}, units {dict(units)}")
    if not programs:
        print(f"{name}: memory in use afterwards {dict(left)}")
    return outcomes["not as claimed"] + outcomes["faulty"]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--card", type=int, default=0, help="of `cardassay list`")
    parser.add_argument("--nvml", type=int, default=0, help="the same card for NVML")
    parser.add_argument("--runs", type=int, default=20)
    parser.add_argument("--depth", default="quick", choices=("quick", "standard"))
    asked = parser.parse_args()
    accused = condition("alone", [], asked)
    accused += condition("another process takes and frees memory", [HOG], asked)
    busy = [SPIN] * (os.cpu_count() or 1)
    accused += condition("every processor busy", busy, asked)
    print(f"accused: {accused}")
    return 1 if accused else 0


if __name__ == "__main__":
    sys.exit(main())
