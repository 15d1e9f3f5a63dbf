"""After the test of a card: its record, its certificate, its line in the ledger.

Every step stands by itself, and may have been done before: what was done is left as it
is, what could not be done is said, and done at the next start. Starts no test.
"""

import contextlib
from dataclasses import dataclass, field
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Self

from msgspec.structs import replace

from probe import certify, commands, ledger, unfinished
from probe.batch.places import Place
from probe.cli import Exit
from probe.errors import CardError, HostError
from reports import codec, words
from reports.batched import Batched, Before, Entered
from reports.certificate.checking import verify
from reports.certificate.errors import RefusedError
from reports.certificate.keys import SigningKey
from reports.certificate.refusals import refusals
from reports.errors import RecordError
from reports.listing import ListedCard
from reports.page import record_bytes
from reports.record import Outcome, Record
from reports.terminal import sentence_of
from reports.text import named, plain

if TYPE_CHECKING:
    from collections.abc import Callable

    from probe.trial import Trial
    from reports.ledger.store import Ledger

_SENTENCE = 1024
DOUBTFUL = (
    "In the ledger its stock number is another card's, or this card's before its "
    "firmware was written anew; if the number is right, certify it by `cardassay "
    "certify`."
)
_STILL = (HostError, CardError)


def now_utc() -> datetime:
    """Return the time, with its zone."""
    return datetime.now(UTC)


@dataclass
class Desk:
    """What settles cards: who signs, which ledger, whose table."""

    trial: "Trial"
    """Makes the record of a run that was cut off."""
    key: SigningKey | None = None
    """None: no certificates are wanted."""
    operator: str = ""
    address: str | None = None
    """Of the ledger; None: the usual one."""
    bench: str | None = None
    extra: Path | None = None
    """Further rows for the table of cards."""
    clock: "Callable[[], datetime]" = now_utc
    _opened: "Ledger | None" = field(default=None, repr=False)

    def __enter__(self) -> Self:
        """Hold the ledger open."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of it."""
        if self._opened is not None:
            self._opened.close()
            self._opened = None

    @property
    def ledger(self) -> "Ledger":
        """Return the ledger, opened at last. Raises UsageError, LedgerError."""
        if self._opened is None:
            self._opened = ledger.open_ledger(self.address, make_it=True)
        return self._opened

    def settle(self, place: Place, meant: ListedCard | None = None) -> Batched:
        """Do what is left to be done for a card; say what came of it.

        `meant`: the card that the number was given to.
        """
        told = Batched(
            stock_no=place.number,
            folder=named(place.path),
            exit_code=Exit.COULD_NOT_TEST,
        )
        try:
            unfinished.conclude_folder(self.trial, place.path)
            data = codec.read(place.record)
            record = codec.decode(data, str(place.record))
        except (*_STILL, RecordError) as error:
            return replace(told, problem=f"No record: {plain(str(error), _SENTENCE)}")
        told = _read(told, record, now=meant is not None)
        if meant is not None and not is_same(record, meant):
            return _of_another(told, place, meant)
        told = self._entered(told, place, data)
        told = self._certified(told, place, data, record)
        if told.certificate is None or told.not_in_ledger is not None:
            return told
        return self._completed(told, place)

    def _certified(
        self, told: Batched, place: Place, data: bytes, record: Record
    ) -> Batched:
        """Certify, unless that is done or must not be."""
        page = place.certificate
        if self.key is None:
            return told
        if holds(page, data):
            return replace(told, certificate=named(page))
        try:
            now = self.clock()
            against = refusals(record, now) or certify.judged_anew(record, self.extra)
            if told.ledger is not None and told.ledger.doubtful:
                against = (*against, DOUBTFUL)
            if against:
                raise RefusedError(place.number, against)  # noqa: TRY301 - as by the signer
            made = certify.certify_record(
                data,
                stock_no=place.number,
                operator=self.operator,
                key=self.key,
                now=now,
                name=str(place.record),
            )
            place.move_certificate()
            codec.save(made.certificate, page.with_suffix(".json"))
            codec.save(made.page, page)
        except RefusedError as refused:
            return _uncertified(told, refused.reasons)
        except (RecordError, OSError) as error:
            return _uncertified(told, (plain(str(error), _SENTENCE),))
        return replace(told, certificate=named(page))

    def _entered(self, told: Batched, place: Place, data: bytes) -> Batched:
        """Put it into the ledger; say which card that takes it for."""
        try:
            added = ledger.add(
                self.ledger,
                data,
                stock_no=place.number,
                bench=self.bench,
                name=str(place.record),
            )
            entered = Entered(
                record=added.id,
                card=added.card,
                how=added.how,
                remark=added.remark,
                visits=added.visits,
                doubtful=added.how == _changed(),
                before=self._before(added.card, added.id),
            )
        except (RecordError, HostError) as error:
            return self._lost(told, error)
        return replace(told, ledger=entered)

    def _completed(self, told: Batched, place: Place) -> Batched:
        """Have the ledger know of a record's certificate."""
        try:
            page = codec.read(place.certificate)
            ledger.add(self.ledger, page, name=str(place.certificate))
        except (RecordError, HostError) as error:
            return self._lost(told, error)
        return told

    def _lost(self, told: Batched, error: Exception) -> Batched:
        """Say that the ledger could not be told; it is opened anew the next time."""
        self.__exit__()
        return replace(
            told,
            not_in_ledger=f"{plain(str(error), _SENTENCE)}; the batch's next start "
            "makes up for it",
            exit_code=max(told.exit_code, Exit.COULD_NOT_TEST, key=gravity),
        )

    def _before(self, card: int, record: int) -> Before | None:
        from reports.ledger.query import Query  # noqa: PLC0415 - start-up

        rows = self.ledger.find(Query(card=card, limit=2)).rows
        for row in rows:
            if row.id < record:
                return Before(
                    day=row.started[:10],
                    outcome=_known(row.outcome),
                    stock_no=row.stock_no,
                )
        return None

    def is_settled(self, place: Place) -> bool:
        """Whether nothing is left to be done for a card. Raises LedgerError."""
        try:
            if unfinished.is_cut_off(place.path):
                return False
            data = codec.read(place.record)
        except (*_STILL, RecordError):  # another process is at it; nothing was tested
            return True
        rows = self.ledger.named(sha256(data).hexdigest())
        if not rows:
            return False
        row = rows[0]
        fit = row.outcome == "as claimed" and row.how != _changed()
        fit = fit and not (row.practice or row.interrupted)
        if self.key is None or row.certified_by is not None or not fit:
            return True
        try:
            return bool(refusals(codec.decode(data), self.clock()))
        except RecordError:
            return True


