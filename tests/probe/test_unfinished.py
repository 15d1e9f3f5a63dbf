"""Runs that the PC or the program did not survive: found, told, concluded, resumed."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from command_line import command, keep_table
from cut_runs import killed
from told_runs import GIB, MIB, incident, short, started, told, until, written

from probe import cli
from probe.events import Closed, PassBegan, PhaseBegan, Taking, Troubled
from probe.places import state_folder
from probe.survival import benches, conclude, journal, open_runs
from probe.survival.open_runs import cut_off, mark, unmark
from probe.survival.talk import Picked
from reports import codec

ANOTHER_START = "00000000-0000-4000-8000-000000000000"


@pytest.fixture(autouse=True)
def _one_table(monkeypatch):
    keep_table(monkeypatch)


class NoCards:
    """A bench of a PC without any card; it counts how often one was asked for."""

    def __init__(self):
        self.asked = []
        self.measured = []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None

    def pick(self, wanted):
        self.asked.append(wanted)
        return Picked(problem="no card is in this PC")

    def measure(self, target, plan, story, keep, show):
        self.measured.append((target, plan))


@pytest.fixture
def bench(monkeypatch):
    one = NoCards()
    monkeypatch.setattr(benches, "open_bench", lambda _: one)
    return one


def real(facts):
    """The same facts, told of a real card."""
    return (started(practice_condition=None), *facts[1:])


def leave(folder, data, *, practice=False, **fields):
    """Leave a run's journal and its mark behind; `fields` of the mark are changed."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "journal.txt"
    path.write_bytes(data)
    place = mark(state_folder(), path, "Card", practice=practice)
    told_of = json.loads(place.read_bytes())
    place.write_text(json.dumps(told_of | {"process_began": 1.0} | fields))
    return place


WRITING = until(told(size_bytes=8 * GIB), PassBegan, action="write")
"""Cut off at the first block: 0 GiB."""


def writing(blocks):
    """A run cut off after so many blocks were written."""
    facts = told(size_bytes=8 * GIB)
    end = facts.index(WRITING[-1]) + 1 + blocks
    return facts[:end]


# Which runs are open


def test_a_run_under_way_is_left_alone(tmp_path):
    (tmp_path / "journal.txt").write_bytes(written(short()))
    place = mark(state_folder(), tmp_path / "journal.txt", "Card", practice=False)
    assert cut_off(state_folder()) == ()
    assert place.exists()
    unmark(place)
    assert not place.exists()
    unmark(place)
    unmark(None)


def test_a_number_that_is_used_again_is_another_process(tmp_path):
    leave(tmp_path, b"x", pid=os.getpid())
    (one,) = cut_off(state_folder())
    assert not one.pc_restarted
    assert one.run.label == "Card"


def test_a_process_that_is_no_more(tmp_path):
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    began = open_runs._began(os.getpid())
    leave(tmp_path, b"x", pid=process.pid, process_began=began)
    assert len(cut_off(state_folder())) == 1


def test_a_process_that_nobody_waited_for_is_no_more(tmp_path):
    process = subprocess.Popen([sys.executable, "-c", ""], stdout=subprocess.PIPE)
    process.stdout.read()
    began = open_runs._began(process.pid)
    while began is not None:
        began = open_runs._began(process.pid)
    leave(tmp_path, b"x", pid=process.pid, process_began=1.0)
    assert len(cut_off(state_folder())) == 1
    process.wait()
    process.stdout.close()


def test_when_a_process_began_is_no_matter_of_the_clock(monkeypatch):
    """The clock is set while a run is under way: it is still the same process."""
    import psutil  # noqa: PLC0415

    before = open_runs._began(os.getpid())
    real_boot = psutil.boot_time()
    monkeypatch.setattr("psutil.boot_time", lambda: real_boot + 3600)
    monkeypatch.setattr("psutil._pslinux.boot_time", lambda: real_boot + 3600)
    assert open_runs._began(os.getpid()) == before
    assert open_runs._began(2**22 + 1) is None


def test_the_pc_was_started_since(tmp_path):
    leave(tmp_path, b"x", boot=ANOTHER_START)
    (one,) = cut_off(state_folder())
    assert one.pc_restarted


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("29401000", "29401000", True),
        ("29401000", "29401001", True),
        ("29401000", "29401009", False),
        ("nan", "29401009", False),
        (ANOTHER_START, "x", False),
    ],
)
def test_a_start_told_as_a_time_may_move_a_little(one, other, same):
    """Where the system names no start, its time moves when the clock is set."""
    assert open_runs._same_boot(one, other) == same


