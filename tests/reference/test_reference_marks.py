"""The table of marks: sound by itself, and told in full where it is not.

That it agrees with what was printed is held in tests/outside/test_marks_printed.py.
"""

import shutil

import pytest

from reference.errors import TableError
from reference.table import DATA, load


@pytest.fixture(scope="module")
def table():
    return load()


def test_every_nvidia_chip_of_the_table_has_marks(table):
    """From 2026's data centre chips on, nothing was published yet."""
    without = {
        name
        for name, chip in table.chips.items()
        if chip.compute_capability and name not in table.marks
    }
    assert without <= {"GB100"}


def test_every_amd_chip_with_outputs_has_an_audio_function(table):
    headless = {"Topaz", "Arcturus", "Aldebaran", "Aqua Vanjaram"}
    for name, chip in table.chips.items():
        if table.architectures[chip.architecture].vendor == "AMD":
            assert name in headless or table.marks[name].audio, name


def test_ids_versions_and_windows_lead_to_their_chip(table):
    for name, mark in table.marks.items():
        for one in (*mark.audio, *mark.usb):
            assert name in table.chips_by_function(one.upper())
        for one in mark.silicon:
            assert table.chips_by_silicon(one.lstrip("0")) == (name,)
        for one in mark.firmware:
            assert name in table.chips_by_firmware(f"{one.upper()}.1F.00.01")
        for one in mark.windows:
            assert table.chip_by_window(f"10de:{one[:4]}") == name


@pytest.mark.parametrize(
    "text",
    ["", "86.04", "015.050.000.000.000000", "113-D0000000-100", "1.86.04.50.00.70"],
)
def test_other_texts_are_no_version(table, text):
    assert table.chips_by_firmware(text) == ()


def test_windows_prints_versions_without_leading_zeros(table):
    assert table.chips_by_firmware("Version86.4.50.0.70") == ("GP104",)


def test_broken_marks_are_told_with_their_place(tmp_path):
    data = tmp_path / "data"
    shutil.copytree(DATA, data)
    marks = data / "marks.toml"
    marks.write_text(
        marks.read_text()
        .replace('audio = ["10de:0be2"]', 'audio = ["10de:0be4"]', 1)
        .replace('windows = ["0a60-0a7f"', 'windows = ["0fc0-0fdf"', 1)
        .replace('source = ["envytools", "envytools-prefixes"]', 'source = ["x"]', 1)
    )
    with pytest.raises(TableError) as caught:
        load(data=data)
    told = caught.value.mistakes
    assert "marks.toml: GT216: 10de:0be4 is GT215's too" in told
    assert "marks.toml: GT218.windows: 0fc0-0fdf is GK107's too" in told
    assert any(one.startswith("marks.toml: G84") for one in told)
