"""The ledger itself: records put in once, found, and taken out as they were stored.

One bench adds at a time, whichever database: a card that comes back to two benches at
once is one card, a record added twice is one record.
"""

from collections.abc import Iterator
from hashlib import sha256
from typing import TYPE_CHECKING, Any, Final, Self

from sqlalchemy import func, or_, select

from reports.base import Base
from reports.ledger import connect
from reports.ledger.board import written
from reports.ledger.entry import Entry, make, unpack
from reports.ledger.errors import LedgerError
from reports.ledger.migrations import STEPS, migrate, refuse_newer, version_of
from reports.ledger.query import JOINED, SHOWN, Query, Row, conditions
from reports.ledger.recognise import BY_STOCK, CHANGED, NEW, Recognised, recognise
from reports.ledger.tables import BOARD, CARD, DOCUMENT, KIND, RECORD

if TYPE_CHECKING:
    from sqlalchemy import Table
    from sqlalchemy.engine import Connection, Engine

MOST_COUNTED: Final = 1000
"""Records found are counted up to here; there are "more" beyond."""
_SHORTEST: Final = 6
"""Digits of a digest that name a record."""


class Added(Base, frozen=True, kw_only=True):
    """What came of adding a record."""

    id: int
    card: int
    how: str
    remark: str
    before: bool
    """True: the very same record was there already."""
    completed: tuple[str, ...] = ()
    """What it lacked then and was told now: `stock_no`, `bench`, `certified_by`."""
    visits: int
    """Records of this card, this one counted."""


class Found(Base, frozen=True, kw_only=True):
    """What a search came to."""

    rows: tuple[Row, ...]
    """The last added first."""
    total: int
    """How many there are; `MOST_COUNTED` + 1 stands for more than that."""


