"""The plain engine: mutates, runs, counts. One worker, one process, no coverage.

`python tests/fuzz/engine.py TARGET INPUTS SEED` prints one line of JSON at its end.
"""

import base64
import json
import resource
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

if __name__ == "__main__":
    HERE = Path(__file__).resolve().parent
    sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from fuzz.target import Fault, Target, limits, tried


def inputs(target: Target, rnd: Random) -> Iterator[bytes]:
    """Yield every seed, then mutations of seeds and of mutations, without end."""
    pool = target.seeds()
    yield from pool
    while True:
        data = rnd.choice(pool)
        for _ in range(rnd.choice((1, 1, 1, 2, 4))):
            data = target.mutate(data, rnd)
            yield data


def fuzz(
    target: Target, count: int, seed: int = 0, seconds: float | None = None
) -> tuple[int, dict[str, Fault]]:
    """Run `count` inputs, or as many as fit; return how many, and faults by place."""
    faults: dict[str, Fault] = {}
    begun = time.perf_counter()
    done = 0
    made = inputs(target, Random(f"{target.name} {seed}"))
    with limits():
        for data in made:
            fault = tried(target, data)
            done += 1
            if fault is not None:
                kept = faults.setdefault(fault.place, fault)
                if len(fault.data) < len(kept.data):
                    faults[fault.place] = fault
            if done >= count or (
                seconds is not None and time.perf_counter() - begun > seconds
            ):
                break
    return done, faults


def told(done: int, faults: dict[str, Fault]) -> str:
    """Return what came of it as one line of JSON."""
    found = [
        {
            "place": one.place,
            "said": one.said,
            "data": base64.b64encode(one.data).decode("ascii"),
        }
        for one in faults.values()
    ]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return json.dumps({"done": done, "peak_bytes": peak, "faults": found})


def main() -> None:
    from fuzz import registry  # noqa: PLC0415 - it imports all that is fuzzed

    name, count, seed = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    target = registry.by_name(name)
    registry.ready(target)
    sys.stdout.write(told(*fuzz(target, count, seed)) + "\n")


if __name__ == "__main__":
    main()
