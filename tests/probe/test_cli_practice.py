"""`check --practice`: every condition through the real command, to its documents."""

import json
import time

import pytest
from command_line import command, keep_table

from probe import cli
from probe.practice import conditions
from reports import codec, words
from reports.page import render_page

GIB = 2**30

ENDS = {
    "as-claimed": (0, "as claimed"),
    "mirrored": (1, "not as claimed"),
    "hollow": (1, "not as claimed"),
    "spilled": (1, "not as claimed"),
    "failing-cell": (1, "faulty"),
    "scrambled": (1, "faulty"),
    "hot": (0, "as claimed"),
    "overheating": (3, "undetermined"),
    "relabelled-sibling": (1, "not as claimed"),
    "lying-driver": (1, "not as claimed"),
    "unstable": (1, "faulty"),
    "refused": (3, "undetermined"),
    # what comes after the loss is measured all the same
    "device-lost": (1, "not as claimed"),
    "crashing-driver": (1, "not as claimed"),
    "hanging-driver": (1, "not as claimed"),
    "honest-after-reflash": (0, "as claimed"),
    "unknown-model": (3, "undetermined"),
    "busy": (3, "undetermined"),
    "weak-when-hot": (0, "as claimed"),  # until it becomes hot
}
PROVEN = {
    "mirrored": 2 * GIB,
    "hollow": 2 * GIB,
    "spilled": 2 * GIB,
    "refused": 2 * GIB,
    # all that the driver gave, 8 GiB less its own 64 MiB
    "as-claimed": 8 * GIB - 64 * 2**20,
    "hot": 8 * GIB - 64 * 2**20,
    # one cell of 16 bytes is wrong
    "failing-cell": 8 * GIB - 64 * 2**20 - 16,
    # one of eight chips is dead
    "scrambled": (8 * GIB - 64 * 2**20) * 7 // 8,
    # 2 GiB less 1/64
    "honest-after-reflash": 2 * GIB - 32 * 2**20,
}


@pytest.fixture(autouse=True)
def _one_table(monkeypatch):
    keep_table(monkeypatch)


def test_no_condition_is_forgotten():
    assert set(ENDS) == set(conditions.NAMES)


@pytest.mark.parametrize("name", conditions.NAMES)
def test_every_condition_to_its_documents(name, capsys, tmp_path):
    argv = ("--practice", name, "--patience", "1")
    ended = command(capsys, tmp_path / "out", *argv)
    record = ended.record
    assert (ended.code, record.verdict.outcome) == ENDS[name]
    assert record.practice
    assert record.practice_condition == name
    assert not record.interrupted
    notice = f"Practice run: no real card was tested. Simulated: {name}."
    assert ended.lines[0] == notice
    assert ended.lines[-1] == notice
    assert ended.err == ""
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    assert page == render_page(record, ended.data)
    assert words.practice(name) in page
    left = {file.name for file in ended.folder.iterdir()} - {"journal.txt"}
    assert left == {"record.json", "report.html"}
    assert (ended.folder / "journal.txt").exists() == bool(record.incidents)
    if name in PROVEN:
        assert record.capacity.proven_bytes == PROVEN[name]
    assert {claim.layer for claim in record.claims} <= {"opencl", "nvml", "pci"}


@pytest.mark.parametrize(
    ("condition", "kind", "words"),
    [
        ("device-lost", "lost", "its driver lost the card"),
        ("crashing-driver", "crashed", "SIGSEGV"),
        ("hanging-driver", "hung", "no answer for 1 s beyond its time"),
    ],
)
def test_a_card_that_ends_its_tests_is_told_in_words(
    condition, kind, words, capsys, tmp_path
):
    argv = ("--practice", condition, "--patience", "1", "--depth", "quick")
    ended = command(capsys, tmp_path, *argv)
    record = ended.record
    assert [one.kind for one in record.incidents] == [kind] * 2
    assert {one.at_bytes for one in record.incidents} == {2 * GIB}
    assert words in " ".join(one.sentence for one in record.findings)
    assert record.capacity.proven_bytes == 2 * GIB
    assert record.capacity.ended_by == "below a crash"
    # every rate is had all the same, and nothing was accused by a crash alone
    assert all(rate.value or rate.missing for rate in record.rates)
    assert record.verdict.outcome == "undetermined"
    assert record.verdict.reasons[0] == (
        "The test was cut off 2 times when memory above 2.00 GiB was used, while all "
        "2.00 GiB below it kept their data."
    )


