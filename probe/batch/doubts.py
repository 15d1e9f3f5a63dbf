"""Numbers that look like a mistake for a card: used before, for what seems another.

Reads the batch's folder and the ledger; where neither answers, nothing is doubted.
"""

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from probe.batch.places import Shelf
from probe.batch.settling import Desk
from probe.batch.slots import Slot
from probe.errors import HostError, UsageError
from reports import codec, words
from reports.errors import RecordError
from reports.ledger.entry import stock_key
from reports.record import Record
from reports.text import plain

if TYPE_CHECKING:
    from reports.ledger.query import Row


@dataclass(frozen=True)
class Doubts:
    """What is known of numbers."""

    shelf: Shelf
    desk: Desk

    def about(self, number: str, slot: Slot) -> str | None:
        """Return why a number may be a mistake for a card; None: nothing is."""
        return self._tested(number) or self._another(number, slot)

    def _tested(self, number: str) -> str | None:
        """Whether this batch tested it already: by mistake, or again on purpose."""
        key = stock_key(number)
        for place in self.shelf.places():
            if stock_key(place.number) == key and place.record.is_file():
                with suppress(RecordError):
                    return f"{number} {_said(codec.load(place.record))} in this batch"
        return None

    def _another(self, number: str, slot: Slot) -> str | None:
        """Whether the ledger has it for a card that answered otherwise."""
        from reports.ledger.query import Query  # noqa: PLC0415 - start-up

        try:
            rows = self.desk.ledger.find(Query(stock_no=number, limit=1)).rows
        except (RecordError, HostError, UsageError):
            return None
        for row in rows:
            if slot.practice or not _differs(row, slot):
                continue
            what = f"{row.label} ({row.pci_id or 'without PCI id'})"
            return f"{number} is another card in the ledger, {what}"
        return None


def _differs(row: "Row", slot: Slot) -> bool:
    """Whether a card answers otherwise than its number's did."""
    alike = [
        was == now
        for was, now in (
            (row.pci_id, slot.told("pci_id")),
            (row.subsystem, slot.told("subsystem")),
        )
        if was and now
    ]
    return not all(alike) if alike else row.label != plain(slot.identity.label)


def _said(record: Record) -> str:
    verdict = record.verdict
    said = words.OUTCOME[verdict.outcome][1] if verdict else "without a verdict"
    return f"was tested on {record.started[:16].replace('T', ' ')} ({said})"
