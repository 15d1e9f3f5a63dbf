"""`--soak` from the command line to the verdict, on practice cards."""

import pytest
from command_line import command, keep_table

from probe.cli import main
from reports import words

GIB = 2**30


@pytest.fixture(autouse=True)
def _one_table(monkeypatch):
    keep_table(monkeypatch)


def soaked(capsys, folder, condition, *more):
    return command(capsys, folder, "--practice", condition, *more)


def test_a_thorough_run_soaks_and_finds_what_only_heat_brings_out(capsys, tmp_path):
    ended = soaked(capsys, tmp_path / "out", "weak-when-hot", "--depth", "thorough")
    record = ended.record
    assert (ended.code, record.verdict.outcome) == (1, "faulty")
    assert record.capacity.proven_bytes == 8 * GIB - 64 * 2**20  # the proof saw nothing
    soak = record.soak
    assert soak.asked_seconds == 300.0
    assert soak.seconds == pytest.approx(300.0, abs=2.0)
    (spot,) = soak.spots
    assert spot.temperature_c >= 55.0
    assert spot.flips.any_mask == (0, 1 << 14, 0, 0)
    assert words.SOAK in ended.lines
    assert any("bit 46 of the cell" in line for line in ended.lines)
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert 'id="soak-temperature-title"' in page


def test_without_it_the_same_card_passes(capsys, tmp_path):
    ended = soaked(
        capsys, tmp_path, "weak-when-hot", "--depth", "thorough", "--soak", "0"
    )
    assert (ended.code, ended.record.verdict.outcome) == (0, "as claimed")
    assert ended.record.soak is None
    assert words.SOAK not in ended.lines


@pytest.mark.parametrize("depth", ["quick", "standard"])
def test_any_depth_may_be_soaked(depth, capsys, tmp_path):
    ended = soaked(capsys, tmp_path, "as-claimed", "--depth", depth, "--soak", "0.5")
    soak = ended.record.soak
    assert ended.code == {"quick": 3, "standard": 0}[depth]
    assert soak.seconds == pytest.approx(30.0, abs=2.0)
    assert (soak.wrong, soak.spots, soak.stopped_by) == (0, (), None)
    assert [phase.outcome for phase in ended.record.phases if phase.name == "soak"] == [
        "done"
    ]
    assert soak.held_bytes == ended.record.capacity.covered_bytes


@pytest.mark.parametrize("name", ["mirrored", "hollow"])
def test_a_counterfeit_stays_one_and_is_not_called_faulty(name, capsys, tmp_path):
    ended = soaked(capsys, tmp_path, name, "--soak", "1")
    assert ended.record.verdict.outcome == "not as claimed"
    assert "faulty" not in ended.record.verdict.sentence
    assert ended.record.soak.cells.intact < ended.record.soak.cells.cells


def test_a_card_too_hot_keeps_what_was_found(capsys, tmp_path):
    ended = soaked(capsys, tmp_path, "hot", "--soak", "1")
    assert ended.record.verdict.outcome != "not as claimed"
    assert ended.err == ""


@pytest.mark.parametrize("text", ["ten", "-1", "1e9", "nan"])
def test_a_time_that_is_none_is_wrong_use(text, capsys, tmp_path):
    code = main(["check", "--practice", f"--soak={text}", "--out", str(tmp_path / "o")])
    assert code == 2
    assert "--soak: " in capsys.readouterr().err
    assert not (tmp_path / "o").exists()
