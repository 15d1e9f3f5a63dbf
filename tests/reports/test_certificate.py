"""Certificates: what is refused, what holds, and that no byte changes unseen."""

import re
from datetime import UTC, datetime, timedelta
from functools import cache
from hashlib import sha256
from html.parser import HTMLParser
from pathlib import Path
from random import Random

import numpy as np
import pytest
import rfc8032
import samples
import zxingcpp
from msgspec.structs import replace

from reports import codec
from reports.certificate import keys, qr, sheet, statement
from reports.certificate.checking import verify
from reports.certificate.encoding import from_base64, to_base64
from reports.certificate.errors import CertificateError, RefusedError
from reports.certificate.making import certify
from reports.certificate.refusals import refusals
from reports.certificate.signing import Signed, encoded
from reports.errors import RecordError
from reports.lasting import Incident, Soak
from reports.page import extract_record
from reports.record import CellCounts

GOLDEN = Path(__file__).parents[1] / "data" / "golden" / "h100-sxm.json"
NOW = datetime(2026, 11, 30, 12, tzinfo=UTC)
POSITIONS = 1000


@cache
def key():
    return keys.new_key()


@cache
def stored():
    return GOLDEN.read_bytes()


def made(data=None, **more):
    asked = {
        "stock_no": "S-0042",
        "operator": "R. Ámund",
        "key": key(),
        "now": NOW,
        "program": "0.1.0",
        **more,
    }
    return certify(stored() if data is None else data, **asked)


@cache
def whole():
    return made()


def holds(data, record=None, **more):
    """Whether a certificate is taken as whole, by anything that it may end in."""
    try:
        found = verify(data, record, now=NOW, **more)
    except RecordError:
        return False
    return found.holds and found.complete


# ------------------------------------------------------------------- what it holds


def test_what_was_certified_holds_as_page_and_as_file():
    found = verify(whole().page, None, now=NOW)
    assert (found.holds, found.complete, found.notes) == (True, True, ())
    assert [one.what for one in found.checks] == ["statement", "page", "record"]
    assert found.statement.stock_no == "S-0042"
    assert found.statement.operator == "R. Ámund"
    assert found.statement.signed == "2026-11-30T12:00:00Z"
    assert found.record == codec.decode(stored())
    small = verify(whole().certificate, stored(), now=NOW)
    assert (small.holds, small.complete) == (True, True)
    assert small.statement == found.statement


def test_signatures_lie_over_stored_bytes_by_another_reader_too():
    parts = statement.decode(whole().certificate)
    for kind, payload, signature in (
        (Signed.RECORD, stored(), parts.record_signature),
        (Signed.STATEMENT, parts.statement_bytes, parts.statement_signature),
    ):
        assert rfc8032.is_signed(parts.key, encoded(kind, payload), signature)
    signature, page = sheet.signature_in(whole().page, "page")
    assert rfc8032.is_signed(parts.key, encoded(Signed.PAGE, page), signature)


def test_the_stored_bytes_are_signed_not_an_encoding_of_ours():
    loose = stored().replace(b'"practice": false', b'"practice" :  false', 1)
    assert codec.decode(loose) == codec.decode(stored())
    certified = made(loose)
    assert certified.statement.record_sha256 == sha256(loose).hexdigest()
    assert holds(certified.certificate, loose)
    assert not holds(certified.certificate, stored())
    assert extract_record(certified.page.decode()) == loose


def test_the_page_gives_record_and_certificate_back():
    page = whole().page
    assert extract_record(page.decode()) == stored()
    assert sheet.carried(page, "page") == whole().certificate
    assert holds(page, page)


def test_without_its_record_a_certificate_is_not_complete():
    found = verify(whole().certificate, None, now=NOW)
    assert (found.holds, found.complete) == (True, False)


def test_another_key_is_told():
    own, other = key().public.fingerprint, keys.new_key().public.fingerprint
    assert holds(whole().page, expected=own)
    found = verify(whole().page, None, now=NOW, expected=other)
    assert [one.what for one in found.checks if not one.holds] == ["key"]


def test_a_page_put_together_from_two_certificates_is_refused():
    other = made(stock_no="S-0043")
    link = to_base64(whole().certificate).encode()
    mixed = other.page.replace(to_base64(other.certificate).encode(), link)
    assert mixed != other.page
    assert not holds(mixed)


def test_a_strangers_key_in_the_same_statement_is_refused():
    stranger = keys.new_key()
    old = to_base64(key().public.raw).encode()
    new = to_base64(stranger.public.raw).encode()
    assert not holds(whole().certificate.replace(old, new), stored())


