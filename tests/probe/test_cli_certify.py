"""`key`, `certify`, `verify` from the command line: files, codes, words."""

import getpass
import json
import os
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from command_line import keep_table
from msgspec.structs import replace
from repaired_runs import ROW, after

from probe import cli, passphrases
from probe.certify import judged_anew
from probe.errors import UsageError
from reports import codec
from reports.page import extract_record

GOLDEN = Path(__file__).parents[1] / "data" / "golden" / "h100-sxm.json"


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


@pytest.fixture
def run(capsys):
    def call(*argv):
        capsys.readouterr()
        code = cli.main([str(one) for one in argv])
        out, err = capsys.readouterr()
        return code, out, err

    return call


def fresh(folder, **fields) -> Path:
    """Store the record of a real H100 as if it had been tested just now."""
    record = codec.load(GOLDEN)
    now = datetime.now(UTC).isoformat(timespec="seconds")
    path = folder / "record.json"
    path.write_bytes(codec.encode(replace(record, **{"started": now, **fields})))
    return path


NAMES = ("--stock-no", "S-0042", "--operator", "R. Amund")


def test_from_a_new_key_to_a_checked_certificate(run, tmp_path):
    key, record = tmp_path / "shop.key", fresh(tmp_path)
    code, out, err = run("key", "new", "--out", key)
    assert (code, err) == (0, "")
    shown = next(line for line in out.splitlines() if line.startswith("Fingerprint: "))
    assert "no passphrase" in out
    assert run("key", "show", f"{key}.pub") == (0, shown + "\n", "")
    code, out, err = run("certify", record, *NAMES, "--key", key)
    assert (code, err) == (0, "")
    page, small = tmp_path / "certificate.html", tmp_path / "certificate.json"
    assert f"Certificate: {page}" in out
    assert extract_record(page.read_text("utf-8")) == record.read_bytes()
    fingerprint = shown.removeprefix("Fingerprint: ")
    for argv in ((page,), (small, record), (small, page)):
        for named in (fingerprint, f"{key}.pub"):
            code, out, err = run("verify", *argv, "--key", named)
            assert (code, err) == (0, "")
            assert out.startswith("It holds: unchanged since it was signed.\n")
            assert f"Signed by the key {fingerprint}\n" in out
            assert "Stock number: S-0042\nOperator: R. Amund\n" in out
            assert "That the owner is honest" in out
            assert "Who owns the key" not in out
    code, out, _ = run("verify", page)
    assert code == 0
    assert "- Who owns the key: compare its fingerprint" in out


def test_verify_says_what_does_not_hold(run, tmp_path):
    key, record = tmp_path / "shop.key", fresh(tmp_path)
    run("key", "new", "--out", key)
    run("certify", record, *NAMES, "--key", key)
    page, small = tmp_path / "certificate.html", tmp_path / "certificate.json"
    code, out, _ = run("verify", small)
    assert code == 3
    assert "Next: name the record after the certificate." in out
    page.write_bytes(page.read_bytes().replace(b">R. Amund<", b">R. Bmund<"))
    code, out, _ = run("verify", page)
    assert code == 1
    assert out.startswith(
        "This certificate does not hold.\n- page: what the page shows"
    )
    record.write_bytes(record.read_bytes() + b" ")
    code, out, _ = run("verify", small, record, "--json")
    assert code == 1
    told = json.loads(out)
    assert told["holds"] is False
    assert [one["what"] for one in told["checks"] if not one["holds"]] == ["record"]
    code, out, _ = run("verify", page, "--key", "0" * 64)
    assert code == 1
    assert "- key: it was signed by another key than the one you named" in out
    code, _, err = run("verify", record)
    assert code == 2
    assert "not a certificate" in err


def test_certify_refuses_with_every_reason(run, tmp_path):
    run("key", "new")
    record = fresh(tmp_path, depth="quick", interrupted=True)
    code, out, err = run("certify", record, *NAMES)
    assert (code, out) == (1, "")
    assert "not certified. The test was stopped before its end. It was tested at" in err
    assert not (tmp_path / "certificate.html").exists()


