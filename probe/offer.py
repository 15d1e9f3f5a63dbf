"""A listing for a pack: where its words are from, and which claim follows from them.

A listing's words alone accuse nobody: what they seem to name is judged by only where
the card says the same of itself; for anything else a person has to say `--claim`.
Reads files; what a listing's text offers is `reference.sold`'s.
"""

import argparse
import re
from pathlib import Path
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from probe.check import listing_of
from probe.errors import UsageError
from reference import names
from reference.sold import Sold
from reference.table import Table
from reports.evidence import listing as listings
from reports.evidence.case import Held, Listing
from reports.evidence.verdict import listed
from reports.files import contents
from reports.record import Claim, Record
from reports.text import named, plain
from reports.units import gib

_MEANT: Final = re.compile(
    r"\S+\.(?:txt|html?|mht(?:ml)?|md|pdf|rtf|docx?|odt)", re.IGNORECASE
)
"""What is meant as a file's name."""
_ADDRESS: Final = re.compile(r"(?:[a-z][a-z0-9+.-]{1,15}://|www\.)\S+", re.IGNORECASE)
_LONGEST_NAME: Final = 4096
_NONE: Final = (
    "the listing was not held against what was measured: its text does not name one "
    "model beyond doubt; say with --claim what the card was sold as"
)
_OTHER: Final = (
    "the listing was not held against what was measured: its text names {model}, which "
    "the card does not call itself; if it was sold as that, say so with --claim "
    '"{model}"'
)
_UNJUDGED: Final = (
    "the listing names {size}, which the card was not judged by; if it was sold with "
    "that, say so with --claim-memory"
)
_SIZES: Final = (
    "the listing names {size}, the record was judged by {own}; look that through "
    "before the pack is sent"
)
_SAME_SIZE: Final = 0.1
"""A card reports up to so much less than its memory's nominal size, as a share."""


class Judgeable(Struct, frozen=True, kw_only=True):
    """A new claim to judge by, where there is one; where it is from; what to say."""

    claim: Claim | None = None
    held: Held
    asides: tuple[str, ...] = ()


def read(given: str) -> Listing:
    """Return the listing out of the file of that name, else the words themselves.

    Raises UsageError, EvidenceError.
    """
    path = Path(given)
    try:
        short = len(given) <= _LONGEST_NAME
        is_file, is_folder = short and path.is_file(), short and path.is_dir()
    except (OSError, ValueError):
        is_file = is_folder = False
    if is_file:
        try:
            data = contents(path, listings.FILE_LIMIT)
        except OSError as error:
            raise UsageError(
                f"{named(given)}: cannot be read: {error.strerror}; give the listing's "
                "words with --listing"
            ) from None
        return listings.of_file(data, given)
    if given.strip() and is_folder:
        raise UsageError(
            f"--listing: {named(given)} is a folder; name the file with the listing's "
            "words, or give the words themselves"
        )
    if _ADDRESS.fullmatch(given.strip()):
        raise UsageError(
            "--listing: nothing is fetched from an address; copy the listing's words "
            "into a text file, or save the page, and name that with --listing"
        )
    if _MEANT.fullmatch(given):
        raise UsageError(
            f"--listing: there is no file {named(given)}; name the file with the "
            "listing's words, or give the words themselves"
        )
    return listings.of_text(given)


def claimed(
    asked: argparse.Namespace, record: Record, sold: Sold, table: Table
) -> Judgeable:
    """Return what the record is to be judged by. Raises UsageError."""
    given, old = listing_of(asked, table), listed(record)
    if given is not None:
        if given.model is None and old is not None:
            given = replace(old, memory_bytes=given.memory_bytes)
        if given.model is not None:
            return Judgeable(claim=given, held="option")
    if old is not None:
        return Judgeable(held="record", asides=_other_memory(old, sold))
    if given is not None and sold.model is None:
        raise UsageError(
            "--claim-memory: the listing's text does not name one model beyond "
            "doubt; name it with --claim"
        )
    if sold.model is None:
        return Judgeable(held="none", asides=(_NONE,))
    return _by_words(record, given, sold, table)


def others(record: Record, sold: Sold, table: Table) -> tuple[str, ...]:
    """Return the models that the listing names beside what the card was judged as."""
    claim = listed(record)
    if claim is None or not claim.model:
        return ()
    own = {row.model for row in table.resolve(claim.model)} | {claim.model}
    keys = set(map(names.key, own))
    return tuple(one for one in sold.models if names.key(one) not in keys)


def _by_words(
    record: Record, given: Claim | None, sold: Sold, table: Table
) -> Judgeable:
    """Return the claim of a listing's own words, where the card says the same."""
    assert sold.model is not None
    told = [one for one in record.claims if one.layer != "listing"]
    models = {row.model for one in told for row in table.resolve(one.model or "")}
    if sold.model not in models:
        aside = _OTHER.format(model=plain(sold.model))
        return Judgeable(held="none", asides=(aside,))
    asides = [f"judged by the listing's own words: {plain(sold.model)}"]
    own = [one for one in record.claims if one.layer == "listing"]  # a size alone
    given = given or (own[0] if own and own[0].memory_bytes else None)
    memory = given.memory_bytes if given is not None else sold.memory_bytes
    sizes = [one.memory_bytes for one in told if one.memory_bytes]
    if given is None and memory and not any(_alike(one, memory) for one in sizes):
        asides.append(
            f"the listing names {gib(memory)}, which is not what the card reports, and "
            "was not judged by that; if the card was sold with it, say so with "
            "--claim-memory"
        )
        memory = None
    claim = Claim(
        layer="listing",
        source="taken from the listing's text",
        model=sold.model,
        memory_bytes=memory,
    )
    return Judgeable(claim=claim, held="listing", asides=tuple(asides))


def _other_memory(claim: Claim, sold: Sold) -> tuple[str, ...]:
    """Return what to say where listing and record tell different sizes."""
    own, named_size = claim.memory_bytes, sold.memory_bytes
    if not named_size or own == named_size:
        return ()
    if not own:
        return (_UNJUDGED.format(size=gib(named_size)),)
    return (_SIZES.format(size=gib(named_size), own=gib(own)),)


def _alike(reported: int, nominal: int) -> bool:
    return (1 - _SAME_SIZE) * nominal <= reported <= 1.01 * nominal
