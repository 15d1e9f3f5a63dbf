"""Options of `cardassay evidence`. Standard library only, and nothing is decided."""

import argparse  # noqa: TC003 - as in options.py


def add_evidence(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
) -> None:
    """Add the command to the others."""
    evidence = commands.add_parser(
        "evidence",
        help="make a pack for a seller or marketplace: page, photos, letter, zip",
        description="Put a record, the listing's words and photos into one zip and one "
        "page, with a letter that is ready to send. Photos lose what the camera noted, "
        "the place above all.",
        epilog="exit codes: 0 the pack was made, whatever the verdict; 2 wrong use",
    )
    evidence.add_argument("record", metavar="RECORD", help="a record.json, or a page")
    evidence.add_argument(
        "--listing",
        metavar="TEXT|FILE",
        required=True,
        help="what the seller wrote: the words themselves, or a file with them (text, "
        "or a saved page); nothing is fetched from an address",
    )
    evidence.add_argument(
        "--photo",
        metavar="FILE",
        action="append",
        default=[],
        help="a photo of the card (JPEG, PNG, WebP, HEIC); die=FILE, connectors=FILE, "
        "label=FILE or box=FILE says what it shows; repeatable",
    )
    claim = evidence.add_argument_group(
        "what the card was sold as, where the record does not say",
        "Without these the listing's own words count, where the card says the same of "
        "itself.",
    )
    claim.add_argument("--claim", metavar="MODEL", help='as "GeForce GTX 1070"')
    claim.add_argument("--claim-memory", metavar="SIZE", help="as 8GiB")
    letter = evidence.add_argument_group("for the letter (left out: left blank)")
    letter.add_argument("--order", metavar="NUMBER", help="number of the order")
    letter.add_argument("--seller", metavar="NAME", help="whom the letter goes to")
    letter.add_argument("--bought", metavar="DATE", help="as 2026-11-25")
    letter.add_argument("--price", metavar="TEXT", help='as "120.00 EUR"')
    letter.add_argument("--buyer", metavar="NAME", help="who signs the letter")
    out = evidence.add_argument_group("what comes of it")
    out.add_argument(
        "--language",
        metavar="CODE",
        default="en",
        help="of page and letter: de (German), en (English), es (Spanish) (default: "
        "en)",
    )
    out.add_argument(
        "--out",
        metavar="FILE",
        help="the zip, as pack.zip; the page lies beside it (default: evidence.zip "
        "beside the record)",
    )
    out.add_argument(
        "--reference", metavar="FILE", help="further rows for the table of cards (TOML)"
    )
