"""What a certificate says, and its file: strict, one spelling for one content.

History of the schema (`SCHEMA`):
  1  2026-11  first version
"""

from typing import Annotated, Final, Literal

import msgspec
from msgspec import Meta

from reports.base import Base, Count
from reports.certificate.encoding import from_base64, to_base64
from reports.certificate.errors import CertificateError, KeyFileError
from reports.certificate.keys import PublicKey, public_key
from reports.certificate.signing import SIGNATURE_BYTES
from reports.text import named, plain

SCHEMA: Literal[1] = 1
FILE_LIMIT: Final = 16 * 1024
"""Largest certificate file read, in bytes; ours have some 1,500."""
NAME_LIMIT: Final = 80
"""Longest stock number and longest name of an operator, in characters."""

Digest = Annotated[str, Meta(pattern=r"\A[0-9a-f]{64}\Z")]
Name = Annotated[str, Meta(min_length=1, max_length=NAME_LIMIT)]
Moment = Annotated[
    str,
    Meta(
        pattern=r"\A2[0-9]{3}-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]:[0-5][0-9]Z\Z"
    ),
]
Coded = Annotated[str, Meta(max_length=8192)]


class Statement(Base, frozen=True, kw_only=True):
    """What is said of the record, under a signature of its own."""

    schema: Literal[1] = SCHEMA
    record_sha256: Digest
    """Of the stored bytes."""
    record_bytes: Count
    stock_no: Name
    operator: Name
    signed: Moment
    """UTC, by the signer's own clock."""
    program: Name


class Certificate(Base, frozen=True, kw_only=True):
    """The file: key, statement and signatures, as base64."""

    certificate: Literal[1] = SCHEMA
    key: Coded
    """The public key, 32 bytes."""
    statement: Coded
    """The statement's bytes as they were signed."""
    statement_signature: Coded
    record_signature: Coded


class Opened(Base, frozen=True, kw_only=True):
    """A certificate's parts, each well formed; nothing is proven yet."""

    key: bytes
    statement: Statement
    statement_bytes: bytes
    statement_signature: bytes
    record_signature: bytes

    @property
    def public(self) -> PublicKey:
        return PublicKey(self.key)


def encode_statement(statement: Statement) -> bytes:
    """Return the bytes that are signed. Raises CertificateError for unfit values."""
    data = _written(statement)
    _statement(data, "the statement just made")
    return data


def encode(certificate: Certificate) -> bytes:
    """Return the certificate's file."""
    return _written(certificate)


def decode(data: bytes, name: str = "certificate") -> Opened:
    """Return the parts of a certificate. Raises CertificateError.

    Anything is refused that :func:`encode` would have written otherwise.
    """
    name = named(name)
    if len(data) > FILE_LIMIT:
        raise CertificateError(
            f"{name}: not a certificate: larger than {FILE_LIMIT} bytes"
        )
    try:
        found = msgspec.json.decode(data, type=Certificate)
        if _written(found) != data:
            raise CertificateError(f"{name}: the certificate was changed or damaged")
        parts = {
            "key": from_base64(found.key),
            "statement_bytes": from_base64(found.statement),
            "statement_signature": from_base64(found.statement_signature),
            "record_signature": from_base64(found.record_signature),
        }
        public_key(parts["key"])
    except (msgspec.MsgspecError, ValueError, RecursionError, KeyFileError) as error:
        raise CertificateError(f"{name}: not a certificate: {error}") from None
    for part in ("statement_signature", "record_signature"):
        if len(parts[part]) != SIGNATURE_BYTES:
            raise CertificateError(
                f"{name}: not a certificate: {part} has a wrong size"
            )
    statement = _statement(parts["statement_bytes"], name)
    return Opened(statement=statement, **parts)


def clean_name(text: str, what: str) -> str:
    """Return a stock number or a name as it will stand on the certificate.

    Raises CertificateError with `what` where it is empty, too long, or holds what
    cannot be printed on one line.
    """
    line = plain(text, 4 * NAME_LIMIT)
    if not line:
        raise CertificateError(f"{what}: nothing is said; it must not be empty")
    if len(line) > NAME_LIMIT:
        raise CertificateError(f"{what}: longer than {NAME_LIMIT} characters")
    if line != text.strip():
        raise CertificateError(
            f"{what}: holds signs that cannot be printed on one line"
        )
    return line


def parts_of(
    public: PublicKey, statement: bytes, signatures: tuple[bytes, bytes]
) -> Certificate:
    """Return the certificate of a statement; signatures: its own, the record's."""
    return Certificate(
        key=to_base64(public.raw),
        statement=to_base64(statement),
        statement_signature=to_base64(signatures[0]),
        record_signature=to_base64(signatures[1]),
    )


def _statement(data: bytes, name: str) -> Statement:
    try:
        statement = msgspec.json.decode(data, type=Statement)
        same = _written(statement) == data
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        raise CertificateError(f"{name}: not a certificate: {error}") from None
    if not same:
        raise CertificateError(f"{name}: the statement was changed or damaged")
    for text in (statement.stock_no, statement.operator, statement.program):
        if plain(text, NAME_LIMIT) != text:
            raise CertificateError(f"{name}: a name in it cannot be printed")
    return statement


def _written(value: Statement | Certificate) -> bytes:
    return msgspec.json.format(msgspec.json.encode(value), indent=1) + b"\n"
