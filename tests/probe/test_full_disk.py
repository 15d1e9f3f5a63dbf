"""A disk that fills up, a real one: a small file system in memory, where one may mount.

What was learnt until then and what is learnt afterwards is in the record all the same.
"""

import subprocess
from datetime import UTC, datetime

import pytest
from command_line import Meddling, command, keep_table, practise_on

from probe.errors import UsageError
from probe.folder import RESERVE_BYTES, ROOM_BYTES, open_folder
from reports import codec

MIB = 2**20
NOW = datetime(2026, 11, 25, 19, 33, 5, tzinfo=UTC)
CONDITIONS = {"mirrored": (1, "not as claimed"), "as-claimed": (3, "undetermined")}
"""What must come of a simulated card, whatever the disk does."""


@pytest.fixture
def disk(tmp_path):
    """Yield what mounts a disk of so many bytes, and takes it away at the end."""
    mounted = []

    def make(size):
        place = tmp_path / f"disk{len(mounted)}"
        place.mkdir()
        argv = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
        try:
            subprocess.run(argv, check=True, capture_output=True, timeout=20)
        except (OSError, subprocess.CalledProcessError):
            pytest.skip("needs the right to mount a file system in memory")
        mounted.append(place)
        return place

    yield make
    for place in mounted:
        subprocess.run(["umount", "-l", str(place)], check=False, timeout=20)


def fill(folder):
    """Take all room that is left, to the last byte."""
    with (folder / "filler").open("ab", buffering=0) as file:
        for size in (MIB, 4096, 1):
            try:
                while True:
                    file.write(b"x" * size)
            except OSError:
                continue


class Filling(Meddling):
    """A device at whose n-th call somebody fills the disk."""

    def __init__(self, device, at, place, reserve=None):
        super().__init__(device)
        self._fill_at, self._place, self._reserve = at, place, reserve

    def __getattr__(self, name):
        real = super().__getattr__(name)

        def call(*arguments, **more):
            if self.calls + 1 == self._fill_at:
                if self._reserve is not None:
                    self._reserve.unlink()
                fill(self._place)
            return real(*arguments, **more)

        return call


@pytest.fixture
def _quiet(monkeypatch):
    keep_table(monkeypatch)


def test_too_little_room_is_refused_before_the_run(disk):
    place = disk(RESERVE_BYTES + 3 * MIB)
    with pytest.raises(UsageError) as caught:
        open_folder(str(place), "Card", NOW)
    assert str(caught.value) == (
        f"cannot write in {place}: 11 MiB are free where 16 MiB are needed; choose "
        "another folder with --out"
    )
    assert list(place.iterdir()) == []
    open_folder(str(place), "Card", NOW, room_bytes=MIB).close()


def test_a_disk_that_does_not_take_the_reserve(disk):
    place = disk(MIB)
    with pytest.raises(UsageError, match="No space left on device; choose another"):
        open_folder(str(place), "Card", NOW)
    assert list(place.iterdir()) == []


def test_the_reserve_is_really_taken(disk):
    place = disk(RESERVE_BYTES + ROOM_BYTES + MIB)
    made = open_folder(str(place), "Card", NOW)
    fill(place)
    made.close()
    (place / "document").write_bytes(b"x" * (RESERVE_BYTES - 64 * 1024))


@pytest.mark.usefixtures("_quiet")
@pytest.mark.parametrize("at", [1, 3, 9, 40, 90])
@pytest.mark.parametrize("condition", CONDITIONS)
def test_a_disk_that_fills_up_costs_nothing_that_was_learnt(
    condition, at, disk, capsys, monkeypatch
):
    code, outcome = CONDITIONS[condition]
    place = disk(RESERVE_BYTES + ROOM_BYTES + MIB)
    opened = practise_on(monkeypatch, lambda card: Filling(card, at, place))
    ended = command(capsys, place / "out", "--practice", condition, "--depth", "quick")
    assert opened[0].calls > at
    assert (place / "filler").stat().st_size > ROOM_BYTES // 2
    assert (ended.code, ended.record.verdict.outcome) == (code, outcome)
    assert not ended.record.interrupted
    assert {one.outcome for one in ended.record.phases} <= {"done", "skipped"}
    assert (ended.folder / "report.html").stat().st_size > 10_000
    assert "Traceback" not in ended.err


@pytest.mark.usefixtures("_quiet")
def test_without_even_the_reserve_the_record_is_kept_elsewhere(
    disk, tmp_path, capsys, monkeypatch
):
    place = disk(RESERVE_BYTES + ROOM_BYTES + MIB)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)

    reserve = place / "out" / ".reserve"
    practise_on(monkeypatch, lambda card: Filling(card, 9, place, reserve))
    ended = command(capsys, place / "out", "--practice", "mirrored", "--depth", "quick")
    assert ended.code == 3
    assert "No space left on device; the record is kept as" in ended.err
    (rescued,) = tmp_path.glob("cardassay-*/record.json")
    assert codec.load(rescued).verdict.outcome == "not as claimed"
