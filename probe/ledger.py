"""`cardassay ledger`: which ledger, whose clock, where to; prints what comes of it.

What a ledger is and how a card is recognised is `reports.ledger`'s.
"""

import argparse
import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from probe import commands, places
from probe.cli import Exit
from probe.errors import HostError, UsageError
from reports import codec
from reports.certificate import sheet
from reports.certificate.checking import verify
from reports.errors import RecordError
from reports.ledger.errors import UnreachableError
from reports.page import record_bytes
from reports.text import inert, named

if TYPE_CHECKING:
    from collections.abc import Iterable

    from msgspec import Struct

    from reports.ledger.query import Query
    from reports.ledger.store import Added, Ledger

NAME = "ledger.sqlite"
VARIABLE = "CARDASSAY_LEDGER"


def ledger(asked: argparse.Namespace) -> Exit:
    """Run one action on a ledger. Raises our errors."""
    try:
        with open_ledger(asked.ledger, make_it=asked.action == "add") as opened:
            return {
                "add": _add,
                "find": _find,
                "show": _show,
                "export": _export,
                "stats": _stats,
            }[asked.action](opened, asked)
    except UnreachableError as error:
        raise HostError(str(error)) from None


def open_ledger(address: str | None, *, make_it: bool) -> "Ledger":
    """Open the ledger named, else the usual one. Raises UsageError, LedgerError."""
    from reports.ledger import store  # noqa: PLC0415 - start-up

    given = address or os.environ.get(VARIABLE)
    if given:
        return store.open_ledger(given, make_it=make_it)
    folder = places.state_folder()
    if folder is None:
        raise UsageError(
            "this PC has no place for the program's own files; name one with --ledger"
        )
    return store.open_ledger(str(folder / NAME), make_it=make_it)


def add(
    opened: "Ledger",
    data: bytes,
    *,
    stock_no: str | None = None,
    bench: str | None = None,
    name: str = "record",
) -> "Added":
    """Add a record, or the one in a page, to an open ledger; prints nothing.

    The page of a certificate that holds brings its stock number along. For whoever
    adds many. Raises RecordError, LedgerError.
    """
    now = datetime.now(UTC)
    said = _certified(data, now)
    return opened.add(
        record_bytes(data, name),
        now=f"{now:%Y-%m-%dT%H:%M:%SZ}",
        stock_no=stock_no if stock_no is not None or said is None else said[0],
        bench=bench,
        certified_by=said[1] if said else None,
        name=name,
    )


def _certified(data: bytes, now: datetime) -> tuple[str, str] | None:
    """Return stock number and key's fingerprint of a certificate that holds."""
    if not sheet.is_page(data):
        return None
    try:
        found = verify(data, None, now=now)
    except RecordError:
        return None
    if not found.holds or not found.complete:
        return None
    return found.statement.stock_no, found.public.fingerprint


def _add(opened: "Ledger", asked: argparse.Namespace) -> Exit:
    from reports.ledger.view import render_added  # noqa: PLC0415 - start-up

    if asked.stock_no is not None and len(asked.records) > 1:
        raise UsageError("--stock-no: is one card's; add its records one by one")
    console = commands.make_console()
    for path in asked.records:
        added = add(
            opened,
            codec.read(Path(path)),
            stock_no=asked.stock_no,
            bench=asked.bench,
            name=path,
        )
        if asked.json:
            _lines([added])
        else:
            console.print(render_added(added, named(path)))
    return Exit.AS_CLAIMED


def _find(opened: "Ledger", asked: argparse.Namespace) -> Exit:
    from reports.ledger.view import render_found  # noqa: PLC0415 - start-up

    found = opened.find(_query(asked, asked.limit))
    if asked.json:
        _lines(found.rows)
    else:
        commands.make_console().print(render_found(found))
    return Exit.AS_CLAIMED if found.rows else Exit.COULD_NOT_TEST


def _show(opened: "Ledger", asked: argparse.Namespace) -> Exit:
    from reports.ledger.query import Query  # noqa: PLC0415 - start-up
    from reports.ledger.view import render_history  # noqa: PLC0415 - start-up
    from reports.terminal import render_result  # noqa: PLC0415 - start-up

    rows = opened.named(asked.record)
    if not rows:
        commands.aside(
            f"cardassay: {opened.name}: holds no record {named(asked.record)}; "
            "`cardassay ledger find` lists them"
        )
        return Exit.COULD_NOT_TEST
    row = rows[0]
    data = opened.document(row.sha256)
    if asked.out:
        codec.save(data, Path(asked.out))
    if asked.json:
        sys.stdout.buffer.write(data)
        return Exit.AS_CLAIMED
    record = codec.decode(data, f"record {row.id}")
    console = commands.make_console()
    console.print(render_result(record, console.width))
    console.print()
    visits = opened.find(Query(card=row.card, practice=True, limit=100)).rows
    console.print(render_history(visits, row.card))
    return Exit.AS_CLAIMED


def _export(opened: "Ledger", asked: argparse.Namespace) -> Exit:
    from reports.ledger import export  # noqa: PLC0415 - start-up

    writer = export.as_csv if asked.format == "csv" else export.as_json_lines
    lines = writer(opened.each(_query(asked, 1)))
    if asked.out:
        codec.save(b"".join(lines), Path(asked.out))
        return Exit.AS_CLAIMED
    for line in lines:
        sys.stdout.buffer.write(line)
    sys.stdout.buffer.flush()
    return Exit.AS_CLAIMED


def _stats(opened: "Ledger", asked: argparse.Namespace) -> Exit:
    from reports.ledger.stats import stats_of  # noqa: PLC0415 - start-up
    from reports.ledger.view import render_stats  # noqa: PLC0415 - start-up

    stats = stats_of(opened)
    if asked.json:
        _lines([stats])
    else:
        commands.make_console().print(render_stats(stats))
    return Exit.AS_CLAIMED


def _query(asked: argparse.Namespace, limit: int) -> "Query":
    from reports.ledger.query import Query  # noqa: PLC0415 - start-up

    return Query(
        text=" ".join(asked.text),
        stock_no=asked.stock_no,
        outcome=asked.outcome,
        card=asked.card,
        since=asked.since,
        until=asked.until,
        practice=asked.practice,
        limit=limit,
    )


def _lines(things: "Iterable[Struct]") -> None:
    """Print a JSON object a line."""
    import msgspec  # noqa: PLC0415 - start-up

    for one in things:
        sys.stdout.buffer.write(inert(msgspec.json.encode(one)) + b"\n")
    sys.stdout.buffer.flush()
