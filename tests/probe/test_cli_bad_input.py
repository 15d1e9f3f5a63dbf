"""What a person, a disk or a file can get wrong: one clear error each, nothing lost."""

import os
import re
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import msgspec
import pytest
from command_line import command, keep_table

from probe import cli, folder
from probe.places import state_folder
from probe.practice import conditions
from probe.survival import open_runs
from reports import codec
from reports.errors import RecordError

ROOT = Path(__file__).parents[2]
SIGN = "\N{REPLACEMENT CHARACTER}"


@pytest.fixture(autouse=True)
def _one_table(monkeypatch):
    keep_table(monkeypatch)


def refused(capsys, *argv):
    """Run a command that must be refused; return its error text."""
    capsys.readouterr()
    code = cli.main(argv)
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    return err


@pytest.mark.parametrize(
    ("argv", "text"),
    [
        (
            ("--claim", "GeForce GTX 1075"),
            (
                "--claim: the table has no card called 'GeForce GTX 1075'; did "
                "you mean "
                "GeForce "
            ),
        ),
        (
            ("--claim", "GTX 1070 6GB"),
            (
                "--claim: the table has no card called 'GTX 1070 6GB'; to test it as "
                'one of that size, write --claim "GTX 1070" --claim-memory 6GiB\n'
            ),
        ),
        (
            ("--claim", "Zzz"),
            (
                "--claim: the table has no card called 'Zzz'; leave --claim out to "
                "judge "
                "the card by what it reports itself\n"
            ),
        ),
        (
            ("--claim", "\x1b[31m"),
            (
                "--claim: the table has no card called '\\x1b[31m'; leave --claim out "
                "to "
                "judge the card by what it reports itself\n"
            ),
        ),
        (("--claim", ""), "--claim: the table has no card called ''; leave --claim"),
        (
            ("--claim", "G" * 10**6),
            f"--claim: the table has no card called '{'G' * 80}",
        ),
        (
            ("--claim-memory", "eight"),
            "--claim-memory: 'eight' is not a size; write it as 8GiB\n",
        ),
        (
            ("--claim-memory", "8"),
            "--claim-memory: '8' has no unit and would be 8 bytes; write it as 8GiB\n",
        ),
        (
            ("--claim-memory", "0GiB"),
            "--claim-memory: '0GiB' is no size that a card can have\n",
        ),
        (
            ("--memory-limit", "99999TiB"),
            "--memory-limit: '99999TiB' is no size that a card can have\n",
        ),
        (
            ("--memory-limit=-1GiB",),
            "--memory-limit: '-1GiB' is not a size; write it as 8GiB\n",
        ),
    ],
)
def test_claims_and_sizes_nobody_knows(argv, text, capsys, tmp_path):
    out = tmp_path / "out"
    err = refused(capsys, "check", "--practice", "--out", str(out), *argv)
    assert err.startswith("cardassay: " + text)
    assert err.count("\n") == 1
    assert not out.exists()


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        ((), "the following arguments are required: COMMAND"),
        (("chekc",), "invalid choice: 'chekc'"),
        (("check", "--depth", "deep"), "invalid choice: 'deep'"),
        (("check", "--frobnicate"), "unrecognized arguments: --frobnicate"),
        (("show",), "the following arguments are required: RECORD"),
    ],
)
def test_wrong_use_is_argparses_own(argv, said, capsys):
    assert said in refused(capsys, *argv)


def test_near_misses_are_offered(capsys):
    err = refused(capsys, "check", "--practice", "--claim", "GeForce GTX 1075")
    offered = re.search(r"did you mean (.*)\? Or leave --claim out", err)[1].split(", ")
    assert "GeForce GTX 1070" in offered
    assert len(offered) == 5


def test_a_file_in_the_way_of_out(capsys, tmp_path):
    (tmp_path / "out").write_text("mine")
    err = refused(capsys, "check", "--practice", "--out", str(tmp_path / "out"))
    assert err == (
        f"cardassay: cannot write in {tmp_path}/out: File exists; choose another "
        "folder with --out\n"
    )
    assert (tmp_path / "out").read_text() == "mine"


