"""Options of `cardassay batch`. Standard library only, and nothing is decided."""

import argparse
from collections.abc import Callable

MOST_AT_ONCE = 64
_NOTE = """\
Each card is tested as by `cardassay check`, its record certified and put into the
ledger. Switched off between two cards, the batch goes on where it is started again with
the same --out and --ledger.

exit codes: the gravest of all cards': 0 as claimed, and all done, 1 not as claimed or
faulty, 2 wrong use, 3 could not test, undetermined, or not all done, 130 interrupted"""


def add_batch(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    patience: Callable[[str], float],
) -> None:
    """Add the command to the others; `patience` reads a time to wait."""
    batch = commands.add_parser(
        "batch",
        help="test one card after another: stock number, certificate, ledger",
        description="Test every card of this PC, then the next ones.",
        epilog=_NOTE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _stock(batch)
    _cards(batch)
    _certificates(batch)
    _tests(batch, patience)
    out = batch.add_argument_group("what comes of it")
    out.add_argument(
        "--out",
        metavar="DIR",
        help="the batch's folder, with a folder in it for each stock number (default: "
        "cardassay_batch among your documents)",
    )
    form = out.add_mutually_exclusive_group()
    form.add_argument(
        "--json", action="store_true", help="print one JSON object a card, a line each"
    )
    form.add_argument("--quiet", action="store_true", help="print the verdicts alone")


def _stock(batch: argparse.ArgumentParser) -> None:
    stock = batch.add_argument_group(
        "stock numbers",
        "Without these they are asked for, card by card: type or scan them. With --yes "
        "they may come as lines of standard input.",
    )
    which = stock.add_mutually_exclusive_group()
    which.add_argument(
        "--stock-no",
        metavar="NUMBER",
        nargs="+",
        action="extend",
        help="one for each card, in the order of `cardassay list`",
    )
    which.add_argument(
        "--stock-list",
        metavar="FILE",
        help="a line for each card: its PCI address or index, a comma, its number",
    )
    stock.add_argument(
        "--yes",
        action="store_true",
        help="unattended: accept the cautions, ask nothing, end after one round",
    )


def _cards(batch: argparse.ArgumentParser) -> None:
    which = batch.add_argument_group("which cards")
    which.add_argument(
        "--card",
        metavar="CARD",
        action="append",
        help="an index or PCI address out of `cardassay list`; may be given again "
        "(default: every graphics card with memory of its own)",
    )
    which.add_argument(
        "--practice",
        metavar="CONDITION",
        action="append",
        help="test a simulated card instead; may be given again",
    )
    which.add_argument(
        "--claim", metavar="MODEL", help="what all cards of this batch are sold as"
    )
    which.add_argument("--claim-memory", metavar="SIZE", help="as 8GiB")
    which.add_argument(
        "--at-once",
        metavar="N",
        type=_count,
        help="test so many at once (default: up to 4, as the PC has processors and "
        "memory for; 1: one after the other)",
    )
    which.add_argument(
        "--load-together",
        action="store_true",
        help="put several under full load at once: the power supply has to stand it "
        "(default: heating and soaking are done in turn)",
    )


def _certificates(batch: argparse.ArgumentParser) -> None:
    done = batch.add_argument_group("certificates and ledger")
    done.add_argument("--operator", metavar="NAME", help="who answers for the tests")
    done.add_argument(
        "--key",
        metavar="FILE",
        help="the private key (default: the one that `cardassay key new` makes)",
    )
    done.add_argument(
        "--passphrase-file", metavar="FILE", help="its first line is the passphrase"
    )
    done.add_argument(
        "--no-certificates", action="store_true", help="test and keep, sign nothing"
    )
    done.add_argument(
        "--ledger",
        metavar="LEDGER",
        help="a file, or postgresql://USER@HOST/DATABASE (default: as `ledger`)",
    )
    done.add_argument("--bench", metavar="NAME", help="what this bench is called")


def _tests(batch: argparse.ArgumentParser, patience: Callable[[str], float]) -> None:
    how = batch.add_argument_group("how")
    how.add_argument(
        "--depth",
        choices=("quick", "standard", "thorough"),
        default="standard",
        help="how long to look (default: standard; quick is never certified)",
    )
    how.add_argument(
        "--soak", metavar="MINUTES", help="keep each card under full load that long"
    )
    how.add_argument(
        "--patience",
        metavar="SECONDS",
        type=patience,
        default=10.0,
        help="how long to wait for an answer of a card (default: 10)",
    )
    how.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )


def _count(text: str) -> int:
    """Return a number of checks; argparse tells of the ValueError."""
    number = int(text)
    if not 1 <= number <= MOST_AT_ONCE:
        raise ValueError(text)
    return number