# ------------------------------------------------------- no byte changes unseen


def changed_somewhere(data, count, seed):
    rnd = Random(seed)
    places = rnd.sample(range(len(data)), min(count, len(data)))
    for at in places:
        changed = bytearray(data)
        changed[at] ^= rnd.randrange(1, 256)
        yield at, bytes(changed)


def test_every_changed_byte_of_the_page_is_refused():
    page = whole().page
    taken = [at for at, one in changed_somewhere(page, POSITIONS, 1) if holds(one)]
    assert taken == []


def test_every_changed_byte_of_what_the_page_shows_is_refused():
    page = whole().page
    end = page.index(b'id="record"')
    taken = []
    for at, head in changed_somewhere(page[:end], POSITIONS, 2):
        if holds(head + page[end:]):
            taken.append(at)
    assert taken == []


def test_every_changed_byte_of_the_certificate_is_refused():
    small = whole().certificate
    assert len(small) < POSITIONS  # so all of them
    for bits in range(3):
        taken = [
            at
            for at, one in changed_somewhere(small, POSITIONS, 10 + bits)
            if holds(one, stored())
        ]
        assert taken == []


def test_every_changed_byte_of_the_record_is_refused():
    small = whole().certificate
    changes = changed_somewhere(stored(), POSITIONS, 3)
    assert [at for at, one in changes if holds(small, one)] == []


def test_bytes_added_or_left_out_are_refused():
    page, small = whole().page, whole().certificate
    for one in (page + b"\n", page[:-1], b"\n" + page, page.replace(b"\n", b"\r\n")):
        assert not holds(one)
    for one in (small + b" ", small[:-1], b" " + small, small.replace(b"\n", b"")):
        assert not holds(one, stored())
    assert not holds(small, stored() + b"\n")
    assert not holds(small, stored()[:-1])


def test_the_bits_that_base64_leaves_over_cannot_be_used():
    assert from_base64("QQ==") == b"A"
    for text in ("QR==", "QQ", "QQ==\n", "Q Q==", "", "=", "Ä"):
        if text:
            with pytest.raises(ValueError, match=r".*"):
                from_base64(text)


def test_what_is_no_certificate_is_said_in_words():
    said = {
        b"": "c: not a certificate: ",
        b"{}": "c: not a certificate: Object missing required field",
        b"<p>hello": "c: the page carries no certificate",
        b" " * 20000: "c: not a certificate: larger than 16384 bytes",
        b"[" * 9000: "c: not a certificate: ",
        whole().page + whole().page: "c: the page carries more than one certificate",
    }
    for data, start in said.items():
        with pytest.raises(CertificateError) as raised:
            verify(data, None, now=NOW, name="c")
        assert str(raised.value).startswith(start)


# ------------------------------------------------------------------ what is refused


def golden(**fields):
    return replace(codec.decode(stored()), **fields)


def soaked(**fields):
    return golden(soak=Soak(asked_seconds=300.0, seconds=300.0, **fields))


