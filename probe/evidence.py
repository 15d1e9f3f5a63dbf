"""`cardassay evidence`: files, clock and table for a pack; says where it lies.

What is in a pack is `reports.evidence`'s, what follows from a claim the judge's.
"""

import argparse
import re
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Final, get_args

from msgspec.structs import replace

from probe import commands, offer
from probe.certify import say
from probe.cli import Exit
from probe.errors import UsageError
from reference import table as tables
from reference.judge import judge
from reference.sold import offered
from reference.table import Table
from reports import codec
from reports.evidence.case import MOST_PHOTOS, Order, Shows
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
_SHORT: Final = 200
_SENDABLE: Final = 10 * 10**6
"""Largest zip, in bytes, that is sent without a word."""
_HEAVY: Final = (
    "the zip has {size:.0f} MB; many marketplaces and mail services take no more than "
    "10 to 25 MB: ask how to hand it in, or make it with fewer photos"
)
_LAW: Final = (
    "The letter is a request, not legal advice: consumer law is local. Keep the card "
    "as it is."
)


def evidence(asked: argparse.Namespace) -> Exit:
    """Make a pack; say where it lies. Raises UsageError, RecordError, TableError."""
    record_path = Path(asked.record)
    zipped = Path(asked.out) if asked.out else record_path.with_name("evidence.zip")
    page = zipped.with_suffix(".html")
    if zipped.suffix.casefold() != ".zip":
        raise UsageError("--out: names the zip, as evidence.zip; the page lies beside")
    _free(zipped, page)
    wording(asked.language)
    order = _order(asked)
    stored = record_bytes(codec.read(record_path), asked.record)
    record = codec.decode(stored, asked.record)
    listing = offer.read(asked.listing)
    table = tables.load(Path(asked.reference) if asked.reference else None)
    sold = offered(listing.text, table)
    found = offer.claimed(asked, record, sold, table)
    judged = _judged(record, found.claim, table) if found.claim is not None else None
    others = offer.others(judged or record, sold, table)
    photos = _photos(asked.photo, record)
    pack = make(
        stored,
        Told(
            listing=listing,
            language=asked.language,
            order=order,
            photos=photos,
            made=datetime.now(UTC).date().isoformat(),
        ),
        held=found.held,
        judged=judged,
        other_models=others,
        name=asked.record,
    )
    codec.save(pack.page, page)
    try:
        codec.save(pack.zipped, zipped)
    except BaseException:  # no half of a pack: the next try finds the names free
        page.unlink(missing_ok=True)
        raise
    claim = listed(judged or record)
    if others and claim is not None:
        commands.aside(
            f"cardassay: the listing names {plain(', '.join(others))}; the card was "
            f"judged as {plain(claim.model or '')}: look that through before the pack "
            "is sent"
        )
    for text in (*found.asides, *_alike(photos), *_heavy(len(pack.zipped))):
        commands.aside(f"cardassay: {text}")
    notice = summarise(record).practice
    lines = _told(zipped, page, pack.sha256, letter=pack.letter is not None)
    say("\n".join([notice, *lines, notice] if notice else lines))
    return Exit.AS_CLAIMED


def _alike(photos: list[Copied]) -> list[str]:
    """Return what to say of a photo that was given more than once."""
    seen: dict[str, str] = {}
    asides = []
    for one in (photo.picture for photo in photos):
        first = seen.setdefault(one.original.sha256, one.file)
        if first != one.file:
            asides.append(f"{one.file} is the same photo as {first}")
    return asides


def _heavy(size: int) -> list[str]:
    """Return what to say of a zip that may be too large to be sent."""
    if size <= _SENDABLE:
        return []
    return [_HEAVY.format(size=size / 10**6)]


def _told(zipped: Path, page: Path, digest: str, *, letter: bool) -> list[str]:
    lines = [
        f"Evidence pack: {named(zipped)}",
        f"The same as a page: {named(page)}",
        f"SHA-256 of the zip: {digest}",
    ]
    if letter:
        lines += [
            (
                "Next: look the page through. Copy letter.txt out of the zip, fill in "
                "its blanks, and send it with the zip as it is; where no zip is taken, "
                "print the page to a PDF and send that. Put the zip's SHA-256 into the "
                "message: it shows later that nothing in it was changed."
            ),
            _LAW,
        ]
    else:
        lines.append("There is no letter in it; the page says why.")
    return lines


def _judged(record: Record, claim: Claim, table: Table) -> Record:
    rest = tuple(one for one in record.claims if one.layer != "listing")
    return judge(replace(record, claims=(claim, *rest)), table)


def _photos(given: list[str], record: Record) -> list[Copied]:
    """Return the copies of the photos. Raises UsageError, EvidenceError."""
    if len(given) > MOST_PHOTOS:
        raise UsageError(
            f"--photo: a pack holds up to {MOST_PHOTOS} photos; leave some out"
        )
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