class Ledger:
    """An open ledger. Every call is one transaction of its own."""

    def __init__(self, engine: "Engine", name: connect.Place) -> None:
        self._engine = engine
        self._writer = engine.execution_options(writes=True)
        self.name = name

    def add(
        self,
        data: bytes,
        *,
        now: str,
        stock_no: str | None = None,
        bench: str | None = None,
        certified_by: str | None = None,
        name: str = "record",
    ) -> Added:
        """Keep a record's stored bytes; say which card it is of.

        `now` is a time in UTC, ISO 8601. Raises RecordError, LedgerError.
        """
        entry = make(
            data, stock_no=stock_no, bench=bench, certified_by=certified_by, name=name
        )
        with connect.in_words(self.name), self._writer.begin() as connection:
            connect.lock(connection)
            return _add(connection, entry, now)

    def find(self, query: Query) -> Found:
        """Return the records asked for. Raises LedgerError."""
        with connect.in_words(self.name), self._engine.begin() as connection:
            counted: set[int] = set()
            ids: set[int] = set()
            ways = zip(conditions(query), conditions(query, walk=True), strict=True)
            for led, walked in ways:
                some = select(RECORD.c.id).where(led).limit(MOST_COUNTED + 1)
                found = set(connection.execute(some).scalars())
                counted |= found
                if len(found) > MOST_COUNTED:
                    last = select(RECORD.c.id).where(walked)
                    last = last.order_by(RECORD.c.id.desc()).limit(query.limit)
                    found = set(connection.execute(last).scalars())
                ids |= found
            total = min(len(counted), MOST_COUNTED + 1)
            shown = sorted(ids, reverse=True)[: query.limit]
            rows = connection.execute(
                select(*SHOWN)
                .select_from(JOINED)
                .where(RECORD.c.id.in_(shown))
                .order_by(RECORD.c.id.desc())
            )
            return Found(rows=tuple(map(_row, rows.mappings())), total=total)

    def each(self, query: Query) -> Iterator[Row]:
        """Yield the records asked for, the first added first, few at a time."""
        with connect.in_words(self.name), self._engine.begin() as connection:
            rows = connection.execution_options(yield_per=1000).execute(
                select(*SHOWN)
                .select_from(JOINED)
                .where(or_(*conditions(query, walk=True)))
                .order_by(RECORD.c.id)
            )
            for row in rows.mappings():
                yield _row(row)

    def document(self, digest: str) -> bytes:
        """Return a record's bytes as they were stored. Raises LedgerError."""
        with connect.in_words(self.name), self._engine.begin() as connection:
            packed = connection.execute(
                select(DOCUMENT.c.packed)
                .join(RECORD, RECORD.c.id == DOCUMENT.c.record_id)
                .where(RECORD.c.sha256 == digest)
            ).scalar()
        if packed is None:
            raise LedgerError(f"{self.name}: holds no record {digest[:12]}")
        return unpack(bytes(packed), digest)

    def named(self, text: str) -> tuple[Row, ...]:
        """Return the records that a number, a digest's start or a stock number names.

        The last added first; a number or a digest names one at the most.
        """
        wanted = []
        low = text.strip().lower()
        if low.isdecimal() and len(low) <= len(str(2**31 - 1)):
            wanted.append(RECORD.c.id == min(int(low), 2**31 - 1))
        if len(low) >= _SHORTEST and not low.strip("0123456789abcdef"):
            wanted.append(RECORD.c.sha256.startswith(low, autoescape=True))
        with connect.in_words(self.name), self._engine.begin() as connection:
            for one in wanted:
                rows = connection.execute(
                    select(*SHOWN).select_from(JOINED).where(one).limit(2)
                )
                found = tuple(map(_row, rows.mappings()))
                if len(found) == 1:
                    return found
        return self.find(Query(stock_no=text, practice=True)).rows

    def close(self) -> None:
        """Let go of file or server. The ledger opens again where it is used again."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def connection(self) -> "Connection":
        """Return a connection to read from, for figures (`stats.py`)."""
        return self._engine.connect()


def open_ledger(ledger: str, *, make_it: bool = False) -> Ledger:
    """Open a ledger: a file's path, or postgresql://USER@HOST/DATABASE.

    `make_it` makes it where there is none, and brings an older one to today's version;
    without it, what is missing or old is an error. Raises LedgerError, of which
    UnreachableError where a server does not answer.
    """
    engine, name = connect.engine_of(ledger)
    if not make_it and not connect.exists(ledger):
        raise _missing(name)
    try:
        with connect.in_words(name):
            _bring_up(engine, name, make_it=make_it)
    except BaseException:
        engine.dispose()
        raise
    return Ledger(engine, name)


def _bring_up(engine: "Engine", name: connect.Place, *, make_it: bool) -> None:
    """See to it that a ledger is there, and of today's version."""
    with engine.connect() as connection:
        version = version_of(connection, name)
    refuse_newer(version, name)
    if version == 0 and not make_it:
        raise _missing(name)
    if version < len(STEPS):
        connect.prepare(engine)
        with engine.execution_options(writes=True).begin() as connection:
            connect.lock(connection)
            migrate(connection, name)


def _missing(name: connect.Place) -> LedgerError:
    return LedgerError(
        f"{name}: there is no ledger yet; `cardassay ledger add RECORD` makes it"
    )


def _add(connection: "Connection", entry: Entry, now: str) -> Added:
    before = connection.execute(
        select(RECORD).where(RECORD.c.sha256 == entry.sha256)
    ).first()
    if before is not None:
        return _complete(connection, before, entry)
    known = recognise(connection, entry)
    card = known.card_id if known.card_id is not None else _new_card(connection, entry)
    record = _insert(connection, RECORD, _values(connection, entry, known, card, now))
    connection.execute(
        DOCUMENT.insert().values(
            record_id=record, size_bytes=entry.size_bytes, packed=entry.packed
        )
    )
    return Added(
        id=record,
        card=card,
        how=known.how,
        remark=known.remark,
        before=False,
        visits=1 if known.how == NEW else _visits(connection, card),
    )


