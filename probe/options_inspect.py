"""Options of `cardassay inspect`. Standard library only, and nothing is decided."""

import argparse


def add_inspect(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    """Add the command to the others."""
    inspect = commands.add_parser(
        "inspect",
        help="add to a record what can be seen on the card itself",
        description="Hold against the claim what an eye sees on the card: markings, "
        "sockets, plugs, memory chips. Asks question by question where none is "
        "answered by an option.",
        epilog="exit codes: 0 as claimed, 1 not as claimed or faulty, 2 wrong use,\n"
        "3 undetermined: nothing that an eye sees decides alone",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    inspect.add_argument(
        "record",
        nargs="?",
        metavar="RECORD",
        help="a record.json, or a page; without one --claim says what it was sold as",
    )
    claim = inspect.add_argument_group("what the card was sold as")
    claim.add_argument("--claim", metavar="MODEL", help='as "GeForce GTX 1070"')
    claim.add_argument("--claim-memory", metavar="SIZE", help="as 8GiB")
    seen = inspect.add_argument_group("what is seen (left out: not looked at)")
    seen.add_argument(
        "--die", metavar="TEXT", help="marking of the graphics chip: GP104-200-A1"
    )
    seen.add_argument(
        "--die-state",
        choices=("clear", "unreadable", "tampered"),
        help="whether that marking can be read; tampered: ground off or covered",
    )
    seen.add_argument(
        "--outputs", metavar="LIST", help='sockets for displays: "DVI-D, HDMI, 3 x DP"'
    )
    seen.add_argument(
        "--plugs", metavar="LIST", help='power connectors: "8-pin, 6-pin", or "none"'
    )
    seen.add_argument(
        "--memory-chips", metavar="NUMBER", help="how many, on both sides together"
    )
    seen.add_argument(
        "--memory-marking", metavar="TEXT", help="part number of one: MT51J256M32HF"
    )
    seen.add_argument(
        "--memory-density", metavar="SIZE", help="of one chip, looked up: 8Gbit"
    )
    seen.add_argument(
        "--memory-width", metavar="BITS", help="data bits of one chip, looked up: 32"
    )
    seen.add_argument(
        "--contacts",
        metavar="LANES",
        help="lanes that the edge connector has contacts for: 1, 4, 8 or 16",
    )
    seen.add_argument(
        "--label", metavar="TEXT", action="append", help="a label or print; repeatable"
    )
    seen.add_argument(
        "--photo",
        metavar="FILE",
        action="append",
        help="a photo: its name, size and hash are kept, the picture is not",
    )
    out = inspect.add_argument_group("what comes of it")
    out.add_argument("--out", metavar="FILE", help="write the record to FILE")
    out.add_argument("--page", metavar="FILE", help="write its page to FILE")
    out.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )
    out.add_argument(
        "--json", action="store_true", help="print the record and nothing else"
    )