@pytest.mark.parametrize(
    "spelling", ["Mirrored", "MIRRORED", " mirrored ", "mir-rored", "mir_rored"]
)
def test_any_spelling_of_a_condition(spelling, capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", spelling, "--quiet")
    assert ended.code == 1
    assert ended.record.practice_condition == "mirrored"


def test_relabelled_sibling_in_words(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--quiet", "--practice", "Relabelled sibling")
    assert ended.record.practice_condition == "relabelled-sibling"


def test_an_unknown_condition_lists_them_all(capsys, tmp_path):
    ended = command(capsys, tmp_path / "none", "--practice", "wobbly")
    assert ended.code == 2
    first, *rest = ended.err.splitlines()
    assert first == (
        "cardassay: no practice condition is called 'wobbly'; choose one of these:"
    )
    assert [line.split()[0] for line in rest] == list(conditions.NAMES)
    assert "  mirrored              called a GTX 1070: a GK107" in ended.err
    assert not (tmp_path / "none").exists()


def test_practice_without_a_name_is_a_genuine_card(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice")
    assert ended.code == 0
    assert ended.record.practice_condition == "as-claimed"


def test_a_whole_test_earns_the_name_after_a_reflash(capsys, tmp_path):
    argv = ["--practice", "honest-after-reflash", "--claim", "GeForce GTX 650"]
    ended = command(capsys, tmp_path, *argv, "--claim-memory", "2GiB")
    assert (ended.record.depth, ended.code) == ("standard", 0)
    assert ended.record.verdict.outcome == "as claimed"


@pytest.mark.parametrize(
    ("condition", "claims", "outcome"),
    [
        ("as-claimed", ("GeForce GTX 1070", "8GiB"), "undetermined"),
        ("as-claimed", ("gtx1070", "8 GB"), "undetermined"),
        ("as-claimed", ("GeForce GTX 1080", "8GiB"), "not as claimed"),
        ("as-claimed", ("GeForce GTX 1070", "16GiB"), "not as claimed"),
        ("honest-after-reflash", ("GeForce GTX 650", "2GiB"), "undetermined"),
        ("honest-after-reflash", ("GeForce GTX 1070", "8GiB"), "not as claimed"),
        ("honest-after-reflash", (None, "8GiB"), "not as claimed"),
        ("mirrored", ("GeForce GTX 1070", "8GiB"), "not as claimed"),
        ("unknown-model", ("GeForce GTX 1070", None), "not as claimed"),
    ],
)
def test_a_listing_is_held_against_the_card(
    condition, claims, outcome, capsys, tmp_path
):
    model, memory = claims
    argv = ["--practice", condition, "--depth", "quick"]
    argv += ["--claim", model] if model else []
    argv += ["--claim-memory", memory] if memory else []
    ended = command(capsys, tmp_path, *argv)
    listing = ended.record.claims[0]
    assert (listing.layer, listing.source) == ("listing", "given by the user")
    if condition != "unknown-model":
        assert ended.record.verdict.outcome == outcome
        codes = {"as claimed": 0, "undetermined": 3}  # units are not counted so quickly
        assert ended.code == codes.get(outcome, 1)
    else:  # a name that no table has proves nothing by itself
        assert ended.record.verdict.outcome in {"undetermined", outcome}


@pytest.mark.parametrize(
    ("options", "size"),
    [
        (("--claim", "GTX 1070 8GB"), 8 * GIB),
        (("--claim", "GTX 1070 8GB", "--claim-memory", "4GiB"), 4 * GIB),
        (("--claim", "GTX 1070"), None),
    ],
)
def test_a_size_behind_the_model_is_the_listings(options, size, capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "--depth", "quick", *options)
    listing = ended.record.claims[0]
    assert (listing.model, listing.memory_bytes) == ("GeForce GTX 1070", size)


@pytest.mark.parametrize(
    ("depth", "rates", "code"), [("quick", 4, 3), ("standard", 11, 0)]
)
def test_depths(depth, rates, code, capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "--depth", depth)
    assert ended.code == code  # a quick look tells it from few other cards
    assert ended.record.depth == depth
    assert len(ended.record.rates) == rates
    assert [phase.name for phase in ended.record.phases[:7]] == [
        "link", "take", "write", "verify", "turn", "verify complement", "release",
    ]  # fmt: skip
    assert ", about" not in ended.lines[1]


def test_thorough_says_how_long_it_takes_and_waits_in_the_cards_time(capsys, tmp_path):
    began = time.perf_counter()
    ended = command(capsys, tmp_path, "--practice", "--depth", "thorough")
    spent = time.perf_counter() - began  # the record counts from the process's start
    assert ended.code == 0
    assert ended.lines[1] == "Testing GeForce GTX 1070, about 6 min 18 s"
    assert ended.lines[3] == (
        "A simulated card waits in its own time: it takes less of yours."
    )
    record = ended.record
    took = {phase.name: phase.seconds for phase in record.phases}
    assert took["dwell"] >= 20
    assert took["heat"] >= 30
    assert sum(took.values()) > 50 > spent
    assert [one.name for one in record.capacity.passes].count("turn") == 3
    assert all(len(rate.sample_seconds) == 31 for rate in record.rates if rate.value)
    assert record.capacity.proven_bytes == PROVEN["as-claimed"]
    titles = [line[:34].rstrip() for line in ended.lines[4:20]]
    assert len(set(titles)) == len(titles)


def test_json_is_the_record_and_nothing_else(capsysbinary, tmp_path):
    code = cli.main(["check", "--practice", "hollow", "--json", "--out", str(tmp_path)])
    out, err = capsysbinary.readouterr()
    assert code == 1
    assert err == b""
    assert out == (tmp_path / "record.json").read_bytes()
    assert codec.decode(out).verdict.outcome == "not as claimed"


def test_quiet_is_one_line_that_says_practice(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "mirrored", "--quiet")
    assert ended.err == ""
    assert ended.lines == [
        (
            "Practice run: no real card was tested. Simulated: mirrored. Reported as a "
            "GeForce GTX 1070 with 8.00 GiB. Found: a GK107 with 2.00 GiB. Not as "
            "claimed."
        )
    ]


def test_json_and_quiet_exclude_each_other(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "--json", "--quiet")
    assert ended.code == 2
    assert "not allowed with argument" in ended.err


def test_practice_and_card_exclude_each_other(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "--card", "0")
    assert ended.code == 2
    assert ended.err == (
        "cardassay: --practice tests a simulated card and --card a real one: leave "
        "one out\n"
    )


@pytest.mark.parametrize(
    ("limit", "covered"),
    [("1GiB", GIB), ("1.5MiB", 2**20), ("1MiB", 2**20), ("100 MB", 100 * 2**20)],
)
@pytest.mark.parametrize("condition", ["as-claimed", "mirrored"])
def test_a_memory_limit_leaves_the_verdict_open(
    condition, limit, covered, capsys, tmp_path
):
    argv = ("--practice", condition, "--memory-limit", limit, "--depth", "quick")
    ended = command(capsys, tmp_path, *argv)
    capacity = ended.record.capacity
    assert (capacity.covered_bytes, capacity.proven_bytes) == (covered, covered)
    assert capacity.ended_by == "limit asked for"
    assert (ended.code, ended.record.verdict.outcome) == (3, "undetermined")


def test_a_limit_above_the_card_limits_nothing(capsys, tmp_path):
    ended = command(capsys, tmp_path, "--practice", "--memory-limit", "1TiB")
    assert ended.code == 0
    assert ended.record.capacity.ended_by == "driver refused"


def test_earlier_documents_are_moved_aside(capsys, tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    (tmp_path / "record.json").write_text("an earlier record")
    (tmp_path / "report.html").write_text("an earlier page")
    codes = [command(capsys, tmp_path, "--practice").code for _ in range(3)]
    assert codes == [0, 0, 0]
    names = [file.name for file in tmp_path.iterdir()]
    assert len(names) == len(set(names)) == 2 * 4 + 1
    contents = [file.read_text("utf-8") for file in tmp_path.iterdir()]
    assert {"mine", "an earlier record", "an earlier page"} <= set(contents)
    assert sum(text.startswith("{") for text in contents) == 3


def test_records_say_when_and_by_what_they_were_made(capsys, tmp_path):
    record = command(capsys, tmp_path, "--practice", "--depth", "quick").record
    assert record.started.endswith("+00:00")
    assert record.program.version == "0.1.0"
    assert len(record.program.table_sha256) == 64
    assert record.seconds > 0
    assert record.telemetry.source
    assert record.telemetry.samples
    assert json.loads(codec.encode(record))["schema"] == 1
