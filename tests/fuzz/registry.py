"""Every target. A new parser of things from elsewhere is entered here, once.

To enter one: a `Target` with its function from bytes, the exceptions it may raise, good
inputs, and a mutator out of `mutators.py`. The suite, the bench and the coverage-guided
engine all take it from `TARGETS`.
"""

import hashlib
import io
import re
import unicodedata
from contextlib import suppress
from functools import cache
from pathlib import Path
from random import Random

import msgspec
from fuzz import (
    certificates,
    comparisons,
    devices,
    evidences,
    firmwares,
    journals,
    mutators,
    nasty,
    seeds,
    varied,
)
from fuzz.target import Target
from rich.console import Console

from probe.batch import numbers
from probe.errors import UsageError
from probe.identity import address, opencl_parse, pci_names
from probe.opencl.programs import complaint
from probe.sizes import size_bytes
from probe.survival.talk import NONSENSE
from reference import compiled, gather, names
from reference.ask import ask
from reference.errors import TableError
from reference.firmware.errors import ReadError
from reference.judge import judge
from reference.table import Table, load
from reports import codec
from reports.certificate.errors import CertificateError
from reports.errors import RecordError
from reports.evidence.errors import EvidenceError
from reports.page import record_bytes, render_page
from reports.record import Record
from reports.rejudged import compare, encode_rejudged, render_rejudged
from reports.terminal import render_result
from reports.text import plain

_CONTROL = re.compile(
    r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]"
)
"""What no terminal may be sent: controls but the line feed, and direction marks."""
_TAGS = re.compile(
    r"<(script|img|iframe|object|embed|link|base|form|meta http)[\s>/]", re.IGNORECASE
)


@cache
def table() -> Table:
    return load()


@cache
def few() -> Table:
    return Table(seeds.few_rows())


def record(data: bytes) -> None:
    """Read a record; what was read can be written, and read again as the same."""
    found = codec.decode(data)
    again = codec.encode(found)
    assert codec.decode(again) == found


def page(data: bytes) -> None:
    """Read what `show` is given: a record, or a page with one in it."""
    with suppress(RecordError):
        comparisons.page(data)
    codec.decode(record_bytes(data, "page"))


def cards_file(data: bytes) -> None:
    """Add a file of cards to the table, and ask for each of its rows."""
    made = Table(gather.overlaid(seeds.few_rows(), Path("rows.toml"), data))
    for row in made.variants[-3:]:
        made.resolve(row.model)
        made.by_pci(row.pci[0] if row.pci else "")
        made.chip(row)


def packed(data: bytes) -> None:
    """Read a compiled table, and use it where it is taken."""
    content = compiled.unpack(data, seeds.few_rows().sha256)
    if content is not None:
        Table(content)


def shown(data: bytes) -> None:
    """Do with a record all that is done with records; nothing may fail."""
    found = _sound(data)
    if found is None:
        return
    after = judge(found, few())
    stored = codec.encode(after)
    view = compare(found, after)
    text = _printed(render_result(found, 80))
    text += _printed(render_result(after, 40, page="/a/b"))
    text += _printed(render_rejudged(view, 80))
    assert not _CONTROL.search(text)
    assert not _CONTROL.search(encode_rejudged(view).decode())
    for one, raw in ((found, data), (after, stored)):
        sheet = render_page(one, raw)
        assert record_bytes(sheet.encode(), "page") == raw
        assert not _TAGS.search(sheet.replace('<meta http-equiv="Content-Security', ""))
        assert not _CONTROL.search(sheet)


def _sound(data: bytes) -> Record | None:
    """Return the record; None where there is none to go on with."""
    try:
        return codec.decode(data)
    except RecordError:
        return None


def judged(data: bytes) -> None:
    """Judge and store against the whole table."""
    found = _sound(data)
    if found is not None:
        codec.encode(judge(found, table()))


def with_rows(data: bytes) -> None:
    """Judge a sound record by hostile rows: what is stored must be readable."""
    try:
        made = Table(gather.overlaid(seeds.few_rows(), Path("rows.toml"), data))
    except TableError:
        return
    for raw in seeds.slim_records()[:1]:
        codec.encode(judge(codec.decode(raw), made))


