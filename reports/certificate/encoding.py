"""Bytes as text, one way only: what has two spellings could be changed unseen."""

import base64
import binascii


def to_base64(data: bytes) -> str:
    """Return standard base64 with padding (RFC 4648, section 4)."""
    return base64.b64encode(data).decode("ascii")


def from_base64(text: str | bytes) -> bytes:
    """Return what canonical base64 stands for.

    Raises ValueError for anything that :func:`to_base64` does not write: also where
    only the bits differ that padding leaves over.
    """
    if isinstance(text, str):
        text = text.encode("ascii")
    try:
        data = base64.b64decode(text, validate=True)
    except binascii.Error as error:
        raise ValueError(str(error)) from None
    if base64.b64encode(data) != text:
        raise ValueError("not canonical")
    return data


def grouped(digest: str) -> str:
    """Return hexadecimal digits in groups of four, for people to compare."""
    return " ".join(digest[at : at + 4] for at in range(0, len(digest), 4))
