"""`batch` with checks that do what is told: from stock number to ledger."""

import json
import signal
import threading
from pathlib import Path

import pytest
from batch_bench import PLACES, Bench, card, genuine
from command_line import keep_table
from msgspec.structs import replace

from probe import cli, ledger, locks
from probe.batch import board
from probe.batch.running import Over
from probe.events import PhaseBegan
from reports import codec
from reports.lasting import Incident
from reports.ledger.errors import UnreachableError

YES = "--yes"


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


@pytest.fixture
def bench(monkeypatch, capsysbinary, tmp_path):
    return Bench(monkeypatch, capsysbinary, tmp_path)


def two(bench):
    bench.cards = [card(PLACES[0], 0), card(PLACES[1], 1)]


def flat(text):
    return " ".join(text.split())


def test_a_card_is_tested_certified_and_kept(bench):
    code, out, err = bench.run(YES, "--stock-no", "S-1", "--bench", "left")
    assert (code, err) == (0, "")
    assert flat(out).startswith("S-1: testing NVIDIA H100 = S-1: ")
    assert "As claimed." in flat(out)
    assert "Certificate: " in flat(out)
    assert "Ledger: record 1, card 1." in flat(out)
    folder = bench.out / "S-1"
    assert {one.name for one in folder.iterdir()} == {
        "stock-no.txt", "record.json", "certificate.html", "certificate.json",
    }  # fmt: skip
    (row,) = bench.rows()
    assert (row.stock_no, row.bench, row.outcome) == ("S-1", "left", "as claimed")
    assert row.certified_by is not None
    assert cli.main(["verify", str(folder / "certificate.html")]) == 0
    assert bench.runs[0].job.arguments == (
        "--depth=standard", "--patience=10", f"--card={PLACES[0]}",
    )  # fmt: skip


def test_a_card_that_comes_back_is_told(bench):
    bench.run(YES, "--stock-no", "S-1")
    code, out, err = bench.run(YES, "--stock-no", "s-1")
    assert code == 0
    assert "s-1 was tested on 20" in err
    assert "in this batch; going on" in flat(err)
    row = bench.rows()[1]
    assert f"here before on {row.started[:10]}: as claimed, as S-1." in flat(out)
    names = sorted(one.name for one in (bench.out / "S-1").iterdir())
    assert len([one for one in names if one.startswith("certificate.2")]) == 2
    assert len([one for one in names if one.startswith("record.2")]) == 1
    assert not (bench.out / "s-1").exists()


def test_what_is_sold_and_how_deep_is_passed_on(bench):
    argv = ("--claim", "H100", "--claim-memory=80GiB", "--depth", "thorough",
            "--soak", "0", "--load-together", "--patience", "20")  # fmt: skip
    assert bench.run(YES, "--stock-no", "S-1", *argv)[0] == 0
    assert bench.runs[0].job.arguments[:-1] == (
        "--depth=thorough", "--patience=20", "--claim=H100", "--claim-memory=80GiB",
        "--soak=0", "--load-together",
    )  # fmt: skip


def faulty(run):
    record = run.store()
    verdict = replace(record.verdict, outcome="faulty", sentence="Bits are wrong.")
    run.store(verdict=verdict)
    return Over(code=1)


def fallen(run):
    (run.job.folder / "record.json").unlink(missing_ok=True)
    return Over(code=-9)


def refused(run):
    return Over(code=2, said=("/out: cannot write", "choose another folder"))


def test_one_card_s_failure_is_not_the_others(bench):
    bench.cards = [card(f"0000:{n:02x}:00.0", n) for n in range(1, 6)]
    bench.become = {"S-1": faulty, "S-2": fallen, "S-3": refused}

    def stuck(run):
        raise ValueError("odd")

    bench.become["S-4"] = stuck
    code, out, _ = bench.run(
        YES, "--json", "--stock-no", *(f"S-{n}" for n in range(1, 6))
    )
    told = {one["stock_no"]: one for one in map(json.loads, out.splitlines())}
    assert code == 1
    assert {name: one["exit_code"] for name, one in told.items()} == {
        "S-1": 1, "S-2": 3, "S-3": 3, "S-4": 3, "S-5": 0,
    }  # fmt: skip
    assert told["S-1"]["not_certified"][0].startswith("Its verdict is “faulty”")
    assert told["S-1"]["ledger"]["record"]
    assert told["S-2"]["problem"].startswith("No record: ")
    assert told["S-2"]["remarks"] == ["its check ended with code -9"]
    assert told["S-3"]["problem"] == "choose another folder"
    assert told["S-4"]["problem"] == "a bug: ValueError: odd"
    assert told["S-5"]["certificate"].endswith("S-5/certificate.html")
    assert [row.stock_no for row in bench.rows()] != []


