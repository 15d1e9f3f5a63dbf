"""What the table costs: `python tests/benchmark_table.py`. Prints, judges nothing.

Times are the best of several fresh processes, so that start-up is what it is.
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from msgspec.structs import replace

from reference import compiled, gather
from reference.table import DATA, Table, load

RUNS = 9
_LOAD = """
import sys, time
import msgspec, hashlib, re, pathlib
start = time.perf_counter()
from reference.table import load
imported = time.perf_counter()
load(data=pathlib.Path(sys.argv[1]))
print(imported - start, time.perf_counter() - imported)
"""


def fresh(data):
    """Best milliseconds of importing the reader and of loading, in new processes."""
    runs = [
        [
            float(part)
            for part in subprocess.run(
                [sys.executable, "-c", _LOAD, str(data)],
                check=True,
                capture_output=True,
                text=True,
            ).stdout.split()
        ]
        for _ in range(RUNS)
    ]
    return tuple(1e3 * min(column) for column in zip(*runs, strict=True))


def look_ups(table):
    """First, median and 99th percentile in ms: models, PCI ids, unknown."""
    names = [name for row in table.variants for name in (row.model, *row.aliases)]
    ids = [pci for row in table.variants for pci in row.pci]
    found = {}
    for title, asked, ask in (
        ("by name", names, table.resolve),
        ("by PCI id", ids, table.by_pci),
        ("unknown, near misses", [f"{one} Pro X" for one in names[::40]], table.near),
    ):
        start = time.perf_counter()
        ask(asked[0])
        first = time.perf_counter() - start
        spans = []
        for one in asked:
            start = time.perf_counter()
            ask(one)
            spans.append(time.perf_counter() - start)
        late = statistics.quantiles(spans, n=100)[98]
        found[title] = [1e3 * one for one in (first, statistics.median(spans), late)]
    return found


def times(data, factor, target):
    """Write a table of `factor` times the rows, TOML files alike, for timing."""
    target.mkdir()
    (target / "cards").mkdir()
    for path, content in gather.sources(data).items():
        place = target / path.relative_to(data)
        place.write_bytes(content * (factor if path.parent.name == "cards" else 1))
    files = gather.sources(target)
    content = gather.gather(gather.sources(data))
    rows = tuple(
        replace(row, id=f"{row.id}/{turn}", model=f"{row.model} {turn}".strip())
        for turn in range(factor)
        for row in content.variants
    )
    made = replace(content, variants=rows, sha256=gather.digest(files))
    (target / compiled.NAME).write_bytes(compiled.pack(made))
    return Table(made)


def main():
    with tempfile.TemporaryDirectory() as folder:
        for factor, data in ((1, DATA), (4, Path(folder) / "four")):
            table = load() if factor == 1 else times(DATA, factor, data)
            path = data / compiled.NAME
            print(f"{len(table.variants)} variants, {path.stat().st_size:,} bytes")
            imported, loaded = fresh(data)
            print(f"  import {imported:.1f} ms, load {loaded:.1f} ms")
            for title, (first, median, late) in look_ups(load(data=data)).items():
                print(
                    f"  {title}: first {first:.2f} ms, then median {median:.3f} ms, "
                    f"99 % within {late:.3f} ms"
                )
    start = time.perf_counter()
    gather.gather(gather.sources(DATA))
    print(f"from the TOML files: {1e3 * (time.perf_counter() - start):.0f} ms")


if __name__ == "__main__":
    main()
