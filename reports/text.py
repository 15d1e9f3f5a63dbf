"""Text from outside, made harmless once.

Every string that a device, a driver, a file or a listing gives is hostile: it may hold
terminal escapes, line breaks, direction marks or megabytes. It passes through
:func:`plain` before it enters a record. Rendering escapes again for its own medium.
"""

import unicodedata

NAME_LIMIT = 256
"""Longest device-given name kept, in characters."""

_MARK = "\N{REPLACEMENT CHARACTER}"
_UNWANTED = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp", "Cn"})


def plain(text: str | bytes, limit: int = NAME_LIMIT) -> str:
    """Return `text` as one printable line of at most `limit` characters.

    Bytes are read as UTF-8 up to the first NUL. Control, format, private-use,
    unassigned and surrogate characters become U+FFFD, white space collapses to single
    blanks, a longer text ends in an ellipsis.
    """
    if isinstance(text, bytes):
        text = text.split(b"\0", 1)[0][: 8 * limit].decode("utf-8", "replace")
    text = " ".join(text[: 8 * limit].split())
    text = "".join(
        _MARK if unicodedata.category(char) in _UNWANTED else char for char in text
    )
    return text if len(text) <= limit else text[: limit - 1] + "…"
