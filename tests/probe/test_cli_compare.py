"""`compare`: what it prints, writes and returns, and what it refuses."""

import json

import pytest
from command_line import keep_table
from msgspec.structs import replace
from repaired_runs import after, before

from probe import cli
from reports import codec
from reports.page import render_page


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """The two records as files, and a page of the second."""
    folder = tmp_path_factory.mktemp("repair")
    for name, record in (("before", before()), ("after", after())):
        (folder / f"{name}.json").write_bytes(codec.encode(record))
    data = (folder / "after.json").read_bytes()
    (folder / "after.html").write_text(render_page(after(), data), encoding="utf-8")
    return folder


def compare(capsys, *argv):
    capsys.readouterr()
    code = cli.main(["compare", *map(str, argv)])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_repaired_card_is_honest_now(capsys, files):
    code, out, err = compare(capsys, files / "before.json", files / "after.html")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    notice = "Practice run: no real card was tested. Simulated: mirrored, then"
    assert lines[0] == notice
    assert lines[-2:] == [notice, "honest-after-reflash."]
    text = " ".join(out.split())
    assert (
        "It was sold as a GeForce GTX 1070 with 8.00 GiB, and called itself so. Now it "
        "calls itself a GeForce GTX 650 with 2.00 GiB, and everything measured bears "
        "that out. Honest now. Stable for 2 min under full load"
    ) in text
    assert max(map(len, lines)) <= 80


def test_the_page_carries_both_records_and_comes_again(capsys, files, tmp_path):
    page, again = tmp_path / "repair.html", tmp_path / "again.html"
    names = files / "before.json", files / "after.json"
    first = compare(capsys, *names, "--page", page)
    second = compare(capsys, page, "--page", again)
    assert (first[0], second[0]) == (0, 0)
    assert page.read_bytes() == again.read_bytes()
    assert first[1].split("Page:")[0] == second[1].split("Page:")[0]


def test_as_json(capsys, files):
    code, out, _ = compare(
        capsys, files / "before.json", files / "after.json", "--json"
    )
    view = json.loads(out)
    assert code == 0
    assert view["outcome"] == "honest now"
    assert view["settled"] is True
    assert view["same_card"] == "fits"
    assert len(view["before"]["sha256"]) == 64
    rows = {(row["title"], row["by"]): row for row in view["rows"]}
    assert rows["Model", "NVML, OpenCL"]["became"] == "became honest"


def test_the_codes(capsys, files, tmp_path):
    standard = tmp_path / "standard.json"
    standard.write_bytes(codec.encode(replace(after(), depth="standard")))
    assert compare(capsys, files / "before.json", standard)[0] == 3
    later = tmp_path / "later.json"
    later.write_bytes(codec.encode(replace(before(), started="2026-11-25T00:00:00Z")))
    assert compare(capsys, files / "before.json", later)[0] == 1


def test_one_record_alone_is_wrong_use(capsys, files):
    path = files / "before.json"
    code, out, err = compare(capsys, path)
    assert (code, out) == (2, "")
    assert err == (
        f"cardassay: {path}: name the record after the repair as well; only the page "
        "of a comparison holds both\n"
    )


def test_the_records_are_never_written_over(capsys, files):
    paths = files / "before.json", files / "after.json"
    data = [path.read_bytes() for path in paths]
    for path in paths:
        code, out, err = compare(capsys, *paths, "--page", path)
        assert (code, out) == (2, "")
        assert "one of the records, which stay as they are" in err
    assert [path.read_bytes() for path in paths] == data


def test_a_damaged_page_is_one_clear_error(capsys, files, tmp_path):
    page = tmp_path / "repair.html"
    compare(capsys, files / "before.json", files / "after.json", "--page", page)
    data = page.read_bytes()
    cut = data.replace(b'id="after" download', b'id="gone" download')
    page.write_bytes(cut)
    code, _, err = compare(capsys, page)
    assert code == 2
    assert err == f"cardassay: {page}: the page carries no record from after\n"


def test_no_record_is_one_clear_error(capsys, files, tmp_path):
    code, _, err = compare(capsys, files / "before.json", tmp_path / "none.json")
    assert code == 2
    assert err.startswith(f"cardassay: {tmp_path / 'none.json'}: cannot be read: ")