def test_a_verdict_that_does_not_follow_is_not_certified(run, tmp_path):
    """Anyone can write "as claimed" into a file: the measurements have to say so."""
    run("key", "new")
    record = codec.load(GOLDEN)
    capacity = replace(record.capacity, proven_bytes=record.capacity.proven_bytes // 4)
    code, _, err = run("certify", fresh(tmp_path, capacity=capacity), *NAMES)
    assert code == 1
    assert "Judged again by today's table of cards, it is not as claimed: " in err


def test_the_age_is_a_choice_within_bounds(run, tmp_path):
    run("key", "new")
    record = fresh(tmp_path, started="2026-01-01T00:00:00+00:00")
    code, _, err = run("certify", record, *NAMES)
    assert code == 1
    assert "days old, and 30 are allowed" in err
    assert run("certify", record, *NAMES, "--max-age", "3650")[0] == 0
    for days in ("0", "3651", "x"):
        assert run("certify", record, *NAMES, "--max-age", days)[0] == 2


def test_nothing_is_written_over(run, tmp_path):
    run("key", "new")
    code, _, err = run("key", "new")
    assert code == 2
    assert "signing.key: is there already, and no key is ever written over" in err
    record = fresh(tmp_path)
    (tmp_path / "certificate.json").write_text("mine")
    code, _, err = run("certify", record, *NAMES)
    assert code == 2
    assert "certificate.json: is there already; name another file with --out" in err
    assert run("certify", record, *NAMES, "--out", tmp_path / "two.html")[0] == 0
    assert (tmp_path / "two.json").exists()


def test_without_a_key_the_next_step_is_told(run, tmp_path):
    code, _, err = run("certify", fresh(tmp_path), *NAMES)
    assert code == 2
    assert "make one with `cardassay key new`, or name yours with --key" in err


def test_a_passphrase_out_of_a_file(run, tmp_path):
    words, key = tmp_path / "words", tmp_path / "k"
    words.write_bytes("Größe und drei Wörter\r\nmore\n".encode())
    assert run("key", "new", "--out", key, "--passphrase-file", words)[0] == 0
    assert b"ENCRYPTED" in key.read_bytes()
    record = fresh(tmp_path)
    asked = ("certify", record, *NAMES, "--key", key)
    code, _, err = run(*asked)
    assert code == 2
    assert "there is no terminal to ask for the passphrase" in err
    other = tmp_path / "other"
    other.write_text("three other words\n")
    code, _, err = run(*asked, "--passphrase-file", other)
    assert code == 2
    assert "the passphrase is wrong, or the file is damaged" in err
    assert run(*asked, "--passphrase-file", words)[0] == 0
    asked = (*asked, "--out", tmp_path / "other.html")
    for content, said in (
        (b"", "the first line of"),
        (b"\xff\xfe", "is no text"),
        (b"x" * 2000, "longer than 1024 bytes"),
    ):
        other.write_bytes(content)
        code, _, err = run(*asked, "--passphrase-file", other)
        assert code == 2
        assert said in err


def test_a_passphrase_is_asked_for_without_an_echo(monkeypatch):
    answers = iter(["one", "two", "same", "same", "old"])
    asked = []

    def ask(prompt, stream):
        assert stream is sys.stderr
        asked.append(prompt)
        return next(answers)

    monkeypatch.setattr(getpass, "getpass", ask)
    monkeypatch.setattr(sys, "stdin", type("Tty", (), {"isatty": lambda _: True})())
    assert passphrases.ask_new() == "same"
    assert passphrases.ask_once("k") == "old"
    assert asked == [
        *("New passphrase: ", "The same again: ") * 2,
        "Passphrase of k: ",
    ]
    monkeypatch.setattr(getpass, "getpass", lambda *_, **__: "")
    with pytest.raises(UsageError, match="no passphrase was given"):
        passphrases.ask_new()

    def shows(*_, **__):
        raise getpass.GetPassWarning

    monkeypatch.setattr(getpass, "getpass", shows)
    with pytest.raises(UsageError, match="without showing it"):
        passphrases.ask_once("k")


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")
def test_a_key_that_others_may_read_is_told(run, tmp_path):
    key = tmp_path / "k"
    run("key", "new", "--out", key)
    key.chmod(0o644)
    code, _, err = run("certify", fresh(tmp_path), *NAMES, "--key", key)
    assert code == 0
    assert "others on this PC may read this private key" in err


@pytest.mark.parametrize(
    "argv",
    [("key", "show"), ("certify", "r", *NAMES, "--key"), ("verify", "c", "--key")],
)
def test_hostile_files_end_in_words(run, tmp_path, argv):
    record = fresh(tmp_path)
    (tmp_path / "bad").write_bytes(b"\x1b[31m\0" * 20)
    given = [record if one == "r" else one for one in argv]
    code, out, err = run(*given, tmp_path / "bad")
    assert (code, out) == (2, "")
    assert err.startswith("cardassay: ")
    assert "\x1b" not in err


def test_added_rows_do_not_bear_out_what_the_table_knows_to_be_false(tmp_path):
    """A GK107 under the name of a GTX 1070, and rows that say such a thing exists."""
    record = after()
    claims = tuple(
        replace(one, model="GeForce GTX 1070") if one.model else one
        for one in record.claims
    )
    more = tmp_path / "more.toml"
    more.write_text(ROW.format("GeForce GTX 1070"), encoding="utf-8")
    (said,) = judged_anew(replace(record, claims=claims), more)
    assert said.endswith("Not as claimed.")
    more.write_text(ROW.format("GeForce GTX 651"), encoding="utf-8")
    assert judged_anew(record, more) == ()
