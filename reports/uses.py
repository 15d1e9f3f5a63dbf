"""What a card is good for now: kinds of work, each with an answer and its reason.

Types, and how they are grouped and shown. What the answers are is decided elsewhere,
from measured figures; no title of any program's work is ever named or promised.
"""

from collections.abc import Iterable
from typing import Final, Literal

from reports.base import Base, Few, Text
from reports.text import plain

Answer = Literal["yes", "with limits", "no", "not measured"]

HEAD: Final = "What it is good for now"
CAUTION: Final = (
    "Kinds of work, told by its memory and its speed as measured. No promise about any "
    "program: what one asks for beyond that is its maker's to say."
)
ANSWERS: Final[dict[Answer, tuple[str, str]]] = {
    "yes": ("+", "Good for"),
    "with limits": ("~", "With limits"),
    "no": ("–", "Not for"),  # noqa: RUF001 - drawn, not read
    "not measured": ("?", "Not measured"),
}
"""Mark and head of each answer, in the order in which they are shown."""
LONGEST: Final = 1024
"""Characters of one text shown."""


class Use(Base, frozen=True, kw_only=True):
    """One kind of work, and whether the card as measured is good for it."""

    name: Text
    """Steady and short: `scenes`."""
    title: Text
    answer: Answer
    because: Text
    """One or two sentences with the figures that decided."""
    needs: Text
    """What the work takes, and how that was counted."""
    sources: Few[Text] = ()
    """Where the thresholds are from, a line each; empty: counted, as `needs` says."""


class UseLine(Base, frozen=True, kw_only=True):
    """Kinds of work that share one reason, as shown."""

    titles: Few[Text]
    because: Text


class UseGroup(Base, frozen=True, kw_only=True):
    """All uses of one answer."""

    answer: Answer
    mark: Text
    head: Text
    lines: Few[UseLine]


class UseBasis(Base, frozen=True, kw_only=True):
    """What one kind of work takes, to be folded away."""

    title: Text
    needs: Text
    sources: Text = ""
    """Numbers in the view's list, from 1: `1, 3`."""


class UsesView(Base, frozen=True, kw_only=True):
    """Everything that terminal and page show: clean text."""

    head: Text = HEAD
    whole: Text | None = None
    """The one reason of one answer to every kind of work: it stands first, alone."""
    caution: Text = CAUTION
    groups: Few[UseGroup] = ()
    basis: Few[UseBasis] = ()
    sources: Few[Text] = ()


def view_of(uses: Iterable[Use]) -> UsesView:
    """Return the uses grouped by answer, the good ones first, sources each once."""
    uses = tuple(uses)
    sources = tuple(
        dict.fromkeys(plain(line, LONGEST) for one in uses for line in one.sources)
    )
    groups = tuple(
        UseGroup(answer=answer, mark=mark, head=head, lines=lines)
        for answer, (mark, head) in ANSWERS.items()
        if (lines := _lines(one for one in uses if one.answer == answer))
    )
    alone = len(groups) == 1 and len(groups[0].lines) == 1
    return UsesView(
        whole=groups[0].lines[0].because if alone else None,
        groups=groups,
        basis=tuple(_basis(one, sources) for one in uses),
        sources=sources,
    )


def _lines(uses: Iterable[Use]) -> tuple[UseLine, ...]:
    """Return a line for each reason, with all titles that it holds for."""
    found: dict[str, list[str]] = {}
    for one in uses:
        found.setdefault(plain(one.because, LONGEST), []).append(plain(one.title))
    return tuple(
        UseLine(titles=tuple(titles), because=because)
        for because, titles in found.items()
    )


def _basis(use: Use, sources: tuple[str, ...]) -> UseBasis:
    places = sorted({sources.index(plain(line, LONGEST)) + 1 for line in use.sources})
    return UseBasis(
        title=plain(use.title),
        needs=plain(use.needs, LONGEST),
        sources=", ".join(map(str, places)),
    )
