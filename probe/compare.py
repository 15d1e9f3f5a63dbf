"""`cardassay compare`: two records of a card beside each other. No card needed.

Reads, has it judged, prints, writes the customer's page. Neither record is ever
written over.
"""

import argparse
import sys
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from probe import commands
from probe.cli import Exit
from probe.errors import UsageError
from reference import table as tables
from reference.repaired.compare import Digests
from reference.repaired.compare import compare as judge_both
from reports import codec
from reports.compared.page import is_comparison, records_of, render_compared_page
from reports.compared.terminal import render_compared
from reports.compared.value import encode_compared
from reports.page import record_bytes
from reports.text import named

if TYPE_CHECKING:
    from reports.compared.value import Compared


def compare(asked: argparse.Namespace) -> Exit:
    """Compare two records; return what the verdict makes of it.

    Raises UsageError, RecordError, TableError.
    """
    page = Path(asked.page) if asked.page else None
    _spare(page, asked.before, asked.after)
    first, last = _stored(asked)
    name = asked.after or asked.before
    before, after = codec.decode(first, asked.before), codec.decode(last, name)
    table = tables.load(Path(asked.reference) if asked.reference else None)
    shipped = tables.load() if asked.reference else None
    digests = Digests(sha256(first).hexdigest(), sha256(last).hexdigest())
    view = judge_both(before, after, table, digests, shipped=shipped)
    if page is not None:
        text = render_compared_page(view, (before, first), (after, last))
        codec.save(text.encode("utf-8"), page)
    if asked.json:
        sys.stdout.buffer.write(encode_compared(view))
        sys.stdout.buffer.flush()
    else:
        console = commands.make_console()
        shown = named(page) if page is not None else None
        console.print(render_compared(view, console.width, shown))
    return outcome_code(view)


def outcome_code(view: "Compared") -> Exit:
    """Return the exit code of a comparison."""
    if view.outcome == "honest now":
        return Exit.AS_CLAIMED
    return Exit.NOT_AS_CLAIMED if view.settled else Exit.COULD_NOT_TEST


def _stored(asked: argparse.Namespace) -> tuple[bytes, bytes]:
    """Return both records' bytes, out of two files or out of one comparison's page."""
    data = codec.read(Path(asked.before))
    if asked.after is None:
        if not is_comparison(data):
            raise UsageError(
                f"{named(asked.before)}: name the record after the repair as well; "
                "only the page of a comparison holds both"
            )
        return records_of(data, asked.before)
    return (
        record_bytes(data, asked.before),
        record_bytes(codec.read(Path(asked.after)), asked.after),
    )


def _spare(page: Path | None, *records: str | None) -> None:
    """Refuse to write the page over what it is made from."""
    for record in records:
        if page is not None and record is not None and _same(page, Path(record)):
            raise UsageError(
                f"--page: {named(page)} is one of the records, which stay as they are; "
                "name another file"
            )


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
