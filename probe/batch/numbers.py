"""Stock numbers as scanners, people and lists give them. Pure.

Says what a line means, and which numbers are the same; asks nobody, opens nothing.
"""

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from probe.errors import UsageError
from reports.certificate.errors import CertificateError
from reports.certificate.statement import clean_name
from reports.ledger.entry import stock_key
from reports.text import plain

LINE_LIMIT: Final = 4096
"""Longest line read, in characters."""
MOST_LINES: Final = 10_000
_SYMBOLOGY: Final = re.compile(r"\][A-Za-z][0-9A-Za-z]")
"""What a scanner may put first: which kind of code it read (ISO/IEC 15424)."""
_UNFIT: Final = re.compile(r"[^A-Za-z0-9._-]+")
_RESERVED: Final = re.compile(
    r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE
)
"""Names that Windows keeps for devices, whatever follows a dot."""
_MARKED: Final = re.compile("_[0-9a-f]{8}$", re.IGNORECASE)
"""The end of a folder's name that is not its number's own."""
_PLACE: Final = re.compile(r"[0-9]{1,4}|cpu|[0-9a-f:.]*:[0-9a-f:.]*", re.IGNORECASE)
_SLUG: Final = 60
_SHOWN: Final = 80


def scanned(line: str) -> str:
    """Return the stock number in a line, "" for none. Raises UsageError.

    Scanners frame what they read with control characters (STX, GS, RS, EOT) and may
    name the code's kind first. Between the number's own signs there must be none.
    """
    text = line[:LINE_LIMIT]
    text = _SYMBOLOGY.sub("", _trimmed(text), count=1) if "]" in text[:8] else text
    text = _trimmed(text)
    if not text:
        return ""
    if "\x1b" in line:
        raise UsageError("that was a key for the cursor and no stock number")
    try:
        return clean_name(text, "stock number")
    except CertificateError as error:
        raise UsageError(str(error)) from None


def _trimmed(text: str) -> str:
    first, last = 0, len(text)
    while first < last and _frames(text[first]):
        first += 1
    while last > first and _frames(text[last - 1]):
        last -= 1
    return text[first:last]


def _frames(sign: str) -> bool:
    return sign.isspace() or unicodedata.category(sign) == "Cc" or sign == "\ufeff"


def given(numbers: Iterable[str]) -> tuple[str, ...]:
    """Return numbers out of `--stock-no`. Raises UsageError for what is none."""
    found = []
    for number in numbers:
        text = scanned(number)
        if not text:
            raise UsageError("--stock-no: nothing is said; it must not be empty")
        found.append(text)
    once(found)
    return tuple(found)


def once(numbers: Iterable[str]) -> None:
    """Raise UsageError where two cards have one number."""
    seen: set[str] = set()
    for number in numbers:
        if stock_key(number) in seen:
            raise UsageError(
                f"stock number {plain(number, _SHOWN)}: is given twice; each card has "
                "its own"
            )
        seen.add(stock_key(number))


@dataclass(frozen=True)
class Listed:
    """One line of a list: where a card is, and its number."""

    line: int
    where: str
    """A PCI address, or an index out of `cardassay list`."""
    number: str


def listed(text: str, name: str) -> tuple[Listed, ...]:
    """Return the lines of a list: `PCI address or index, stock number`.

    Commas, semicolons or tabs part the two, the number may stand in quotes; empty lines
    and those that begin with # say nothing. Raises UsageError with the line's number.
    """
    lines = text.removeprefix("\ufeff").splitlines()
    if len(lines) > MOST_LINES:
        raise UsageError(f"{name}: has more than {MOST_LINES} lines; no list of cards")
    found: list[Listed] = []
    for at, line in enumerate(lines, 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        where, parted, number = _parted(line)
        try:
            clean = scanned(number)
        except UsageError as error:
            raise UsageError(f"{name}, line {at}: {error}") from None
        if not (_PLACE.fullmatch(where) and parted and clean):
            raise UsageError(
                f"{name}, line {at}: must be a PCI address or an index, a comma, and a "
                "stock number (a heading begins with #)"
            )
        found.append(Listed(at, where, clean))
    _unlike(found, name)
    return tuple(found)


def _parted(line: str) -> tuple[str, str, str]:
    at = re.search("[,;\t]", line[:LINE_LIMIT])
    if at is None:
        return line.strip(), "", ""
    number = line[at.end() : LINE_LIMIT].strip()
    if len(number) > 1 and number[0] == number[-1] == '"':
        number = number[1:-1].replace('""', '"')
    return line[: at.start()].strip().strip('"'), at[0], number


def _unlike(found: Sequence[Listed], name: str) -> None:
    places = [one.where.lower() for one in found]
    for one in found:
        if places.count(one.where.lower()) > 1:
            raise UsageError(
                f"{name}, line {one.line}: {plain(one.where, _SHOWN)} is there twice"
            )
    once(one.number for one in found)


def folder_name(number: str) -> str:
    """Return a folder's name for a number: the same for the same, on every system."""
    slug = _UNFIT.sub("-", number).strip("-.")[:_SLUG].rstrip("-.")
    reserved = _RESERVED.fullmatch(slug)
    if slug == number and not (reserved or _MARKED.search(slug)):
        return slug
    digest = sha256(stock_key(number).encode("utf-8", "replace")).hexdigest()[:8]
    start = "card_" if reserved or not slug else ""
    return f"{start}{slug}_{digest}" if slug else f"{start}{digest}"