def test_another_card_than_the_one_numbered_is_not_certified(bench):
    def swapped(run):
        record = run.store()
        claims = tuple(replace(one, pci_id="10de:1b81") for one in record.claims)
        other = replace(record.card, label="GeForce GTX 1070")
        run.store(card=other, claims=claims)
        return Over(code=0)

    bench.become["S-1"] = swapped
    code, out, _ = bench.run(YES, "--stock-no", "S-1")
    assert code == 3
    assert "? S-1: Another card answered than the one with this number" in flat(out)
    assert not bench.path("S-1", "certificate.html").exists()
    assert not bench.path("S-1").exists()
    assert bench.rows() == ()
    bench.become.clear()
    assert "not settled" not in bench.run(YES, "--stock-no", "S-2")[2]


def test_a_verdict_that_the_figures_do_not_bear_out_is_not_certified(bench):
    def forged(run):
        record = run.store()
        capacity = replace(record.capacity, proven_bytes=2**30, covered_bytes=2**30)
        run.store(capacity=capacity)
        return Over(code=0)

    bench.become["S-1"] = forged
    code, out, _ = bench.run(YES, "--stock-no", "S-1")
    assert code == 3
    assert "Not certified. Judged again by today's table" in flat(out)


def test_two_at_once_and_the_third_waits(bench):
    bench.cards = [card(f"0000:{n:02x}:00.0", n) for n in range(1, 4)]
    meet = threading.Barrier(2, timeout=30)
    under, most = set(), []

    def together(run):
        under.add(run.job.number)
        if run.job.number != "S-3":
            meet.wait()
        most.append(len(under))
        under.discard(run.job.number)
        return genuine(run)

    bench.become = dict.fromkeys(("S-1", "S-2", "S-3"), together)
    code, _, _ = bench.run(YES, "--at-once=2", "--stock-no", "S-1", "S-2", "S-3")
    assert code == 0
    assert max(most) <= 2
    assert len(bench.rows()) == 3


def test_where_no_lock_can_be_had_one_is_tested_after_the_other(bench, monkeypatch):
    two(bench)
    monkeypatch.setattr(locks, "state_folder", lambda: None)
    order = []

    def noted(run):
        order.append("begins")
        done = genuine(run)
        order.append("ends")
        return done

    bench.become = dict.fromkeys(("S-1", "S-2"), noted)
    code, _, err = bench.run(YES, "--at-once=2", "--stock-no", "S-1", "S-2")
    assert code == 0
    assert order == ["begins", "ends"] * 2
    assert "one card after the other: cards cannot wait" in flat(err)


def test_a_card_that_contradicts_itself_is_tested_first_and_alone(bench):
    odd = {"disagreements": ("OpenCL and the bus name different models",)}
    bench.cards = [card(PLACES[0], 0), card(PLACES[1], 1, other=odd),
                   card(PLACES[2], 2)]  # fmt: skip
    order = []

    def noted(run):
        order.append(f"{run.job.number} begins")
        done = genuine(run)
        order.append(f"{run.job.number} ends")
        return done

    bench.become = dict.fromkeys(("S-1", "S-2", "S-3"), noted)
    bench.run(YES, "--at-once=3", "--stock-no", "S-1", "S-2", "S-3")
    assert order[:2] == ["S-2 begins", "S-2 ends"]


CUT = Incident(
    kind="crashed", phase="take", doing="taking memory", detail="ended by SIGSEGV"
)


def test_what_was_cut_off_beside_others_is_tested_again_alone(bench):
    two(bench)
    meet = threading.Barrier(2, timeout=30)
    seen = []

    def crash(run):
        """Each crashes while the other is tested; alone both are as claimed."""
        seen.append(run.job.number)
        if seen.count(run.job.number) == 1:
            meet.wait()
            record = run.store()
            verdict = replace(record.verdict, outcome="not as claimed", sentence="No.")
            run.store(incidents=(CUT,), verdict=verdict)
            return Over(code=1)
        return genuine(run)

    bench.become = {"S-1": crash, "S-2": crash}
    code, out, _ = bench.run(YES, "--at-once=2", "--json", "--stock-no", "S-1", "S-2")
    told = [json.loads(one) for one in out.splitlines()]
    assert sorted(seen[:2]) == ["S-1", "S-2"]
    assert seen[2:] in (["S-1", "S-2"], ["S-2", "S-1"])
    assert [one["outcome"] for one in told[2:]] == ["as claimed"] * 2
    assert all("tested again alone" in one["remarks"][0] for one in told[2:])
    assert all(one["certificate"] for one in told[2:])
    assert code == 0
    assert len(bench.rows()) == 4


