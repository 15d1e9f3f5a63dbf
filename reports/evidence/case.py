"""The case: what is told beside the record, as a small file of its own (evidence.json).

Types, and bytes both ways, in one spelling. Nothing here names the person, the folder
or the PC; what a person gave for the letter is theirs to give. Decides nothing.

History of the schema (`SCHEMA`):
  1  2026-11  first version
"""

from typing import Annotated, Final, Literal

import msgspec
from msgspec import Meta

from reports.base import Base, Count
from reports.evidence.errors import EvidenceError
from reports.inspection import Digest
from reports.text import inert, named

SCHEMA: Final = 1
MOST_PHOTOS: Final = 24
LISTING_SIGNS: Final = 10_000
"""Longest text of a listing kept, in characters."""
CASE_LIMIT: Final = 2**20
"""Largest case read, in bytes."""

Language = Annotated[str, Meta(pattern=r"^[a-z]{2}$")]
"""Its code, ISO 639-1."""
Shows = Literal["die", "connectors", "label", "box"]
"""What a photo shows, where that was said."""
Held = Literal["record", "option", "listing", "none"]
"""Where the claim that was judged is from: the record already had it, an option gave
it, the listing's text names it; none: what it was sold as was not held against it."""

_Short = Annotated[str, Meta(min_length=1, max_length=200)]
_Name = Annotated[str, Meta(pattern=r"^[A-Za-z-]{1,40}\.(txt|html|json)$")]
_PhotoName = Annotated[str, Meta(pattern=r"^photo-\d{1,2}\.jpg$")]
_Date = Annotated[str, Meta(pattern=r"^\d{4}-\d{2}-\d{2}$")]
_Side = Annotated[int, Meta(ge=1, le=2**16)]


class Original(Base, frozen=True, kw_only=True):
    """The photo as the camera wrote it: enough to know the file again.

    Its name is not kept: a name may tell of a person, a day, a place.
    """

    size_bytes: Count
    sha256: Digest


class Picture(Base, frozen=True, kw_only=True):
    """A photo in the pack: a copy without anything that the camera noted."""

    file: _PhotoName
    shows: Shows | None = None
    width: _Side
    height: _Side
    size_bytes: Count
    sha256: Digest
    small_sha256: Digest
    """Of the smaller copy within the page."""
    original: Original
    location: bool | None = None
    """Whether the original held a place; None where that could not be read."""
    inspected: bool = False
    """Whether the record lists it as looked at when the card was inspected."""


class File(Base, frozen=True, kw_only=True):
    """A further file of the pack."""

    name: _Name
    size_bytes: Count
    sha256: Digest


class Order(Base, frozen=True, kw_only=True):
    """What the letter is filled in with. None: left blank."""

    number: _Short | None = None
    seller: _Short | None = None
    bought: _Date | None = None
    price: _Short | None = None
    buyer: _Short | None = None


class Listing(Base, frozen=True, kw_only=True):
    """What the listing said."""

    text: Annotated[str, Meta(max_length=LISTING_SIGNS)]
    signs: Count
    """How long it was before it was cut."""
    sha256: Digest
    """Of the file, or of the text, as it was given."""
    size_bytes: Count
    from_page: bool = False
    """Whether it is the visible text of a saved page."""


class Case(Base, frozen=True, kw_only=True):
    """One case."""

    schema: Literal[1] = SCHEMA
    language: Language
    made: _Date
    """UTC, ISO 8601."""
    listing: Listing
    held: Held
    other_models: Annotated[tuple[_Short, ...], Meta(max_length=8)] = ()
    """Models that the listing names and the claim does not."""
    stored_sha256: Digest
    """Of the record as it was stored, before it was judged by the listing."""
    order: Order = Order()
    photos: Annotated[tuple[Picture, ...], Meta(max_length=MOST_PHOTOS)] = ()
    files: Annotated[tuple[File, ...], Meta(max_length=16)] = ()
    """What else is in the pack and was made before the page."""

    @property
    def judged_anew(self) -> bool:
        """Whether the record was judged once more, by what the card was sold as."""
        return self.held in ("option", "listing")


_encoder = msgspec.json.Encoder()
_decoder = msgspec.json.Decoder(Case)


def encode(case: Case) -> bytes:
    """Return the case as JSON, read back once. Raises EvidenceError."""
    data = _spelt(case)
    _decoded(data, "the case just made")
    return data


def decode(data: bytes, name: str = "case") -> Case:
    """Return the case that `data` holds. It has one spelling: no key tells twice.

    Raises EvidenceError.
    """
    if len(data) > CASE_LIMIT:
        raise EvidenceError(f"{named(name)}: larger than {CASE_LIMIT} bytes, not read")
    case = _decoded(data, name)
    if _spelt(case) != data:
        raise EvidenceError(f"{named(name)}: not as cardassay writes it")
    return case


def _spelt(case: Case) -> bytes:
    return inert(msgspec.json.format(_encoder.encode(case), indent=1)) + b"\n"


def _decoded(data: bytes, name: str) -> Case:
    try:
        return _decoder.decode(data)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise EvidenceError(
            f"{named(name)}: not the case of an evidence pack: {error}"
        ) from None
