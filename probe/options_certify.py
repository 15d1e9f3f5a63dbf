"""Options of `key`, `certify` and `verify`. Standard library only."""

import argparse  # noqa: TC003 - as in options.py

_PASSPHRASE = "its first line is the passphrase"  # noqa: S105 - a help text


def add_certify(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    """Add the three commands to the others."""
    _key(commands)
    _certify(commands)
    _verify(commands)


def _key(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    key = commands.add_parser(
        "key",
        help="make the key that certificates are signed with",
        description="Make a key, or show the fingerprint of one.",
    )
    which = key.add_subparsers(dest="action", required=True, metavar="ACTION")
    new = which.add_parser(
        "new",
        help="make a key: a private file and, beside it, a public one (.pub)",
        description="Make an Ed25519 key. The private file stays with its owner; the "
        "public one and its fingerprint are for everybody.",
    )
    new.add_argument(
        "--out",
        metavar="FILE",
        help="the private file (default: signing.key where the program keeps its own "
        "things)",
    )
    lock = new.add_mutually_exclusive_group()
    lock.add_argument(
        "--passphrase", action="store_true", help="lock it; you are asked for the words"
    )
    lock.add_argument("--passphrase-file", metavar="FILE", help=_PASSPHRASE)
    show = which.add_parser("show", help="show the fingerprint of a public key")
    show.add_argument("key", metavar="FILE", help="a public key (.pub)")


def _certify(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    certify = commands.add_parser(
        "certify",
        help="sign a record that is as claimed, and make its certificate",
        description="Sign a record, and make its certificate: a page and a small file.",
        epilog="exit codes: 0 certified, 1 refused, 2 wrong use",
    )
    certify.add_argument("record", metavar="RECORD", help="a record.json, or a page")
    certify.add_argument(
        "--stock-no", metavar="NUMBER", required=True, help="what you call this card"
    )
    certify.add_argument(
        "--operator", metavar="NAME", required=True, help="who answers for the test"
    )
    certify.add_argument(
        "--key",
        metavar="FILE",
        help="the private key (default: the one that `cardassay key new` makes)",
    )
    certify.add_argument("--passphrase-file", metavar="FILE", help=_PASSPHRASE)
    certify.add_argument(
        "--max-age",
        metavar="DAYS",
        type=_days,
        default=30,
        help="certify no record older than this (default: 30)",
    )
    certify.add_argument(
        "--out",
        metavar="FILE",
        help="the page; the small file goes beside it as .json (default: "
        "certificate.html beside the record)",
    )
    certify.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )


def _verify(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    verify = commands.add_parser(
        "verify",
        help="check a certificate, and say what it proves",
        description="Check a certificate: a page, or certificate.json and its record.",
        epilog="exit codes: 0 it holds, 1 it does not, 2 wrong use, 3 the record is "
        "missing",
    )
    verify.add_argument("certificate", metavar="FILE", help="a page, or a .json file")
    verify.add_argument(
        "record", nargs="?", metavar="RECORD", help="the record that goes with it"
    )
    verify.add_argument(
        "--key",
        metavar="KEY",
        help="whose it has to be: a public key's file, or a fingerprint",
    )
    verify.add_argument("--json", action="store_true", help="print it as JSON")


def _days(text: str) -> int:
    """Return a number of days; argparse tells of the ValueError."""
    days = int(text)
    if not 1 <= days <= 3650:  # noqa: PLR2004 - ten years
        raise ValueError(text)
    return days
