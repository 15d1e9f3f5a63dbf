"""The pack: zip, page, letter; what is in it, what is not, and that it holds together.

Checksums are read back as GNU coreutils' `sha256sum -c` reads them, by itself where it
is installed and by hashlib everywhere.
"""

import base64
import html
import re
import shutil
import subprocess
import zipfile
from hashlib import sha256
from io import BytesIO

import evidence_parts as parts
import pytest
import samples
from command_line import shipped
from msgspec.structs import replace
from record_strategies import HOSTILE, with_every_text

from reference.judge import judge
from reports import codec
from reports.evidence import case as cases
from reports.evidence.case import Order
from reports.evidence.errors import EvidenceError
from reports.evidence.languages import LANGUAGES, wording
from reports.evidence.letter import BLANK
from reports.evidence.sheet import open_page, render_page
from reports.evidence.speech import day

ORDER = Order(
    number="2026-4711", seller="Musterhandel", bought="2026-11-20",
    price="95.00 EUR", buyer="R. Amund",
)  # fmt: skip
ACCUSING = re.compile(
    r"fraud|scam|crim|illegal|counterfeit|fake|forge|cheat|deceiv|liar|lied|lawsuit"
    r"|betrug|betrüg|straf|anzeige\b|gefälscht|fälsch|täusch|lüg|anwalt|gericht"
    r"|estafa|fraude|delito|denuncia|falsific|falso|engañ|mentir|abogado|juzgado",
    re.IGNORECASE,
)


@pytest.fixture(scope="module")
def mirrored():
    return parts.after_test("mirrored")


@pytest.fixture(scope="module")
def made(mirrored):
    """A pack with everything in it."""
    record, data = mirrored
    photos = [
        parts.photo(parts.jpeg(), "die.jpg", 1, shows="die"),
        parts.photo(parts.heic(6), "IMG 2.HEIC", 2, shows="label"),
        parts.photo(parts.png(), "\u202egnp.exe", 3),
    ]
    return parts.pack(data, "de", photos=photos, order=ORDER), record, data


def test_the_zip_holds_what_it_says_and_in_order(made):
    pack, _, data = made
    found = parts.inside(pack)
    assert list(found) == [
        "README.txt", "evidence.html", "letter.txt", "report.html", "record.json",
        "listing.txt", "evidence.json", "photo-1.jpg", "photo-2.jpg", "photo-3.jpg",
        "hashes.txt",
    ]  # fmt: skip
    assert found["record.json"] == data
    assert found["evidence.html"] == pack.page
    assert found["letter.txt"].decode() == pack.letter
    assert found["listing.txt"].decode() == parts.WORDS + "\n"
    assert b"Assay sheet" in found["report.html"]
    readme = found["README.txt"].decode()
    for name in found:
        assert name == "README.txt" or f"\n{name}: " in readme


def test_checksums_are_of_every_file(made):
    found = parts.inside(made[0])
    lines = found.pop("hashes.txt").decode().splitlines()
    told = {line[66:]: line[:64] for line in lines}
    assert all(line[64:66] == "  " for line in lines)
    assert told == {name: sha256(data).hexdigest() for name, data in found.items()}


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="no GNU coreutils here")
def test_sha256sum_agrees_and_misses_a_changed_letter(made, tmp_path):
    with zipfile.ZipFile(BytesIO(made[0].zipped)) as archive:
        archive.extractall(tmp_path)
    check = ["sha256sum", "--check", "--strict", "--quiet", "hashes.txt"]
    assert subprocess.run(check, cwd=tmp_path, check=False).returncode == 0
    letter = tmp_path / "letter.txt"
    letter.write_bytes(letter.read_bytes() + b" ")
    ended = subprocess.run(check, cwd=tmp_path, check=False, capture_output=True)
    assert ended.returncode == 1
    assert b"letter.txt" in ended.stdout


def test_it_is_the_same_each_time_and_names_no_owner(made, mirrored):
    again = parts.pack(mirrored[1], "en")
    assert again.zipped == parts.pack(mirrored[1], "en").zipped
    assert again.sha256 == sha256(again.zipped).hexdigest()
    with zipfile.ZipFile(BytesIO(made[0].zipped)) as archive:
        for one in archive.infolist():
            assert one.date_time == (1980, 1, 1, 0, 0, 0)
            assert (one.create_system, one.external_attr) == (3, 0o644 << 16)
            assert (one.extra, one.comment) == (b"", b"")
        assert archive.comment == b""


def test_nothing_that_a_camera_noted_is_anywhere(made):
    found = parts.inside(made[0])
    page = found["evidence.html"].decode()
    pictures = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', page)
    assert len(pictures) == 3
    everything = [*found.values(), *map(base64.b64decode, pictures)]
    for data in everything:
        for word in (parts.MAKE, parts.SERIAL, "Exif\0", "GPSLatitude", "gnp.exe"):
            assert word.encode() not in data


