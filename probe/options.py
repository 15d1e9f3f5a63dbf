"""The commands and their options. Standard library only, and nothing is decided."""

import argparse
import contextlib
from collections.abc import Sequence

from probe.options_batch import add_batch
from probe.options_certify import add_certify
from probe.options_compare import add_compare
from probe.options_evidence import add_evidence
from probe.options_firmware import add_firmware
from probe.options_inspect import add_inspect
from probe.options_ledger import add_ledger

VERSION = "0.1.0"
SHORTEST_PATIENCE = 0.5
LONGEST_PATIENCE = 600.0
PATIENCE = 10.0
DEPTH = "standard"

_EXITS = """\
exit codes: 0 as claimed, 1 not as claimed or faulty, 2 wrong use,
3 could not test or undetermined, 70 a bug of ours, 130 interrupted"""


def parse(argv: Sequence[str] | None) -> argparse.Namespace:
    """Return the parsed command line; argparse exits with 2 on wrong use."""
    parser = argparse.ArgumentParser(
        prog="cardassay",
        description="Find out what the graphics card in this PC really is.",
        epilog=_EXITS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"cardassay {VERSION}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _check(commands)
    _list(commands)
    _show(commands)
    _rejudge(commands)
    _lookup(commands)
    add_firmware(commands)
    add_inspect(commands)
    add_evidence(commands)
    add_compare(commands)
    add_certify(commands)
    add_ledger(commands)
    add_batch(commands, _patience)
    commands.add_parser(
        "schema", help="print the JSON Schema of a record (record.json)"
    )
    asked = parser.parse_args(argv)
    if asked.command == "check":
        _fill(asked)
    return asked


def _fill(asked: argparse.Namespace) -> None:
    """Note which options of `check` were given, then put what stands for the others."""
    asked.given = frozenset(
        name for name, value in vars(asked).items() if value not in (None, False)
    )
    for name, value in (("depth", DEPTH), ("patience", PATIENCE)):
        if getattr(asked, name) is None:
            setattr(asked, name, value)


def _check(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    check = commands.add_parser(
        "check",
        help="test a card and say whether it is what it claims",
        description="Test a card: prove its memory, measure its rates, judge the lot.",
        epilog=_EXITS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    claim = check.add_argument_group("what the card was sold as")
    claim.add_argument("--claim", metavar="MODEL", help='as "GeForce GTX 1070"')
    claim.add_argument("--claim-memory", metavar="SIZE", help="as 8GiB")
    which = check.add_argument_group("which card")
    which.add_argument(
        "--card",
        metavar="CARD",
        help="an index or PCI address out of `cardassay list`, `cpu` for the "
        "processor, `all` for every graphics card in turn",
    )
    which.add_argument(
        "--practice",
        nargs="?",
        const="",
        metavar="CONDITION",
        help="test a simulated card instead of a real one; an unknown CONDITION "
        "lists them",
    )
    which.add_argument(
        "--or-practice",
        action="store_true",
        help="test the simulated card where this PC has no card that can be tested",
    )
    how = check.add_argument_group("how")
    how.add_argument(
        "--depth",
        choices=("quick", "standard", "thorough"),
        help="how long to look: quick and standard take seconds, thorough minutes "
        "(default: standard)",
    )
    how.add_argument(
        "--memory-limit",
        metavar="SIZE",
        help="prove no more memory than this: too little leaves the verdict open",
    )
    how.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )
    how.add_argument(
        "--yes", action="store_true", help="accept the cautions without being asked"
    )
    how.add_argument(
        "--patience",
        metavar="SECONDS",
        type=_patience,
        help="how long to wait for an answer of the card beyond the time it may take "
        "(default: 10)",
    )
    how.add_argument(
        "--soak",
        metavar="MINUTES",
        help="keep the card under full load that long, everything compared; 0 leaves "
        "it out (default: 5 where --depth is thorough, else none)",
    )
    how.add_argument(
        "--load-together",
        action="store_true",
        help="put this card under full load although another of this PC is: the power "
        "supply has to stand it",
    )
    cut = check.add_argument_group("after a crash or a power cut")
    earlier = cut.add_mutually_exclusive_group()
    earlier.add_argument(
        "--conclude",
        nargs="?",
        const="",
        metavar="DIR",
        help="make the report of a test that did not end: the last, or the one in DIR",
    )
    earlier.add_argument(
        "--resume",
        nargs="?",
        const="",
        metavar="DIR",
        help="go on with it past what ended it",
    )
    out = check.add_argument_group("what comes of it")
    out.add_argument(
        "--out",
        metavar="DIR",
        help="folder for record.json and report.html (default: one named after card "
        "and time among your documents)",
    )
    form = out.add_mutually_exclusive_group()
    form.add_argument(
        "--json", action="store_true", help="print the record and nothing else"
    )
    form.add_argument("--quiet", action="store_true", help="print the verdict alone")
    form.add_argument("--events", action="store_true", help=argparse.SUPPRESS)


def _patience(text: str) -> float:
    """Return a time to wait; argparse tells of the error."""
    with contextlib.suppress(ValueError):
        seconds = float(text)
        if SHORTEST_PATIENCE <= seconds <= LONGEST_PATIENCE:
            return seconds
    raise argparse.ArgumentTypeError(
        f"{text!r} is no number of seconds from {SHORTEST_PATIENCE:g} to "
        f"{LONGEST_PATIENCE:g}"
    )


def _list(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    listing = commands.add_parser(
        "list", help="show the cards in this PC and what every layer says of them"
    )
    listing.add_argument("--json", action="store_true", help="print it as JSON")


def _show(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    show = commands.add_parser("show", help="show a stored record again")
    show.add_argument("record", metavar="RECORD", help="a record.json, or a page")
    show.add_argument("--page", metavar="FILE", help="write its page to FILE as well")


def _rejudge(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    rejudge = commands.add_parser(
        "rejudge",
        help="judge a stored record again with today's table of cards",
        description="Judge a stored record again, and say what changed.",
        epilog=_EXITS,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    rejudge.add_argument("record", metavar="RECORD", help="a record.json, or a page")
    rejudge.add_argument(
        "--out", metavar="FILE", help="write the record as judged now to FILE"
    )
    rejudge.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )
    rejudge.add_argument("--json", action="store_true", help="print it as JSON")


def _lookup(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    lookup = commands.add_parser(
        "lookup",
        help="show what genuine cards of a model are made of",
        description="Look a card up in the table of genuine cards.",
        epilog="exit codes: 0 found, 2 wrong use, 3 not in the table",
    )
    lookup.add_argument(
        "text",
        nargs="*",
        metavar="TEXT",
        help="a model, a PCI id (10de:1b81), a chip or a die's marking (GP104-200-A1), "
        "a compiler target (gfx1030)",
    )
    lookup.add_argument("--all", action="store_true", help="show the whole table")
    lookup.add_argument(
        "--coverage", action="store_true", help="count what the table holds and lacks"
    )
    lookup.add_argument(
        "--json", action="store_true", help="print it as JSON, one object a variant"
    )
    lookup.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )
