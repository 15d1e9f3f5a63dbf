"""Options of `compare`. Standard library only."""

import argparse


def add_compare(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    """Add the command to the others."""
    compare = commands.add_parser(
        "compare",
        help="hold a card's record before a repair against the one after it",
        description="Say whether a repaired card's report is honest now, and what "
        "became of everything else.",
        epilog="exit codes: 0 honest now, 1 still not honest or faulty, 2 wrong use,\n"
        "3 not settled: more has to be tested, or it is another card",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    compare.add_argument(
        "before",
        metavar="BEFORE",
        help="the record before the repair: a record.json, or a page; or the page of "
        "a comparison alone",
    )
    compare.add_argument(
        "after",
        nargs="?",
        metavar="AFTER",
        help="the record after it, best from `cardassay check --depth thorough`",
    )
    compare.add_argument(
        "--page", metavar="FILE", help="write the page for the customer to FILE"
    )
    compare.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )
    compare.add_argument("--json", action="store_true", help="print it as JSON")
