"""Figures over a whole ledger. Practice runs count nowhere."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from reports.base import Base
from reports.ledger import connect
from reports.ledger.query import last_of_each
from reports.ledger.tables import KIND, RECORD

if TYPE_CHECKING:
    from reports.ledger.store import Ledger

MOST_MODELS = 20
MOST_MONTHS = 24
NONE = "no verdict"
"""Stands for a record that was not judged."""


class Counted(Base, frozen=True, kw_only=True):
    """How many records, or cards, ended how."""

    name: str
    total: int
    outcomes: dict[str, int]


class Stats(Base, frozen=True, kw_only=True):
    """The figures of a ledger."""

    records: int
    cards: int
    practice: int
    """Practice runs, counted nowhere else."""
    first: str | None
    """When the oldest record was tested, UTC."""
    last: str | None
    outcomes: dict[str, int]
    """Of all records."""
    cards_now: dict[str, int]
    """Of all cards, by the record of each that was added last."""
    models: tuple[Counted, ...]
    """The most tested first."""
    months: tuple[Counted, ...]
    """The latest first."""


def stats_of(ledger: "Ledger") -> Stats:
    """Return the figures. Raises LedgerError."""
    real = RECORD.c.practice.is_(False)
    month = func.substr(RECORD.c.started, 1, 7)
    with connect.in_words(ledger.name), ledger.connection() as connection:

        def ask(query: Any) -> Sequence[Any]:  # noqa: ANN401 - SQLAlchemy's own
            return connection.execute(query).all()

        ((records, cards, first, last),) = ask(
            select(
                func.count(),
                func.count(RECORD.c.card_id.distinct()),
                func.min(func.nullif(RECORD.c.started, "")),
                func.max(func.nullif(RECORD.c.started, "")),
            ).where(real)
        )
        ((practice,),) = ask(select(func.count()).where(RECORD.c.practice.is_(True)))
        by_outcome = (RECORD.c.outcome, func.count())
        outcomes = ask(select(*by_outcome).where(real).group_by(RECORD.c.outcome))
        now = ask(
            select(*by_outcome)
            .where(RECORD.c.id.in_(last_of_each()))
            .group_by(RECORD.c.outcome)
        )
        models = ask(
            select(KIND.c.model, *by_outcome)
            .join(KIND, KIND.c.id == RECORD.c.kind_id)
            .where(real)
            .group_by(KIND.c.model, RECORD.c.outcome)
        )
        months = ask(
            select(month, *by_outcome)
            .where(real, RECORD.c.started != "")
            .group_by(month, RECORD.c.outcome)
        )
    counted = sorted(_grouped(models), key=lambda one: (-one.total, one.name))
    return Stats(
        records=records,
        cards=cards,
        practice=practice,
        first=first,
        last=last,
        outcomes=_counts(outcomes),
        cards_now=_counts(now),
        models=tuple(counted[:MOST_MODELS]),
        months=tuple(
            sorted(_grouped(months), key=lambda one: one.name, reverse=True)[
                :MOST_MONTHS
            ]
        ),
    )


def _counts(rows: Sequence[Any]) -> dict[str, int]:
    return {outcome or NONE: count for outcome, count in rows}


def _grouped(rows: Sequence[Any]) -> list[Counted]:
    names: dict[str, dict[str, int]] = {}
    for name, outcome, count in rows:
        names.setdefault(name, {})[outcome or NONE] = count
    return [
        Counted(name=name, total=sum(counts.values()), outcomes=counts)
        for name, counts in names.items()
    ]