def text(data: bytes) -> None:
    """Make a text harmless: one printable line within its limit."""
    for given in (
        data,
        data.decode("utf-8", "surrogatepass" if b"\xed" in data else "replace"),
    ):
        line = plain(given)
        assert len(line) <= 256
        assert not any(unicodedata.category(one) in devices.UNWANTED for one in line)
        assert "\n" not in line
        line.encode()


def question(data: bytes) -> None:
    """Understand what a person, a driver or a listing calls a card."""
    said = data.decode("utf-8", "replace")
    ask(few(), said)
    few().resolve(said)
    few().near(said)
    names.split_size(said)
    names.is_slice(said)
    names.is_mobile(said)
    opencl_parse.names(said, said[::-1])
    address.normal(said)
    size_bytes(said, "--claim-memory")


def stock_list(data: bytes) -> None:
    """Read what a scanner or a spreadsheet calls the cards of a batch."""
    said = data.decode("utf-8", "replace")
    with suppress(UsageError):
        numbers.folder_name(numbers.scanned(said) or "none")
    numbers.listed(said, "--stock-list")


def ids(data: bytes) -> None:
    """Read the system's table of PCI ids."""
    lines = data.decode("utf-8", "replace").splitlines(keepends=True)
    for one in pci_names.look_up(lines, {(0x10DE, 0x1B81), (0x1002, 0x67DF)}).values():
        assert plain(one) == one


def build_log(data: bytes) -> None:
    """Read what a kernel compiler complains of."""
    complaint(data.decode("utf-8", "replace"))


def _printed(view) -> str:
    file = io.StringIO()
    width = 80
    Console(
        file=file, width=width, color_system=None, highlight=False, markup=False
    ).print(view)
    return file.getvalue()


def _seal(body: bytes) -> bytes:
    return hashlib.sha256(body).digest() + body


@cache
def _packed_seeds() -> list[bytes]:
    return [compiled.pack(seeds.few_rows())]


def mutate_packed(data: bytes, rnd: Random) -> bytes:
    """Change the content of a compiled table, and make its checksum true again."""
    shape, body = data[32:64], data[64:]
    if rnd.random() < 0.1:
        return mutators.blind(data, rnd)
    if rnd.random() < 0.4:
        return _seal(shape + mutators.blind(body, rnd))
    try:
        tree = msgspec.msgpack.decode(body)
        text = mutators.json_text(msgspec.json.encode(tree), rnd)
        return _seal(shape + msgspec.msgpack.encode(msgspec.json.decode(text)))
    except (msgspec.MsgspecError, ValueError, OverflowError, RecursionError, TypeError):
        return _seal(shape + mutators.blind(body, rnd))


def mutate_pages_record(data: bytes, rnd: Random) -> bytes:
    """Change a record within its schema."""
    return varied.record_bytes(data, rnd)


def _texts() -> list[bytes]:
    every = (*nasty.STRINGS, *nasty.LONG, *nasty.SURROGATES)
    return [one.encode("utf-8", "surrogatepass") for one in every]


def _logs() -> list[bytes]:
    return [
        (
            b"clBuildProgram failed: BUILD_PROGRAM_FAILURE\n(options: -I /home/u/cl)\n"
            b"/tmp/x.cl:3:1: error: unknown type name 'half'\n"
        ),
        *_texts(),
    ]


