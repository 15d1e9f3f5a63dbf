"""What stands under a file's name may be no file: one clear error, and no waiting."""

import os
import signal
import socket
import sys
from pathlib import Path

import pytest
from command_line import keep_table

from probe import cli

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="Linux's odd files")
SPECIAL = "Not an ordinary file"
ODD = {
    "endless": SPECIAL,
    "random": SPECIAL,
    "null": SPECIAL,
    "pipe": SPECIAL,
    "terminal": SPECIAL,
    "socket": "No such device or address",
    "folder": "Is a directory",
    "loop": "Too many levels of symbolic links",
    "dangling": "No such file or directory",
    "missing": "No such file or directory",
    "below a file": "Not a directory",
    "long": "File name too long",
}


@pytest.fixture(autouse=True)
def _one_table(monkeypatch):
    keep_table(monkeypatch)


@pytest.fixture(autouse=True)
def _no_waiting():
    def late(*_):
        raise TimeoutError("it waits for a file")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(20)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


DEVICES = {
    "endless": "/dev/zero",
    "random": "/dev/urandom",
    "null": "/dev/null",
    "terminal": "/dev/ptmx",
}


def odd(kind, folder):
    path = Path(DEVICES.get(kind, folder / "odd"))
    match kind:
        case "pipe":
            os.mkfifo(path)
        case "socket":
            with socket.socket(socket.AF_UNIX) as one:
                one.bind(str(path))
        case "folder":
            path.mkdir()
        case "loop":
            path.symlink_to(path)
        case "dangling":
            path.symlink_to(folder / "gone")
        case "below a file":
            (folder / "file").touch()
            path = folder / "file" / "odd"
        case "long":
            path = folder / ("x" * 300)
    return path


def refused(capsys, *argv):
    capsys.readouterr()
    code = cli.main([str(one) for one in argv])
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert err.startswith("cardassay: ")
    assert err.count("\n") == 1
    return err


@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize("command", ["show", "rejudge", "compare", "firmware"])
def test_records(kind, command, capsys, tmp_path):
    path = odd(kind, tmp_path)
    said = f"cardassay: {path}: cannot be read: {ODD[kind]}\n"
    assert refused(capsys, command, path) == said


@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize(
    "argv", [("lookup", "GTX 1070"), ("check", "--practice"), ("rejudge", "record")]
)
def test_files_of_cards(kind, argv, capsys, tmp_path):
    path = odd(kind, tmp_path)
    if argv[0] == "rejudge":
        argv = ("rejudge", Path(__file__).parents[1] / "data/golden/h100-sxm.json")
    err = refused(capsys, *argv, "--reference", path)
    assert err == f"cardassay: {path}: cannot be read: {ODD[kind]}\n"


@pytest.mark.parametrize("kind", [one for one in ODD if one not in {"folder", "long"}])
@pytest.mark.parametrize("option", ["--conclude", "--resume"])
def test_journals(kind, option, capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    path = odd(kind, tmp_path)
    capsys.readouterr()
    assert cli.main(["check", option, str(path), "--yes"]) == 3
    err = capsys.readouterr().err
    said = "no journal of a run is there; name its folder"
    assert err == f"cardassay: {path}: {said}\n"


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("endless", SPECIAL),
        ("null", SPECIAL),
        ("pipe", SPECIAL),
        ("folder", "Is a directory"),
        ("below a file", "Not a directory"),
        ("long", "File name too long"),
    ],
)
def test_pages_are_written_over_files_alone(kind, said, capsys, tmp_path):
    record = Path(__file__).parents[1] / "data/golden/h100-sxm.json"
    path = odd(kind, tmp_path)
    before = os.path.exists(path) and path.stat().st_mode  # noqa: PTH110 - any name
    capsys.readouterr()
    assert cli.main(["show", str(record), "--page", str(path)]) == 2
    err = capsys.readouterr().err
    assert err == f"cardassay: {path}: cannot be written: {said}\n"
    assert before == (os.path.exists(path) and path.stat().st_mode)  # noqa: PTH110


@pytest.mark.parametrize("kind", ["null", "pipe", "loop", "below a file", "long"])
def test_folders_of_a_run(kind, capsys, tmp_path):
    path = odd(kind, tmp_path)
    err = refused(capsys, "check", "--practice", "--out", path)
    assert err.startswith(f"cardassay: cannot write in {path}: ")


@pytest.mark.parametrize("command", ["show", "rejudge"])
def test_an_empty_record(command, capsys, tmp_path):
    path = tmp_path / "record.json"
    path.touch()
    err = refused(capsys, command, path)
    assert (
        err == f"cardassay: {path}: not a cardassay record: Input data was truncated\n"
    )


def test_an_empty_file_of_cards(capsys, tmp_path):
    path = tmp_path / "rows.toml"
    path.touch()
    capsys.readouterr()
    assert cli.main(["lookup", "GTX 1070", "--reference", str(path)]) == 2
    err = capsys.readouterr().err
    assert err.splitlines()[0] == "cardassay: rows.toml: vendor: missing"


@pytest.mark.parametrize(
    "argv", [("show",), ("rejudge",), ("lookup", "x", "--reference")]
)
def test_files_beyond_all_measure(argv, capsys, tmp_path):
    path = tmp_path / "large"
    with path.open("wb") as file:
        file.truncate(2**40)
    limit = 2**20 if argv[0] == "lookup" else 64 * 2**20
    err = refused(capsys, *argv, path)
    assert err == f"cardassay: {path}: larger than {limit} bytes, not read\n"


@pytest.mark.parametrize(
    "name", ["a\nb", "\x1b[31mred", "x\u202ey", "%s{0}", "-", "\udcff"]
)
def test_odd_names_of_files(name, capsys, tmp_path):
    err = refused(capsys, "show", tmp_path / name)
    assert err[:-1].isprintable()
    assert err.endswith(": cannot be read: No such file or directory\n")
