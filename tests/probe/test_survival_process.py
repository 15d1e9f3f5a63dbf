"""Real measuring processes that crash, hang, babble or are ended, and what is told."""

import os
import signal
import time

import pytest
from command_line import command, keep_table
from cut_runs import Watched, check, gone, hanging, instead, once, until

from probe import cli
from probe.errors import HostError
from probe.events import (
    RISKY,
    VIEWS,
    Ended,
    Noted,
    Opened,
    PhaseBegan,
    Started,
    Taking,
    Troubled,
)
from probe.survival import journal, parent
from probe.survival.bench import BugError, Supervised
from probe.survival.parent import Gone, Process
from reports import codec

GIB = 2**30


@pytest.fixture(autouse=True)
def _one_table(monkeypatch):
    keep_table(monkeypatch)


def clean(record):
    """Whether a record is valid and tells of no process that is left."""
    return codec.decode(codec.encode(record)) == record


# Whole commands


def test_a_driver_that_crashes_again_at_its_place(capsys, tmp_path):
    folder = tmp_path / "out"
    ended = command(capsys, folder, "--practice", "crashing-driver", "--depth", "quick")
    record = ended.record
    assert ended.code == 3
    assert record.verdict.outcome == "undetermined"
    cuts = [(one.kind, one.phase, one.at_bytes) for one in record.incidents]
    assert cuts == [("crashed", "write", 2 * GIB)] * 2
    assert "SIGSEGV" in record.incidents[0].detail
    assert record.capacity.ended_by == "below a crash"
    assert record.capacity.proven_bytes == 2 * GIB
    (place,) = [one for one in record.findings if one.rule == "crash-place"]
    assert (place.strength, place.bearing) == ("strong", "contradicts")
    assert [one.name for one in record.rates] == [
        "fp32", "fp64", "memory_read", "memory_write",
    ]  # fmt: skip
    kept = journal.read(folder / "journal.txt")
    assert kept.damage is None
    assert sum(isinstance(one.fact, Troubled) for one in kept.entries) == 2
    said = "Memory, first pass: writing at 2.00 GiB: its driver crashed"
    assert ended.out.count(said) == 3  # as it happens, twice; and in the result
    starts = [one.started_seconds for one in record.phases]
    assert starts == sorted(starts)
    assert not record.interrupted


def test_a_launch_that_never_ends(capsys, tmp_path):
    began = time.monotonic()
    ended = command(
        capsys, tmp_path, "--practice", "hanging-driver", "--depth", "quick",
        "--patience", "1", "--quiet",
    )  # fmt: skip
    assert time.monotonic() - began < 60
    record = ended.record
    assert ended.code == 3
    cuts = [(one.kind, one.phase, one.at_bytes) for one in record.incidents]
    assert cuts == [("hung", "write", 2 * GIB)] * 2
    assert {one.detail for one in record.incidents} == {
        "no answer for 1 s beyond its time"
    }
    assert "crash-place" in {one.rule for one in record.findings}
    failed = [one for one in record.phases if one.outcome == "failed"]
    assert [one.name for one in failed] == ["write", "write"]
    assert all(1.0 <= one.seconds < 20 for one in failed)
    assert len(ended.lines) == 1


def test_a_run_that_nothing_cut_off_leaves_no_journal(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "as-claimed", "--depth", "quick")
    assert ended.record.incidents == ()
    assert sorted(one.name for one in tmp_path.iterdir()) == [
        "record.json", "report.html",
    ]  # fmt: skip


def test_a_disk_that_is_full_ends_no_run(capsys, tmp_path, monkeypatch):
    real = journal.Journal.write

    def write(book, fact, seconds):
        real(book, fact, seconds)
        if isinstance(fact, PhaseBegan) and book.problem is None:
            book.problem = f"{book.path}: cannot be written: No space left on device"

    monkeypatch.setattr(journal.Journal, "write", write)
    ended = command(capsys, tmp_path, "--practice", "as-claimed", "--depth", "quick")
    assert ended.code == 3
    assert ended.out.count("No space left on device; going on") == 1
    assert ended.record.verdict is not None
    assert not ended.record.interrupted


