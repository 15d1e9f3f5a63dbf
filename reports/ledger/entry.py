"""What the ledger keeps of a record beside its bytes: facts to search by. Pure."""

import zlib
from datetime import UTC, datetime
from hashlib import sha256

from reports import codec
from reports.base import Base
from reports.ledger.board import Board, board_of
from reports.ledger.errors import LedgerError
from reports.record import Record
from reports.text import plain

NAME_LIMIT = 80
_TEXT = 256
_SENTENCE = 1024
_LIKELY = 0.5


class Entry(Base, frozen=True, kw_only=True):
    """One record as it goes in. All texts are clean, times are UTC."""

    sha256: str
    packed: bytes
    """The stored bytes, deflated."""
    size_bytes: int
    stock_no: str | None
    bench: str | None
    certified_by: str | None
    """Fingerprint of the key, where a certificate that holds came with it."""
    started: str
    """ISO 8601, UTC; empty where the record does not say."""
    outcome: str | None
    depth: str
    practice: bool
    interrupted: bool
    label: str
    model: str
    """As what it was sold, else what it calls itself."""
    chip: str
    """What it was found to be made of; empty where that was not told."""
    vendor: str
    proven_bytes: int | None
    claimed_bytes: int | None
    seconds: float
    sentence: str
    board: Board

    @property
    def stock_key(self) -> str | None:
        """The stock number as it is compared: case does not count."""
        return None if self.stock_no is None else stock_key(self.stock_no)

    @property
    def search(self) -> str:
        """All that a search for words looks through, beside the stock number."""
        parts = (
            self.label,
            self.model,
            self.chip,
            self.vendor,
            self.board.pci_id or "",
            self.board.subsystem or "",
        )
        return " ".join(parts).casefold()


def make(
    data: bytes,
    *,
    stock_no: str | None = None,
    bench: str | None = None,
    certified_by: str | None = None,
    name: str = "record",
) -> Entry:
    """Return the entry of a record's stored bytes.

    Raises RecordError for what is no record, LedgerError for a stock number or a bench
    that is no short line.
    """
    record = codec.decode(data, name)
    verdict, capacity = record.verdict, record.capacity
    return Entry(
        sha256=sha256(data).hexdigest(),
        packed=zlib.compress(data, 6),
        size_bytes=len(data),
        stock_no=line(stock_no, "--stock-no"),
        bench=line(bench, "--bench"),
        certified_by=certified_by,
        started=moment(record.started),
        outcome=verdict.outcome if verdict else None,
        depth=record.depth,
        practice=record.practice,
        interrupted=record.interrupted,
        label=plain(record.card.label, _TEXT),
        model=_model(record),
        chip=_chip(record),
        vendor=_vendor(record),
        proven_bytes=capacity.proven_bytes if capacity else None,
        claimed_bytes=capacity.claimed_bytes if capacity else None,
        seconds=record.seconds,
        sentence=plain(verdict.sentence, _SENTENCE) if verdict else "",
        board=board_of(record),
    )


def unpack(packed: bytes, digest: str) -> bytes:
    """Return the stored bytes. Raises LedgerError where they are not those put in."""
    try:
        reader = zlib.decompressobj()
        data = reader.decompress(packed, codec.SIZE_LIMIT + 1)
    except zlib.error:
        data = b""
    if sha256(data).hexdigest() != digest:
        raise LedgerError(f"record {digest[:12]}: damaged in the ledger")
    return data


def line(text: str | None, what: str) -> str | None:
    """Return a short line as it is kept; None for none. Raises LedgerError."""
    if text is None:
        return None
    clean = plain(text, 4 * NAME_LIMIT)
    if not clean or len(clean) > NAME_LIMIT or clean != text.strip():
        raise LedgerError(f"{what}: must be one line of 1 to {NAME_LIMIT} characters")
    return clean


def stock_key(text: str) -> str:
    """Return a stock number as it is compared."""
    return " ".join(text.casefold().split())


def moment(text: str) -> str:
    """Return a time as UTC in ISO 8601, so that order of text is order of time."""
    try:
        found = datetime.fromisoformat(text)
        found = (found if found.tzinfo else found.replace(tzinfo=UTC)).astimezone(UTC)
    except (ValueError, OverflowError):
        return ""
    return f"{found:%Y-%m-%dT%H:%M:%SZ}"


def _model(record: Record) -> str:
    order = ("listing", "nvml", "opencl", "driver", "pci")
    said = {one.layer: one.model for one in reversed(record.claims) if one.model}
    found = next((said[layer] for layer in order if layer in said), None)
    return plain(found or record.card.label, _TEXT)


def _chip(record: Record) -> str:
    chips = record.identified.chips if record.identified else ()
    sure = bool(chips) and chips[0].probability >= _LIKELY
    return plain(chips[0].chip, _TEXT) if sure else ""


def _vendor(record: Record) -> str:
    found = (one.vendor for one in record.claims if one.vendor)
    return plain(next(found, ""), _TEXT)
