"""The pack: everything put together, and the zip around it, the same each time.

Names within are ours, times are those of no clock, and no owner is noted: a zip says
nothing of the PC that made it. `hashes.txt` is as sha256sum (GNU coreutils) reads it.
"""

import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Final

from msgspec.structs import replace

from reports import codec
from reports.evidence import case as cases
from reports.evidence.case import Case, File, Held, Listing, Order
from reports.evidence.languages import wording
from reports.evidence.letter import letter
from reports.evidence.photos import Copied
from reports.evidence.sheet import render_page
from reports.evidence.wording import Wording
from reports.page import render_page as render_report
from reports.record import Record
from reports.summary import clean

_DAY: Final = (1980, 1, 1, 0, 0, 0)
"""The first that a zip can tell."""
_UNIX: Final = 3
_MODE: Final = 0o644 << 16
HASHES: Final = "hashes.txt"


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack, ready to be written."""

    page: bytes
    letter: str | None
    zipped: bytes

    @property
    def sha256(self) -> str:
        """The zip's hash."""
        return sha256(self.zipped).hexdigest()


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """What a person gave beside the record."""

    listing: Listing
    language: str
    order: Order
    photos: Sequence[Copied] = ()
    made: str
    """UTC, ISO 8601."""


def make(
    stored: bytes,
    told: Told,
    *,
    held: Held,
    judged: Record | None = None,
    other_models: Sequence[str] = (),
    name: str = "record",
) -> Pack:
    """Return the pack of a record's stored bytes.

    `judged` is the record judged by what it was sold as, where that was told only now.
    Raises RecordError, EvidenceError.
    """
    record = judged or codec.decode(stored, name)
    data = stored if judged is None else codec.encode(judged)
    words = wording(told.language)
    case = Case(
        language=told.language,
        made=told.made,
        listing=told.listing,
        held=held,
        other_models=tuple(clean(one)[:200] for one in other_models)[:8],
        stored_sha256=sha256(stored).hexdigest(),
        order=told.order,
        photos=tuple(one.picture for one in told.photos),
    )
    text = letter(case, record, words)
    first = {
        "letter.txt": text.encode() if text else b"",
        "report.html": render_report(record, data).encode(),
        "record.json": stored,
        "record-judged.json": data if judged is not None else b"",
        "listing.txt": told.listing.text.encode() + b"\n",
    }
    first = {name: content for name, content in first.items() if content}
    case = replace(case, files=tuple(_file(*one) for one in first.items()))
    smalls = [one.small for one in told.photos]
    page = render_page(case, record, data, smalls).encode()
    inside = {
        "evidence.html": page,
        **first,
        "evidence.json": cases.encode(case),
        **{one.picture.file: one.data for one in told.photos},
    }
    inside = {"README.txt": _readme(case, record, inside, words).encode(), **inside}
    inside[HASHES] = _hashes(inside)
    return Pack(page, text, _zipped(inside))


def _file(name: str, data: bytes) -> File:
    return File(name=name, size_bytes=len(data), sha256=sha256(data).hexdigest())


def _hashes(inside: dict[str, bytes]) -> bytes:
    lines = (f"{sha256(data).hexdigest()}  {name}" for name, data in inside.items())
    return ("\n".join(lines) + "\n").encode()


def _readme(
    case: Case, record: Record, inside: dict[str, bytes], words: Wording
) -> str:
    """Return what is in the pack, a line a file."""
    form = words.readme
    lines = {
        "evidence.html": form.page,
        "letter.txt": form.letter,
        "report.html": form.report,
        "record.json": form.record,
        "record-judged.json": form.judged,
        "listing.txt": form.listing,
        "evidence.json": form.case,
        **{one.file: form.photo for one in case.photos},
        HASHES: form.hashes,
    }
    practice = [words.letter.practice, ""] if record.practice else []
    told = [f"{name}: {text}" for name, text in lines.items() if name in inside]
    told.append(f"{HASHES}: {form.hashes}")
    return "\n".join(
        (*practice, form.head, "", *told, "", form.check.replace("`", ""),
         form.without, "", form.look, *reversed(practice), "")
    )  # fmt: skip


def _zipped(inside: dict[str, bytes]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        for name, data in inside.items():
            entry = zipfile.ZipInfo(name, _DAY)
            entry.create_system, entry.external_attr = _UNIX, _MODE
            packed = (
                zipfile.ZIP_STORED if name.endswith(".jpg") else zipfile.ZIP_DEFLATED
            )
            entry.compress_type = packed
            archive.writestr(entry, data)
    return file.getvalue()