def test_who_ran_beside_a_crash_is_not_accused_by_that_run(bench):
    two(bench)
    meet = threading.Barrier(2, timeout=30)
    seen = []

    def beside(run):
        seen.append(run.job.number)
        if seen.count(run.job.number) == 1:
            meet.wait()
            record = run.store()
            verdict = replace(record.verdict, outcome="faulty", sentence="Bits.")
            run.store(verdict=verdict)
            return Over(code=1)
        return genuine(run)

    def crash(run):
        seen.append(run.job.number)
        if seen.count(run.job.number) == 1:
            meet.wait()
        run.store(incidents=(CUT,))
        return Over(code=0)

    bench.become = {"S-1": beside, "S-2": crash}
    code, _, _ = bench.run(YES, "--at-once=2", "--stock-no", "S-1", "S-2")
    assert seen.count("S-1") == 2
    assert seen.count("S-2") == 2
    assert code == 3  # S-2 was cut off alone as well: it is not certified
    assert bench.path("S-1", "certificate.html").exists()
    assert not bench.path("S-2", "certificate.html").exists()


def test_a_crash_of_a_card_tested_alone_is_its_own(bench):
    def crash(run):
        run.store(incidents=(CUT,))
        return Over(code=0)

    bench.become["S-1"] = crash
    code, out, _ = bench.run(YES, "--stock-no", "S-1")
    assert code == 3
    assert "Not certified. The run was cut off on its way" in flat(out)
    assert len(bench.runs) == 1


def test_a_ledger_that_does_not_answer_costs_no_record(bench, monkeypatch):
    two(bench)
    real = ledger.open_ledger

    def down(*_, **__):
        raise UnreachableError("postgresql://h/d: no answer")

    monkeypatch.setattr(ledger, "open_ledger", down)
    code, out, err = bench.run(YES, "--json", "--stock-no", "S-1", "S-2")
    assert code == 3
    assert "going on without" in flat(err)
    for one in map(json.loads, out.splitlines()):
        assert one["not_in_ledger"].startswith("postgresql://h/d: no answer; the batch")
        assert one["certificate"]
    monkeypatch.setattr(ledger, "open_ledger", real)
    bench.cards = [card(PLACES[2], 0)]
    code, out, err = bench.run(YES, "--json", "--stock-no", "S-3")
    told = [json.loads(one) for one in out.splitlines()]
    assert "not settled yet: S-1, S-2" in err
    assert [(one["stock_no"], one["picked_up"]) for one in told] == [
        ("S-1", True), ("S-2", True), ("S-3", False),
    ]  # fmt: skip
    assert code == 0
    assert all(row.certified_by for row in bench.rows())
    assert "not settled" not in bench.run(YES, "--stock-no", "S-3")[2]


def test_a_file_that_is_no_ledger_is_refused_before_anything_is_tested(bench):
    bench.ledger.write_text("no ledger")
    code, _, err = bench.run(YES, "--stock-no", "S-1")
    assert code == 2
    assert "ledger.sqlite" in err
    assert bench.runs == []


def test_a_full_disk_is_one_card_s_trouble(bench, monkeypatch):
    two(bench)
    real = codec.save

    def save(data, path):
        if path.parent.name == "S-1":
            raise codec.RecordError(f"{path}: cannot be written: No space left")
        real(data, path)

    monkeypatch.setattr(codec, "save", save)
    code, out, _ = bench.run(YES, "--json", "--at-once=1", "--stock-no", "S-1", "S-2")
    told = [json.loads(one) for one in out.splitlines()]
    assert [one["exit_code"] for one in told] == [3, 0]
    assert told[0]["problem"].endswith("No space left")
    assert code == 3


