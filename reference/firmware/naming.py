"""What the texts of an image name: chips, and models that the table knows.

A text is evidence of what its writer wanted shown, no more. Judges nothing.
"""

import itertools
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from reference.table import Table
from reports.text import plain

_MODEL: Final = re.compile(
    r"\b(?:GTX|GTS|GT|RTX|RX|R9|R7|R5|HD|Quadro|Tesla|Arc)[ \-]?"
    r"(?:[A-Z]{0,2}\d{3,4}[A-Z]{0,3}|Vega \d\d)(?:[ ]?(?:Ti|SUPER|XTX|XT|GRE|X2))*\b",
    re.IGNORECASE,
)
_TAIL: Final = re.compile(r"[ ]?(?:Ti|SUPER|XTX|XT|GRE|X2)$", re.IGNORECASE)
_SHORTEST: Final = 4
_LEGIBLE: Final = re.compile(rb"[\x20-\x7e]{8,160}")
_SEARCHED: Final = 2**20
_MOST_TEXTS: Final = 20_000
_MOST: Final = 8


def chips_in(texts: Iterable[str], table: Table) -> tuple[str, ...]:
    """Return the chips that the texts name, by the table's names for them."""
    names, pattern = _chips(table)
    found = (
        names[match[0].casefold().replace(" ", "")]
        for text in texts
        for match in pattern.finditer(text)
    )
    return tuple(dict.fromkeys(found))[:_MOST]


def models_in(texts: Iterable[str], table: Table) -> tuple[str, ...]:
    """Return the models that the texts name and the table knows, as it writes them."""
    found: dict[str, None] = {}
    for text in texts:
        for match in _MODEL.finditer(text):
            name = match[0].replace("-", " ")
            rows = table.resolve(name)
            while not rows and _TAIL.search(name):
                name = _TAIL.sub("", name)
                rows = table.resolve(name)
            found |= dict.fromkeys(row.model for row in rows)
    return tuple(found)[:_MOST]


def loose_in(data: bytes, known: Iterable[str], table: Table) -> tuple[str, ...]:
    """Return legible texts of an image that name a chip or a model.

    Those in `known` are left out, and so is what lies behind the first MiB.
    """
    found: dict[str, None] = {}
    seen = frozenset(known)
    for match in itertools.islice(_LEGIBLE.finditer(data[:_SEARCHED]), _MOST_TEXTS):
        text = plain(match[0]).strip()
        if any(text in one or one in text for one in seen):
            continue
        if chips_in([text], table) or models_in([text], table):
            found[text] = None
        if len(found) == _MOST:
            break
    return tuple(found)


@lru_cache(maxsize=4)
def _chips(table: Table) -> tuple[dict[str, str], re.Pattern[str]]:
    names: dict[str, str] = {chip.casefold(): chip for chip in table.marks}
    for key, chip in table.chips.items():
        for name in (key, *chip.names):
            if len(name) >= _SHORTEST and name.isascii():
                names[name.casefold().replace(" ", "")] = key
    spelt = sorted(names, key=len, reverse=True)
    forms = (re.sub(r"([a-z])(\d)", r"\1 ?\2", re.escape(name)) for name in spelt)
    return names, re.compile(rf"\b(?:{'|'.join(forms)})\b", re.IGNORECASE)
