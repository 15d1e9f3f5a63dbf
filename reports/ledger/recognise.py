"""Is this a card that was here before, and how sure is that? Reads, decides, in words.

What the card answers cannot prove it the same (`board.py`). What can: its own number,
where a layer tells one; what the bench wrote on it, its stock number.
"""

from typing import TYPE_CHECKING, Final

from sqlalchemy import select

from reports.base import Base
from reports.ledger.board import Board, compare, read, resembles
from reports.ledger.tables import BOARD, CARD, RECORD

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from reports.ledger.entry import Entry

MOST_ALIKE: Final = 20
"""So many cards alike are counted; there are "more" beyond."""
BY_NUMBER: Final = "own number"
BY_STOCK: Final = "stock number"
CHANGED: Final = "stock number, changed"
NEW: Final = "new"


class Recognised(Base, frozen=True, kw_only=True):
    """Which card it is, and by what."""

    card_id: int | None
    """None: none that is known."""
    how: str
    """One of the words above."""
    remark: str
    """The same in a sentence, with how sure it is."""


def recognise(connection: "Connection", entry: "Entry") -> Recognised:
    """Return which card of the ledger a record is of."""
    board = entry.board
    if entry.practice:
        return Recognised(card_id=None, how=NEW, remark="A practice run: no real card.")
    if board.number_sha256:
        card = connection.execute(
            select(CARD.c.id).where(CARD.c.number_sha256 == board.number_sha256)
        ).scalar()
        if card is not None:
            return Recognised(
                card_id=card,
                how=BY_NUMBER,
                remark="The same card by its own number, as far as firmware is honest.",
            )
    found = _by_stock(connection, entry)
    return found or Recognised(
        card_id=None, how=NEW, remark=_alike(connection, board, entry.stock_key)
    )


def _by_stock(connection: "Connection", entry: "Entry") -> Recognised | None:
    if entry.stock_key is None:
        return None
    card = connection.execute(
        select(CARD.c.id, CARD.c.number_sha256)
        .where(CARD.c.stock_key == entry.stock_key)
        .order_by(CARD.c.id.desc())
        .limit(1)
    ).first()
    if card is None:
        return None
    own = entry.board.number_sha256
    if own and card.number_sha256 and own != card.number_sha256:
        return Recognised(
            card_id=None,
            how=NEW,
            remark=f"Another card than card {card.id} of the same stock number: its "
            "own number differs.",
        )
    facts = connection.execute(
        select(BOARD.c.facts)
        .join(RECORD, RECORD.c.board_id == BOARD.c.id)
        .where(RECORD.c.card_id == card.id)
        .order_by(RECORD.c.id.desc())
        .limit(1)
    ).scalar_one()
    alike = compare(entry.board, read(facts))
    if alike.differ:
        return Recognised(
            card_id=card.id,
            how=CHANGED,
            remark="The stock number is that of this card, but it answers otherwise "
            f"than the last time ({_list(alike.differ)}): its firmware was written "
            "anew, or this is another card.",
        )
    remark = "The stock number is the same; nothing else tells."
    if alike.agree:
        remark = (
            f"The stock number is the same, and it agrees in {_list(alike.agree)}: "
            "very likely the same card."
        )
    return Recognised(card_id=card.id, how=BY_STOCK, remark=remark)


def _alike(connection: "Connection", board: Board, stock_key: str | None) -> str:
    """Return how many cards cannot be told from this one, as a sentence."""
    if board.pci_id is None or board.subsystem is None:
        return "Whether it was here before cannot be told: it gave no ids."
    rows = connection.execute(
        select(BOARD.c.id, BOARD.c.facts).where(
            BOARD.c.pci_id == board.pci_id, BOARD.c.subsystem == board.subsystem
        )
    ).all()
    boards = [row.id for row in rows if resembles(board, read(row.facts))]
    cards: list[int] = []
    for one in boards:
        if len(cards) > MOST_ALIKE:
            break
        # Not DISTINCT: of the many that lie together in the index, a few are read.
        query = select(RECORD.c.card_id).where(RECORD.c.board_id == one)
        if stock_key is not None:  # a card of another stock number is another card
            query = query.where(RECORD.c.stock_key.is_(None))
        found = connection.execute(query.limit(MOST_ALIKE * 4)).scalars()
        cards.extend(card for card in dict.fromkeys(found) if card not in cards)
    if not cards and boards:
        return "New by its stock number; cards of other numbers here answer like it."
    if not cards:
        return "New: no card here answers like it."
    if len(cards) == 1:
        return (
            f"Perhaps card {cards[0]}: nothing tells the two apart, as nothing tells "
            "cards of one make apart."
        )
    many = f"more than {MOST_ALIKE}" if len(cards) > MOST_ALIKE else str(len(cards))
    return f"Perhaps one of {many} cards here that nothing tells from it."


def _list(things: tuple[str, ...]) -> str:
    if len(things) == 1:
        return things[0]
    return ", ".join(things[:-1]) + " and " + things[-1]