@pytest.mark.parametrize(
    ("argv", "why"),
    [
        ((YES,), "each card's stock number has to be given: --stock-no NUMBER"),
        ((YES, "--stock-no", "S-1"), "1 stock numbers for 2 cards"),
        ((YES, "--stock-no", "S-1", "S-2", "S-3"), "3 stock numbers for 2 cards"),
        ((YES, "--stock-no", "S-1", "s-1"), "is given twice"),
        ((YES, "--stock-no", "S\x1b[2J", "S-2"), "a key for the cursor"),
        ((YES, "--depth", "quick", "--stock-no", "S-1", "S-2"), "never certified"),
        ((YES, "--claim=unheard of", "--stock-no", "S-1", "S-2"), "no card called"),
        ((YES, "--card", "9", "--stock-no", "S-1"), "There is no card '9' here"),
        ((YES, "--card=0", "--practice=mirrored", "--stock-no=S-1"), "leave one out"),
        ((YES, "--practice=nonsense", "--stock-no=S-1"), "nonsense"),
        ((YES, "--stock-list", "missing.csv"), "missing.csv: cannot be read"),
        ((YES, "--operator", "x" * 99, "--stock-no", "S-1"), "--operator: longer"),
        ((YES, "--bench", "", "--stock-no", "S-1", "S-2"), "--bench: must be one line"),
        ((YES, "--out", " ", "--stock-no", "S-1", "S-2"), "--out: no folder is named"),
        (("--stock-no", "S-1", "S-2"), "nobody is here to be asked: add --yes"),
        ((YES, "--key=none.key", "--stock-no", "S-1", "S-2"), "none.key"),
        ((YES, "--no-certificates", "--stock-no", "S-1", "S-2"), "needs no key"),
    ],
)  # fmt: skip
def test_wrong_use_is_said_before_anything_is_tested(bench, argv, why):
    two(bench)
    code, out, err = bench.run(*argv)
    assert (code, out) == (2, "")
    assert why in flat(err)
    assert err.count("\n") <= 3 or "practice" in argv[1]
    assert bench.runs == []


def test_without_a_key_the_next_step_is_said(bench, monkeypatch, capsysbinary):
    argv = ["batch", "--yes", "--stock-no=S-1", "--operator=R. Amund"]
    assert cli.main([*argv, f"--out={bench.out}"]) == 2
    err = flat(capsysbinary.readouterr()[1].decode())
    assert "make one with `cardassay key new`" in err
    assert "--no-certificates tests and keeps, and signs nothing" in err
    assert cli.main(argv[:3]) == 2
    assert "--operator NAME is missing" in capsysbinary.readouterr()[1].decode()


def test_a_locked_key_needs_its_file_where_nobody_is_asked(bench, tmp_path):
    words = tmp_path / "words"
    words.write_text("nine words\n")
    locked = tmp_path / "locked.key"
    assert (
        cli.main(["key", "new", f"--out={locked}", f"--passphrase-file={words}"]) == 0
    )
    code, _, err = bench.run(YES, "--stock-no=S-1", f"--key={locked}")
    assert code == 2
    assert "is locked, and --yes asks nobody" in flat(err)
    argv = (YES, "--stock-no=S-1", f"--key={locked}", f"--passphrase-file={words}")
    assert bench.run(*argv)[0] == 0


def test_without_any_card_it_says_why(bench):
    bench.cards = []
    assert bench.run(YES, "--stock-no", "S-1") == (
        3, "", "cardassay: No card is here: none\n",
    )  # fmt: skip


def test_what_is_left_out_is_said(bench):
    bench.cards = [
        card(PLACES[0], 0),
        card(PLACES[1], 1, other={"testable": False}),
        card(PLACES[2], 2, unified_memory=True, label="Built in"),
    ]
    code, _, err = bench.run(YES, "--stock-no", "S-1")
    assert code == 0
    assert f"at {PLACES[1]}: left out, no OpenCL driver shows it" in flat(err)
    assert "Built in: left out, it has no memory of its own; `--card 2`" in flat(err)
    assert bench.run(YES, "--card=2", "--card=0", "--stock-no", "S-2", "S-3")[0] != 2
    assert [run.job.arguments[-1] for run in bench.runs[-2:]] == [
        f"--card={PLACES[2]}", f"--card={PLACES[0]}",
    ]  # fmt: skip