def test_the_page_tells_what_became_of_places_and_originals(made):
    text = html.unescape(made[0].page.decode())
    form = wording("de").page
    assert text.count(form.place_removed) == 3
    assert "Foto 1: Die Beschriftung des Grafikchips" in text
    assert "das Original von photo-1.jpg" in text
    assert "die.jpg" not in text
    assert "das Original von photo-3.jpg" in text
    assert sha256(parts.jpeg()).hexdigest() in text
    for name, data in parts.inside(made[0]).items():
        if name not in ("README.txt", "evidence.html", "evidence.json", "hashes.txt"):
            assert sha256(data).hexdigest() in text, name


def test_a_page_gives_back_all_that_it_was_made_from(made):
    pack, record, data = made
    opened = open_page(pack.page, "evidence.html")
    assert opened.data == data
    assert opened.record == record
    assert cases.encode(opened.case) == parts.inside(pack)["evidence.json"]
    again = render_page(opened.case, opened.record, opened.data, opened.smalls)
    assert again.encode() == pack.page
    assert opened.case.order == ORDER


def test_a_page_with_a_changed_photo_is_not_taken(made):
    page = made[0].page
    at = page.index(b"image/jpeg;base64,") + 400
    other = b"A" if page[at : at + 1] != b"A" else b"B"
    with pytest.raises(EvidenceError, match=r"photo-1\.jpg in the page is damaged"):
        open_page(page[:at] + other + page[at + 1 :])


def test_a_case_has_one_spelling(made):
    data = parts.inside(made[0])["evidence.json"]
    assert cases.encode(cases.decode(data)) == data
    for other in (
        data + b" ",
        data.replace(b'"schema": 1', b'"schema":1'),
        data.replace(b"{", b'{"schema": 1,', 1),
        data.replace(b'"de"', b'"deu"'),
        b" " * (cases.CASE_LIMIT + 1),
        b"[]",
        b"\xff",
    ):
        with pytest.raises(EvidenceError):
            cases.decode(other)


def test_the_policy_allows_one_sheet_and_pictures_within(made):
    page = made[0].page.decode()
    policy = re.search('Content-Security-Policy" content="([^"]*)"', page)[1]
    sheet = re.search("<style>(.*?)</style>", page, re.DOTALL)[1]
    allowed = base64.b64encode(sha256(sheet.encode()).digest()).decode()
    assert f"style-src 'sha256-{allowed}'" in policy
    assert "default-src 'none'" in policy
    assert not re.search(r"<[^>]* (style|on\w+)=", page)
    for word in ("<script", "@import", "url(", "http:", "https:"):
        assert word not in page


@pytest.mark.parametrize("text", [one for one in HOSTILE if one.strip()])
def test_hostile_texts_stay_texts(text, mirrored):
    record = with_every_text(mirrored[0], text[:200])
    order = Order(**dict.fromkeys(("number", "seller", "price", "buyer"), text[:200]))
    made = parts.pack(record, "es", text=f"x {text}", order=order, others=[text[:200]])
    page = made.page.decode()
    head, _, body = page.partition("</style>")
    links = re.sub(r'href="data:[^"]*"', "", body)
    assert not re.search(
        r"<(script|img|b|svg|iframe)[\s>]", links.replace("<b>Dec", "")
    )
    assert not re.search(
        "[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", links
    )
    opened = open_page(made.page)
    again = render_page(opened.case, opened.record, opened.data, opened.smalls)
    assert again.encode() == made.page
    letter = made.letter or ""
    assert not re.search(
        "[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", letter
    )
    assert "<title>" in head


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    ("condition", "kind"),
    [("mirrored", "not"), ("unstable", "faulty"), ("refused", "open")],
)
def test_a_letter_asks_for_what_the_verdict_allows(condition, kind, language):
    record, _ = parts.after_test(condition)
    made = parts.pack(parts.real(record), language, order=ORDER)
    form, letter = wording(language).letter, unwrapped(made.letter)
    subject = {"not": form.subject_not, "faulty": form.subject_faulty,
               "open": form.subject_open}[kind]  # fmt: skip
    assert subject in letter
    assert (form.ask in letter) == (kind != "open")
    assert (form.ask_nothing in letter) == (kind == "open")
    for value in ("2026-4711", "Musterhandel", "95.00 EUR", "R. Amund"):
        assert value in letter
    bought = {"de": "Gekauft am: 20. November 2026",
              "en": "Bought on: 20 November 2026",
              "es": "Fecha de compra: 20 de noviembre de 2026"}  # fmt: skip
    assert bought[language] in letter
    assert not re.search(r"\d{4}-\d\d-\d\d", letter)
    assert ("GiB" in letter) == (wording(language).page.gib in letter)
    assert BLANK not in letter
    assert not ACCUSING.search(letter), ACCUSING.search(letter)
    assert html.escape(subject, quote=False) in made.page.decode()
    assert "PRACTICE" not in letter
    assert all(len(line) <= 76 for line in made.letter.splitlines())


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_not_known_is_left_blank(language, mirrored):
    letter = parts.pack(mirrored[1], language).letter
    assert letter.count(BLANK) == 5
    assert day(parts.MADE, wording(language)) in letter


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_card_that_is_as_sold_gets_no_letter(language):
    record, data = parts.after_test("as-claimed")
    assert record.verdict.outcome == "as claimed"
    made = parts.pack(data, language)
    assert made.letter is None
    assert "letter.txt" not in parts.inside(made)
    page = html.unescape(made.page.decode())
    assert wording(language).page.no_letter_right in page
    assert wording(language).letter.ask not in page


