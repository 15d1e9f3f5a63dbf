"""`cardassay evidence`: files, clock and table for a pack; says where it lies.

What is in a pack is `reports.evidence`'s, what follows from a claim the judge's.
"""

import argparse
import re
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final, get_args

from msgspec.structs import replace

from probe import commands
from probe.certify import say
from probe.check import listing_of
from probe.cli import Exit
from probe.errors import UsageError
from reference import names
from reference import table as tables
from reference.judge import judge
from reference.sold import Sold, offered
from reference.table import Table
from reports import codec
from reports.evidence import listing as listings
from reports.evidence.case import MOST_PHOTOS, Held, Listing, Order, Shows
from reports.evidence.languages import wording
from reports.evidence.pack import Told, make
from reports.evidence.photos import FILE_LIMIT, Copied, copied
from reports.evidence.verdict import listed
from reports.files import contents
from reports.page import record_bytes
from reports.record import Claim, Record
from reports.summary import summarise
from reports.text import named, plain

_SHOWN: Final = re.compile(rf"({'|'.join(get_args(Shows))})[=:](.+)", re.DOTALL)
_MEANT: Final = re.compile(
    r"\S+\.(?:txt|html?|mht|md|pdf|rtf|docx?|odt)", re.IGNORECASE
)
"""What is meant as a file's name."""
_SHORT: Final = 200
_LONGEST_NAME: Final = 4096
_LAW: Final = (
    "The letter is a request, not legal advice: consumer law is local. Keep the card "
    "as it is."
)


def evidence(asked: argparse.Namespace) -> Exit:
    """Make a pack; say where it lies. Raises UsageError, RecordError, TableError."""
    record_path = Path(asked.record)
    zipped = Path(asked.out) if asked.out else record_path.with_name("evidence.zip")
    page = zipped.with_suffix(".html")
    if zipped == page:
        raise UsageError("--out: names the zip, as evidence.zip; the page lies beside")
    _free(zipped, page)
    wording(asked.language)
    order = _order(asked)
    stored = record_bytes(codec.read(record_path), asked.record)
    record = codec.decode(stored, asked.record)
    listing = _listing(asked.listing)
    table = tables.load(Path(asked.reference) if asked.reference else None)
    sold = offered(listing.text, table)
    claim, held = _claim(asked, record, sold, table)
    judged = _judged(record, claim, table) if claim is not None else None
    others = _others(judged or record, sold, table)
    pack = make(
        stored,
        Told(
            listing=listing,
            language=asked.language,
            order=order,
            photos=_photos(asked.photo, record),
            made=datetime.now(UTC).date().isoformat(),
        ),
        held=held,
        judged=judged,
        other_models=others,
        name=asked.record,
    )
    codec.save(pack.zipped, zipped)
    codec.save(pack.page, page)
    if others and held != "none":
        commands.aside(
            f"cardassay: the listing names {plain(', '.join(others))}, too; the card "
            "was judged by what the record or --claim says it was sold as"
        )
    if held == "listing" and claim is not None:
        commands.aside(
            f"cardassay: judged by the listing's own words: {plain(claim.model or '')}"
        )
    elif held == "none":
        commands.aside(
            "cardassay: the listing was not held against what was measured: its text "
            "does not name one model beyond doubt; say with --claim what the card was "
            "sold as"
        )
    notice = summarise(record).practice
    lines = _told(zipped, page, pack.sha256, letter=pack.letter is not None)
    say("\n".join([notice, *lines, notice] if notice else lines))
    return Exit.AS_CLAIMED


def _told(zipped: Path, page: Path, digest: str, *, letter: bool) -> list[str]:
    lines = [
        f"Evidence pack: {named(zipped)}",
        f"The same as a page: {named(page)}",
        f"SHA-256 of the zip: {digest}",
    ]
    if letter:
        lines += [
            (
                "Next: look the page through, fill in the blanks of letter.txt (in the "
                "zip), and send it with the zip. Put the zip's SHA-256 into the "
                "message: it shows later that nothing in it was changed."
            ),
            _LAW,
        ]
    else:
        lines.append("There is no letter in it; the page says why.")
    return lines


