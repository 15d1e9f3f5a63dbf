"""Build dates as firmware writes them: two-digit years, American order."""

import datetime as dt
import re
from typing import Final

_DATE: Final = re.compile(r"^(\d{2})/(\d{2})/(\d{2})")
_EARLIEST: Final = 80
"""Two-digit years from here on are of the last century."""


def iso(text: str | None) -> str | None:
    """Return `MM/DD/YY` as an ISO date; None for anything that is no day."""
    found = _DATE.match(text or "")
    if not found:
        return None
    month, day, year = (int(part) for part in found.groups())
    year += 1900 if year >= _EARLIEST else 2000
    try:
        return dt.date(year, month, day).isoformat()
    except ValueError:
        return None
