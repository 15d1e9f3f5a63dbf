"""A batch whose PC goes down at any step: the next start does what is left, once."""

import contextlib
import json

import pytest
from batch_bench import PLACES, Bench, card, genuine, golden
from command_line import keep_table
from msgspec.structs import replace
from told_runs import started

from probe import certify, ledger, unfinished
from probe.batch import places, settling
from probe.batch.running import Over
from probe.events import Opened, PhaseBegan
from probe.survival.journal import Journal
from reports import codec
from reports.certificate.checking import verify


class PowerCut(BaseException):
    """Nothing of ours catches it."""


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


@pytest.fixture
def bench(monkeypatch, capsysbinary, tmp_path):
    return Bench(monkeypatch, capsysbinary, tmp_path)


STEPS = (
    (unfinished, "conclude_folder"),
    (codec, "decode"),
    (certify, "judged_anew"),
    (certify, "certify_record"),
    (places.Place, "move_certificate"),
    (codec, "save"),
    (ledger, "add"),
    (settling.Desk, "_before"),
)


class Cut:
    """Cuts the power before or after the n-th step of settling."""

    def __init__(self, monkeypatch, at):
        self.count, self.at, self.on = 0, at, False
        for owner, name in STEPS:
            monkeypatch.setattr(owner, name, self._wrapped(getattr(owner, name)))

    def _wrapped(self, real):
        def call(*arguments, **more):
            if not self.on:
                return real(*arguments, **more)
            self._step()
            done = real(*arguments, **more)
            self._step()
            return done

        return call

    def _step(self):
        self.count += 1
        if self.count == self.at:
            raise PowerCut


def settled(bench):
    """What there is of one card once all is done: the same however often it began."""
    folder = bench.out / "S-1"
    page = (folder / "certificate.html").read_bytes()
    (row,) = bench.rows()
    data = (folder / "record.json").read_bytes()
    found = verify(page, None, now=settling.now_utc())
    small = verify(
        (folder / "certificate.json").read_bytes(), data, now=settling.now_utc()
    )
    assert found.holds
    assert found.complete
    assert small.holds
    assert found.record == codec.decode(data)
    assert row.sha256 == found.statement.record_sha256
    assert row.certified_by == found.public.fingerprint
    return row.stock_no, row.outcome


def test_a_power_cut_at_every_step_of_settling(bench, monkeypatch):
    done = 0
    for at in range(1, 100):
        bench.folder = bench.folder.parent / f"cut-{at}"
        bench.folder.mkdir()
        _ = bench.key
        with monkeypatch.context() as patch:
            cut = Cut(patch, at)

            def tested(run, cut=cut):
                over = genuine(run)
                cut.on = True
                return over

            bench.become["S-1"] = tested
            with contextlib.suppress(PowerCut):
                bench.run("--yes", "--stock-no", "S-1")
                break
            done = at
        bench.cards = [card(PLACES[1], 0)]
        code, out, err = bench.run("--yes", "--json", piped="\n")
        assert code == 2  # no number for the card that is here now
        told = [json.loads(one) for one in out.splitlines()]
        if told:
            assert "not settled yet: S-1" in err
            assert [(one["stock_no"], one["picked_up"]) for one in told] == [
                ("S-1", True)
            ]
        bench.cards = [card()]
        assert settled(bench) == ("S-1", "as claimed")
        if at % 6 == 0:
            assert bench.run("--yes", "--json", piped="\n")[1] == ""
    assert done > 12


def journaled(folder, *, closed=False):
    """Leave what a check leaves that the PC did not survive."""
    identity = card().identity
    begun = started(
        practice_condition=None, depth="standard", identity=identity,
        claims=card().claims, boot="another start",
    )  # fmt: skip
    folder.mkdir(parents=True)
    (folder / "stock-no.txt").write_text("S-1\n")
    with Journal(folder / "journal.txt", safe=False) as journal:
        journal.write(begun, 0.0)
        opened = Opened(identity=identity, claims=card().claims, memory_bytes=2**30)
        journal.write(opened, 1.0)
        journal.write(PhaseBegan(name="take", title="Taking memory"), 2.0)


