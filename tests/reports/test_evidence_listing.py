"""A listing's words: kept line by line, made harmless, read from whatever was saved.

Character references and the elements that are never shown are those of the HTML
Standard (WHATWG), sections 13.5 and 15.3.1; from memory.
"""

import time
from hashlib import sha256

import pytest
from record_strategies import HOSTILE

from reports.evidence import listing as listings
from reports.evidence.case import LISTING_SIGNS
from reports.evidence.errors import EvidenceError

PAGE = """<!DOCTYPE html>
<html><head><title>Not shown</title><style>p { color: red }</style>
<script>var x = "<p>never</p>";</script></head>
<body><!-- hidden --><h1>GTX&nbsp;1070 &amp; box</h1><p>8&#x20;GB,
like <b>new</b></p><ul><li>one<li>two</ul><p>3 < 4</p>
<noscript>never</noscript><svg><text>never</text></svg></body></html>"""


def test_words_are_kept_with_their_lines_and_blanks():
    text = "  GTX 1070\n\n   8 GB,\ttested \n- no returns"
    found = listings.of_text(text)
    assert found.text == "GTX 1070\n\n   8 GB,    tested\n- no returns"
    assert found.sha256 == sha256(text.encode()).hexdigest()
    assert not found.from_page


@pytest.mark.parametrize(
    "code", ["utf-8", "utf-8-sig", "utf-16", "cp1252"]
)  # as editors on Linux, Windows and old systems write
def test_text_files_of_every_usual_coding_are_read(code):
    text = "Grafikkarte für 95 €, geprüft\r\nzweite Zeile"
    found = listings.of_file(text.encode(code), "a.txt")
    assert found.text == "Grafikkarte für 95 €, geprüft\nzweite Zeile"


def test_big_endian_is_read_too():
    data = b"\xfe\xff" + "GTX 1070 für".encode("utf-16-be")
    assert listings.of_file(data, "a").text == "GTX 1070 für"


def test_of_a_page_the_text_alone_is_taken():
    found = listings.of_file(PAGE.encode(), "offer.html")
    assert found.from_page
    assert [line for line in found.text.split("\n") if line] == [
        "GTX 1070 & box", "8 GB,", "like new", "one", "two", "3 < 4",
    ]  # fmt: skip


@pytest.mark.parametrize("text", [one for one in HOSTILE if one.strip()])
def test_hostile_words_become_harmless_and_stay_words(text):
    found = listings.of_text(f"x {text} y")
    for sign in found.text:
        assert sign == "\n" or sign.isprintable()
    assert listings.kept(found.text) == found.text
    for one in ("<script", "<img", "[red]"):
        assert (one in text) == (one in found.text)


def test_a_long_listing_is_cut_and_says_how_long_it_was():
    found = listings.of_text("ab " * LISTING_SIGNS)
    assert len(found.text) <= LISTING_SIGNS
    assert found.signs == 3 * LISTING_SIGNS - 1


@pytest.mark.parametrize("text", ["", "  \n\t ", "<html><script>x</script></html>"])
def test_nothing_said_is_an_error(text):
    with pytest.raises(EvidenceError, match="there is no text in it"):
        listings.of_file(text.encode(), "a.txt")
    if "<" not in text:
        with pytest.raises(EvidenceError, match=r"^--listing: "):
            listings.of_text(text)


def test_what_is_no_text_or_too_much_is_refused():
    with pytest.raises(EvidenceError, match=r"a\.pdf: not a text file; save"):
        listings.of_file(b"%PDF-1.7\0\1\2", "a.pdf")
    with pytest.raises(EvidenceError, match="larger than 4 MiB"):
        listings.of_file(b"a" * (listings.FILE_LIMIT + 1), "a.txt")


@pytest.mark.parametrize(
    "part", ["<", "<!--", "<a ", "</", "<script>", "<p>", "&amp;", "&#", "<!", "\n"]
)
def test_reading_a_page_takes_time_in_proportion(part):
    """Processor seconds for a quarter of a MiB; by its square it would take hours."""
    data = ("<html>x" + part * (2**18 // len(part))).encode()
    before = time.process_time()
    assert listings.of_file(data, "a").signs >= 1
    assert time.process_time() - before < 2.0


@pytest.mark.parametrize(
    "data",
    [
        b"%PDF-1.4\nGTX 1070",
        b"{\\rtf1\\ansi GTX 1070}",
        b"PK\x03\x04 GTX 1070",
        (
            b"From: <Saved by a browser>\r\nMIME-Version: 1.0\r\nContent-Type: "
            b'multipart/related;\r\n\ttype="text/html"\r\n\r\n<html>'
        ),
    ],
)
def test_documents_that_only_look_like_text_are_refused(data):
    """ISO 32000-1, 7.5.2; RTF 1.9.1; ZIP (APPNOTE 4.3.7); RFC 2557. From memory."""
    with pytest.raises(EvidenceError, match=r"^a: not a text file; save .* plain text"):
        listings.of_file(data, "a")