def test_numbers_out_of_a_list(bench, tmp_path):
    two(bench)
    path = tmp_path / "rack.csv"
    path.write_text(f"1, S-1\n{PLACES[0].upper()}, S-0\n0000:ff:00.0, S-9\n", "utf-8")
    code, out, _ = bench.run(YES, "--json", "--stock-list", path)
    told = {one["stock_no"]: one for one in map(json.loads, out.splitlines())}
    assert code == 3
    assert told["S-0"]["pci_address"] == PLACES[0]
    assert told["S-1"]["pci_address"] == PLACES[1]
    assert told["S-9"]["problem"] == (
        "there is no card at 0000:ff:00.0 that could be tested"
    )
    path.write_text(f"0, S-1\n{PLACES[0]}, S-2\n", "utf-8")
    assert "two numbers for one card" in flat(bench.run(YES, "--stock-list", path)[2])


def test_numbers_as_lines_of_input(bench):
    bench.cards = [card(f"0000:{n:02x}:00.0", n) for n in range(1, 4)]
    code, out, err = bench.run(YES, "--json", piped="]C1S-1\r\n\nS-3\x1d\nS-4\n")
    told = {one["stock_no"]: one for one in map(json.loads, out.splitlines())}
    assert code == 0
    assert {name: one["pci_address"] for name, one in told.items()} == {
        "S-1": "0000:01:00.0", "S-3": "0000:03:00.0",
    }  # fmt: skip
    assert "at 0000:02:00.0: left out, no stock number was given for it" in flat(err)
    assert err.count("left out") == 1
    assert "is given twice" in bench.run(YES, piped="S-1\nS-1\n")[2]
    assert bench.run(YES, typed="")[0] == 2  # a terminal is not waited for


def test_a_person_is_asked_card_by_card(bench):
    two(bench)
    typed = "?\nS-1\nS-1\n\x1b[A\nS-2\ny\n\nS-3\n\nq\n"
    code, out, err = bench.run("--quiet", typed=typed)
    assert code == 0
    said = flat(err)
    assert f"NVIDIA H100 80GB HBM3 at {PLACES[0]}: stock number?" in said
    assert "NVML" in said  # what ? shows
    assert "another card of this round has that number" in said
    assert "that was a key for the cursor" in said
    assert said.count("Before a card of unknown make is put under load") == 1
    assert f"it goes on in {bench.out}" in said
    assert [run.job.number for run in bench.runs] == ["S-1", "S-2", "S-3"]
    assert bench.listed == 2
    assert len(out.splitlines()) >= 3
    assert {row.stock_no for row in bench.rows()} == {"S-1", "S-2", "S-3"}


@pytest.mark.parametrize("argv", [(), ("--card", PLACES[0])])
def test_an_empty_dock_is_waited_for(bench, monkeypatch, argv):
    """And a number scanned for the next card is that card's."""
    real, rounds = bench.listing, iter((bench.cards, [], bench.cards))

    def listing():
        bench.cards = next(rounds)
        return real()

    monkeypatch.setattr(bench, "listing", listing)
    code, _, err = bench.run(*argv, typed="S-1\ny\n\nS-2\nq\n")
    assert code == 0
    assert ("There is no card" if argv else "No card is here") in err
    assert [run.job.number for run in bench.runs] == ["S-1", "S-2"]
    assert "nothing was tested" not in err


def test_a_pc_without_a_card_says_what_to_do(bench):
    bench.cards = []
    code, _, err = bench.run(typed="S-1\n\nq\n")
    assert err.count("Enter or q: ") == 3
    assert code == 3
    said = flat(err)
    assert "No card is here" in said
    assert "put the next one in" in said
    assert said.endswith("nothing was tested")


def test_numbers_of_cards_that_were_not_tested_are_named(bench):
    two(bench)
    code, _, err = bench.run(typed="S-1\nq\n")
    assert code == 3
    assert "not tested: S-1" in err
    assert "nothing was tested" in err
    assert bench.runs == []


def test_an_end_of_input_ends_it_in_order(bench):
    for typed in ("", "S-1\n", "S-1\nn\n"):
        code, _, err = bench.run(typed=typed)
        assert code in (2, 3)
        assert "Traceback" not in err
    assert bench.runs == []
    code, _, _ = bench.run(typed="S-1\ny\n")
    assert code == 0
    assert len(bench.rows()) == 1


def test_a_number_used_before_is_asked_again(bench):
    bench.run(YES, "--stock-no", "S-1")
    code, _, err = bench.run(typed="S-1\ns-1\ny\n\n\n\nq\nnever read")
    assert code == 0
    assert "S-1 was tested on 20" in err
    assert "(as claimed) in this batch; another number, or the same again" in flat(err)
    assert len(bench.rows()) == 2
    bench.folder = Path(f"{bench.folder}/next")
    bench.folder.mkdir()
    code, _, err = bench.run(f"--ledger={bench.folder.parent}/ledger.sqlite",
                             typed="S-1\nS-7\ny\nq\n")  # fmt: skip
    assert [run.job.number for run in bench.runs[-1:]] == ["S-1"]  # the same card