def test_what_is_risky_is_stored_before_it_is_done(capsys, tmp_path, monkeypatch):
    told = []
    real = journal.Journal.write

    def write(book, fact, seconds):
        told.append(fact)
        real(book, fact, seconds)

    monkeypatch.setattr(journal.Journal, "write", write)
    monkeypatch.setattr(journal.Journal, "sync", lambda _: told.append("stored"))
    command(capsys, tmp_path, "--practice", "mirrored", "--depth", "quick")
    risky = [place for place, one in enumerate(told) if isinstance(one, RISKY)]
    assert {type(told[place]) for place in risky} == {PhaseBegan, Taking}
    assert all(told[place + 1] == "stored" for place in risky)
    assert isinstance(told[0], Started)
    assert told[1] == "stored"  # before the card is opened


# Processes that are ended


@pytest.mark.parametrize(
    ("number", "kind"),
    [
        (signal.SIGKILL, "killed"),
        (signal.SIGTERM, "killed"),
        (signal.SIGSEGV, "crashed"),
    ],
)
def test_a_process_ended_by_a_signal(number, kind):
    """Ended in a rate: that one is left out, and everything after it is done."""
    meddle = once(PhaseBegan, lambda pid: os.kill(pid, number), name="fp64")
    run = Watched().run(meddle)
    (cut,) = run.incidents
    assert (cut.kind, cut.phase, cut.at_bytes) == (kind, "fp64", None)
    assert cut.detail.startswith(f"its process was ended by {number.name}")
    assert {one.name for one in run.record.rates} == {
        "fp32", "memory_read", "memory_write",
    }  # fmt: skip
    assert run.record.capacity.ended_by != "below a crash"
    assert len(run.pids) == 2
    assert all(map(gone, run.pids))
    assert clean(run.record)
    assert run.story.is_over


def test_a_process_ended_while_a_block_is_taken():
    meddle = once(Taking, lambda pid: os.kill(pid, signal.SIGKILL), number=40)
    run = Watched(without=("fp32", "fp64", "memory_read", "memory_write")).run(meddle)
    (cut,) = run.incidents
    assert (cut.kind, cut.phase) == ("killed", "take")
    assert cut.at_bytes == cut.block_bytes * 40
    assert run.record.capacity.ended_by == "driver refused"
    assert clean(run.record)


def test_a_process_that_is_stopped_is_ended():
    """Nobody hears from a stopped process: to the watchdog it hangs."""
    meddle = once(PhaseBegan, lambda pid: os.kill(pid, signal.SIGSTOP), name="fp32")
    run = Watched(patience=0.5).run(meddle)
    (cut,) = run.incidents
    assert (cut.kind, cut.phase) == ("hung", "fp32")
    assert all(map(gone, run.pids))
    failed = [one for one in run.record.phases if one.outcome == "failed"]
    assert len(failed) == 1
    assert 0.5 <= failed[0].seconds < 10


def test_the_process_waits_until_what_is_risky_is_stored():
    """While the watching side keeps a risky fact, nothing further is told."""
    running = Watched()
    at_risk = []

    def meddle(fact, _):
        if at_risk and at_risk[-1][1] is None:
            at_risk[-1] = (at_risk[-1][0], len(running.kept))
        if isinstance(fact, RISKY):
            at_risk.append((len(running.kept), None))

    running.run(meddle)
    assert len(at_risk) > 20
    assert clean(running.record)
    # The reading thread itself keeps; a fact told too early would wait in the pipe:
    pairs = [one for one in at_risk if one[1] is not None]
    assert all(after == before + 1 for before, after in pairs)


def test_all_facts_are_kept_before_the_end_is():
    meddle = once(PhaseBegan, lambda pid: os.kill(pid, signal.SIGKILL), name="fp64")
    run = Watched().run(meddle)
    (end,) = [place for place, one in enumerate(run.kept) if isinstance(one, Troubled)]
    assert isinstance(run.kept[end - 1], PhaseBegan)
    assert isinstance(run.kept[end + 1], Opened)
    assert Noted(text="going on in a fresh process") in run.shown


# Processes that are not ours


def false_run(monkeypatch, code, patience=5.0):
    processes = instead(monkeypatch, code)
    run = Watched(patience=patience)
    try:
        run.run()
    finally:
        assert all(one.returncode is not None for one in processes)
    return run