def test_a_file_on_the_way_to_out(capsys, tmp_path):
    (tmp_path / "file").write_text("mine")
    err = refused(capsys, "check", "--practice", "--out", str(tmp_path / "file/out"))
    assert err == (
        f"cardassay: cannot write in {tmp_path}/file/out: Not a directory; choose "
        "another folder with --out\n"
    )


def test_no_folder_named(capsys):
    err = refused(capsys, "check", "--practice", "--out", "")
    assert err == "cardassay: --out: no folder is named\n"


def test_a_folder_that_may_not_be_written(capsys, tmp_path, monkeypatch):
    if os.geteuid() == 0:  # root may write anywhere: the system's answer is played

        def no(self, *_, **__):
            raise PermissionError(13, "Permission denied", str(self))

        monkeypatch.setattr(Path, "open", no)
    else:
        tmp_path.chmod(0o500)
    err = refused(capsys, "check", "--practice", "--out", str(tmp_path))
    assert err == (
        f"cardassay: cannot write in {tmp_path}: Permission denied; choose another "
        "folder with --out\n"
    )


def full_disk(monkeypatch, *, after=0, names=("record.json", "report.html")):
    """Let the disk be full from the n-th storing on, for some files."""
    real = codec.save
    stored = []

    def save(data, path):
        if path.name in names and "cardassay-" not in str(path.parent):
            stored.append(path)
            if len(stored) > after:
                raise RecordError(f"{path}: cannot be written: No space left on device")
        real(data, path)

    monkeypatch.setattr(codec, "save", save)


def test_a_full_disk_before_the_run(capsys, tmp_path, monkeypatch):
    (tmp_path / "record.json").write_text("an earlier record")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    err = refused(capsys, "check", "--practice", "--out", str(tmp_path))
    assert err == (
        f"cardassay: cannot write in {tmp_path}: No space left on device; choose "
        "another folder with --out\n"
    )
    assert [file.name for file in tmp_path.iterdir()] == ["record.json"]
    assert (tmp_path / "record.json").read_text() == "an earlier record"


@pytest.mark.parametrize("after", [0, 1, 9])
def test_a_disk_that_fills_midway(after, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    full_disk(monkeypatch, after=after)
    ended = command(capsys, tmp_path / "out", "--practice", "mirrored")
    assert ended.code == 3
    told = f"{ended.folder}/record.json: cannot be written: No space left on device"
    assert ended.out.replace("\n", " ").count(f"not stored: {told}; going on") == 1
    assert "Not as claimed." in " ".join(ended.out.split())
    assert "Page: " not in ended.out
    (rescued,) = tmp_path.glob("cardassay-*/record.json")
    assert ended.err == (
        f"cardassay: {told}; the record is kept as {rescued} instead\n"
    )
    record = codec.load(rescued)
    assert record.verdict.outcome == "not as claimed"
    assert not record.interrupted
    if after:
        assert ended.record.interrupted


def test_a_disk_too_full_for_the_page_alone(capsys, tmp_path, monkeypatch):
    full_disk(monkeypatch, names=("report.html",))
    ended = command(capsys, tmp_path, "--practice", "--quiet")
    assert ended.code == 3
    assert ended.err == (
        f"cardassay: {tmp_path}/report.html: cannot be written: No space left on "
        f"device; the record is in {tmp_path}/record.json\n"
    )
    assert ended.record.verdict.outcome == "as claimed"


def test_no_room_anywhere(capsys, tmp_path, monkeypatch):
    def save(_, path):
        raise RecordError(f"{path.name}: cannot be written: No space left on device")

    monkeypatch.setattr(codec, "save", save)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    ended = command(capsys, tmp_path / "out", "--practice", "--quiet")
    assert [each.name for each in tmp_path.iterdir()] == ["out"]
    assert ended.code == 3
    assert "As claimed." in ended.out
    assert ended.err == (
        "cardassay: record.json: cannot be written: No space left on device; free some "
        "space and test again\n"
    )


@pytest.mark.skipif(sys.platform != "linux", reason="/dev/full")
@pytest.mark.parametrize(
    "argv",
    [("schema",), ("check", "--practice", "hollow"), ("check", "--practice", "--json")],
)
def test_standard_output_that_is_full(argv, tmp_path):
    out = ["--out", str(tmp_path)] if argv[0] == "check" else []
    with Path("/dev/full").open("wb") as full:
        ended = subprocess.run(
            [sys.executable, "-m", "probe", *argv, *out],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=60,
            check=False,
        )
    assert ended.returncode == 3
    assert ended.stderr == (
        "cardassay: standard output cannot be written: No space left on device\n"
    )
    assert argv[0] == "schema" or not codec.load(tmp_path / "record.json").interrupted
    assert open_runs.cut_off(state_folder()) == ()
    assert not (tmp_path / "journal.txt").exists()


def test_a_broken_table(capsys, tmp_path):
    rows = tmp_path / "rows.toml"
    rows.write_text("[[card]]\nmodel = 3\n")
    out = str(tmp_path / "out")
    argv = ("check", "--practice", "--out", out, "--reference", str(rows))
    err = refused(capsys, *argv)
    assert err.startswith("cardassay: ")
    assert "rows.toml: " in err
    assert not Path(out).exists()


def test_a_table_that_is_not_there(capsys, tmp_path):
    argv = ("check", "--practice", "--reference", str(tmp_path / "none.toml"))
    err = refused(capsys, *argv)
    assert f"{tmp_path}/none.toml: cannot be read: No such file or directory" in err


def show(capsys, path, *more):
    capsys.readouterr()
    code = cli.main(["show", str(path), *more])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "cannot be read: No such file or directory"),
        (b"", "not a cardassay record: Input data was truncated"),
        (b"\xff\xfe\x00", "not a cardassay record: "),
        (b"{}", "not a cardassay record: Object missing required field `schema`"),
        (b"[" * 10**6, "not a cardassay record: "),
        (b'{"schema": "1"}', "not a cardassay record: Expected `int`, got `str`"),
        (
            b'{"schema": 2}',
            "schema 2 is newer than this program knows (1); install a newer cardassay",
        ),
        (
            b'{"schema": 1}',
            "not a cardassay record: Object missing required field `program`",
        ),
    ],
)
def test_records_that_are_none(content, said, capsys, tmp_path):
    path = tmp_path / "record.json"
    if content is not None:
        path.write_bytes(content)
    code, out, err = show(capsys, path)
    assert (code, out) == (2, "")
    assert err.startswith(f"cardassay: {path}: {said}")
    assert err.count("\n") == 1


