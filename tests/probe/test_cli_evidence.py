"""`evidence` from the command line: from a test to a sent letter in three commands.

The buyer's way, whole: check, inspect, evidence. Seller, order and card are invented.
"""

import getpass
import html
import socket
from hashlib import sha256
from pathlib import Path

import evidence_parts as parts
import pytest
from command_line import keep_table
from msgspec.structs import replace

from probe import cli, evidence
from reports import codec
from reports.errors import RecordError
from reports.evidence.languages import wording
from reports.evidence.sheet import open_page
from reports.page import record_bytes
from reports.record import Claim

WORDS = "Selling my GeForce GTX 1070 8GB, works fine.\n  Collection only."


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


def run(capsys, *argv):
    capsys.readouterr()
    code = cli.main([*map(str, argv)])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.fixture
def folder(tmp_path):
    """A record, as stored, without what the card was sold as; and a photo."""
    (tmp_path / "record.json").write_bytes(
        parts.after_test("mirrored", listed=False)[1]
    )
    (tmp_path / "die.jpg").write_bytes(parts.jpeg())
    return tmp_path


def pack(folder, name="evidence.zip"):
    return parts.inside((folder / name).read_bytes())


def test_from_a_test_to_a_letter_in_three_commands(capsys, tmp_path):
    photo, offer = tmp_path / "die.jpg", tmp_path / "offer.txt"
    photo.write_bytes(parts.jpeg(6))
    offer.write_text(WORDS, "utf-8")
    code, _, _ = run(
        capsys, "check", "--practice", "mirrored", "--claim", "GeForce GTX 1070",
        "--claim-memory", "8GiB", "--quiet", "--out", tmp_path / "d",
    )  # fmt: skip
    assert code == 1
    code, _, _ = run(
        capsys, "inspect", tmp_path / "d" / "record.json", "--die", "GK107-450-A2",
        "--plugs", "none", "--photo", photo, "--out", tmp_path / "d" / "seen.json",
    )  # fmt: skip
    assert code == 1
    code, out, err = run(
        capsys, "evidence", tmp_path / "d" / "seen.json", "--listing", offer,
        "--photo", f"die={photo}", "--order", "2026-4711", "--seller", "Muster GmbH",
        "--bought", "2026-11-20", "--price", "95.00 EUR", "--buyer", "R. Amund",
    )  # fmt: skip
    assert (code, err) == (0, "")
    zipped = tmp_path / "d" / "evidence.zip"
    assert f"SHA-256 of the zip: {sha256(zipped.read_bytes()).hexdigest()}" in out
    assert f"Evidence pack: {zipped}" in out
    assert "consumer law is local" in out
    lines = out.splitlines()
    assert lines[0] == lines[-1]
    assert lines[0].startswith("Practice run: no real card was tested.")
    found = pack(tmp_path / "d")
    letter = " ".join(found["letter.txt"].decode().split())
    assert (
        "To: Muster GmbH Order number: 2026-4711 Bought on: 20 November 2026" in letter
    )
    assert "It was offered as: GeForce GTX 1070, 8.00 GiB." in letter
    assert "Found: a GK107 with 2.00 GiB. Not as claimed." in letter
    assert "The chip is marked GK107-450-A2: that is a GK107" in letter
    assert "____" not in letter
    assert "Kind regards, R. Amund" in letter
    assert found["record.json"] == (tmp_path / "d" / "seen.json").read_bytes()
    page = (tmp_path / "d" / "evidence.html").read_bytes()
    assert page == found["evidence.html"]
    opened = open_page(page)
    assert opened.case.held == "record"
    (one,) = opened.case.photos
    assert one.shows == "die"
    assert one.inspected
    assert (one.width, one.height) == (32, 64)
    assert wording("en").page.inspected in html.unescape(page.decode())
    assert WORDS in html.unescape(page.decode())


def test_nothing_of_the_person_or_the_pc_is_in_it(capsys, folder):
    code, out, _ = run(
        capsys, "evidence", folder / "record.json", "--listing", WORDS, "--photo",
        folder / "die.jpg",
    )  # fmt: skip
    assert code == 0
    own = {str(folder), str(Path.home()), socket.gethostname(), getpass.getuser()}
    for data in (*pack(folder).values(), (folder / "evidence.zip").read_bytes()):
        for word in own:
            if len(word) > 5:  # `root` and `user` are words as well
                assert word.encode() not in data
    assert str(folder) in out  # for the person at the terminal


