"""Every kind of page, with the records that try it: one entry each, and no more.

A new kind is one more function that returns a `Made` and one more `Kind` below; all
checks of `test_in_browser.py` then hold for it.
"""

import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from hashlib import sha256
from pathlib import Path

import samples
from command_line import shipped
from made_firmware import dressed_up
from msgspec.structs import replace
from record_strategies import with_every_text
from sample_parts import MIB, blocks
from sample_soak import failing_when_hot

from reference.firmware.look import look
from reference.repaired.compare import Digests, compare
from reports import codec, words
from reports.certificate import keys, wording
from reports.certificate.encoding import grouped
from reports.certificate.making import certify
from reports.certificate.sheet import _SENTENCE
from reports.compared import wording as compared
from reports.compared.page import render_compared_page
from reports.evidence import case as cases
from reports.evidence import sheet
from reports.evidence.case import Order
from reports.evidence.languages import wording as wording_of
from reports.evidence.listing import of_text
from reports.evidence.pack import Told
from reports.evidence.pack import make as make_pack
from reports.evidence.photos import copied
from reports.evidence.sheet import open_page
from reports.evidence.verdict import verdict
from reports.inspection import Inspection, Photo
from reports.lasting import Soak
from reports.page import render_page
from reports.record import CellCounts
from reports.summary import summarise
from reports.text import plain