def _claim(
    asked: argparse.Namespace, record: Record, sold: Sold, table: Table
) -> tuple[Claim | None, Held]:
    """Return the claim to judge by, where there is a new one, and where it is from."""
    given, old = listing_of(asked, table), listed(record)
    if given is not None:
        if given.model is None and old is not None:
            given = replace(old, memory_bytes=given.memory_bytes)
        if given.model is not None:
            return given, "option"
    if old is not None:
        return None, "record"
    if sold.model is None:
        if given is not None:
            raise UsageError(
                "--claim-memory: the listing's text does not name one model beyond "
                "doubt; name it with --claim"
            )
        return None, "none"
    memory = given.memory_bytes if given is not None else sold.memory_bytes
    claim = Claim(
        layer="listing",
        source="taken from the listing's text",
        model=sold.model,
        memory_bytes=memory,
    )
    return claim, "listing"


def _judged(record: Record, claim: Claim, table: Table) -> Record:
    rest = tuple(one for one in record.claims if one.layer != "listing")
    return judge(replace(record, claims=(claim, *rest)), table)


def _others(record: Record, sold: Sold, table: Table) -> tuple[str, ...]:
    """Return the models that the listing names beside what the card was judged as."""
    claim = listed(record)
    if claim is None or not claim.model:
        return ()
    own = {row.model for row in table.resolve(claim.model)} | {claim.model}
    keys = set(map(names.key, own))
    return tuple(one for one in sold.models if names.key(one) not in keys)


def _listing(given: str) -> Listing:
    """Return the listing out of the file of that name, else the words themselves."""
    path = Path(given)
    try:
        is_file = len(given) <= _LONGEST_NAME and path.is_file()
    except (OSError, ValueError):
        is_file = False
    if not is_file:
        if _MEANT.fullmatch(given):
            raise UsageError(
                f"--listing: there is no file {named(given)}; name the file with the "
                "listing's words, or give the words themselves"
            )
        return listings.of_text(given)
    try:
        data = contents(path, listings.FILE_LIMIT)
    except OSError as error:
        raise UsageError(
            f"{named(given)}: cannot be read: {error.strerror}; give the listing's "
            "words with --listing"
        ) from None
    return listings.of_file(data, given)


def _photos(given: list[str], record: Record) -> list[Copied]:
    """Return the copies of the photos. Raises UsageError, EvidenceError."""
    if len(given) > MOST_PHOTOS:
        raise UsageError(f"--photo: a pack holds up to {MOST_PHOTOS} photos")
    seen = record.inspection.photos if record.inspection else ()
    inspected = frozenset(one.sha256 for one in seen)
    found = []
    for number, text in enumerate(given, start=1):
        shows, path = _shown(text)
        try:
            data = contents(path, FILE_LIMIT)
        except OSError as error:
            raise UsageError(
                f"{named(path)}: cannot be read: {error.strerror}; name a photo with "
                "--photo"
            ) from None
        found.append(copied(data, path.name, number, shows, inspected))
    return found


def _shown(text: str) -> tuple[Shows | None, Path]:
    """Return what a photo shows, where that was said, and its file."""
    match = _SHOWN.fullmatch(text)
    if match is None:
        return None, Path(text)
    shows: dict[str, Shows] = {one: one for one in get_args(Shows)}
    return shows[match[1]], Path(match[2])


def _order(asked: argparse.Namespace) -> Order:
    """Return what the letter is filled in with. Raises UsageError."""
    bought = asked.bought
    if bought is not None:
        try:
            bought = date.fromisoformat(bought).isoformat()
        except ValueError:
            raise UsageError(
                f"--bought: {plain(asked.bought)!r} is no date; write it as 2026-11-25"
            ) from None
    return Order(
        number=_short(asked.order),
        seller=_short(asked.seller),
        bought=bought,
        price=_short(asked.price),
        buyer=_short(asked.buyer),
    )


def _short(text: str | None) -> str | None:
    return (plain(text, _SHORT) or None) if text is not None else None


def _free(*paths: Path) -> None:
    for path in paths:
        if path.exists():
            raise UsageError(
                f"{named(path)}: is there already; name another file with --out"
            )
