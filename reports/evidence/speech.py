"""The judge's short texts in another language: figures, units, a few set phrases.

What is made of known parts alone is said in the language; what holds a word that is
not known stays as the judge wrote it, and is marked as foreign. Nothing is guessed.
"""

import re
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Final

from reports.evidence.wording import Wording
from reports.summary import clean

_UNIT: Final = (
    r"(?:[KMGTP]iB|%|[TGMk]?FLOP/s|[TGMk]?B/s|[TGMk]? ?op/s|of fp32|[GM]Hz|W|°C|ns|µs"
    r"|ms|s)\b|%"
)
_FIGURE: Final = re.compile(
    r"(?<![\w.:,])(?:\d{1,3}(?:,\d{3})+(?![\w,])"
    rf"|\d+\.\d+(?=(?:(?: to | or |, )\d+(?:\.\d+)?){{0,8}} ?(?:{_UNIT})))"
)
_ARTICLE: Final = re.compile(r"\b(?:an?) (?=[A-Z0-9])")
_WORD: Final = re.compile(r"(?<![\w/.'-])[a-z]{2,}(?![\w/-])")
_NEUTRAL: Final = frozenset({"ns", "ms", "min", "op"})


@dataclass(frozen=True, slots=True)
class Said:
    """A text, and whether it stayed English among words of another language."""

    text: str
    foreign: bool = False


def said(text: str, words: Wording) -> Said:
    """Return a judge's short text in the language, or as it is."""
    text = clean(text)
    if words.code == "en":
        return Said(text)
    bare = _ARTICLE.sub("", text)
    known = _phrases(words.code, tuple(words.phrases))
    rest = known.sub(" ", bare)
    if any(one not in _NEUTRAL for one in _WORD.findall(rest)):
        return Said(text, foreign=True)
    local = figures(bare, words)
    return Said(known.sub(lambda found: words.phrases[found[0]], local))


def figures(text: str, words: Wording) -> str:
    """Return a text with its figures as the language writes them.

    Only what has a unit behind it counts: a version or an id keeps its points.
    """
    return _FIGURE.sub(lambda found: _local(found[0], words), text)


def number(value: int, words: Wording) -> str:
    """Return a whole number as the language writes it."""
    apart = words.thousands if abs(value) >= words.grouped_from else ""
    return f"{value:,}".replace(",", apart)


def day(iso: str, words: Wording) -> str:
    """Return `2026-11-26…` as people write it; what is no date, as it is."""
    try:
        when = date.fromisoformat(iso[:10])
    except ValueError:
        return iso
    month = words.months[when.month - 1]
    return words.day.format(day=when.day, month=month, year=when.year)


def _local(figure: str, words: Wording) -> str:
    whole, point, rest = figure.partition(".")
    whole = number(int(whole.replace(",", "")), words) if "," in whole else whole
    return f"{whole}{words.decimal if point else ''}{rest}"


@cache
def _phrases(_: str, phrases: tuple[str, ...]) -> re.Pattern[str]:
    """Return what finds the phrases, the longest first."""
    spelt = sorted(map(re.escape, phrases), key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(spelt)})(?!\w)")
