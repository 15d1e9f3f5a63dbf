"""A ledger's answers for a terminal: lists, histories, figures.

Only text objects, never markup; every word was made clean when it was put in.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from reports import words
from reports.ledger.recognise import CHANGED
from reports.ledger.stats import NONE, Counted, Stats
from reports.ledger.store import MOST_COUNTED, Added, Found
from reports.terminal import Encodable, safe_text

if TYPE_CHECKING:
    from rich.console import JustifyMethod

    from reports.ledger.query import Row

_COMPLETED = {
    "stock_no": "stock number",
    "bench": "bench",
    "certified_by": "certificate",
}
_OUTCOMES = (*words.OUTCOME, NONE)


def render_added(added: Added, name: str) -> RenderableType:
    """Return what came of adding one record."""
    if added.before:
        head = f"{name}: was here already, as record {added.id} of card {added.card}"
        if added.completed:
            told = (_COMPLETED[one] for one in added.completed)
            head += f"; now with its {', '.join(told)}"
        return Encodable(safe_text(head + "."))
    head = f"{name}: record {added.id}, card {added.card}"
    if added.visits > 1:
        head += f", seen {added.visits} times"
    style = "bold yellow" if added.how == CHANGED else ""
    return Encodable(Group(safe_text(head + "."), safe_text(added.remark, style)))


def render_found(found: Found) -> RenderableType:
    """Return a list of records, the last added first."""
    if not found.rows:
        return Encodable(Text("No record is like that."))
    table = _table(("No.", "right"), ("Card", "right"), "Stock no.", "Tested", "Model")
    for head in ("Found", "Verdict"):
        table.add_column(head, overflow="fold")
    for row in found.rows:
        table.add_row(
            str(row.id),
            str(row.card),
            safe_text(row.stock_no or ""),
            row.started[:10],
            safe_text(row.model),
            safe_text(row.chip),
            safe_text(_verdict(row)),
        )
    shown = len(found.rows)
    total = str(found.total)
    if found.total > MOST_COUNTED:
        total = f"more than {MOST_COUNTED}"
    rest = f"{shown} of {total} records." if shown < found.total else f"{total} found."
    return Encodable(Group(table, Text(rest)))


def render_history(rows: Sequence["Row"], card: int) -> RenderableType:
    """Return every visit of one card, the latest first."""
    table = _table(("No.", "right"), "Tested", "Stock no.", "Verdict", "How known")
    for row in rows:
        table.add_row(
            str(row.id),
            row.started[:16].replace("T", " "),
            safe_text(row.stock_no or ""),
            safe_text(_verdict(row)),
            safe_text(row.remark, "yellow" if row.how == CHANGED else ""),
        )
    times = "once" if len(rows) == 1 else f"{len(rows)} times"
    return Encodable(Group(Text(f"Card {card}, here {times}:"), table))


def render_stats(stats: Stats) -> RenderableType:
    """Return a ledger's figures."""
    parts: list[RenderableType] = [
        Text(
            f"{_many(stats.records, 'record')} of {_many(stats.cards, 'card')}"
            f"{_span(stats)}."
        )
    ]
    if stats.practice:
        runs = _many(stats.practice, "practice run")
        parts.append(Text(f"{runs} besides, not counted."))
    whole = (
        Counted(name="All records", total=stats.records, outcomes=stats.outcomes),
        Counted(
            name="Cards, as last seen", total=stats.cards, outcomes=stats.cards_now
        ),
    )
    for head, rows in (("", whole), ("Model", stats.models), ("Month", stats.months)):
        if rows:
            parts += [Text(""), _counts(head, rows)]
    return Encodable(Group(*parts))


def _counts(head: str, rows: Sequence[Counted]) -> Table:
    used = [one for one in _OUTCOMES if any(row.outcomes.get(one) for row in rows)]
    table = _table(head, ("All", "right"), *((one, "right") for one in used))
    for row in rows:
        cells = (str(row.outcomes.get(one, 0)) for one in used)
        table.add_row(safe_text(row.name), str(row.total), *cells)
    return table


def _table(*heads: "str | tuple[str, JustifyMethod]") -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    for head in heads:
        name, side = (head, None) if isinstance(head, str) else head
        table.add_column(
            name, justify=side or "left", header_style="dim", overflow="fold"
        )
    return table


def _verdict(row: "Row") -> str:
    said = words.OUTCOME[row.outcome][1] if row.outcome in words.OUTCOME else NONE
    marks = [
        mark
        for mark, is_so in (
            ("practice", row.practice),
            ("stopped", row.interrupted),
            ("certified", row.certified_by is not None),
        )
        if is_so
    ]
    return ", ".join((said, *marks))


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _span(stats: Stats) -> str:
    if stats.first is None or stats.last is None:
        return ""
    first, last = stats.first[:10], stats.last[:10]
    return f", tested on {first}" if first == last else f", tested {first} to {last}"