SOUND = CellCounts(cells=8, intact=8)
BROKEN = CellCounts(cells=8, intact=7, failing=1)
CUT = Incident(kind="hung", phase="capacity", doing="Memory, first pass: writing")
REFUSED = {
    "practice": (lambda: golden(practice=True), "It is a practice run"),
    "interrupted": (lambda: golden(interrupted=True), "stopped before its end"),
    "no verdict": (lambda: golden(verdict=None), "It has no verdict"),
    "quick": (lambda: golden(depth="quick"), "It was tested at quick depth"),
    "incident": (lambda: golden(incidents=(CUT,)), "cut off on its way"),
    "wrong results": (lambda: soaked(wrong=1), "something came out wrong"),
    "wrong memory": (lambda: soaked(cells=BROKEN), "did not keep what was written"),
    "soak cut": (lambda: soaked(stopped_by="too hot"), "before its time: too hot"),
    "no date": (lambda: golden(started="once"), "does not say when"),
    "old": (lambda: golden(started="2026-10-30T00:00:00+00:00"), "31 days old"),
    "to come": (lambda: golden(started="2026-11-30T13:00:00Z"), "still to come"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_its_reason(name):
    make, said = REFUSED[name]
    with pytest.raises(RefusedError, match=said) as raised:
        made(codec.encode(make()))
    assert len(raised.value.reasons) == 1


@pytest.mark.parametrize("outcome", ["not as claimed", "faulty", "undetermined"])
def test_no_other_verdict_is_certified(outcome):
    record = codec.decode(stored())
    other = replace(record, verdict=replace(record.verdict, outcome=outcome))
    with pytest.raises(RefusedError, match=f"Its verdict is “{outcome}”"):
        made(codec.encode(other))


def test_all_reasons_are_told_at_once():
    with pytest.raises(RefusedError) as raised:
        made(codec.encode(replace(samples.practice(), depth="quick", interrupted=True)))
    assert len(raised.value.reasons) == 4


def test_a_sound_soak_and_more_days_are_no_reasons():
    assert refusals(soaked(cells=SOUND), NOW) == ()
    assert refusals(golden(depth="thorough"), NOW) == ()
    old = golden(started="2026-10-30T00:00:00+00:00")
    assert refusals(old, NOW, max_age_days=32) == ()


def test_clocks_may_differ_by_minutes_but_not_by_more():
    began = datetime(2026, 11, 25, 21, 41, 26, tzinfo=UTC)
    assert refusals(golden(), began - timedelta(minutes=4)) == ()
    (said,) = refusals(golden(), began - timedelta(minutes=6))
    assert "set the clock right" in said
    east = golden(started="2026-11-30T21:00:00+09:00")
    assert refusals(east, NOW) == ()


def test_a_date_to_come_is_told_and_breaks_nothing():
    ahead = made(now=NOW + timedelta(days=1))
    found = verify(ahead.page, None, now=NOW)
    assert found.holds
    assert len(found.notes) == 1
    assert "one of the two clocks is wrong" in found.notes[0]


def test_what_this_program_would_not_have_certified_is_told(monkeypatch):
    monkeypatch.setattr("reports.certificate.making.refusals", lambda *_: ())
    bad = made(codec.encode(golden(depth="quick", practice=True)))
    found = verify(bad.page, None, now=NOW)
    assert found.holds
    assert len(found.notes) == 2
    assert all("would not certify it" in note for note in found.notes)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "--stock-no: nothing is said"),
        ("  ", "--stock-no: nothing is said"),
        ("x" * 81, "--stock-no: longer than 80 characters"),
        ("a\nb", "--stock-no: holds signs that cannot be printed on one line"),
        ("a\u202eb", "--stock-no: holds signs"),
        ("a\x1b[31mb", "--stock-no: holds signs"),
    ],
)
def test_names_are_bounded(text, said):
    with pytest.raises(CertificateError) as raised:
        made(stock_no=text)
    assert str(raised.value).startswith(said)


# ------------------------------------------------------------------------- the page


class Seen(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.words = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes.extend((tag, name, value) for name, value in attrs)

    def handle_data(self, data):
        self.words.append(data)


def seen(page):
    parser = Seen()
    parser.feed(page.decode())
    return parser


def test_the_page_asks_for_nothing_and_runs_nothing():
    page = seen(whole().page)
    assert not {"script", "img", "iframe", "link", "object"} & set(page.tags)
    policy = next(v for t, n, v in page.attributes if n == "content" and "src" in v)
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in policy
    style = re.search(rb"<style>(.*?)</style>", whole().page, re.DOTALL)[1]
    assert to_base64(sha256(style).digest()) in policy
    for _, name, value in page.attributes:
        assert name != "style"
        assert not name.startswith("on")
        if name in {"href", "src"}:
            assert value.startswith("data:application/json;base64,")


def test_hostile_names_stay_text():
    hostile = made(stock_no='<b onclick="x">', operator="</title><script>&amp;")
    assert holds(hostile.page)
    page = seen(hostile.page)
    assert "script" not in page.tags
    assert "b" not in page.tags
    assert '<b onclick="x">' in "".join(page.words)


def test_the_code_says_key_and_record_to_another_reader():
    said = qr.words_in(key().public.fingerprint, whole().statement.record_sha256)
    grid = np.pad(np.array(qr.modules(said)), qr.QUIET)
    image = np.where(np.kron(grid, np.ones((4, 4), bool)), 0, 255).astype(np.uint8)
    (read,) = zxingcpp.read_barcodes(image)
    assert read.text == said
    assert read.text.split() == [
        "CARDASSAY",
        "CERTIFICATE",
        "KEY",
        key().public.fingerprint.upper(),
        "RECORD",
        sha256(stored()).hexdigest().upper(),
    ]


def test_the_picture_is_the_code():
    said = qr.words_in(key().public.fingerprint, whole().statement.record_sha256)
    assert qr.picture(said).encode() in whole().page
    grid = qr.modules(said)
    drawn = [[False] * len(grid) for _ in grid]
    for x, y, wide in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", qr.picture(said)):
        for place in range(int(wide)):
            drawn[int(y) - qr.QUIET][int(x) - qr.QUIET + place] = True
    assert tuple(map(tuple, drawn)) == grid