def test_a_record_beyond_all_measure(capsys, tmp_path):
    path = tmp_path / "record.json"
    with path.open("wb") as file:
        file.truncate(codec.SIZE_LIMIT + 1)
    code, _, err = show(capsys, path)
    assert code == 2
    assert err == (
        f"cardassay: {path}: larger than {codec.SIZE_LIMIT} bytes, not read\n"
    )


def test_a_folder_for_a_record(capsys, tmp_path):
    code, _, err = show(capsys, tmp_path)
    assert (code, err) == (
        2,
        f"cardassay: {tmp_path}: cannot be read: Is a directory\n",
    )


def test_show_again(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "mirrored")
    page = tmp_path / "again.html"
    code, out, err = show(capsys, tmp_path / "record.json", "--page", str(page))
    assert (code, err) == (1, "")
    assert out.splitlines()[-1] == ended.lines[-1]
    assert "Not as claimed." in " ".join(out.split())
    assert page.read_bytes() == (tmp_path / "report.html").read_bytes()


def test_a_page_shows_the_record_it_carries(capsys, tmp_path):
    command(capsys, tmp_path, "--practice", "mirrored")
    again = tmp_path / "again.html"
    page = tmp_path / "report.html"
    shown = show(capsys, page, "--page", str(again))
    assert shown == show(capsys, tmp_path / "record.json")
    assert again.read_bytes() == page.read_bytes()


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("<!doctype html><p>", "the page carries no record"),
        (
            '<a id="record" href="data:application/json;base64,e30=">',
            "not a cardassay record: Object missing required field `schema`",
        ),
    ],
)
def test_a_page_that_carries_no_record(capsys, tmp_path, text, reason):
    page = tmp_path / "page.html"
    page.write_text(text)
    assert show(capsys, page) == (2, "", f"cardassay: {page}: {reason}\n")


