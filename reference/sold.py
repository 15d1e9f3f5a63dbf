"""What a listing's words offer: one model of the table, and one size of memory.

Careful rather than clever: where words name several models, or one that the table may
not hold (`Ti`, `Laptop` behind it), nothing is taken from them. Judges nothing.
"""

import re
from typing import Final

from msgspec import Struct

from reference import names
from reference.table import Table

_WORD: Final = re.compile(r"[0-9A-Za-z][0-9A-Za-z.+]*")
_SIZE: Final = re.compile(
    r"(?<![\d.,])(\d{1,3}|\d{4,6})\s?(g|m)(?:i?b)?\b(?!\s?/|ps|it)", re.IGNORECASE
)
_LONGEST: Final = 8
"""Words of the longest name looked for."""
_SHORTEST: Final = 4
_BRANDS: Final = frozenset({"geforce", "radeon", "nvidia", "amd"})
"""A name as short as `510` or `A2` counts only behind one of these."""
_WORDS: Final = 3000
"""So many words of a text are looked at."""
_SIGNS: Final = 60_000
_MOST: Final = 8
_MEBI: Final = 2**20
_LEAST: Final = 256 * _MEBI
_TAILS: Final = frozenset(
    {
        *("ti", "super", "xt", "xtx", "gre", "x2", "max", "mobile", "laptop"),
        *("notebook", "ultra", "boost", "gx2", "oem", "ada"),
    }
)
"""Words behind a model's name that make another model of it."""
_CAPITALS: Final = frozenset({"LE", "SE", "D", "M", "Q"})
"""The same, where they are written so: else they are words of some language."""
_LANES: Final = re.compile(r"\d{3,4}SP", re.IGNORECASE)
"""`2048SP`: a board of fewer lanes under the same name."""


class Sold(Struct, frozen=True, kw_only=True):
    """What words offer. More or fewer than one model: nothing is certain."""

    models: tuple[str, ...] = ()
    """As the table writes them, in order of the text."""
    memory_bytes: int | None = None
    """The one size that is named; None where there is none, or several."""
    doubtful: bool = False
    """Whether words behind a name may make another model of it."""

    @property
    def model(self) -> str | None:
        """The one model that is offered beyond doubt."""
        return self.models[0] if len(self.models) == 1 and not self.doubtful else None


def offered(text: str, table: Table) -> Sold:
    """Return what a listing's text offers; the longest name counts."""
    text = text[:_SIGNS]
    words = [one.rstrip(".") for one in _WORD.findall(text)[:_WORDS]]
    found: dict[str, None] = {}
    doubtful = bool(words) and any(names.is_mobile(one) for one in words)
    at = 0
    while at < len(words):
        model, length = _named(words, at, table)
        if model is not None:
            found[model] = None
            tail = words[at + length] if at + length < len(words) else ""
            doubtful = doubtful or tail.casefold() in _TAILS or tail in _CAPITALS
        at += length
    if not any(_LANES.search(one) for one in found):
        doubtful = doubtful or any(map(_LANES.fullmatch, words))
    mobile = doubtful and all(map(names.is_mobile, found)) and bool(found)
    return Sold(
        models=tuple(found)[:_MOST],
        memory_bytes=_size(text),
        doubtful=doubtful and not mobile,
    )


def _named(words: list[str], at: int, table: Table) -> tuple[str | None, int]:
    """Return the model that the longest run of words from `at` on names."""
    for length in range(min(_LONGEST, len(words) - at), 0, -1):
        run = words[at : at + length]
        if not any(sign.isdigit() for sign in run[-1] + run[0]) and length == 1:
            continue
        name = " ".join(run)
        key = names.key(name)
        if not any(sign.isdigit() for sign in key):
            continue
        if len(key) < _SHORTEST and run[0].casefold() not in _BRANDS:
            continue
        models = {row.model for row in table.resolve(name)}
        exact = {one for one in models if names.key(one) == key}
        if len(exact or models) == 1 and not table.chips_named(name):
            return (exact or models).pop(), length
    return None, 1


def _size(text: str) -> int | None:
    sizes = {
        int(number) * (1024 if unit in "gG" else 1) * _MEBI
        for number, unit in _SIZE.findall(text)
    }
    whole = {one for one in sizes if one >= _LEAST}
    return whole.pop() if len(whole) == 1 else None
