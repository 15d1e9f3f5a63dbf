"""`rejudge`: what it prints, writes and returns, and what it refuses."""

import json
from pathlib import Path

import pytest
from command_line import keep_table
from msgspec.structs import replace

from probe import cli
from reference.table import VERSION
from reports import codec
from reports.page import render_page
from reports.record import Claim

GOLDEN = Path(__file__).parent.parent / "data" / "golden" / "h100-sxm.json"


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


def rejudge(capsys, *argv):
    capsys.readouterr()
    code = cli.main(["rejudge", *map(str, argv)])
    out, err = capsys.readouterr()
    return code, out, err


def sold_as(tmp_path, model, **fields):
    record = codec.load(GOLDEN)
    listing = Claim(layer="listing", source="given by the user", model=model)
    path = tmp_path / "record.json"
    sold = replace(record, claims=(listing, *record.claims), **fields)
    path.write_bytes(codec.encode(sold))
    return path


def test_an_old_record_is_judged_by_todays_table(capsys, tmp_path):
    record = codec.load(GOLDEN)
    old = replace(
        record,
        program=replace(record.program, table_version="2026.11"),
        findings=record.findings[:3],
        identified=None,
    )
    path = tmp_path / "old.json"
    path.write_bytes(codec.encode(old))
    code, out, err = rejudge(capsys, path)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "Then, by the table 2026.11:"
    assert f"Now, by the table {VERSION}:" in lines
    assert out.count("As claimed.") == 2
    assert "It is a GH100 with 16896 lanes" in out
    assert "Appeared" in lines


def test_twice_with_one_table_changes_nothing(capsys, tmp_path):
    new = tmp_path / "new.json"
    rejudge(capsys, GOLDEN, "--out", new)
    code, out, _ = rejudge(capsys, new)
    assert code == 0
    assert out.splitlines()[-1].startswith("Nothing changed: all ")
    assert "Appeared" not in out
    assert codec.load(new).identified is not None


def test_the_code_is_the_new_verdicts(capsys, tmp_path):
    path = sold_as(tmp_path, "H200")
    code, out, _ = rejudge(capsys, path, "--json")
    view = json.loads(out)
    assert code == 1
    assert view["before"]["verdict"]["outcome"] == "as claimed"
    assert view["after"]["verdict"]["outcome"] == "not as claimed"
    assert {one["rule"] for one in view["appeared"]} >= {"reported-model"}
    changed = {one["before"]["rule"] for one in view["changed"]}
    assert "memory-read-rate" in changed
    assert view["after"]["identified"]["chips"][0]["chip"] == "GH100"


def test_an_interrupted_record_is_undetermined_not_interrupted_again(capsys, tmp_path):
    path = sold_as(tmp_path, "H100 SXM", interrupted=True)
    code, out, _ = rejudge(capsys, path)
    assert code == 3
    assert "Undetermined." in out


def test_the_record_itself_is_never_written_over(capsys, tmp_path):
    path = sold_as(tmp_path, "H200")
    before = path.read_bytes()
    code, out, err = rejudge(capsys, path, "--out", path)
    assert (code, out) == (2, "")
    assert err == (
        "cardassay: --out: this is the record itself, which stays as it is; name "
        "another file\n"
    )
    assert path.read_bytes() == before


def test_an_unwritable_file_is_one_clear_error(capsys, tmp_path):
    place = tmp_path / "missing" / "new.json"
    code, out, err = rejudge(capsys, GOLDEN, "--out", place)
    assert code == 2
    assert out == ""
    assert err.startswith(f"cardassay: {place}: cannot be written: ")


def test_a_page_carries_its_record(capsys, tmp_path):
    page = tmp_path / "report.html"
    data = GOLDEN.read_bytes()
    page.write_text(render_page(codec.decode(data), data), encoding="utf-8")
    assert rejudge(capsys, page) == rejudge(capsys, GOLDEN)


def test_no_record_is_one_clear_error(capsys, tmp_path):
    code, _, err = rejudge(capsys, tmp_path / "none.json")
    assert code == 2
    assert err.startswith(f"cardassay: {tmp_path / 'none.json'}: cannot be read: ")


def test_a_broken_table_is_one_clear_error(capsys, tmp_path):
    path = tmp_path / "more.toml"
    path.write_text("not = [toml", encoding="utf-8")
    code, _, err = rejudge(capsys, GOLDEN, "--reference", path)
    assert code == 2
    assert "more.toml: not TOML" in err