TARGETS: tuple[Target, ...] = (
    Target(
        name="record",
        run=record,
        allowed=(RecordError,),
        seeds=seeds.slim_records,
        mutate=mutators.json_text,
        weight=25,
    ),
    Target(
        name="page",
        run=page,
        allowed=(RecordError,),
        seeds=seeds.pages,
        mutate=mutators.page,
        weight=20,
    ),
    Target(
        name="cards file",
        run=cards_file,
        allowed=(TableError,),
        seeds=lambda: seeds.cards_files()[:1],
        mutate=mutators.toml_text,
        weight=6,
    ),
    Target(
        name="stock list",
        run=stock_list,
        allowed=(UsageError,),
        seeds=lambda: [b'# rack 3\n0000:01:00.0, S-1\r\n1;"S;2"\n', b"]C1S-1\x1d\n"],
        mutate=mutators.blind,
        weight=1,
    ),
    Target(
        name="compiled table",
        run=packed,
        allowed=(),
        seeds=_packed_seeds,
        mutate=mutate_packed,
        weight=4,
    ),
    Target(
        name="journal",
        run=journals.concluded,
        allowed=(RecordError,),
        seeds=journals.seeds,
        mutate=journals.mutate,
        weight=6,
    ),
    Target(
        name="measuring process",
        run=journals.heard,
        allowed=NONSENSE,
        seeds=journals.frames,
        mutate=journals.mutate_frames,
        weight=12,
    ),
    Target(
        name="firmware",
        run=firmwares.looked_at,
        allowed=(ReadError,),
        seeds=firmwares.images,
        mutate=firmwares.mutate,
        weight=0.2,
    ),
    Target(
        name="kept firmware",
        run=firmwares.kept,
        allowed=(),
        seeds=firmwares.tables,
        mutate=mutators.blind,
        weight=8,
    ),
    Target(
        name="key",
        run=certificates.key_file,
        allowed=(),
        seeds=certificates.key_files,
        mutate=certificates.mutate_key,
        weight=4,
    ),
    Target(
        name="certificate",
        run=certificates.opened,
        allowed=(CertificateError,),
        seeds=certificates.files,
        mutate=certificates.mutate,
        weight=4,
    ),
    Target(
        name="certificate checked",
        run=certificates.checked,
        allowed=(RecordError,),
        seeds=certificates.seeds,
        mutate=certificates.mutate,
        weight=2,
    ),
    Target(
        name="listing",
        run=evidences.listing,
        allowed=(EvidenceError,),
        seeds=evidences.listing_files,
        mutate=evidences.mutate_listing,
        weight=6,
    ),
    Target(
        name="photo",
        run=evidences.photo,
        allowed=(EvidenceError,),
        seeds=evidences.photos,
        mutate=mutators.blind,
        weight=1,
    ),
    Target(
        name="case",
        run=evidences.case,
        allowed=(EvidenceError,),
        seeds=evidences.case_files,
        mutate=mutators.json_text,
        weight=6,
    ),
    Target(
        name="evidence page",
        run=evidences.page,
        allowed=(RecordError,),
        seeds=evidences.pages,
        mutate=mutators.page,
        weight=0.5,
    ),
    Target(
        name="text",
        run=text,
        allowed=(UnicodeDecodeError,),
        seeds=_texts,
        mutate=mutators.lines_of,
        weight=14,
    ),
    Target(
        name="question",
        run=question,
        allowed=(UsageError,),
        seeds=_texts,
        mutate=mutators.lines_of,
        weight=0.5,
    ),
    Target(
        name="PCI ids",
        run=ids,
        allowed=(),
        seeds=lambda: [devices.PLAYED["sysfs"]["pci.ids"].encode()],
        mutate=mutators.lines_of,
        weight=8,
    ),
    Target(
        name="build log",
        run=build_log,
        allowed=(),
        seeds=_logs,
        mutate=mutators.lines_of,
        weight=4,
    ),
    Target(
        name="drivers",
        run=devices.whole,
        allowed=(),
        seeds=devices.seeds,
        mutate=mutators.json_text,
        weight=4,
    ),
    Target(
        name="judged by hostile rows",
        run=with_rows,
        allowed=(),
        seeds=lambda: seeds.cards_files()[:1],
        mutate=mutators.toml_text,
        weight=0.5,
    ),
    Target(
        name="judged",
        run=judged,
        allowed=(),
        seeds=seeds.slim_records,
        mutate=mutate_pages_record,
        weight=0.5,
    ),
    Target(
        name="compared",
        run=lambda data: comparisons.beside(data, few()),
        allowed=(),
        seeds=seeds.slim_records,
        mutate=mutate_pages_record,
        weight=0.2,
    ),
    Target(
        name="shown",
        run=shown,
        allowed=(),
        seeds=seeds.slim_records,
        mutate=mutate_pages_record,
        weight=0.2,
    ),
)


def ready(target: Target) -> None:
    """Fill the caches, so that the first input does not pay for them."""
    table()
    few()
    for data in target.seeds():
        with suppress(*target.allowed):
            target.run(data)


def by_name(name: str) -> Target:
    """Return one target."""
    return next(one for one in TARGETS if one.name == name)