FRAME = """
import msgspec
def frame(value):
    body = msgspec.msgpack.encode(value)
    sys.stdout.buffer.write(len(body).to_bytes(4, "little") + body)
"""
OPEN = """
from reports.record import CardIdentity
order()
say(Opened(identity=CardIdentity(label="x", kind="gpu", index=0), claims=(),
           memory_bytes=2**30))
"""


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("sys.stdout.buffer.write(b'\\xff' * 100)", "a message of 4294967295 bytes"),
        ("sys.stdout.buffer.write(b'\\4\\0\\0\\0null')", "its process told nonsense"),
        (
            "talk.send(sys.stdout.buffer, talk.Stop())",
            "Invalid value 'Stop'",
        ),
        (
            "frame({'type': 'A\\x1b[31m' * 10**6})",
            "Invalid value",
        ),
        (
            "frame({'type': 'Taken', 'number': -1})",
            "Expected `int` >= 0",
        ),
        (OPEN + "say(ProofBegan(nonce=1)); say(Taken(number=7))", "block 7 was taken"),
        ("say(PhaseBegan(name='x' * 5000, title=''))", "length <= 4096"),
    ],
)
def test_a_process_that_babbles(monkeypatch, code, said):
    after = "\nsys.stdout.flush()\nsys.stdin.buffer.read()"
    run = false_run(monkeypatch, FRAME + code + after)
    assert {one.kind for one in run.incidents} == {"babbled"}
    assert len(run.incidents) <= 2
    detail = run.incidents[0].detail
    assert said in detail
    assert "\x1b" not in detail
    assert len(detail) < 1000
    assert clean(run.record)


def test_a_process_that_ends_with_a_code(monkeypatch):
    run = false_run(monkeypatch, "os._exit(7)")
    assert [one.kind for one in run.incidents] == ["crashed"] * 2
    assert run.incidents[0].detail == "its process ended with code 7"
    assert run.incidents[0].phase == "opening"
    assert clean(run.record)


def test_a_process_whose_last_words_are_a_flood(monkeypatch):
    """More than any pipe holds: it must not wait for us to read it."""
    flood = (
        "for _ in range(200): os.write(2, b'\\x1b[31m noise ' * 1000)\n"
        "os.write(2, 'the end \\u2028\\n'.encode())\nos._exit(5)"
    )
    run = false_run(monkeypatch, flood)
    detail = run.incidents[0].detail
    assert detail.startswith("its process ended with code 5; its last words: ")
    assert "the end" in detail
    assert len(detail) < 1000
    assert not any(ord(sign) < 32 for sign in detail)
    assert clean(run.record)


def test_a_process_that_falls_silent_and_stays(monkeypatch):
    monkeypatch.setattr(parent, "END_SECONDS", 0.2)
    run = false_run(monkeypatch, "os.close(1)\nwhile True: os.read(0, 1)")
    assert {one.kind for one in run.incidents} <= {"hung", "killed", "crashed"}
    assert run.incidents


def test_a_process_that_never_says_a_word(monkeypatch):
    run = false_run(
        monkeypatch, "import signal\nwhile True: signal.pause()", patience=0.1
    )
    assert [one.kind for one in run.incidents] == ["hung"] * 2
    assert run.incidents[0].phase == "opening"


@pytest.mark.parametrize(("fault", "error"), [("host", HostError), ("bug", BugError)])
def test_a_card_that_cannot_be_opened_is_the_persons_to_know(monkeypatch, fault, error):
    code = f"order()\nsay(talk.Refusal(fault={fault!r}, text='no driver'))\norder()"
    instead(monkeypatch, code)
    with pytest.raises(error, match="no driver"):
        Watched().run()


def test_a_card_that_does_not_open_again_ends_the_run(monkeypatch):
    """It crashed, and its driver is gone: no more is tried than makes sense."""
    instead(
        monkeypatch,
        """
import pathlib, tempfile
seen = pathlib.Path(os.environ["XDG_STATE_HOME"])
order()
if seen.exists():
    say(talk.Refusal(fault="host", text="x: no longer found" + "!" * 10000))
else:
    seen.mkdir(parents=True)
    from reports.record import CardIdentity
    say(Opened(identity=CardIdentity(label="x", kind="gpu", index=0), claims=(),
               memory_bytes=2**30))
    say(PhaseBegan(name="fp32", title="x"))
    order()
    os._exit(9)
order()
""",
    )
    run = Watched().run()
    kinds = [(one.kind, one.phase) for one in run.incidents]
    assert kinds == [("crashed", "fp32"), ("lost", "after"), ("lost", "after")]
    assert clean(run.record)