def test_the_listings_own_words_are_judged_by_and_it_is_said(capsys, folder):
    code, _, err = run(capsys, "evidence", folder / "record.json", "--listing", WORDS)
    assert code == 0
    assert "judged by the listing's own words: GeForce GTX 1070" in err
    opened = open_page((folder / "evidence.html").read_bytes())
    assert opened.case.held == "listing"
    assert opened.case.judged_anew
    assert opened.record.claims[0].source == "taken from the listing's text"
    assert opened.record.claims[0].memory_bytes == 8 * 2**30
    found = pack(folder)
    stored = (folder / "record.json").read_bytes()
    assert found["record.json"] == stored
    assert found["record-judged.json"] == opened.data
    assert codec.decode(stored) == parts.after_test("mirrored", listed=False)[0]


def test_an_option_says_what_it_was_sold_as(capsys, folder):
    code, _, err = run(
        capsys, "evidence", folder / "record.json", "--listing", "a card, works",
        "--claim", "GTX 1070", "--claim-memory", "8GiB",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert open_page((folder / "evidence.html").read_bytes()).case.held == "option"
    assert "letter.txt" in pack(folder)


def test_a_listing_that_names_nothing_is_said_not_to_be_held_against_it(capsys, folder):
    code, out, err = run(
        capsys, "evidence", folder / "record.json", "--listing",
        "better than a GTX 1080: GTX 1070",
    )  # fmt: skip
    assert code == 0
    assert "say with --claim" in err
    assert "There is no letter in it" in out
    opened = open_page((folder / "evidence.html").read_bytes())
    assert opened.case.held == "none"
    assert opened.data == (folder / "record.json").read_bytes()


def test_a_claim_on_record_is_kept_and_another_model_is_said_aside(capsys, tmp_path):
    record = tmp_path / "record.json"
    record.write_bytes(parts.after_test("mirrored")[1])
    code, _, err = run(capsys, "evidence", record, "--listing", "GTX 1080, 8GB")
    assert code == 0
    assert "the listing names GeForce GTX 1080; the card was judged as GeForce" in err
    opened = open_page((tmp_path / "evidence.html").read_bytes())
    assert opened.case.held == "record"
    assert opened.case.other_models == ("GeForce GTX 1080",)
    assert opened.data == record.read_bytes()


def test_a_page_is_a_record_too_even_the_packs_own(capsys, folder):
    first = run(capsys, "evidence", folder / "record.json", "--listing", WORDS)
    page = folder / "evidence.html"
    second = run(
        capsys, "evidence", page, "--listing", WORDS, "--out", folder / "b.zip"
    )
    assert (first[0], second[0]) == (0, 0)
    assert pack(folder, "b.zip")["record.json"] == record_bytes(page.read_bytes(), "p")
    code, out, _ = run(capsys, "show", page)
    assert code == 1
    assert "Not as claimed." in " ".join(out.split())


def test_nothing_is_written_over(capsys, folder):
    args = ("evidence", folder / "record.json", "--listing", WORDS)
    assert run(capsys, *args)[0] == 0
    before = (folder / "evidence.zip").read_bytes()
    code, out, err = run(capsys, *args)
    assert (code, out) == (2, "")
    assert err.endswith("is there already; name another file with --out\n")
    (folder / "evidence.zip").unlink()
    assert run(capsys, *args)[0] == 2  # the page is there still
    assert not (folder / "evidence.zip").exists()
    assert run(capsys, *args, "--out", folder / "c.zip")[0] == 0
    assert (folder / "c.html").exists()
    assert (folder / "c.zip").read_bytes() == before


def test_a_size_that_the_record_was_judged_by_is_kept(capsys, tmp_path):
    record, _ = parts.after_test("mirrored", listed=False)
    size = Claim(layer="listing", source="given by the user", memory_bytes=6 * 2**30)
    record = replace(record, claims=(size, *record.claims))
    (tmp_path / "r.json").write_bytes(codec.encode(record))
    code, _, _ = run(capsys, "evidence", tmp_path / "r.json", "--listing", "GTX 1070")
    assert code == 0
    (claim, *rest) = open_page((tmp_path / "evidence.html").read_bytes()).record.claims
    assert (claim.model, claim.memory_bytes) == ("GeForce GTX 1070", 6 * 2**30)
    assert all(one.layer != "listing" for one in rest)


def test_no_half_of_a_pack_is_left(capsys, folder, monkeypatch):
    def full(data, path):
        if path.suffix == ".zip":
            raise RecordError(f"{path}: cannot be written: No space left on device")
        path.write_bytes(data)

    monkeypatch.setattr(codec, "save", full)
    code, out, err = run(capsys, "evidence", folder / "record.json", "--listing", WORDS)
    assert (code, out) == (2, "")
    assert "No space left on device" in err
    assert not (folder / "evidence.html").exists()


BAD = {
    "--photo gone.jpg": "gone.jpg: cannot be read",
    "--photo die=record.json": "record.json: not a photo in JPEG, PNG, WebP or HEIC",
    "--bought yesterday": "'yesterday' is no date; write it as 2026-11-25",
    "--claim GTX-9999": "the table has no card called",
    "--language xx": "there is no language 'xx'; choose one of de, en, es",
    "--out evidence.html": "--out: names the zip",
    "--listing gone.txt": "there is no file gone.txt",
    "--listing https://shop.example/offer.html": "nothing is fetched from an address",
    "--listing .": "--listing: . is a folder; name the file",
    "--out evidence.HTML": "--out: names the zip",
    "--out evidence": "--out: names the zip",
}


@pytest.mark.parametrize("options", BAD)
def test_what_is_wrong_is_said_and_nothing_is_written(
    options, capsys, folder, monkeypatch
):
    monkeypatch.chdir(folder)
    args = ["evidence", "record.json", "--listing", WORDS, *options.split(" ", 1)]
    code, out, err = run(capsys, *args)
    assert (code, out) == (2, "")
    assert BAD[options] in err
    assert len(err.splitlines()) == 1
    assert sorted(one.name for one in folder.iterdir()) == ["die.jpg", "record.json"]


ACCUSING = {
    "like a GTX 1080 but cheaper, 8GB": "which the card does not call itself",
    "replaces your old GTX 970": "which the card does not call itself",
}


@pytest.mark.parametrize("text", ACCUSING)
def test_a_listings_words_alone_accuse_nobody(text, capsys, folder):
    """What they seem to name counts only where the card says the same."""
    code, _, err = run(capsys, "evidence", folder / "record.json", "--listing", text)
    assert code == 0
    assert ACCUSING[text] in err
    opened = open_page((folder / "evidence.html").read_bytes())
    assert opened.case.held == "none"
    assert "letter.txt" not in pack(folder)


def test_the_memory_of_something_else_is_not_the_cards(capsys, folder):
    code, _, err = run(
        capsys, "evidence", folder / "record.json", "--listing",
        "Gaming PC with GTX 1070 and 16GB, works",
    )  # fmt: skip
    assert code == 0
    assert "the listing names 16.0 GiB, which is not what the card reports" in err
    (claim, *_) = open_page((folder / "evidence.html").read_bytes()).record.claims
    assert (claim.model, claim.memory_bytes) == ("GeForce GTX 1070", None)


def test_another_size_than_the_record_was_judged_by_is_said(capsys, tmp_path):
    (tmp_path / "r.json").write_bytes(parts.after_test("mirrored")[1])
    code, _, err = run(
        capsys, "evidence", tmp_path / "r.json", "--listing", "GTX 1070 4GB"
    )
    assert code == 0
    assert "the listing names 4.00 GiB, the record was judged by 8.00 GiB" in err


def test_a_photo_given_twice_and_a_zip_too_large_to_send_are_said(
    capsys, folder, monkeypatch
):
    monkeypatch.setattr(evidence, "_SENDABLE", 10_000)
    photos = ["--photo", folder / "die.jpg", "--photo", f"die={folder / 'die.jpg'}"]
    code, _, err = run(
        capsys, "evidence", folder / "record.json", "--listing", WORDS, *photos
    )
    assert code == 0
    assert "photo-2.jpg is the same photo as photo-1.jpg" in err
    assert "many marketplaces and mail services take no more than 10 to 25 MB" in err


def test_too_many_photos_and_a_broken_record_are_refused(capsys, folder):
    record = folder / "record.json"
    photos = ["--photo", folder / "die.jpg"] * 25
    code, _, err = run(capsys, "evidence", record, "--listing", WORDS, *photos)
    assert (code, "up to 24 photos" in err) == (2, True)
    record.write_bytes(b"{}")
    code, _, err = run(capsys, "evidence", record, "--listing", WORDS)
    assert (code, "not a cardassay record" in err) == (2, True)


def test_hostile_names_stay_one_line(capsys, folder):
    name = folder / "a\x1b[2J\nb.jpg"
    name.write_bytes(b"no photo")
    code, _, err = run(
        capsys, "evidence", folder / "record.json", "--listing", WORDS, "--photo", name
    )
    assert code == 2
    assert "\x1b" not in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize("text", ["\0", "x" * 5000, "/dev/zero", "\ud800 card"])
def test_odd_listings_are_words(text, capsys, folder):
    code, _, _ = run(capsys, "evidence", folder / "record.json", "--listing", text)
    assert code == 0
