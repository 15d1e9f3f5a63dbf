"""Bytes and records, both ways: strict, deterministic, atomic."""

import json
import os
import secrets
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec

from reports.errors import RecordError
from reports.files import contents, spare_devices
from reports.record import SCHEMA, Record
from reports.text import inert, named

SIZE_LIMIT = 64 * 2**20
"""Largest record file read, in bytes."""

_UNREADABLE = (msgspec.MsgspecError, UnicodeDecodeError, RecursionError)
_encoder = msgspec.json.Encoder()
_decoder = msgspec.json.Decoder(Record)


class _DoubledKeyError(ValueError):
    """An object has one key twice."""


class _Head(msgspec.Struct):
    schema: int


def encode(record: Record) -> bytes:
    """Return the record as JSON, read back once to prove that it can be read.

    Raises RecordError where a value does not fit the schema (msgspec checks on
    reading, not on construction).
    """
    data = inert(msgspec.json.format(_encoder.encode(record), indent=1)) + b"\n"
    decode(data, "the record just made")
    return data


def decode(data: bytes, name: str = "record") -> Record:
    """Return the record that `data` holds; `name` is what errors call it.

    Raises RecordError for anything that is not a record of a version known here.
    """
    name = named(name)
    if len(data) > SIZE_LIMIT:
        raise RecordError(f"{name}: larger than {SIZE_LIMIT} bytes, not read")
    try:
        head = msgspec.json.decode(data, type=_Head)
        if head.schema > SCHEMA:
            raise RecordError(
                f"{name}: schema {head.schema} is newer than this program knows "
                f"({SCHEMA}); install a newer cardassay"
            )
        record = _decoder.decode(data)
        _check_keys(data)
    except (*_UNREADABLE, _DoubledKeyError) as error:
        raise RecordError(f"{name}: not a cardassay record: {error}") from None
    return record


def _check_keys(data: bytes) -> None:
    """Refuse a record that tells a thing twice: readers would not agree on which.

    Raises _DoubledKeyError.
    """
    whole = msgspec.json.format(data, indent=-1)
    if whole != msgspec.json.encode(msgspec.json.decode(data)):  # else none can be
        json.loads(data, object_pairs_hook=_single)


def _single(pairs: list[tuple[str, Any]]) -> None:
    seen = set()
    for key, _ in pairs:
        if key in seen:
            raise _DoubledKeyError(f"Object contains the field `{key}` twice")
        seen.add(key)


def load(path: Path) -> Record:
    """Read a record file. Raises RecordError."""
    return decode(read(path), str(path))


def read(path: Path) -> bytes:
    """Return a file's bytes, one more than a record may have at the most.

    Raises RecordError with the operating system's reason.
    """
    try:
        return contents(path, SIZE_LIMIT)
    except OSError as error:
        raise RecordError(f"{named(path)}: cannot be read: {error.strerror}") from None


def save(data: bytes, path: Path) -> None:
    """Write a file atomically: the old content or the new, never half of it.

    Raises RecordError with the operating system's reason.
    """
    temporary = path.parent / f".{path.name}.{secrets.token_hex(4)}"
    try:
        spare_devices(path)
        with temporary.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(path)
    except BaseException as error:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        if not isinstance(error, OSError):
            raise
        raise RecordError(
            f"{named(path)}: cannot be written: {error.strerror}"
        ) from None


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a record."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **msgspec.json.schema(Record),
    }