def test_what_is_no_mark_is_passed_over(tmp_path):
    place = leave(tmp_path, b"x", boot=ANOTHER_START)
    folder = place.parent
    (folder / "a.json").write_bytes(b"")
    (folder / "b.json").write_bytes(b"\xff{")
    (folder / "c.json").write_text(json.dumps({"journal": "x", "pid": "many"}))
    (folder / "d.json").mkdir()
    (folder / "e.json").write_bytes(place.read_bytes().replace(b'"Card"', b'"x"' * 9))
    (folder / "f.json").write_bytes(b"[" * 60000)
    assert [one.mark for one in cut_off(state_folder())] == [place]


def test_a_run_that_was_ended_before_its_first_fact_had_not_begun(tmp_path):
    place = leave(tmp_path, b"", boot=ANOTHER_START)
    assert cut_off(state_folder()) == ()
    assert not place.exists()


def test_a_mark_without_a_journal_is_forgotten(tmp_path):
    place = leave(tmp_path, b"x", boot=ANOTHER_START)
    (tmp_path / "journal.txt").unlink()
    assert cut_off(state_folder()) == ()
    assert not place.exists()


def test_no_folder_for_marks_is_no_error(tmp_path, monkeypatch):
    assert mark(None, tmp_path / "journal.txt", "Card", practice=False) is None
    assert cut_off(None) == ()
    full = tmp_path / "file"
    full.write_bytes(b"")
    assert mark(full, tmp_path / "journal.txt", "Card", practice=False) is None
    assert cut_off(full) == ()
    monkeypatch.setenv("XDG_STATE_HOME", str(full))
    assert state_folder() is None


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have no such names")
def test_a_folder_whose_name_is_no_text(capsys, tmp_path):
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff\xfe"))
    ended = command(capsys, folder, "--practice", "as-claimed", "--depth", "quick")
    assert ended.code == 3
    assert ended.record.verdict.outcome == "undetermined"


def test_a_state_folder_that_cannot_be_written(capsys, tmp_path, monkeypatch):
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    folder = tmp_path / "out"
    ended = command(capsys, folder, "--practice", "as-claimed", "--depth", "quick")
    assert ended.code == 3
    ended = command(capsys, folder, "--conclude")
    assert ended.code == 3
    assert "name its folder behind the option" in ended.err


@pytest.mark.parametrize("way", ["--conclude", "--resume"])
def test_a_run_under_way_is_neither_concluded_nor_gone_on_with(
    capsys, tmp_path, bench, way
):
    data = written(real(WRITING))
    place = leave(tmp_path, data, process_began=open_runs._began(os.getpid()))
    ended = command(capsys, tmp_path / "x", way, str(tmp_path), "--yes")
    assert (ended.code, ended.out) == (3, "")
    assert f"this test is still under way (process {os.getpid()})" in ended.err
    assert place.exists()
    assert (tmp_path / "journal.txt").read_bytes() == data
    assert sorted(one.name for one in tmp_path.iterdir()) == ["journal.txt"]
    assert bench.measured == []


# What is said of them


def test_a_test_on_top_of_one_that_did_not_end(capsys, tmp_path, bench):
    data = written(real(writing(3)))
    place = leave(tmp_path / "old", data, boot=ANOTHER_START)
    ended = command(capsys, tmp_path / "new")
    assert ended.code == 3
    assert ended.err.startswith(
        "cardassay: GeForce GTX 1070: an earlier test did not end. Memory, first pass: "
        "writing, at 0.38 GiB of the card's memory: the PC froze, lost its power or "
        "was restarted while this was done\n"
    )
    for way in ("--conclude", "--resume", "--yes"):
        assert way in ended.err
    assert bench.asked == []
    assert place.exists()
    assert not (tmp_path / "new").exists()


