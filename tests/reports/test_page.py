import base64
import re
from hashlib import sha256
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import pytest
import samples
from hypothesis import given, settings
from msgspec.structs import replace
from record_strategies import HOSTILE, records, with_every_text

from reports import words
from reports.codec import decode, encode
from reports.errors import RecordError
from reports.page import extract_record, record_bytes, render_page

HTML = {
    "a", "aside", "body", "dd", "details", "div", "dl", "dt", "em", "figcaption",
    "figure", "footer", "h1", "h2", "head", "header", "html", "li", "main", "meta",
    "ol", "p", "section", "small", "span", "style", "summary", "table", "tbody", "td",
    "th", "thead", "title", "tr", "ul",
}  # fmt: skip
SVG = {
    "circle", "defs", "desc", "g", "line", "path", "polyline", "rect", "svg", "symbol",
    "text", "title", "use",
}  # fmt: skip
VOID = {"meta"}
URLS = {"href", "src", "srcset", "action", "data", "poster", "xlink:href", "style"}


class Reader(HTMLParser):
    """Reads a page and checks that it is nested as it should be."""

    def __init__(self):
        super().__init__()
        self.open = []
        self.tags = set()
        self.links = []
        self.shown = []
        self.ids = []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        for name, value in attrs:
            assert not name.startswith("on"), (tag, name)
            if name in URLS:
                self.links.append(value)
            if name == "id":
                self.ids.append(value)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not {"style", "title", "desc"} & set(self.open):
            self.shown.extend(filter(None, [data.strip()]))


def read(page):
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    assert reader.tags <= HTML | SVG
    assert len(reader.ids) == len(set(reader.ids))
    for link in reader.links:
        assert link.startswith(("#", "data:application/json;base64,"))
    return reader


def svgs(page):
    """The page's pictures; a picture within a picture belongs to it."""
    depth = start = 0
    for tag in re.finditer("<svg|</svg>", page):
        if tag[0] == "<svg":
            start = tag.start() if depth == 0 else start
            depth += 1
        else:
            depth -= 1
            if depth == 0:
                yield page[start : tag.end()]


@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_a_page_asks_for_nothing_and_is_well_formed(make):
    page = render_page(make())
    read(page)
    for svg in svgs(page):
        ET.fromstring(svg)
    policy = re.search('Content-Security-Policy" content="([^"]*)"', page)[1]
    sheet = re.search("<style>(.*?)</style>", page, re.DOTALL)[1]
    allowed = base64.b64encode(sha256(sheet.encode()).digest()).decode()
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{allowed}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    assert not re.search(r"<[^>]* (style|on\w+)=", page)
    for word in ("<script", "@import", "url(", "@font-face", "http:", "https:"):
        assert word not in page.replace('xmlns="http://www.w3.org/2000/svg"', "")


@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_a_page_gives_its_record_back(make):
    record = make()
    page = render_page(record)
    data = extract_record(page)
    assert decode(data) == record
    assert data == encode(record)
    assert render_page(decode(data), data) == page


def test_the_stored_bytes_are_embedded_as_they_are():
    record = samples.genuine_h100()
    stored = encode(record) + b"\n"
    assert extract_record(render_page(record, stored)) == stored


def test_the_verdict_is_the_first_thing_to_read():
    shown = read(render_page(samples.mirrored_1070())).shown
    assert shown[0] == "≠"
    assert shown[1].replace("\xa0", " ") == samples.mirrored_1070().verdict.sentence


def test_then_comes_the_ledger():
    shown = " | ".join(read(render_page(samples.mirrored_1070())).shown)
    ledger = (
        "Claimed and found | Fact | Claimed | Found | A genuine one shows | "
        "≠ | Memory size | decisive, contradicts | 8.00 GiB | "
        "2.00 GiB proven, the rest mirrors it | 7.60 to 8.00 GiB, none mirrored | "
        "74.2 % of the cells show"
    )
    assert ledger in shown
    places = [
        shown.index(title)
        for title in (
            "Claimed and found",
            "The memory, block by block",
            "How fast it works",
            "What its sensors said meanwhile",
            "How it was tested",
            "Bear in mind",
            "Raw figures",
        )
    ]
    assert places == sorted(places)


def test_practice_is_said_first_and_last():
    shown = read(render_page(samples.practice("hollow"))).shown
    notice = "Practice run: no real card was tested. Simulated: hollow."
    assert shown[0] == shown[-1] == notice
    assert "Practice" not in " ".join(read(render_page(samples.mirrored_1070())).shown)


def test_an_interrupted_run_says_so_first():
    assert read(render_page(samples.interrupted())).shown[0] == words.INTERRUPTED


def test_raw_figures_are_folded():
    page = render_page(samples.genuine_h100())
    assert page.count("<details>") == page.count("<table>") > 5
    assert "<details open" not in page


def test_sensors_that_are_missing_say_why():
    record = samples.genuine_h100()
    silent = replace(record.telemetry, samples=(), missing="NVML is not installed.")
    page = render_page(replace(record, telemetry=silent))
    assert "NVML is not installed." in read(page).shown


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
def test_hostile_text_stays_text(make, text):
    record = with_every_text(make(), text)
    page = render_page(record)
    shown = read(page).shown
    for svg in svgs(page):
        ET.fromstring(svg)
    assert decode(extract_record(page)) == record
    assert len(page) < 2_000_000 + 2 * len(encode(record))
    assert not {"49", "alert(1)"} & set(shown)


@settings(max_examples=25)
@given(records())
def test_any_record_has_a_page(record):
    page = render_page(record)
    read(page)
    assert decode(extract_record(page)) == record


@pytest.mark.parametrize(
    ("page", "message"),
    [
        ("<p>nothing", "the page carries no record"),
        ('<a id="record" href="x">', "the page carries no record"),
        (
            '<a id="record" href="data:application/json;base64,?">',
            "the record in the page is damaged",
        ),
    ],
)
def test_a_page_without_a_record_is_refused(page, message):
    with pytest.raises(RecordError, match=f"^{message}$"):
        extract_record(page)


def test_the_page_of_a_comparison_says_who_reads_it():
    page = b'<p><a id="before" href="x"></a><a id="after" href="x"></a>'
    with pytest.raises(RecordError, match="`cardassay compare` reads"):
        record_bytes(page, "page.html")
