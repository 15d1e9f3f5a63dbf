"""`cardassay firmware`: what reads of a firmware chip tell. Reads files, nothing else.

Nothing here touches a card or its firmware; a record is written where asked.
"""

import argparse
import sys
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from probe import commands, merge
from probe.cli import Exit
from probe.errors import UsageError
from probe.options import VERSION
from reference import table as tables
from reference.firmware.errors import ReadError
from reference.firmware.look import look
from reports import terminal
from reports.files import contents
from reports.firmware_report import (
    SIZE_LIMIT,
    FirmwareOutcome,
    FirmwareReport,
    encode_report,
)
from reports.record import Claim, Record
from reports.text import named, plain

_CODES: Final[dict[FirmwareOutcome, Exit]] = {
    "nothing against it": Exit.AS_CLAIMED,
    "not as claimed": Exit.NOT_AS_CLAIMED,
    "faulty": Exit.NOT_AS_CLAIMED,
    "does not fit": Exit.NOT_AS_CLAIMED,
    "undetermined": Exit.COULD_NOT_TEST,
}
_LONGEST: Final = 200


def firmware(asked: argparse.Namespace) -> Exit:
    """Look at reads of one chip; return what they came to.

    Raises UsageError, RecordError, TableError.
    """
    merge.spare(asked.record, asked.out, asked.page)
    claim = plain(asked.claim, _LONGEST).strip() if asked.claim else None
    if asked.claim is not None and not claim:
        raise UsageError("--claim: no model was named; as --claim 'GeForce GTX 1070'")
    table = tables.load(Path(asked.reference) if asked.reference else None)
    record = merge.read_record(asked.record) if asked.record else None
    if asked.card is not None:
        record = _present(asked.card)
    reads = [_read(name) for name in asked.read]
    against = _read(asked.against) if asked.against else None
    try:
        own = report = look(reads, table, version=VERSION, claim=claim, record=record)
        if against is not None:
            report = look(
                reads,
                table,
                version=VERSION,
                claim=claim,
                record=record,
                against=against,
            )
    except ReadError as error:
        raise UsageError(str(error)) from None
    if asked.json:
        sys.stdout.buffer.write(encode_report(report))
        sys.stdout.buffer.flush()
    else:
        from reports.firmware import render_firmware  # noqa: PLC0415 - not for JSON

        console = commands.make_console()
        console.print(render_firmware(report, console.width))
    if not (asked.out or asked.page):
        return _CODES[report.outcome]
    return _stored(asked, table, record, own, claim)


def _stored(
    asked: argparse.Namespace,
    table: tables.Table,
    record: Record | None,
    report: FirmwareReport,
    claim: str | None,
) -> Exit:
    """Put what the firmware says into the card's record; return its verdict's code."""
    listing = None
    if claim is not None:
        listing = Claim(
            layer="listing", source="given by the user", model=report.claim or claim
        )
    if record is None:
        record = merge.bare_record(listing)
    elif listing is not None:
        rest = tuple(one for one in record.claims if one.layer != "listing")
        record = replace(record, claims=(listing, *rest))
    record = replace(record, firmware_report=report)
    judged = merge.store(record, table, asked.out, asked.page)
    if not asked.json:
        console = commands.make_console()
        console.print(terminal.render_verdict(judged, console.width))
    return commands.outcome_code(replace(judged, interrupted=False))


def _present(wanted: str) -> Record:
    """Return what the layers of a card in this PC say of it; it need not be testable.

    Raises UsageError where none has this index or address.
    """
    from probe.identity import address  # noqa: PLC0415 - start-up
    from probe.survival import benches  # noqa: PLC0415 - asks every driver
    from probe.survival.bench import PATIENCE_SECONDS  # noqa: PLC0415 - start-up

    with benches.open_bench(PATIENCE_SECONDS) as bench:
        found = bench.listing().cards
    place = address.normal(wanted) if ":" in wanted else None
    for card in found:
        one = card.identity
        if wanted == str(one.index) or (place and place == one.pci_address):
            if one.kind == "cpu":
                raise UsageError(
                    f"--card: {plain(wanted, 60)} is a processor, which has no chip of "
                    "firmware to read; leave --card out to look at the image alone"
                )
            return merge.bare_record(None, one, card.claims)
    there = ", ".join(
        f"{card.identity.index} ({plain(card.identity.label, 60)})" for card in found
    )
    raise UsageError(
        f"--card: there is no card {plain(wanted, 60)!r} here; there are: "
        f"{there or 'none'}"
    )


def _read(name: str) -> tuple[str, bytes]:
    """Return a file's name without its folder, and one byte more than is allowed."""
    path = Path(name)
    try:
        return path.name, contents(path, SIZE_LIMIT)
    except OSError as error:
        said = f"{named(name)}: cannot be read: {error.strerror}"
        raise UsageError(said) from None
