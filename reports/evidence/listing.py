"""A listing's text: from a person, a text file or a saved page, made harmless.

Kept word for word, line by line; only what a terminal would obey or an eye would miss
is marked. Of a page the text alone is taken. What is read is a stranger's: it takes
time in proportion to its length. Nothing here understands what a listing says.
"""

import re
import unicodedata
from hashlib import sha256
from html import unescape
from typing import Final

from reports.evidence.case import LISTING_SIGNS, Listing
from reports.evidence.errors import EvidenceError
from reports.text import named

FILE_LIMIT: Final = 4 * 2**20
"""Largest file of a listing read, in bytes."""

_MARK: Final = "\N{REPLACEMENT CHARACTER}"
_UNWANTED: Final = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp", "Cn"})
_ENDS: Final = re.compile(r"\r\n|[\r\v\f\x85\u2028\u2029]")
_PAGE: Final = re.compile(
    r"\s*(?:<\?xml[^>]{0,200}>\s*)?<(?:!doctype\s+html|html)\b", re.IGNORECASE
)
_DOCUMENTS: Final = (b"%PDF-", b"{\\rtf", b"PK\x03\x04", b"\xff\xd8\xff", b"\x89PNG")
"""How PDF, RTF, packed documents and pictures begin: ISO 32000-1, 7.5.2; RTF 1.9.1."""
_ARCHIVE: Final = re.compile(
    rb"\A(?=.{0,2000}^MIME-Version:).{0,4000}^Content-Type:\s{0,20}multipart/related",
    re.IGNORECASE | re.MULTILINE | re.DOTALL,
)
"""A page that a browser saved as one file (MHTML, RFC 2557)."""
_OPEN: Final = re.compile(r"<(?=[A-Za-z/!?])")
_TAG: Final = re.compile(r"[A-Za-z][A-Za-z0-9]*")
_UNSEEN: Final = frozenset(
    {"script", "style", "template", "noscript", "svg", "title", "head", "iframe"}
)
_BLOCKS: Final = frozenset(
    {
        *("address", "article", "aside", "blockquote", "body", "br", "caption", "dd"),
        *("div", "dl", "dt", "figcaption", "figure", "footer", "form", "h1", "h2"),
        *("h3", "h4", "h5", "h6", "header", "hr", "html", "legend", "li", "main"),
        *("nav", "ol", "option", "p", "pre", "section", "summary", "table", "td"),
        *("th", "tr", "ul"),
    }
)


def of_text(text: str) -> Listing:
    """Return a listing that a person gave as text. Raises EvidenceError if empty."""
    return _made(text, text.encode("utf-8", "surrogatepass"), from_page=False)


def of_file(data: bytes, name: str) -> Listing:
    """Return a listing out of a text file or a saved page.

    Raises EvidenceError with `name` where it is too large, no text, or empty.
    """
    if len(data) > FILE_LIMIT:
        raise EvidenceError(
            f"{named(name)}: larger than {FILE_LIMIT // 2**20} MiB; copy the listing's "
            "text into a file of its own, and name that with --listing"
        )
    text = _read(data, name)
    if _PAGE.match(text):
        return _made(visible(text), data, from_page=True, name=name)
    return _made(text, data, from_page=False, name=name)


def visible(page: str) -> str:
    """Return the text that a page shows, roughly: a line for each block."""
    low = page.lower()
    if len(low) != len(page):  # a few letters grow in lower case
        low = page
    parts: list[str] = []
    at = 0
    while (found := _OPEN.search(page, at)) is not None:
        parts.append(page[at : found.start()])
        at = _behind(page, low, found.start(), parts)
    parts.append(page[at:])
    text = unescape("".join(parts))
    lines = (" ".join(line.split()) for line in text.replace("\0", "\n").split("\n"))
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip()


def _behind(page: str, low: str, start: int, parts: list[str]) -> int:
    """Return where the text goes on behind the `<` at `start`."""
    if page.startswith("<!--", start):
        return _after(page, "-->", start + 4)
    closing = page.startswith("</", start)
    found = _TAG.match(page, start + 1 + closing)
    if found is None:
        return _after(page, ">", start)
    name = found[0].lower()
    if name in _BLOCKS:
        parts.append("\0")
    end = _after(page, ">", found.end())
    if name in _UNSEEN and not closing and not page.startswith("/>", end - 2):
        return _after(page, ">", low.find(f"</{name}", end), len(page))
    return end


def _after(page: str, sign: str, at: int, missing: int | None = None) -> int:
    """Return the place behind the next `sign`; the page's end where there is none."""
    if at < 0:
        return len(page) if missing is None else missing
    found = page.find(sign, at)
    return len(page) if found < 0 else found + len(sign)


def _read(data: bytes, name: str) -> str:
    """Return the text of a file, by its mark, as UTF-8, else as Windows writes it."""
    for mark, code in (
        (b"\xef\xbb\xbf", "utf-8"),
        (b"\xff\xfe", "utf-16-le"),
        (b"\xfe\xff", "utf-16-be"),
    ):
        if data.startswith(mark):
            return data[len(mark) :].decode(code, "replace")
    if b"\0" in data or data.lstrip().startswith(_DOCUMENTS) or _ARCHIVE.match(data):
        raise EvidenceError(
            f"{named(name)}: not a text file; save the listing as plain text, and name "
            "that with --listing"
        )
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def _made(text: str, given: bytes, *, from_page: bool, name: str = "") -> Listing:
    text = text.strip()
    head = _ENDS.sub("\n", text[: 2 * LISTING_SIGNS])
    whole = "\n".join(_clean(line) for line in head.split("\n")).strip("\n")
    if not whole.strip():
        what = f"{named(name)}: " if name else "--listing: "
        raise EvidenceError(
            f"{what}there is no text in it; give the listing's words, or a text file "
            "with them"
        )
    return Listing(
        text=whole[:LISTING_SIGNS].rstrip(),
        signs=max(len(text), len(whole)),
        sha256=sha256(given).hexdigest(),
        size_bytes=len(given),
        from_page=from_page,
    )


def kept(text: str) -> str:
    """Return text over several lines, with nothing in it that anything obeys."""
    return "\n".join(_clean(line) for line in text.split("\n"))


def _clean(line: str) -> str:
    return "".join(
        _MARK if unicodedata.category(sign) in _UNWANTED else sign
        for sign in line.expandtabs(4)
    ).rstrip()
