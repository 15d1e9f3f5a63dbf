#!/usr/bin/env python3
"""How fast a ledger is: `python tests/ledger_bench.py [RECORDS] [--ledger ADDRESS]`.

Fills a new ledger with that many records (100,000 unless asked otherwise; their rows by
the thousand, their documents small), then times single calls as every command makes
them: one more whole record added, records found in several ways. Prints the median and
the slowest, beside what is promised. SQLite, and the tests' own PostgreSQL where there
is one; nothing outside a temporary folder is touched. Fails where a promise is broken.
"""

import argparse
import statistics
import sys
import tempfile
import time
import zlib
from hashlib import sha256
from pathlib import Path
from random import Random

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from postgres import server  # noqa: E402 - found by the path above

from reports.ledger import store  # noqa: E402
from reports.ledger.query import Query  # noqa: E402
from reports.ledger.stats import stats_of  # noqa: E402
from reports.ledger.tables import BOARD, CARD, DOCUMENT, KIND, RECORD  # noqa: E402

GOLDEN = HERE / "data" / "golden" / "h100-sxm.json"
FIND, ADD = 0.050, 0.020
MODELS = 400
ROUNDS = 40
NOW = "2026-11-30T00:00:00Z"
OUTCOMES = ("as claimed",) * 7 + ("not as claimed", "faulty", "undetermined")


def fill(ledger: store.Ledger, count: int) -> None:
    """Put in `count` records of some hundred kinds, as `add` would have left them."""
    rnd = Random(7)
    boards = [(f"10de:{0x1000 + n:04x}", f"1043:{n % 50:04x}") for n in range(MODELS)]
    kinds = [
        {"label": f"GeForce GTX {n}", "model": f"GeForce GTX {n}", "chip": f"GK{n}"}
        for n in range(MODELS)
    ]
    with ledger._writer.begin() as connection:
        connection.execute(
            BOARD.insert(),
            [
                {"digest": f"{n}", "pci_id": one, "subsystem": two, "facts": facts}
                for n, (one, two) in enumerate(boards)
                for facts in [f'{{"pci_id":"{one}","subsystem":"{two}"}}']
            ],
        )
        for n, kind in enumerate(kinds):
            kind |= {"digest": f"{n}", "vendor": "NVIDIA", "search": ""}
            kind["search"] = f"{kind['label']} {kind['chip']} {boards[n][0]}".lower()
        connection.execute(KIND.insert(), kinds)
        small = zlib.compress(b"{}" * 40)
        for start in range(0, count, 1000):
            numbers = range(start, min(start + 1000, count))
            connection.execute(
                CARD.insert(), [{"stock_key": f"s-{n:06}"} for n in numbers]
            )
            connection.execute(
                RECORD.insert(), [row(n, rnd.randrange(MODELS), rnd) for n in numbers]
            )
            connection.execute(
                DOCUMENT.insert(),
                [
                    {"record_id": n + 1, "size_bytes": 80, "packed": small}
                    for n in numbers
                ],
            )


def row(number: int, kind: int, rnd: Random) -> dict:
    return {
        "sha256": sha256(b"%d" % number).hexdigest(),
        "card_id": number + 1,
        "kind_id": kind + 1,
        "board_id": kind + 1,
        "how": "new",
        "remark": "New: no card here answers like it.",
        "stock_no": f"S-{number:06}",
        "stock_key": f"s-{number:06}",
        "started": f"2026-{1 + number % 12:02}-{1 + number % 28:02}T10:00:00Z",
        "added": NOW,
        "outcome": rnd.choice(OUTCOMES),
        "depth": "standard",
        "practice": False,
        "interrupted": False,
        "proven_bytes": 2 * 2**30,
        "claimed_bytes": 8 * 2**30,
        "seconds": 94.0,
        "sentence": "Sold as a GeForce GTX 1070 with 8.00 GiB. Found: so. As claimed.",
    }


def timed(what: str, call, promised: float) -> bool:
    """Time calls; print and return whether the median keeps the promise."""
    taken = []
    for number in range(ROUNDS):
        begun = time.perf_counter()
        call(number)
        taken.append(time.perf_counter() - begun)
    least, middle, most = min(taken), statistics.median(taken), max(taken)
    kept = middle <= promised
    print(
        f"  {what:34} {1e3 * middle:6.1f} ms  ({1e3 * least:.1f} to {1e3 * most:.1f})  "
        f"promised {1e3 * promised:.0f} ms {'' if kept else '  BROKEN'}"
    )
    return kept


def bench(address: str, count: int) -> bool:
    ledger = store.open_ledger(address, make_it=True)
    begun = time.perf_counter()
    fill(ledger, count)
    print(f"{ledger.name}: {count} records in {time.perf_counter() - begun:.0f} s")
    with ledger._engine.begin() as connection:  # a server does so by itself, in time
        connection.exec_driver_sql("ANALYZE")
    data = GOLDEN.read_bytes()

    def add(number, **more):
        changed = data.replace(b"21:41:26", b"21:%02d:%02d" % divmod(number, 60))
        added = ledger.add(changed, now=NOW, **more)
        assert not added.before

    def find(**asked):
        return lambda _: ledger.find(Query(**asked))

    kept = [
        timed("add, a new stock number", lambda n: add(n, stock_no=f"N-{n}"), ADD),
        timed("add, no stock number", lambda n: add(60 + n), ADD),
        timed("find a stock number", find(stock_no="S-050000"), FIND),
        timed("find by words, few", find(text="gtx 399"), FIND),
        timed("find by words, nearly all", find(text="geforce gtx"), FIND),
        timed("find a stock number's beginning", find(text="s-0500"), FIND),
        timed("find words and outcome", find(text="gk1", outcome="faulty"), FIND),
        timed("find nothing", find(text="nothing like it"), FIND),
        timed("find a month", find(since="2026-03", until="2026-03"), FIND),
        timed("find the last", find(), FIND),
    ]
    begun = time.perf_counter()
    stats_of(ledger)
    print(f"  {'stats':34} {1e3 * (time.perf_counter() - begun):7.1f} ms")
    begun = time.perf_counter()
    rows = sum(1 for _ in ledger.each(Query()))
    print(f"  {'export':34} {rows} rows in {time.perf_counter() - begun:.1f} s")
    return all(kept)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("records", nargs="?", type=int, default=100_000)
    parser.add_argument("--ledger", help="an empty PostgreSQL database of your own")
    asked = parser.parse_args()
    if asked.ledger:
        return 0 if bench(asked.ledger, asked.records) else 1
    kept = []
    with tempfile.TemporaryDirectory(prefix="cardassay-ledger-") as folder:
        kept.append(bench(str(Path(folder) / "ledger.sqlite"), asked.records))
    with server() as made:
        if made is None:
            print("PostgreSQL: none here, not measured")
        else:
            kept.append(bench(made.database("bench"), asked.records))
    return 0 if all(kept) else 1


if __name__ == "__main__":
    sys.exit(main())