def _complete(connection: "Connection", before: Any, entry: Entry) -> Added:  # noqa: ANN401
    """Put in what a record lacked; what was said of it once stays as it was."""
    told: dict[str, Any] = {
        name: getattr(entry, name)
        for name in ("stock_no", "bench", "certified_by")
        if getattr(before, name) is None and getattr(entry, name) is not None
    }
    card, how, remark = before.card_id, before.how, before.remark
    if "stock_no" in told:
        told["stock_key"] = entry.stock_key
        known = recognise(connection, entry)
        if known.how in {BY_STOCK, CHANGED}:
            card, how, remark = known.card_id, known.how, known.remark
            told |= {"card_id": card, "how": how, "remark": remark}
        elif not entry.practice:
            connection.execute(
                CARD.update()
                .where(CARD.c.id == card, CARD.c.stock_key.is_(None))
                .values(stock_key=entry.stock_key)
            )
    if told:
        connection.execute(
            RECORD.update().where(RECORD.c.id == before.id).values(**told)
        )
    if card != before.card_id and not _visits(connection, before.card_id):
        connection.execute(CARD.delete().where(CARD.c.id == before.card_id))
    return Added(
        id=before.id,
        card=card,
        how=how,
        remark=remark,
        before=True,
        completed=tuple(sorted(told.keys() & {"stock_no", "bench", "certified_by"})),
        visits=_visits(connection, card),
    )


def _new_card(connection: "Connection", entry: Entry) -> int:
    return _insert(
        connection,
        CARD,
        {
            "number_sha256": entry.board.number_sha256,
            "stock_key": None if entry.practice else entry.stock_key,
        },
    )


def _values(
    connection: "Connection", entry: Entry, known: Recognised, card: int, now: str
) -> dict[str, Any]:
    facts = written(entry.board)
    kind = {
        "label": entry.label,
        "model": entry.model,
        "chip": entry.chip,
        "vendor": entry.vendor,
        "search": entry.search,
    }
    board = {
        "pci_id": entry.board.pci_id,
        "subsystem": entry.board.subsystem,
        "facts": facts,
    }
    return {
        "sha256": entry.sha256,
        "card_id": card,
        "kind_id": _once(connection, KIND, "\0".join(kind.values()), kind),
        "board_id": _once(connection, BOARD, facts, board),
        "how": known.how,
        "remark": known.remark,
        "stock_no": entry.stock_no,
        "stock_key": entry.stock_key,
        "bench": entry.bench,
        "certified_by": entry.certified_by,
        "started": entry.started,
        "added": now,
        "outcome": entry.outcome,
        "depth": entry.depth,
        "practice": entry.practice,
        "interrupted": entry.interrupted,
        "proven_bytes": entry.proven_bytes,
        "claimed_bytes": entry.claimed_bytes,
        "seconds": entry.seconds,
        "sentence": entry.sentence,
    }


def _once(
    connection: "Connection", table: "Table", key: str, values: dict[str, Any]
) -> int:
    """Return the number of a row that stands for many records; made if need be."""
    digest = sha256(key.encode("utf-8")).hexdigest()
    found = connection.execute(
        select(table.c.id).where(table.c.digest == digest)
    ).scalar()
    if found is not None:
        return int(found)
    return _insert(connection, table, {"digest": digest, **values})


def _insert(connection: "Connection", table: "Table", values: dict[str, Any]) -> int:
    made = connection.execute(table.insert().values(values)).inserted_primary_key
    assert made is not None
    return int(made[0])


def _visits(connection: "Connection", card: int) -> int:
    query = select(func.count()).select_from(RECORD).where(RECORD.c.card_id == card)
    return int(connection.execute(query).scalar() or 0)


def _row(mapping: Any) -> Row:  # noqa: ANN401 - a row of SQLAlchemy
    return Row(**{key: mapping[key] for key in Row.__struct_fields__})