def test_with_yes_it_is_concluded_and_a_new_test_begins(capsys, tmp_path, bench):
    data = written(real(writing(3)))
    place = leave(tmp_path / "old", data, boot=ANOTHER_START)
    ended = command(capsys, tmp_path / "new", "--yes")
    assert ended.code == 3
    assert "an earlier test did not end" in ended.err
    assert "no card is in this PC" in ended.err
    assert bench.asked == [None]
    assert not place.exists()
    record = codec.load(tmp_path / "old" / "record.json")
    assert [one.kind for one in record.incidents] == ["frozen"]
    assert record.verdict.outcome == "undetermined"
    assert (tmp_path / "old" / "report.html").exists()
    assert (tmp_path / "old" / "journal.txt").exists()


def test_practice_runs_hold_nothing_up(capsys, tmp_path, bench):
    place = leave(tmp_path / "old", written(WRITING), practice=True)
    ended = command(capsys, tmp_path / "new")
    assert "an earlier test" not in ended.err
    assert bench.asked == [None]
    assert place.exists()
    ended = command(capsys, tmp_path / "p", "--practice", "--depth", "quick")
    assert ended.code == 3


def test_two_open_runs_are_settled_one_by_one(capsys, tmp_path, bench):
    for name, age in (("older", 1000), ("newer", 2000)):
        place = leave(tmp_path / name, written(real(WRITING)), boot=ANOTHER_START)
        os.utime(place, (age, age))
    assert command(capsys, tmp_path / "new").code == 3
    for name in ("newer", "older"):
        left = [Path(one.run.journal).parent.name for one in cut_off(state_folder())]
        assert left[0] == name
        assert command(capsys, tmp_path / "new", "--conclude").code == 3
        assert (tmp_path / name / "report.html").exists()
    assert cut_off(state_folder()) == ()
    ended = command(capsys, tmp_path / "new", "--conclude")
    assert (ended.code, bench.asked) == (3, [])
    assert ended.err == (
        "cardassay: no run that was cut off is known here; name its folder behind the "
        "option\n"
    )


def test_with_yes_all_of_them_are_concluded(capsys, tmp_path, bench):
    for name in ("one", "two"):
        leave(tmp_path / name, written(real(WRITING)))
    leave(tmp_path / "bad", b"not a journal\n")
    ended = command(capsys, tmp_path / "new", "--yes")
    assert "no card is in this PC" in ended.err
    assert cut_off(state_folder()) == ()
    assert all((tmp_path / name / "report.html").exists() for name in ("one", "two"))
    assert not (tmp_path / "bad" / "report.html").exists()
    assert "not a journal of cardassay" in ended.err
    assert bench.asked == [None]


def test_what_cannot_be_read_is_said_and_not_offered_again(capsys, tmp_path, bench):
    place = leave(tmp_path / "old", b"0" * 100)
    assert "--conclude" in command(capsys, tmp_path / "new").err
    ended = command(capsys, tmp_path / "new", "--conclude")
    assert ended.code == 3
    assert "not a journal of cardassay" in ended.err
    assert "test again" in ended.err
    assert not place.exists()
    command(capsys, tmp_path / "new")
    assert bench.asked == [None]


# Concluded


def concluded(capsys, folder, *options):
    """Conclude the run in a folder; return what came of it, and its record."""
    ended = command(capsys, folder, "--conclude", *options)
    return ended, codec.load(folder / "record.json")


@pytest.mark.parametrize(
    ("boot", "kind", "detail"),
    [
        (ANOTHER_START, "frozen", conclude.PC_DOWN),
        (None, "ended", conclude.ENDED),
    ],
)
def test_it_says_where_it_stood(capsys, tmp_path, bench, boot, kind, detail):
    facts = writing(3)
    fields = {"boot": boot} if boot else {}
    leave(tmp_path, written(facts), practice=True, **fields)
    ended, record = concluded(capsys, tmp_path)
    assert ended.code == 3
    (cut,) = record.incidents
    taking = [one for one in facts if isinstance(one, Taking)][3]
    assert (cut.kind, cut.phase, cut.detail) == (kind, "write", detail)
    assert (cut.at_bytes, cut.block_bytes) == (
        taking.first_cell * 16,
        taking.size_bytes,
    )
    assert f"at {cut.at_bytes / 2**30:.2f} GiB of the card's memory: {detail}" in (
        ended.err
    )
    assert record.interrupted
    assert record.phases[-1].outcome == "failed"
    assert "cut-off" in {one.rule for one in record.findings}
    assert record.verdict.outcome == "undetermined"
    assert bench.measured == []