def test_a_check_that_the_pc_did_not_survive_is_told_and_kept(bench):
    journaled(bench.out / "S-1")
    code, out, err = bench.run("--yes", "--json", "--stock-no", "S-2")
    told = {one["stock_no"]: one for one in map(json.loads, out.splitlines())}
    assert "not settled yet: S-1" in err
    assert told["S-1"]["cut_off"]
    assert told["S-1"]["outcome"] == "undetermined"
    assert told["S-1"]["not_certified"]
    assert told["S-2"]["certificate"]
    assert code == 3
    assert [row.stock_no for row in bench.rows()] == ["S-1", "S-2"]
    names = {one.name for one in (bench.out / "S-1").iterdir()}
    assert "journal.txt" not in names
    assert any(one.startswith("journal.2") for one in names)
    assert "not settled" not in bench.run("--yes", "--stock-no", "S-3")[2]


def test_a_check_that_was_killed_is_concluded_at_once(bench):
    def killed(run):
        for name in ("stock-no.txt",):
            (run.job.folder / name).unlink()
        run.job.folder.rmdir()
        journaled(run.job.folder)
        return Over(code=-9)

    bench.become["S-1"] = killed
    code, out, _ = bench.run("--yes", "--json", "--stock-no", "S-1")
    (told,) = map(json.loads, out.splitlines())
    assert code == 3
    assert told["cut_off"]
    assert told["remarks"] == ["its check ended with code -9"]
    assert told["ledger"]["record"] == 1


def test_a_person_is_asked_whether_to_settle_what_is_left(bench):
    bench.run("--yes", "--stock-no", "S-1", certify=False)
    bench.ledger.unlink()
    for answer, picked in (("n\nq\n", []), ("\nq\n", ["S-1"])):
        code, out, err = bench.run("--json", typed=answer)
        assert "Certify and add them now? [Y/n]" in err
        told = [json.loads(one)["stock_no"] for one in out.splitlines()]
        assert told == picked
        assert code == (0 if picked else 3)
    assert settled(bench) == ("S-1", "as claimed")


def test_what_was_kept_without_a_key_is_certified_once_there_is_one(bench):
    bench.run("--yes", "--stock-no", "S-1", certify=False)
    assert bench.rows()[0].certified_by is None
    bench.cards = [card(PLACES[1], 0)]
    bench.run("--yes", "--stock-no", "S-2")
    assert [row.certified_by is not None for row in bench.rows()] == [True, True]
    bench.run("--yes", "--stock-no", "S-3", certify=False)
    assert bench.rows()[2].certified_by is None  # nobody wants it without a key


def test_an_older_certificate_is_never_left_beside_another_record(bench):
    bench.run("--yes", "--stock-no", "S-1")

    def failed(run):
        assert not (run.job.folder / "certificate.html").exists()
        assert not (run.job.folder / "record.json").exists()
        return Over(code=3, said=("the card has gone",))

    bench.become["S-1"] = failed
    code, out, _ = bench.run("--yes", "--json", "--stock-no", "S-1")
    assert code == 3
    assert json.loads(out)["problem"] == "the card has gone"


def test_folders_that_are_none_of_ours_are_left_alone(bench):
    for name, text in (("a", "S\x1b[2J"), ("b", ""), ("c", "x" * 999), ("d", "S-8")):
        (bench.out / name).mkdir(parents=True)
        (bench.out / name / "stock-no.txt").write_text(text)
    (bench.out / "d" / "record.json").write_text("{}")
    (bench.out / "e").mkdir()
    (bench.out / "e" / "journal.txt").write_text("none")
    (bench.out / "f.txt").write_text("notes")
    code, _, err = bench.run("--yes", "--stock-no", "S-1")
    assert code in (0, 3)
    assert "Traceback" not in err
    assert [row.stock_no for row in bench.rows()] == ["S-1"]


def test_a_card_is_the_same_by_its_place_and_its_name_or_id():
    record, here = golden(), card()
    record = replace(record, card=replace(record.card, pci_address=PLACES[0]))
    assert settling.is_same(record, here)
    assert settling.is_same(record, card(index=3))
    assert settling.is_same(record, card(label="NVIDIA Graphics Device"))
    assert not settling.is_same(record, card(PLACES[1]))
    other = tuple(replace(one, pci_id="10de:1b81") for one in here.claims)
    assert settling.is_same(record, replace(here, claims=other))
    renamed = card(label="GeForce GTX 1070")
    assert not settling.is_same(record, replace(renamed, claims=other))
    assert not settling.is_same(record, replace(renamed, claims=()))
