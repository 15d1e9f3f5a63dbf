"""Options of `cardassay ledger`. Standard library only, and nothing is decided."""

import argparse

MOST = 1000
_ADDRESS = (
    "a file on this PC, or postgresql://USER@HOST/DATABASE where several benches share "
    "one (default: $CARDASSAY_LEDGER, else ledger.sqlite where the program keeps its "
    "own things)"
)


def add_ledger(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    """Add the command to the others."""
    ledger = commands.add_parser(
        "ledger",
        help="keep the records of a bench, and find them again",
        description="Keep every record as it was stored; find, show and count them.",
        epilog="exit codes: 0 done, 2 wrong use, 3 nothing found or no server",
    )
    actions = ledger.add_subparsers(dest="action", required=True, metavar="ACTION")
    add = actions.add_parser(
        "add", help="keep records; say which cards were here before"
    )
    add.add_argument(
        "records",
        nargs="+",
        metavar="RECORD",
        help="a record.json, a page, or a certificate's page",
    )
    add.add_argument("--stock-no", metavar="NUMBER", help="what you call this card")
    add.add_argument("--bench", metavar="NAME", help="which bench it was tested on")
    find = actions.add_parser("find", help="list records, the last added first")
    _filters(find)
    find.add_argument(
        "--limit", type=_limit, default=50, metavar="N", help="show N (default: 50)"
    )
    show = actions.add_parser("show", help="show a record, and its card's history")
    show.add_argument(
        "record",
        metavar="RECORD",
        help="its number in the ledger, a stock number, or its SHA-256's beginning",
    )
    show.add_argument("--out", metavar="FILE", help="write it to FILE as it was stored")
    export = actions.add_parser("export", help="write records out as a table")
    _filters(export)
    export.add_argument("--format", choices=("csv", "jsonl"), default="csv")
    export.add_argument("--out", metavar="FILE", help="write to FILE (default: print)")
    stats = actions.add_parser("stats", help="count records and cards")
    for one in (add, find, show, export, stats):
        one.add_argument("--ledger", metavar="LEDGER", help=_ADDRESS)
    for one in (add, find, show, stats):
        one.add_argument("--json", action="store_true", help="print it as JSON")


def _filters(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "text",
        nargs="*",
        metavar="TEXT",
        help="words of model, card, chip or PCI ids, or a stock number's beginning",
    )
    parser.add_argument("--stock-no", metavar="NUMBER", help="exactly this one")
    parser.add_argument(
        "--outcome",
        choices=("as claimed", "not as claimed", "faulty", "undetermined"),
    )
    parser.add_argument(
        "--card",
        type=int,
        metavar="N",
        help="of this card, by its number in the ledger",
    )
    parser.add_argument(
        "--since", metavar="DAY", help="tested then or later: 2026-11-25, 2026-11, 2026"
    )
    parser.add_argument("--until", metavar="DAY", help="tested then or before")
    parser.add_argument(
        "--practice",
        action="store_true",
        help="practice runs too, not real cards alone",
    )


def _limit(text: str) -> int:
    """Return a number of records; argparse tells of the ValueError."""
    number = int(text)
    if not 1 <= number <= MOST:
        raise ValueError(text)
    return number