def test_a_folder_may_be_named_or_its_journal(capsys, tmp_path, bench):
    place = leave(tmp_path / "a", written(WRITING), boot=ANOTHER_START)
    leave(tmp_path / "b", written(WRITING), boot=ANOTHER_START)
    for named in (tmp_path / "a", tmp_path / "a" / "journal.txt"):
        ended = command(capsys, tmp_path / "x", "--conclude", str(named), "--quiet")
        assert ended.code == 3
        assert len(ended.lines) == 1
    assert not place.exists()
    assert len(cut_off(state_folder())) == 1
    assert not (tmp_path / "b" / "report.html").exists()
    for named in (tmp_path / "none", tmp_path):
        ended = command(capsys, tmp_path / "x", "--conclude", str(named))
        assert (ended.code, ended.out) == (3, "")
        assert "no journal of a run is there; name its folder" in ended.err
    assert bench.asked == []


def test_a_run_that_was_over_but_for_its_record(capsys, tmp_path, bench):
    leave(tmp_path, written((*told(size_bytes=8 * GIB), Closed())), practice=True)
    ended, record = concluded(capsys, tmp_path)
    assert ended.code == 3
    assert "it was over but for its record" in ended.err
    assert record.incidents == ()
    assert not record.interrupted
    assert record.verdict.outcome == "undetermined"
    assert not (tmp_path / "journal.txt").exists()
    assert bench.asked == []


def test_as_json_it_is_the_record(capsys, tmp_path, bench):
    leave(tmp_path, written(WRITING), practice=True)
    ended, record = concluded(capsys, tmp_path, "--json")
    assert codec.decode(ended.out.encode()) == record
    assert bench.asked == []


def test_a_damaged_journal_says_where(capsys, tmp_path, bench):
    data = written(writing(3))
    lines = data.splitlines(keepends=True)
    lines[20] = lines[20].replace(b":", b";", 1)
    leave(tmp_path, b"".join(lines), practice=True, boot=ANOTHER_START)
    ended, record = concluded(capsys, tmp_path)
    assert ended.code == 3
    (cut,) = record.incidents
    start = len(b"".join(lines[:20])) + 1
    said = (
        "the journal ends early: a line is damaged, missing or out of place "
        f"(line 21, byte {start})"
    )
    assert cut.detail == f"{conclude.PC_DOWN}; {said}"
    assert said in ended.err
    assert bench.asked == []


def test_a_journal_of_a_newer_version_is_read_up_to_what_is_new(
    capsys, tmp_path, bench
):
    text, seed = b"", None
    for age, fact in enumerate(WRITING):
        line, seed = journal.line(fact, age, seed or journal._SEED)
        text += line
    body = b'99.000 {"type":"SomethingNew"}\n'
    import zlib  # noqa: PLC0415

    text += b"%08x " % zlib.crc32(body, seed) + body
    leave(tmp_path, text, practice=True)
    _, record = concluded(capsys, tmp_path)
    assert "was written by another version of this program" in (
        record.incidents[0].detail
    )
    assert bench.asked == []


def test_a_journal_that_contradicts_itself_is_read_up_to_there(capsys, tmp_path, bench):
    facts = writing(3)
    wrong = written((*facts, *[one for one in facts if isinstance(one, Taking)][:1]))
    leave(tmp_path, wrong + b"", practice=True)
    concluded(capsys, tmp_path)
    torn = (*facts[:30], *facts[33:])
    leave(tmp_path / "torn", written(torn), practice=True)
    _, record = concluded(capsys, tmp_path / "torn")
    assert "it contradicts itself: block" in record.incidents[-1].detail
    assert bench.asked == []


@pytest.mark.parametrize("end", range(1, 60, 4))
def test_wherever_it_was_cut_off_there_is_a_record(tmp_path, end):
    telling = journal.parse(written(told(size_bytes=8 * GIB)[:end]))
    story, seconds, cut = conclude.retold(telling, pc_restarted=True)
    assert cut.incident.kind == "frozen"
    assert cut.seconds >= 0
    record = story.record(seconds, unfinished=True)
    assert codec.decode(codec.encode(record)) == record
    assert conclude.said(story).endswith(conclude.PC_DOWN)
    assert tmp_path.is_dir()


def test_what_it_lasted_is_told_from_its_phase_on():
    facts = until(told(size_bytes=8 * GIB), PhaseBegan, name="write")
    telling = journal.parse(written((*facts, *writing(3)[len(facts) :])))
    _, seconds, cut = conclude.retold(telling, pc_restarted=False)
    assert cut.seconds == seconds - (len(facts) - 1)