def test_layers_that_end_the_process_are_left_out(monkeypatch):
    instead(
        monkeypatch,
        """
asked = order()
for layer in ("opencl", "nvml", "bus"):
    if layer not in asked.without:
        say(talk.Asking(layer=layer, seconds=5.0))
        if layer != "bus":
            os._exit(3)
say(talk.Picked(problem="; ".join(asked.without.values())))
order()
""",
    )
    with Supervised(5.0) as bench:
        assert bench.pick(None).problem == (
            "OpenCL was left out: its process ended with code 3; NVIDIA's management "
            "library (NVML) was left out: its process ended with code 3"
        )


def test_a_pc_that_cannot_be_asked_says_what_to_do(monkeypatch):
    processes = instead(monkeypatch, "order()\nos._exit(3)")
    with Supervised(5.0) as bench, pytest.raises(HostError, match="restart the PC"):
        bench.listing()
    assert len(processes) <= 4


def test_a_driver_that_crashes_a_listing_does_not_take_the_program_along(
    monkeypatch, capsys
):
    instead(monkeypatch, "order()\nos.kill(os.getpid(), 11)")
    assert cli.main(["list"]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("cardassay: the cards of this PC cannot be asked for: ")
    assert "SIGSEGV" in err


# The watchdog itself


def test_the_watcher_forgives_its_own_standstill(monkeypatch):
    """Stopped by Ctrl-Z, or put to sleep with the PC: the process is not to blame."""
    instead(monkeypatch, "import signal\nwhile True: signal.pause()")
    process = Process(5.0)
    try:
        real, ahead = time.monotonic, [0.0]
        monkeypatch.setattr(parent.time, "monotonic", lambda: real() + ahead[0])
        get = process._heard.get

        class Stood:
            def get(self, timeout):
                ahead[0] += 3600
                return get(timeout=0.001)

        monkeypatch.setattr(process, "_heard", Stood())
        assert process.hear() is None
        monkeypatch.undo()
    finally:
        process.kill()
        process.close()


def test_the_watcher_waits_for_its_own_disk(monkeypatch):
    instead(monkeypatch, "import signal\nwhile True: signal.pause()")
    process = Process(5.0)
    try:
        process._deadline = 0.0
        process._storing = True
        assert process.hear() is None
        process._storing = False
        assert isinstance(process.hear(), Gone)
    finally:
        process.close()


# Ctrl-C, and the watching process itself ended


def test_ctrl_c_to_the_whole_group(tmp_path):
    """As a terminal sends it: the measuring process is none of its own group."""
    folder = tmp_path / "out"
    run, child = hanging(folder, patience="10", start_new_session=True)
    os.killpg(run.pid, signal.SIGINT)
    _, err = run.communicate(timeout=60)
    assert run.returncode == 130, err
    until(lambda: gone(child.pid), 2.0)
    record = codec.decode((folder / "record.json").read_bytes())
    assert record.interrupted
    assert record.verdict.outcome != "not as claimed"
    assert record.incidents == ()
    assert b"Traceback" not in err


def test_a_watcher_that_is_killed_takes_its_process_with_it(tmp_path):
    """Even one that hangs in a launch."""
    run, child = hanging(tmp_path)
    run.kill()
    run.wait()
    until(lambda: gone(child.pid), 2.0)
    run.communicate()


def test_a_patience_without_sense_is_refused(tmp_path):
    for text in ("0", "nan", "-1", "1e9", "soon"):
        run = check(tmp_path / "x", "--practice", "--patience", text)
        _, err = run.communicate(timeout=60)
        assert run.returncode == 2
        assert b"is no number of seconds from 0.5 to 600" in err
    assert not (tmp_path / "x").exists()


def test_views_need_no_room_in_a_journal():
    run = Watched(without=("fp32", "fp64", "memory_read", "memory_write")).run()
    assert not any(isinstance(one, VIEWS) for one in run.kept)
    assert {type(one) for one in run.shown} & set(VIEWS)
    assert isinstance(run.kept[-1], Ended)
