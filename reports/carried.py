"""Files that a page carries: put in as links, and taken out of them again.

A page's own words are never read back. What a stranger's page says is bytes: to read
all of it as HTML may take the square of its length, so one link is looked for alone.
"""

import base64
import binascii
from typing import Final

from reports.errors import RecordError

_DATA: Final = "data:application/json;base64,"
_LINK: Final = f'href="{_DATA}'.encode("ascii")
_TAG: Final = 1024
"""Bytes in which the rest of the link's tag stands."""


def link_of(data: bytes) -> str:
    """Return the address of a link that carries JSON: `<a id="…" href="…">`."""
    return _DATA + base64.b64encode(data).decode("ascii")


def carried(page: bytes, ident: str = "record", what: str = "record") -> bytes:
    """Return what the page's one link with this id carries. Raises RecordError.

    `what` is what errors call it.
    """
    mark = f' id="{ident}"'.encode("ascii")
    found: list[bytes] = []
    at = page.find(_LINK)
    while at >= 0:
        start = page.rfind(b"<", max(0, at - _TAG), at)
        end = page.find(b'"', at + len(_LINK))
        close = page.find(b">", end, end + _TAG)
        if start < 0 or end < 0 or close < 0:
            break
        tag = page[start:at] + page[end + 1 : close]
        if tag.startswith(b"<a ") and mark in tag:
            found.append(page[at + len(_LINK) : end])
        at = page.find(_LINK, close)
    if not found:
        raise RecordError(f"the page carries no {what}")
    if len(found) > 1:
        raise RecordError(f"the page carries more than one {what}")
    try:
        return base64.b64decode(found[0], validate=True)
    except (binascii.Error, ValueError):
        raise RecordError(f"the {what} in the page is damaged") from None