@pytest.mark.parametrize("language", LANGUAGES)
def test_practice_is_said_first_and_last_everywhere(language, mirrored):
    made = parts.pack(mirrored[1], language)
    said = wording(language).letter.practice
    for text in (made.letter, parts.inside(made)["README.txt"].decode()):
        lines = [line for line in text.splitlines() if line]
        assert lines[0] == lines[-1] == said
    page = html.unescape(made.page.decode())
    notice = wording(language).page.practice.format(condition="mirrored")
    body = re.sub("<[^>]*>", "", page[page.index("<body>") :]).strip()
    assert body.startswith(notice)
    assert body.endswith(notice)


def test_without_a_claim_nothing_is_asked_of_a_seller():
    """What the card says of itself is not what it was sold as."""
    record, data = parts.after_test("mirrored", listed=False)
    assert record.verdict.outcome == "not as claimed"
    made = parts.pack(data, held="none", text="graphics card, works")
    assert made.letter is None
    page = html.unescape(made.page.decode())
    form = wording("en").page
    assert form.not_held in page
    assert form.no_letter_not_held in page
    assert "Reported as a GeForce GTX 1070 with 8.00 GiB." in page.replace("\xa0", " ")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_letter_does_not_speak_of_measuring_where_nothing_was_measured(language):
    """Only what the card says of itself was read: no driver to compute with."""
    record, _ = parts.after_test("honest-after-reflash")
    bare = {"capacity": None, "rates": (), "structure": None, "soak": None}
    record = judge(replace(parts.real(record), **bare), shipped())
    assert record.verdict.outcome == "not as claimed"
    form, letter = (
        wording(language).letter,
        unwrapped(parts.pack(record, language).letter),
    )
    fields = {
        "day": day(record.started, wording(language)),
        "version": record.program.version,
    }
    assert form.read.format(**fields) in letter
    assert form.tested.format(**fields) not in letter
    assert form.facts_only in letter


def test_a_readme_says_to_look_everything_through(made):
    assert wording("de").readme.look in parts.inside(made[0])["README.txt"].decode()


def test_a_fault_is_one_whatever_it_was_sold_as():
    record, _ = parts.after_test("unstable", listed=False)
    made = parts.pack(parts.real(record), held="none", text="graphics card, works")
    assert wording("en").letter.subject_faulty in made.letter
    assert wording("en").letter.offered_enclosed in unwrapped(made.letter)


def test_a_record_judged_anew_lies_beside_the_one_that_was_stored():
    stored = parts.after_test("mirrored", listed=False)[1]
    judged = parts.after_test("mirrored")[0]
    made = parts.pack(
        stored, held="listing", judged=judged, others=["GeForce GTX 1080"]
    )
    found = parts.inside(made)
    assert found["record.json"] == stored
    assert found["record-judged.json"] == codec.encode(judged)
    opened = open_page(made.page)
    assert opened.record == judged
    assert opened.case.stored_sha256 == sha256(stored).hexdigest()
    page = html.unescape(made.page.decode())
    form = wording("en").page
    assert form.judged_listing.format(claim="GeForce GTX 1070, 8.00 GiB") in page
    assert form.check_anew in page
    assert "names GeForce GTX 1080; the card was judged as" in page


@pytest.mark.parametrize("make", samples.EVERY.values(), ids=samples.EVERY)
@pytest.mark.parametrize("language", ["en", "de"])
def test_every_kind_of_record_makes_a_pack(make, language):
    made = parts.pack(make(), language)
    opened = open_page(made.page)
    again = render_page(opened.case, opened.record, opened.data, opened.smalls)
    assert again.encode() == made.page


def test_a_record_without_a_verdict_asks_for_nothing():
    record = replace(parts.after_test("mirrored")[0], verdict=None, findings=())
    made = parts.pack(parts.real(record))
    assert wording("en").verdict.none in html.unescape(made.page.decode())
    assert wording("en").letter.ask not in unwrapped(made.letter)


def test_a_long_listing_is_cut_on_the_page_and_says_so(mirrored):
    made = parts.pack(mirrored[1], "de", text="ab " * cases.LISTING_SIGNS)
    page = html.unescape(made.page.decode())
    assert "Hier ist der Text gekürzt: Er hat 29.999 Zeichen" in page


def unwrapped(letter):
    """A letter with its lines joined again."""
    blocks = letter.replace("\N{NO-BREAK SPACE}", " ").split("\n\n")
    return "\n\n".join(" ".join(block.split()) for block in blocks)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_letter_counts_its_photos(language, mirrored):
    form = wording(language).letter
    forms = (form.enclosed, form.enclosed_photo, form.enclosed_photos)
    for count, said in enumerate(forms):
        photos = [parts.photo(number=one + 1) for one in range(count)]
        assert said in unwrapped(
            parts.pack(mirrored[1], language, photos=photos).letter
        )
