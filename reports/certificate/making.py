"""Certificates made: refuse or sign. Time, key and bytes are handed in."""

from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256

from reports import codec
from reports.certificate import sheet
from reports.certificate.errors import RefusedError
from reports.certificate.keys import SigningKey
from reports.certificate.refusals import MAX_AGE_DAYS, refusals
from reports.certificate.signing import Signed, sign
from reports.certificate.statement import (
    Statement,
    clean_name,
    encode,
    encode_statement,
    parts_of,
)
from reports.text import named


@dataclass(frozen=True, kw_only=True)
class Certified:
    """What comes of certifying: one file, one page, the same certificate in both."""

    certificate: bytes
    """The .json file, to go beside the record."""
    page: bytes
    """One A4 page (HTML) that carries certificate and record."""
    statement: Statement
    fingerprint: str


def certify(
    record_bytes: bytes,
    *,
    stock_no: str,
    operator: str,
    key: SigningKey,
    now: datetime,
    program: str,
    max_age_days: int = MAX_AGE_DAYS,
    name: str = "record",
) -> Certified:
    """Certify a record: its stored bytes, as they are, go under the signature.

    `now` carries its zone; `program` is the program's version; `name` is what errors
    call the record. Raises RefusedError with every reason, RecordError for what is no
    record, CertificateError for a name that does not fit on a sheet.
    """
    record = codec.decode(record_bytes, name)
    reasons = refusals(record, now, max_age_days)
    if reasons:
        raise RefusedError(named(name), reasons)
    statement = Statement(
        record_sha256=sha256(record_bytes).hexdigest(),
        record_bytes=len(record_bytes),
        stock_no=clean_name(stock_no, "--stock-no"),
        operator=clean_name(operator, "--operator"),
        signed=f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}",
        program=program,
    )
    said = encode_statement(statement)
    certificate = encode(
        parts_of(
            key.public,
            said,
            (
                sign(key, Signed.STATEMENT, said),
                sign(key, Signed.RECORD, record_bytes),
            ),
        )
    )
    page = sheet.render(record, record_bytes, statement, key.public, certificate)
    return Certified(
        certificate=certificate,
        page=sheet.fill(page, sign(key, Signed.PAGE, page)),
        statement=statement,
        fingerprint=key.public.fingerprint,
    )
