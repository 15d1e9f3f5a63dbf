"""The folder of a run: named after card and time, reserved, never losing anything."""

import os
import re
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe import folder
from probe.errors import UsageError
from probe.folder import RESERVE_BYTES, documents, open_folder

NOW = datetime(2026, 11, 25, 19, 33, 5)  # noqa: DTZ001 - the wall's time


@pytest.fixture(autouse=True)
def _home(tmp_path, monkeypatch):
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    for name in ("XDG_CONFIG_HOME", "XDG_DOCUMENTS_DIR"):
        monkeypatch.delenv(name, raising=False)


def test_room_is_held_until_the_end(tmp_path):
    made = open_folder(str(tmp_path / "a" / "b"), "Card", NOW)
    (reserve,) = made.path.iterdir()
    assert reserve.stat().st_size == RESERVE_BYTES
    made.close()
    made.close()
    assert list(made.path.iterdir()) == []


def test_what_a_killed_run_left_is_no_obstacle(tmp_path):
    open_folder(str(tmp_path), "Card", NOW)
    (tmp_path / ".record.json.0123abcd").write_text("{")
    (tmp_path / ".report.html.89efcdab").write_text("<")
    (tmp_path / ".record.json.mine").write_text("no part of ours")
    made = open_folder(str(tmp_path), "Card", NOW)
    made.close()
    left = [each.name for each in tmp_path.iterdir() if each.is_file()]
    assert left == [".record.json.mine"]


def test_documents_of_one_second_are_all_kept(tmp_path):
    for number in range(4):
        (tmp_path / "record.json").write_text(str(number))
        os.utime(tmp_path / "record.json", (1_800_000_000, 1_800_000_000))
        open_folder(str(tmp_path), "Card", NOW).close()
    names = sorted(each.name for each in tmp_path.iterdir() if each.is_file())
    assert names == [
        "record.20270115-080000.2.json",
        "record.20270115-080000.3.json",
        "record.20270115-080000.4.json",
        "record.20270115-080000.json",
    ]


def test_nothing_is_moved_where_nothing_can_be_written(tmp_path, monkeypatch):
    (tmp_path / "record.json").write_text("earlier")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(folder.os, "fsync", full)
    with pytest.raises(UsageError, match="No space left on device; choose another"):
        open_folder(str(tmp_path), "Card", NOW)
    assert [each.name for each in tmp_path.iterdir() if each.is_file()] == [
        "record.json"
    ]


@given(label=st.text(max_size=400))
def test_any_label_makes_one_plain_name(label):
    name = folder._default(label, NOW).name
    assert re.fullmatch(r"cardassay_[a-z0-9-]{1,60}_2026-11-25_19\.33\.05", name)


def test_a_tilde_is_the_home(tmp_path):
    made = open_folder("~/tests", "Card", NOW)
    assert made.path == tmp_path / "home" / "tests"


def test_a_tilde_of_nobody_is_a_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    made = open_folder("~nobody-of-that-name/x", "Card", NOW)
    assert made.path == Path("~nobody-of-that-name/x")


def test_no_home_at_all(monkeypatch):
    def none():
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "home", none)
    with pytest.raises(UsageError, match="knows of no home folder; choose a folder"):
        open_folder(None, "Card", NOW)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ('XDG_DOCUMENTS_DIR="$HOME/Papiere"\n', "Papiere"),
        ('  XDG_DOCUMENTS_DIR="$HOME/Papiere"', "Papiere"),
        ('#XDG_DOCUMENTS_DIR="$HOME/Papiere"\n', "Documents"),
        ('XDG_DOCUMENTS_DIR="$HOME/not there"\n', "Documents"),
        ('XDG_DOCUMENTS_DIR="$HOME/"\n', ""),
        ("\xff\xfe", "Documents"),
    ],
)
def test_the_desktops_own_word_for_documents(text, wanted, tmp_path):
    home = tmp_path / "home"
    for name in (".config", "Papiere", "Documents"):
        (home / name).mkdir()
    (home / ".config" / "user-dirs.dirs").write_text(text, "latin-1")
    assert documents() == home / wanted


def test_without_documents_the_home(tmp_path):
    assert documents() == tmp_path / "home"
