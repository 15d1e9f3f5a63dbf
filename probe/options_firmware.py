"""Options of `cardassay firmware`. Standard library only, and nothing is decided."""

import argparse


def add_firmware(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    """Add the command to the others."""
    firmware = commands.add_parser(
        "firmware",
        help="look at what was read from a card's firmware chip",
        description="Look at reads of a firmware chip, or at an image file: are the "
        "reads the same, is the image whole, which card is it of. Writes to nothing.",
        epilog="exit codes: 0 nothing against it, 1 faulty, not as claimed or does not "
        "fit,\n2 wrong use, 3 undetermined",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    firmware.add_argument(
        "read",
        nargs="+",
        metavar="READ",
        help="a file with what was read; several reads of one chip are compared",
    )
    firmware.add_argument(
        "--claim", metavar="MODEL", help='what the card was sold as: "GeForce GTX 1070"'
    )
    which = firmware.add_mutually_exclusive_group()
    which.add_argument(
        "--card",
        metavar="CARD",
        help="a card in this PC, by index or PCI address out of `cardassay list`: does "
        "it run this firmware?",
    )
    which.add_argument(
        "--record",
        metavar="RECORD",
        help="the same for a card on record: a record.json, or a page",
    )
    firmware.add_argument(
        "--against",
        metavar="IMAGE",
        help="an image that somebody means to write: does it fit this card?",
    )
    firmware.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )
    firmware.add_argument("--json", action="store_true", help="print it as JSON")