def test_a_number_of_another_card_in_the_ledger_is_asked_again(bench, tmp_path):
    bench.run(YES, "--stock-no", "S-1")
    first = bench.ledger
    bench.folder = tmp_path / "next"
    bench.folder.mkdir()
    other = card(label="GeForce GTX 1070")
    claims = tuple(replace(one, pci_id="10de:1b81") for one in other.claims)
    bench.cards = [replace(other, claims=claims)]
    _, _, err = bench.run(f"--ledger={first}", typed="S-1\n\nq\n")
    assert (
        "S-1 is another card in the ledger, NVIDIA H100 80GB HBM3 (10de:2330)"
        in flat(err)
    )
    assert len(bench.runs) == 1


def test_a_number_that_was_another_card_s_is_not_certified(bench):
    """Two cards of one model, one number: the maker of the board tells them apart."""
    bench.run(YES, "--stock-no", "S-1")
    (first,) = bench.cards
    assert first.claims[0].subsystem or any(one.subsystem for one in first.claims)

    def other(run):
        record = run.store()
        claims = tuple(replace(one, subsystem="1458:3701") for one in record.claims)
        run.store(claims=claims)
        return Over(code=0)

    claims = tuple(replace(one, subsystem="1458:3701") for one in first.claims)
    bench.cards = [replace(first, claims=claims)]
    bench.become["S-1"] = other
    code, out, err = bench.run(YES, "--json", "--stock-no", "S-1")
    told = json.loads(out)
    assert code == 3
    assert told["ledger"]["doubtful"]
    assert told["not_certified"][-1].startswith("In the ledger its stock number is")
    bench.out.joinpath("S-1").rename(bench.out / "S-1-old")
    _, _, err = bench.run(typed="S-1\n\nq\n")
    assert "not settled" not in err


def test_hostile_texts_reach_no_terminal(bench):
    evil = "GeForce\x1b[2J\u202e evil\x07 [bold]"
    bench.cards = [card(label=evil)]

    def named(run):
        record = run.store()
        run.store(card=replace(record.card, label=evil))
        return Over(code=0, said=("note \x1b[31m",))

    bench.become["S-[b]1"] = named
    for form in ((), ("--json",), ("--quiet",)):
        _, out, err = bench.run(YES, *form, "--stock-no", "S-[b]1", certify=False)
        assert not set("\x1b\x07\u202e") & set(out + err)
    assert "S-[b]1: " in bench.run(YES, "--stock-no", "S-[b]1", certify=False)[1]


@pytest.mark.parametrize("presses", [1, 2])
def test_ctrl_c_ends_checks_in_order_then_at_once(bench, presses):
    two(bench)

    def long(run):
        for waited in (run.stopped, run.killed)[:presses]:
            signal.raise_signal(signal.SIGINT)
            assert waited.wait(30)
        run.store(interrupted=True)
        return Over(code=130)

    bench.become["S-1"] = long
    code, out, _ = bench.run(YES, "--json", "--at-once=1", "--stock-no", "S-1", "S-2")
    told = {one["stock_no"]: one for one in map(json.loads, out.splitlines())}
    assert code == 130
    assert [one["exit_code"] for one in told.values()] == [130, 130]
    assert told["S-1"]["interrupted"]
    assert told["S-1"]["not_certified"] == ["The test was stopped before its end."]
    assert told["S-2"]["problem"].startswith("not tested")
    assert len(bench.runs) == 1
    assert [row.interrupted for row in bench.rows()] == [True]


def test_whatever_ends_the_batch_ends_its_checks_in_order(bench, monkeypatch):
    """A bug while drawing must not leave a card under load that nobody watches."""
    stopped = threading.Event()

    def long(run):
        run.hear(PhaseBegan(name="take", title="Taking memory"))
        if run.stopped.wait(30):
            stopped.set()
        return Over(code=130)

    def bug(*_):
        raise KeyError

    bench.become["S-1"] = long
    monkeypatch.setattr(board.Board, "hear", bug)
    code, _, err = bench.run(YES, "--json", "--stock-no", "S-1")
    assert code == 70
    assert "please report this line" in err
    assert stopped.wait(30)
