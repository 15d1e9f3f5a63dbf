"""Text from outside, made harmless once.

Every string that a device, a driver, a file or a listing gives is hostile: it may hold
terminal escapes, line breaks, direction marks or megabytes. It passes through
:func:`plain` before it enters a record. Rendering escapes again for its own medium.
"""

import re
import unicodedata

NAME_LIMIT = 256
"""Longest device-given name kept, in characters."""

PATH_LIMIT = 4096
"""Longest name of a file shown, in characters."""

_MARK = "\N{REPLACEMENT CHARACTER}"
_UNWANTED = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp", "Cn"})
_ORDERS = re.compile(
    "[\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"
    "\U000e0000-\U000e0fff]+"
)
"""Characters that JSON leaves alone, and a terminal obeys or an eye misses."""
_GAP = re.compile(
    r"(?<=\d) (?=(?:[KMG]iB|[TG]FLOP/s|GB/s|W|[Bb]its?)\b|%)"
    r"|(?<=(?<![\w.,])\d) (?=[a-zA-Z])|(?<=[GR]TX|.RX) (?=\d)"
)


def plain(text: str | bytes, limit: int = NAME_LIMIT) -> str:
    """Return `text` as one printable line of at most `limit` characters.

    Bytes are read as UTF-8 up to the first NUL. Control, format, private-use,
    unassigned and surrogate characters become U+FFFD, white space collapses to single
    blanks, a longer text ends in an ellipsis.
    """
    if isinstance(text, bytes):
        text = text.split(b"\0", 1)[0][: 8 * limit].decode("utf-8", "replace")
    text = " ".join(text[: 8 * limit].split())
    if not text.isprintable():
        text = "".join(
            _MARK if unicodedata.category(char) in _UNWANTED else char for char in text
        )
    return text if len(text) <= limit else text[: limit - 1] + "…"


def named(path: object) -> str:
    """Return a file's name for a message: whatever it is, it makes no second line."""
    return plain(str(path), PATH_LIMIT)


def inert(data: bytes) -> bytes:
    """Return JSON that says the same and holds nothing that a terminal obeys.

    `data` is UTF-8, its controls below U+0020 escaped already, as JSON demands.
    """
    if data.isascii() and b"\x7f" not in data:
        return data
    return _ORDERS.sub(_escaped, data.decode("utf-8")).encode("utf-8")


def _escaped(found: re.Match[str]) -> str:
    units = found[0].encode("utf-16-be")
    return "".join(
        f"\\u{units[at]:02x}{units[at + 1]:02x}" for at in range(0, len(units), 2)
    )


def tied(text: str) -> str:
    """Return text in which no line ends between a figure and what it counts."""
    return _GAP.sub("\N{NO-BREAK SPACE}", text)
