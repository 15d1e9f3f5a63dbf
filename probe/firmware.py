"""`cardassay firmware`: what reads of a firmware chip tell. Reads files, nothing else.

Nothing here touches a card or writes to anything.
"""

import argparse
import sys
from pathlib import Path
from typing import Final

from probe import commands
from probe.cli import Exit
from probe.errors import UsageError
from probe.options import VERSION
from reference import table as tables
from reference.firmware.errors import ReadError
from reference.firmware.look import card_of, look
from reports import codec
from reports.files import contents
from reports.firmware_report import (
    SIZE_LIMIT,
    FirmwareCard,
    FirmwareOutcome,
    encode_report,
)
from reports.page import record_bytes
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
    claim = plain(asked.claim, _LONGEST).strip() if asked.claim else None
    if asked.claim is not None and not claim:
        raise UsageError("--claim: no model was named; as --claim 'GeForce GTX 1070'")
    table = tables.load(Path(asked.reference) if asked.reference else None)
    record = None
    if asked.record:
        data = record_bytes(codec.read(Path(asked.record)), asked.record)
        record = codec.decode(data, asked.record)
    try:
        report = look(
            [_read(name) for name in asked.read],
            table,
            version=VERSION,
            claim=claim,
            card=_present(asked.card) if asked.card is not None else None,
            record=record,
            against=_read(asked.against) if asked.against else None,
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
    return _CODES[report.outcome]


def _present(wanted: str) -> FirmwareCard:
    """Return what the layers of a card in this PC say of it; it need not be testable.

    Raises UsageError where none has this index or address.
    """
    from probe.identity import address, cards  # noqa: PLC0415 - asks every driver

    found = cards.find().cards
    place = address.normal(wanted) if ":" in wanted else None
    for card in found:
        one = card.identity
        if wanted == str(one.index) or (place and place == one.pci_address):
            return card_of(one, card.claims)
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
