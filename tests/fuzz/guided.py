"""The coverage-guided engine: one target in a process of its own, under atheris.

`python tests/fuzz/guided.py TARGET INPUTS SEED` prints one line of JSON at its end. Our
packages are instrumented as they are imported; half of the inputs are made by the
target's own mutator, half by the fuzzer's. Needs atheris, which the suite does not.
"""

import os
import sys
import tempfile
from pathlib import Path
from random import Random

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]


def main() -> None:
    import atheris  # noqa: PLC0415 - it must watch the imports below

    with atheris.instrument_imports(
        include=["reports", "reference", "probe", "tomllib", "json"]
    ):
        from fuzz import registry  # noqa: PLC0415
    from fuzz.engine import told  # noqa: PLC0415
    from fuzz.target import MEMORY_BYTES, limits, tried  # noqa: PLC0415

    name, runs, seed = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    target = registry.by_name(name)
    registry.ready(target)
    done = 0
    faults = {}

    def one(data: bytes) -> None:
        nonlocal done
        fault = tried(target, data)
        done += 1
        if fault is not None:
            faults.setdefault(fault.place, fault)
        if done == runs:
            sys.stdout.write("\n" + told(done, faults) + "\n")
            sys.stdout.flush()
            os._exit(0)  # the fuzzer's own end would say more than is wanted

    def other(data: bytes, most: int, number: int) -> bytes:
        rnd = Random(number)
        if data and rnd.random() < 0.5:
            return target.mutate(data, rnd)[:most]
        return atheris.Mutate(data, most)

    with tempfile.TemporaryDirectory(prefix="cardassay-corpus-") as folder:
        for number, data in enumerate(target.seeds()):
            (Path(folder) / f"{number:04}").write_bytes(data)
        options = [
            sys.argv[0], folder, "-max_len=98304", f"-seed={seed}",
            f"-rss_limit_mb={2 * MEMORY_BYTES // 2**20}", "-timeout=30", "-verbosity=0",
            "-len_control=0",
        ]  # fmt: skip
        atheris.Setup(options, one, custom_mutator=other)
        with limits():
            atheris.Fuzz()


if __name__ == "__main__":
    main()
