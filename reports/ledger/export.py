"""Rows out of a ledger as CSV (RFC 4180) or JSON Lines, one at a time.

What a card calls itself may be a formula to a spreadsheet. In CSV such a text gets an
apostrophe before it, which the usual spreadsheets show as text; JSON Lines stays exact.
"""

import csv
import io
from collections.abc import Iterable, Iterator
from typing import Final

import msgspec

from reports.ledger.query import Row
from reports.text import inert

_FORMULA: Final = (
    "=", "+", "-", "@", "\t", "\r", "\n",
    "\uff1d", "\uff0b", "\uff0d", "\uff20",
)  # fmt: skip
"""How a formula may begin, by OWASP's page on CSV injection; the wide signs are taken
for the narrow ones by some programs."""


def as_csv(rows: Iterable[Row]) -> Iterator[bytes]:
    """Yield a head of names and a line a record, UTF-8, lines ended by CRLF."""
    yield _line(Row.__struct_fields__)
    for row in rows:
        yield _line(_cell(one) for one in msgspec.structs.astuple(row))


def as_json_lines(rows: Iterable[Row]) -> Iterator[bytes]:
    """Yield a JSON object a record and line."""
    for row in rows:
        yield inert(msgspec.json.encode(row)) + b"\n"


def defused(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    bare = text.lstrip(" \u00a0")
    return f"'{text}" if bare.startswith(_FORMULA) else text


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return defused(value) if isinstance(value, str) else str(value)


def _line(cells: Iterable[str]) -> bytes:
    file = io.StringIO()
    csv.writer(file, lineterminator="\r\n").writerow(cells)
    return file.getvalue().encode("utf-8")