def _changed() -> str:
    """Return how a ledger knows a card whose stock number is another's."""
    from reports.ledger.recognise import CHANGED  # noqa: PLC0415 - start-up

    return CHANGED


def _of_another(told: Batched, place: Place, meant: ListedCard) -> Batched:
    """Put the documents of a card aside that the number was not given to."""
    with contextlib.suppress(OSError):
        place.move_documents()
    return replace(
        told,
        problem=f"Another card answered than the one with this number: {told.card}, "
        f"not {plain(meant.identity.label)}; test it again",
        outcome=None,
        exit_code=int(Exit.COULD_NOT_TEST),
    )


def is_same(record: Record, meant: ListedCard) -> bool:
    """Whether a record is of the card that was listed: as far as both tell.

    A name may change with the layer that gives it, where one was left out.
    """
    one, other = record.card, meant.identity
    if (one.pci_address, one.kind) != (other.pci_address, other.kind):
        return False
    ids = [
        {claim.pci_id.lower() for claim in claims if claim.pci_id}
        for claims in (record.claims, meant.claims)
    ]
    return one.label == other.label or bool(ids[0] & ids[1])


def holds(page: Path, data: bytes) -> bool:
    """Whether a certificate's page is there, holds, and is of these stored bytes."""
    with contextlib.suppress(RecordError):
        found = codec.read(page)
        checked = verify(found, None, now=now_utc(), name=str(page))
        return checked.holds and checked.complete and record_bytes(found, "") == data
    return False


def gravity(code: int) -> int:
    """Return how grave an exit code is among others, as `check` has it."""
    from probe.check import gravity as of_check  # noqa: PLC0415 - start-up

    try:
        return of_check(Exit(code))
    except ValueError:  # of a process that was ended
        return len(Exit)


def _read(told: Batched, record: Record, *, now: bool) -> Batched:
    """Put in what a record says. `now`: its test has just ended.

    Whatever cut a test off, or stopped an earlier one, this batch goes on.
    """
    over = replace(record, interrupted=False)
    counts = now and not record.incidents
    return replace(
        told,
        card=plain(record.card.label),
        pci_address=record.card.pci_address,
        outcome=record.verdict.outcome if record.verdict else None,
        sentence=sentence_of(record),
        practice=record.practice,
        interrupted=record.interrupted,
        cut_off=bool(record.incidents),
        exit_code=int(commands.outcome_code(record if counts else over)),
    )


def _uncertified(told: Batched, reasons: tuple[str, ...]) -> Batched:
    """Say why there is no certificate: a card as claimed ought to have had one."""
    code = max(told.exit_code, Exit.COULD_NOT_TEST, key=gravity)
    return replace(told, not_certified=reasons, exit_code=code)


def _known(outcome: str | None) -> Outcome | None:
    return next((one for one in words.OUTCOME if one == outcome), None)
