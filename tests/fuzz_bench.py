"""Feeds every parser hostile inputs, and counts: `python tests/fuzz_bench.py`.

Two engines: one that mutates with knowledge of the formats, and atheris, guided by the
coverage of our own code (left out, and said so, where no Python given has it). An input
is right where it ends normally or in an exception that its target names, within a
second of processor time and a GiB of memory. What is not ends up in `--keep`, and the
exit code is 1.
"""

import argparse
import base64
import hashlib
import json
import os
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from fuzz.registry import TARGETS  # noqa: E402 - needs the path

INPUTS = 1_000_000
GUIDED = 0.2
"""Share of the inputs that the coverage-guided engine makes: it is the slower one."""
PATIENCE = 3600.0


def run(python: str, engine: str, target: str, count: int, seed: int) -> dict:
    """Run one engine on one target in a process of its own; return what it tells."""
    ended = subprocess.run(
        [python, str(HERE / "fuzz" / f"{engine}.py"), target, str(count), str(seed)],
        capture_output=True,
        check=False,
        timeout=PATIENCE,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )
    lines = ended.stdout.decode().splitlines()
    if not lines or not lines[-1].startswith("{"):
        said = ended.stderr.decode(errors="replace").splitlines()[-1:]
        raise SystemExit(f"{engine} on {target} ended with {ended.returncode}: {said}")
    return json.loads(lines[-1])


def has_atheris(python: str) -> bool:
    ended = subprocess.run(
        [python, "-c", "import atheris"], capture_output=True, check=False
    )
    return ended.returncode == 0


def keep(folder: Path, target: str, fault: dict) -> Path:
    """Store the input that a fault came of; return where."""
    folder.mkdir(parents=True, exist_ok=True)
    data = base64.b64decode(fault["data"])
    name = f"{target.replace(' ', '-')}-{hashlib.sha256(data).hexdigest()[:12]}"
    path = folder / name
    path.write_bytes(data)
    return path


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=INPUTS)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--target", action="append", help="only this one; may repeat")
    parser.add_argument("--python", default=sys.executable, help="one with atheris")
    parser.add_argument("--keep", type=Path, default=Path("fuzz-faults"))
    asked = parser.parse_args()
    chosen = [one for one in TARGETS if not asked.target or one.name in asked.target]
    guided = has_atheris(asked.python)
    weights = sum(one.weight for one in chosen)
    total = faults = 0
    begun = time.perf_counter()
    print(
        f"{'target':24}{'mutated':>10}{'guided':>10}{'seconds':>9}{'peak MiB':>10}"
        f"{'faults':>8}"
    )
    for target in chosen:
        count = -(-asked.inputs * target.weight // weights)
        by_guide = int(count * GUIDED) if guided else 0
        since = time.perf_counter()
        told = [
            run(
                sys.executable, "engine", target.name, int(count) - by_guide, asked.seed
            )
        ]
        if by_guide:
            told.append(run(asked.python, "guided", target.name, by_guide, asked.seed))
        done = [one["done"] for one in told] + [0]
        found = [fault for one in told for fault in one["faults"]]
        peak = max(one["peak_bytes"] for one in told) / 2**20
        print(
            f"{target.name:24}{done[0]:10,}{done[1]:10,}"
            f"{time.perf_counter() - since:9.1f}{peak:10.0f}{len(found):8}",
            flush=True,
        )
        for fault in found:
            path = keep(asked.keep, target.name, fault)
            print(f"    {fault['place']}: {fault['said']} ({path})")
        total += sum(done)
        faults += len(found)
    if not guided:
        print(
            "no atheris: the coverage-guided engine was left out (pip install atheris)"
        )
    print(
        f"{total:,} inputs to {len(chosen)} targets in "
        f"{time.perf_counter() - begun:.0f} s: {faults} faults"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