GOLDEN = Path(__file__).parents[1] / "data" / "golden" / "h100-sxm.json"
NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)
NASTY = '"><script>alert(1)</script><img src=x onerror=alert(2)>\u202e{{7*7}}]]></svg>'


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One page to be tried."""

    name: str
    carries: Callable[[], dict[str, bytes]]
    """The files that go into the page, by the ids of their links."""
    page: Callable[[dict[str, bytes]], bytes]
    """The page of these files: the same bytes each time."""
    texts: Callable[[dict[str, bytes]], tuple[str, ...]]
    """What has to be read on screen and on paper."""
    most_sheets: int
    """On A4 and on Letter, with all that is folded left folded."""
    audited: bool = True
    """Whether it goes to axe-core and by keys: not where it is built as another is."""


def _report(data):
    stored = data["record"]
    return render_page(codec.decode(stored), stored).encode("utf-8")


def _report_texts(data):
    summary = summarise(codec.decode(data["record"]))
    heads = [words.NOT_CHECKED] if summary.more_unchecked else []
    rows = ["Claimed and found", *words.COLUMNS] if summary.rows else []
    return (
        summary.sentence,
        *summary.more_reasons,
        *rows,
        *heads,
        "How it was tested",
        "Bear in mind",
        sha256(data["record"]).hexdigest(),
    )


def report(name, make, most_sheets, *, audited=False):
    return Kind(
        name=f"report-{name}",
        carries=lambda: {"record": codec.encode(make())},
        page=_report,
        texts=_report_texts,
        most_sheets=most_sheets,
        audited=audited,
    )


def _golden():
    return codec.decode(GOLDEN.read_bytes())


@cache
def _whole():
    """All that a page can show: soaked, looked at by eye, its firmware read."""
    return replace(
        samples.mirrored_1070(),
        soak=failing_when_hot(),
        inspection=Inspection(
            die="GK107-450-A2",
            die_surface="clear",
            outputs=("VGA", "DVI-D", *["DP"] * 6),
            memory_chips=4,
            contacts=8,
            labels=("GTX 1070",),
            photos=(Photo(name="front.jpg", size_bytes=1234567, sha256="ab" * 32),),
        ),
        firmware_report=look(
            [("a.rom", dressed_up())], shipped(), version="0", claim="GeForce GTX 1070"
        ),
    )


def _hostile():
    """Every text of a record is what a liar would write."""
    return with_every_text(_whole(), NASTY)


def _wide():
    """Every text is one long word."""
    return with_every_text(_whole(), "W" * 150)


def _huge():
    """As many blocks as a large card in small ones, and every reason many times."""
    base = samples.mirrored_1070()
    states = ("proven", "mirrored", "hollow", "failing", "scrambled", "spilled")
    return replace(
        base,
        findings=base.findings * 5,
        capacity=replace(base.capacity, blocks=blocks(180, 512 * MIB, states * 30)),
        verdict=replace(base.verdict, reasons=base.verdict.reasons * 4),
    )


# --------------------------------------------------------------------- certificates


@cache
def _key():
    return keys.new_key()


def certificate(name, make, stock_no, operator, *, audited):
    def certified(record):
        return certify(
            record,
            stock_no=stock_no,
            operator=operator,
            key=_key(),
            now=NOW,
            program="0.1.0",
        )

    def carries():
        record = make()
        return {"record": record, "certificate": certified(record).certificate}

    def texts(data):
        record = codec.decode(data["record"])
        return (
            plain(record.verdict.sentence, _SENTENCE),
            stock_no,
            operator,
            _key().public.grouped,
            grouped(sha256(data["record"]).hexdigest()),
            *wording.PROVES,
            *wording.PROVES_NOT,
            wording.CHECK,
            "A print of this page proves nothing by itself",
        )

    return Kind(
        name=f"certificate-{name}",
        carries=carries,
        page=lambda data: certified(data["record"]).page,
        texts=texts,
        most_sheets=1,
        audited=audited,
    )


def _long_names():
    """The longest that a certificate takes."""
    record = _golden()
    return codec.encode(
        replace(
            record,
            card=replace(record.card, label="W" * 300),
            verdict=replace(record.verdict, sentence="Wide words " * 80),
            soak=Soak(
                asked_seconds=300.0,
                seconds=300.0,
                cells=CellCounts(cells=8, intact=8),
            ),
        )
    )


# ------------------------------------------------------------------ before and after


def comparison(name, before, after, most_sheets, *, audited):
    def page(data):
        first, last = data["before"], data["after"]
        old, new = codec.decode(first), codec.decode(last)
        digests = Digests(sha256(first).hexdigest(), sha256(last).hexdigest())
        view = compare(old, new, shipped(), digests)
        return render_compared_page(view, (old, first), (new, last)).encode("utf-8")

    def texts(data):
        first, last = codec.decode(data["before"]), codec.decode(data["after"])
        return (
            plain(compare(first, last, shipped()).sentence, 4096),
            *compared.COLUMNS,
            *compared.METHOD,
            *compared.CAUTIONS,
            *(sha256(one).hexdigest() for one in data.values()),
        )

    return Kind(
        name=f"compare-{name}",
        carries=lambda: {
            "before": codec.encode(before()),
            "after": codec.encode(after()),
        },
        page=page,
        texts=texts,
        most_sheets=most_sheets,
        audited=audited,
    )


# -------------------------------------------------------------------------- evidence


def _photo(number, wide, high):
    from PIL import Image  # noqa: PLC0415 - start-up

    file = io.BytesIO()
    Image.linear_gradient("L").resize((wide, high)).save(file, "PNG")
    return copied(file.getvalue(), f"IMG_{number}.png", number, "die")


@cache
def _photos(count):
    return tuple(_photo(place, 1200, 900) for place in range(1, count + 1))


def evidence(name, make, language, listing, most_sheets, *, photos=0, audited=False):
    def carries():
        told = Told(
            listing=of_text(listing),
            language=language,
            order=Order(seller=listing[:100]),
            photos=_photos(photos),
            made="2026-11-30",
        )
        opened = open_page(make_pack(codec.encode(make()), told, held="record").page)
        return {"record": opened.data, "case": cases.encode(opened.case)}

    def page(data):
        case, record = cases.decode(data["case"]), codec.decode(data["record"])
        smalls = [one.small for one in _photos(photos)]
        return sheet.render_page(case, record, data["record"], smalls).encode("utf-8")

    def texts(data):
        said = wording_of(language)
        return (
            verdict(codec.decode(data["record"]), said).text,
            said.page.said,
            said.page.compared,
            said.page.cautions,
            said.page.hashes,
            *said.page.caution_lines,
            sha256(data["record"]).hexdigest(),
        )

    return Kind(
        name=f"evidence-{name}",
        carries=carries,
        page=page,
        texts=texts,
        most_sheets=most_sheets,
        audited=audited,
    )


SOLD = "GeForce GTX 1070 8 GB, gebraucht, läuft einwandfrei.\n\nPrivatverkauf."


KINDS = (
    report("genuine", _golden, 4),
    report("whole", _whole, 5, audited=True),
    report("interrupted", samples.interrupted, 2),
    report("minimal", samples.minimal, 1, audited=True),
    report("hostile", _hostile, 6),
    report("wide", _wide, 40),
    report("huge", _huge, 12),
    certificate("golden", GOLDEN.read_bytes, "S-0042", "R. Ámund", audited=True),
    certificate("long", _long_names, "W" * 80, "W" * 80, audited=False),
    comparison("apart", samples.mirrored_1070, samples.failing, 5, audited=True),
    comparison("wide", _wide, _wide, 40, audited=False),
    evidence("de", samples.mirrored_1070, "de", SOLD, 6, photos=2, audited=True),
    evidence("es", samples.failing, "es", SOLD, 5),
    evidence("hostile", _hostile, "en", f"{NASTY} {'W' * 300}", 9, photos=1),
)