# Gone on with


@pytest.fixture(scope="module")
def hung(tmp_path_factory):
    """A run of the program that was killed while its driver hung at 2 GiB."""
    above = tmp_path_factory.mktemp("hung")
    before = os.environ.get("XDG_STATE_HOME")
    os.environ["XDG_STATE_HOME"] = str(above / "state")
    try:
        killed(above / "out")
    finally:
        if before is None:
            del os.environ["XDG_STATE_HOME"]
        else:
            os.environ["XDG_STATE_HOME"] = before
    (place,) = (above / "state" / "cardassay" / "runs").iterdir()
    return above / "out", json.loads(place.read_bytes())


@pytest.fixture
def cut(hung, tmp_path):
    """The same, in a place of this test's own; returns what changes its mark."""
    out, told_of = hung
    folder = tmp_path / "out"
    shutil.copytree(out, folder)

    def marked(**fields):
        runs = state_folder() / "runs"
        runs.mkdir()
        changed = told_of | {"journal": str(folder / "journal.txt")} | fields
        (runs / "x.json").write_text(json.dumps(changed))
        return folder

    return marked


def test_a_killed_run_is_concluded(capsys, cut):
    folder = cut()
    ended, record = concluded(capsys, folder)
    assert ended.code == 3
    (one,) = record.incidents
    assert (one.kind, one.phase, one.at_bytes) == ("ended", "write", 2 * 2**30)
    assert record.practice
    assert sorted(path.name for path in folder.iterdir()) == [
        "journal.txt", "record.json", "report.html",
    ]  # fmt: skip


def test_a_run_that_froze_the_pc_goes_on_below_that_place(capsys, cut):
    """It never comes to what froze it: nothing hangs, and nothing is repeated."""
    folder = cut(boot=ANOTHER_START)
    capsys.readouterr()
    code = cli.main(["check", "--resume", "--patience", "60"])
    out, err = capsys.readouterr()
    assert code == 3
    assert "the PC froze, lost its power or was restarted while this was done" in err
    assert out.startswith("Practice run: no real card was tested.")
    record = codec.load(folder / "record.json")
    assert [(one.kind, one.at_bytes) for one in record.incidents] == [
        ("frozen", 2 * 2**30)
    ]
    assert record.capacity.ended_by == "below a crash"
    assert record.capacity.proven_bytes == 2 * 2**30
    assert "crash-place" not in {one.rule for one in record.findings}
    assert [one.name for one in record.rates] == [
        "fp32", "fp64", "memory_read", "memory_write",
    ]  # fmt: skip
    assert not record.interrupted
    assert cut_off(state_folder()) == ()
    kept = journal.read(folder / "journal.txt")
    assert kept.damage is None
    assert isinstance(kept.entries[-1].fact, Closed)
    earlier = [path for path in folder.iterdir() if path.name.startswith("journal.2")]
    assert len(earlier) == 1
    ages = [one.seconds for one in kept.entries]
    assert ages == sorted(ages)
    starts = [one.started_seconds for one in record.phases]
    assert starts == sorted(starts)


def test_a_resumed_run_that_is_cut_off_as_well_keeps_both(capsys, cut, monkeypatch):
    folder = cut(boot=ANOTHER_START)

    class Ends(NoCards):
        def measure(self, target, plan, story, keep, show):
            for fact in told("hanging-driver", 64 * MIB, limit_bytes=16 * MIB)[1:9]:
                keep(fact)
                story.apply(fact)
            raise MemoryError

    monkeypatch.setattr(benches, "open_bench", lambda _: Ends())
    cli.main(["check", "--resume"])
    capsys.readouterr()
    kept = journal.read(folder / "journal.txt")
    story, _, end = conclude.retold(kept, pc_restarted=False)
    assert [one.kind for one in story.incidents] == ["frozen", "ended"]
    assert end is not None


def test_a_real_card_is_gone_on_with_only_after_the_cautions(capsys, tmp_path, bench):
    leave(tmp_path, written(real(WRITING)), boot=ANOTHER_START)
    ended = command(capsys, tmp_path, "--resume")
    assert ended.code == 2
    assert "Save your work" in ended.err
    assert bench.measured == []
    assert len(cut_off(state_folder())) == 1
    ended = command(capsys, tmp_path, "--resume", "--yes")
    ((target, plan),) = bench.measured
    assert target.identity.label == "GeForce GTX 1070"
    assert plan.without == ("proof",)  # it froze the PC at 0 GiB
    assert plan.folder == str(tmp_path)
    assert cut_off(state_folder()) == ()
    assert ended.record.incidents[0].kind == "frozen"


