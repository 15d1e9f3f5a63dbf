"""Certificates checked: which parts hold, and what follows. Trusts no byte of them."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from reports import codec
from reports.certificate import sheet
from reports.certificate.errors import CertificateError
from reports.certificate.keys import PublicKey
from reports.certificate.refusals import SKEW, refusals
from reports.certificate.signing import Signed, is_signed
from reports.certificate.statement import Opened, Statement, decode
from reports.page import record_bytes
from reports.record import Record
from reports.text import named
from reports.units import moment_of


@dataclass(frozen=True, kw_only=True)
class Check:
    """One thing that was checked."""

    what: str
    holds: bool
    why: str = ""
    """What is wrong, and the next step."""


@dataclass(frozen=True, kw_only=True)
class Verified:
    """What checking a certificate came to."""

    public: PublicKey
    statement: Statement
    """As far as `holds`: else anybody may have written it."""
    record: Record | None
    """None: none was given, or it is not the one."""
    checks: tuple[Check, ...]
    notes: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether all that was checked holds."""
        return all(check.holds for check in self.checks)

    @property
    def complete(self) -> bool:
        """Whether the record was there to be checked."""
        return self.record is not None


def verify(
    data: bytes,
    record: bytes | None,
    *,
    now: datetime,
    name: str = "certificate",
    expected: str | None = None,
) -> Verified:
    """Check a certificate: a page, or a .json file with its record.

    `data` are the file's bytes. `record` is the record beside it, or a page with one
    in it; None: the page's own, or none. `expected` is the fingerprint that the key
    has to have, 64 hexadecimal digits. Raises CertificateError for what is no
    certificate at all, RecordError for what is no record.
    """
    page = data if sheet.is_page(data) else None
    opened = decode(data if page is None else sheet.carried(page, name), name)
    checks = [*_key(opened, expected), _said(opened)]
    if page is not None:
        checks.append(_page(opened, page, name))
    stored = _stored(page, record, name)
    found = None
    if stored is not None:
        check = _record(opened, stored)
        checks.append(check)
        found = codec.decode(stored, "the record") if check.holds else None
    return Verified(
        public=opened.public,
        statement=opened.statement,
        record=found,
        checks=tuple(checks),
        notes=_notes(opened.statement, found, now),
    )


def _key(opened: Opened, expected: str | None) -> tuple[Check, ...]:
    if expected is None:
        return ()
    return (
        Check(
            what="key",
            holds=opened.public.fingerprint == expected,
            why="it was signed by another key than the one you named",
        ),
    )


def _said(opened: Opened) -> Check:
    return Check(
        what="statement",
        holds=is_signed(
            opened.public,
            Signed.STATEMENT,
            opened.statement_bytes,
            opened.statement_signature,
        ),
        why="stock number, operator, date or digest were changed after signing",
    )


def _page(opened: Opened, page: bytes, name: str) -> Check:
    why = (
        "what the page shows was changed after signing (a browser's “save as” does "
        "that too); ask for the file as it was made"
    )
    try:
        signature, signed = sheet.signature_in(page, name)
    except CertificateError:
        return Check(what="page", holds=False, why=why)
    holds = is_signed(opened.public, Signed.PAGE, signed, signature)
    return Check(what="page", holds=holds, why=why)


def _stored(page: bytes | None, record: bytes | None, name: str) -> bytes | None:
    if record is not None:
        return record_bytes(record, "the record")
    return None if page is None else record_bytes(page, named(name))


def _record(opened: Opened, stored: bytes) -> Check:
    said = opened.statement
    same = (
        len(stored) == said.record_bytes
        and sha256(stored).hexdigest() == said.record_sha256
    )
    if not same:
        return Check(
            what="record",
            holds=False,
            why="this is not the record that was signed, or it was changed since",
        )
    return Check(
        what="record",
        holds=is_signed(opened.public, Signed.RECORD, stored, opened.record_signature),
        why="the record is not signed by this key",
    )


def _notes(said: Statement, record: Record | None, now: datetime) -> tuple[str, ...]:
    """Return what is odd about dates and record without making a signature wrong."""
    notes = []
    signed = moment_of(said.signed)
    if signed is None:
        return ("The date of signing is no date.",)
    if signed - now > SKEW:
        notes.append(
            "It says it was signed at a time that is still to come by this PC's clock: "
            "one of the two clocks is wrong."
        )
    if record is not None:
        began = moment_of(record.started)
        if (
            began is not None
            and began + timedelta(seconds=record.seconds) > signed + SKEW
        ):
            notes.append("It says it was signed before the test had ended.")
        against = refusals(record, max(signed, began or signed), max_age_days=36500)
        notes.extend(f"This program would not certify it: {one}" for one in against)
    return tuple(notes)