def test_show_where_no_page_can_be_written(capsys, tmp_path):
    command(capsys, tmp_path, "--practice", "--quiet")
    place = tmp_path / "none" / "page.html"
    code, _, err = show(capsys, tmp_path / "record.json", "--page", str(place))
    assert (code, err) == (
        2,
        f"cardassay: {place}: cannot be written: No such file or directory\n",
    )


HOSTILE = [
    "\x1b[2J\x1b]0;pwned\x07GTX\r\n1070",
    "[bold red]GTX[/] <script>alert(1)</script> {{ 7*7 }} %s",
    "../../etc/passwd",
    "..\\..\\CON\x00.json",
    "\u202e0701 XTG\u200b",
    "G" * 10**6,
    "\ud800",
    "",
]


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("form", [(), ("--json",), ("--quiet",)])
def test_hostile_names_end_to_end(name, form, capsys, tmp_path, monkeypatch):
    """A name goes through the readers' `plain` before it gets here; here it goes on."""
    from reports.text import plain  # noqa: PLC0415 - beside its use

    card = conditions.open_practice("mirrored")
    said = plain(name) or "unnamed card"
    identity = msgspec.structs.replace(card.facts.identity, label=said)
    claims = tuple(
        msgspec.structs.replace(claim, model=said) for claim in card.facts.claims
    )
    facts = card.facts
    for field, value in (("identity", identity), ("claims", claims)):
        object.__setattr__(facts, field, value)
    monkeypatch.setattr(conditions, "open_practice", lambda _: card)
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.delenv("XDG_DOCUMENTS_DIR", raising=False)
    capsys.readouterr()
    code = cli.main(["check", "--practice", "mirrored", "--depth", "quick", *form])
    out, err = capsys.readouterr()
    assert (code, err) in {(1, ""), (3, "")}
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f\u202e\u200b]", out)
    (made,) = home.iterdir()
    assert re.fullmatch(
        r"cardassay_[a-z0-9-]{1,60}_\d{4}-\d\d-\d\d_\d\d\.\d\d\.\d\d", made.name
    )
    assert codec.load(made / "record.json").card.label == said
    page = (made / "report.html").read_text("utf-8")
    assert "<script>alert" not in page


def test_what_a_driver_says_is_cut_and_cleaned(capsys, tmp_path, monkeypatch):
    from command_line import Meddling, practise_on  # noqa: PLC0415

    from probe.errors import CardError, MemoryRefusedError  # noqa: PLC0415

    words = "\x1b[31m" + "build log\n" * 10**5
    for number, error in enumerate((CardError(words), MemoryRefusedError(words))):
        with monkeypatch.context() as patch:
            practise_on(patch, lambda card, e=error: Meddling(card, 12, e))
            ended = command(capsys, tmp_path / str(number), "--practice")
        assert "not stored" not in ended.out
        assert ended.err == ""
        assert "\x1b" not in ended.out
        assert max(map(len, ended.lines)) < 400


def test_errors_carry_no_escapes(capsys, tmp_path):
    code, _, err = show(capsys, tmp_path / "\x1b[31mred\u202e")
    assert code == 2
    assert err == (
        f"cardassay: {tmp_path}/{SIGN}[31mred{SIGN}: cannot be read: No such file or "
        "directory\n"
    )


def test_the_default_folder_lies_among_the_documents(tmp_path, monkeypatch):
    now = datetime(2026, 11, 25, 19, 33, 5)  # noqa: DTZ001 - the wall's time
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.delenv("XDG_DOCUMENTS_DIR", raising=False)
    name = "cardassay_geforce-gtx-1070_2026-11-25_19.33.05"
    assert folder.open_folder(None, "GeForce GTX 1070", now).path == tmp_path / name
    (tmp_path / "Documents").mkdir()
    path = folder.open_folder(None, "GeForce GTX 1070", now).path
    assert path == tmp_path / "Documents" / name
    (tmp_path / ".config").mkdir()
    (tmp_path / "Dokumente").mkdir()
    (tmp_path / ".config" / "user-dirs.dirs").write_text(
        '# a comment\nXDG_DESKTOP_DIR="$HOME/x"\nXDG_DOCUMENTS_DIR="$HOME/Dokumente"\n'
    )
    path = folder.open_folder(None, "GeForce GTX 1070", now).path
    assert path == tmp_path / "Dokumente" / name
