"""What a ledger can be asked: from a person's words to a condition of SQL."""

import re
from typing import TYPE_CHECKING, Final

from sqlalchemy import and_, func, select

from reports.base import Base
from reports.ledger.entry import stock_key
from reports.ledger.errors import LedgerError
from reports.ledger.tables import BOARD, KIND, RECORD
from reports.text import plain

if TYPE_CHECKING:
    from sqlalchemy import Column
    from sqlalchemy.sql.elements import ColumnElement

MOST_WORDS: Final = 16
_LONGEST: Final = 1024
_DAY: Final = re.compile(r"[0-9]{4}(-[0-9]{2}){0,2}")
_LAST: Final = "\U0010ffff"


class Query(Base, frozen=True, kw_only=True):
    """What is looked for; None and "" leave a side open."""

    text: str = ""
    """Words of model, card, chip or PCI ids, or the beginning of a stock number; all of
    them have to be found."""
    stock_no: str | None = None
    outcome: str | None = None
    card: int | None = None
    since: str | None = None
    """A day, month or year of the test, as 2026-11-25, included."""
    until: str | None = None
    practice: bool = False
    """Whether practice runs are shown too."""
    limit: int = 50


class Row(Base, frozen=True, kw_only=True):
    """One record as it is listed and exported, one column a field."""

    id: int
    card: int
    how: str
    """By what the card was recognised; see `recognise.py`."""
    remark: str
    stock_no: str | None
    bench: str | None
    started: str
    added: str
    outcome: str | None
    depth: str
    practice: bool
    interrupted: bool
    label: str
    model: str
    chip: str
    pci_id: str | None
    subsystem: str | None
    proven_bytes: int | None
    claimed_bytes: int | None
    seconds: float
    sentence: str
    certified_by: str | None
    sha256: str


SHOWN: Final = (
    RECORD.c.id,
    RECORD.c.card_id.label("card"),
    RECORD.c.how,
    RECORD.c.remark,
    RECORD.c.stock_no,
    RECORD.c.bench,
    RECORD.c.started,
    RECORD.c.added,
    RECORD.c.outcome,
    RECORD.c.depth,
    RECORD.c.practice,
    RECORD.c.interrupted,
    KIND.c.label,
    KIND.c.model,
    KIND.c.chip,
    BOARD.c.pci_id,
    BOARD.c.subsystem,
    RECORD.c.proven_bytes,
    RECORD.c.claimed_bytes,
    RECORD.c.seconds,
    RECORD.c.sentence,
    RECORD.c.certified_by,
    RECORD.c.sha256,
)
JOINED: Final = RECORD.join(KIND, KIND.c.id == RECORD.c.kind_id).join(
    BOARD, BOARD.c.id == RECORD.c.board_id
)


def conditions(query: Query, *, walk: bool = False) -> "list[ColumnElement[bool]]":
    """Return what records' rows have to fulfil: one of these. Raises LedgerError.

    Each of them leads through one index; together they would lead through none.
    `walk`: for many matches, so that walking through the records in their order finds
    the first few soonest: what else could lead is then hidden from the planner.
    """
    common = _common(query, walk=walk)
    asked = plain(query.text, _LONGEST).casefold().split()
    words = tuple(dict.fromkeys(asked))[:MOST_WORDS]
    if not words:
        return [and_(True, *common)]
    stock = RECORD.c.stock_key
    parts = [and_(_kinds(words, walk=walk), *common)]
    for word in words:
        # The stock number begins with this word; it may begin with a shorter one too.
        rest = tuple(one for one in words if not word.startswith(one))
        begins = and_(_hidden(stock, walk) >= word, stock < word + _LAST)
        found = [_kinds(rest, walk=True)] if rest else []
        parts.append(and_(begins, *found, *common))
    return parts


def _common(query: Query, *, walk: bool) -> "list[ColumnElement[bool]]":
    parts: list[ColumnElement[bool]] = []
    if not query.practice:
        parts.append(RECORD.c.practice.is_(False))
    if query.stock_no is not None:
        parts.append(RECORD.c.stock_key == _stock(query.stock_no))
    if query.outcome is not None:
        parts.append(_hidden(RECORD.c.outcome, walk) == query.outcome)
    if query.card is not None:
        parts.append(RECORD.c.card_id == query.card)
    started = _hidden(RECORD.c.started, walk)
    if query.since is not None:
        parts.append(started >= _day(query.since, "--since"))
    if query.until is not None:
        parts.append(started <= _day(query.until, "--until") + _LAST)
    return parts


def _stock(text: str) -> str:
    return stock_key(plain(text, _LONGEST))


def _kinds(words: tuple[str, ...], *, walk: bool) -> "ColumnElement[bool]":
    """Return the condition that all words are found in the kind of card.

    Kinds are few: they are searched through, then their records by number.
    """
    found = (KIND.c.search.contains(word, autoescape=True) for word in words)
    kind = RECORD.c.kind_id + 0 if walk else RECORD.c.kind_id
    return kind.in_(select(KIND.c.id).where(*found))


def _hidden(column: "Column[str]", walk: bool) -> "ColumnElement[str]":  # noqa: FBT001
    """Return a column in a form that no index has."""
    return column.concat("") if walk else column


def _day(text: str, option: str) -> str:
    if not _DAY.fullmatch(text):
        raise LedgerError(f"{option}: {text!r} is no day; as 2026-11-25, or 2026-11")
    return text


def last_of_each() -> "ColumnElement[int]":
    """Return the number of each card's newest record, for a condition with IN."""
    return (
        select(func.max(RECORD.c.id))
        .where(RECORD.c.practice.is_(False))
        .group_by(RECORD.c.card_id)
        .scalar_subquery()
    )