@pytest.mark.parametrize("asked", [{"depth": "thorough"}, {"soak_seconds": 60.0}])
def test_a_long_run_does_not_go_on_by_battery(
    capsys, tmp_path, bench, monkeypatch, asked
):
    monkeypatch.setattr("probe.check.on_battery", lambda: True)
    facts = (started(practice_condition=None, **asked), *WRITING[1:])
    leave(tmp_path, written(facts))
    ended = command(capsys, tmp_path, "--resume", "--yes")
    assert ended.code == 2
    assert "the PC runs on its battery" in ended.err
    assert bench.measured == []


def test_nothing_left_is_said(capsys, tmp_path, bench):
    over = (*told(size_bytes=8 * GIB)[:-1], Troubled(incident=incident()))
    whole = (*over, *told(size_bytes=8 * GIB)[1:], Closed())
    place = leave(tmp_path, written(whole), practice=True)
    ended = command(capsys, tmp_path, "--resume")
    assert ended.code == 3
    assert "nothing is left to be done; make its report with --conclude" in ended.err
    assert "an earlier test was cut off, and went on to its end" in ended.err
    assert place.exists()
    assert bench.measured == []


def test_a_card_that_was_never_opened_is_tested_anew(capsys, tmp_path, bench):
    place = leave(tmp_path, written([started(practice_condition=None)]))
    ended = command(capsys, tmp_path, "--resume", "--yes")
    assert ended.code == 3
    assert "it ended before its card was opened" in ended.err
    assert place.exists()
    assert bench.measured == []
    ended, record = concluded(capsys, tmp_path)
    assert ended.code == 3
    assert record.incidents[0].phase == "opening"


@pytest.mark.parametrize("way", ["--conclude", "--resume"])
@pytest.mark.parametrize(
    "option",
    [
        ("--claim", "GeForce GTX 1070"), ("--claim-memory", "8GiB"), ("--card", "0"),
        ("--practice",), ("--practice", "mirrored"), ("--or-practice",),
        ("--depth", "quick"), ("--depth", "standard"), ("--memory-limit", "1GiB"),
        ("--soak", "0"),
    ],
)  # fmt: skip
def test_what_the_earlier_test_settled_is_refused(capsys, tmp_path, bench, way, option):
    place = leave(tmp_path, written(real(WRITING)), boot=ANOTHER_START)
    ended = command(capsys, tmp_path, way, "--yes", *option)
    assert (ended.code, ended.out) == (2, "")
    assert ended.err == (
        f"cardassay: {way} is about an earlier test, as it was asked for then: leave "
        f"{option[0]} out, or leave {way} out and test anew\n"
    )
    assert place.exists()
    assert len(cut_off(state_folder())) == 1
    assert bench.measured == []


@pytest.mark.parametrize("way", ["--conclude", "--resume"])
def test_where_the_earlier_report_goes_is_said(capsys, tmp_path, bench, way):
    ended = command(capsys, tmp_path, way, "--out", str(tmp_path / "new"))
    assert ended.code == 2
    assert ended.err == (
        "cardassay: the report of an earlier test is stored in that test's folder: "
        f"name it behind {way}, as `{way} DIR`, instead of --out\n"
    )


def test_several_are_named_in_one_message(capsys, tmp_path, bench):
    options = ("--patience", "10", "--out", "x", "--depth", "quick")
    ended = command(capsys, tmp_path, "--conclude", *options)
    assert ended.code == 2
    assert "leave --depth, --out, --patience out, or" in ended.err


def test_what_measuring_needs_is_heeded_when_going_on(capsys, tmp_path, bench):
    leave(tmp_path, written(real(WRITING)), boot=ANOTHER_START)
    options = ("--yes", "--load-together", "--patience", "60")
    command(capsys, tmp_path, "--resume", *options)
    ((_, plan),) = bench.measured
    assert plan.load_together


def test_only_one_of_both_can_be_asked_for(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--resume", "--conclude")
    assert ended.code == 2
    assert "not allowed with argument" in ended.err
