"""`cardassay lookup`, as a person and as a program use it."""

import json
import shutil

import pytest

from probe import cli
from reference.table import DATA, load

NEEDED = {
    "vendor", "family", "model", "chip", "units", "shaders", "bus_width_bits",
    "memory_bytes", "memory_type", "bandwidth_gbps", "fp32_gflops", "pci_ids",
    "launch", "source",
}  # fmt: skip


@pytest.fixture
def lookup(capfdbinary, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")

    def run(*argv):
        capfdbinary.readouterr()
        code = cli.main(["lookup", *argv])
        out, err = capfdbinary.readouterr()
        return code, out.decode(), err.decode()

    return run


def test_a_model_is_shown_with_facts_envelope_siblings_and_sources(lookup):
    code, out, err = lookup("GeForce", "GTX", "1080", "Ti")
    assert (code, err) == (0, "")
    for said in (
        "GeForce GTX 1080 Ti\n",
        "GP102, 28 of 30 streaming multiprocessors, 3584 lanes, compute capability 6.1",
        "11.0 GiB GDDR5X, 352 bit x 11000 MT/s / 8 = 484 GB/s",
        "10de:1b06",
        "A genuine one shows",
        "Memory, reading",
        "Also made of GP102",
        "Sources",
        "Wikipedia",
    ):
        assert said in out, said
    assert not any(line != line.rstrip() for line in out.splitlines())


def test_a_die_marking_lists_the_chip(lookup):
    code, out, _ = lookup("GP104-200-A1")
    assert code == 0
    assert "GeForce GTX 1070 Ti" in out
    assert "The marking is that of GP104" in out
    assert "Name one model" in out


def test_what_is_not_there_ends_with_3_and_near_misses_on_stderr(lookup):
    code, out, err = lookup("GTX 1071")
    assert (code, out) == (3, "")
    assert err.startswith("cardassay: the table has no card for 'GTX 1071'; did you")
    assert "GeForce GTX 1070" in err
    code, out, err = lookup("10de:1b9f", "--json")
    assert (code, out) == (3, "")
    assert "an id like this is one of GP104" in err


@pytest.mark.parametrize("argv", [(), ("GTX 1070", "--all"), ("x", "--coverage")])
def test_wrong_use(lookup, argv):
    code, out, err = lookup(*argv)
    assert (code, out) == (2, "")
    assert "lookup takes one question" in err


def test_json_of_one_card(lookup):
    code, out, err = lookup("GTX 650", "--json")
    assert (code, err) == (0, "")
    cards = json.loads(out)
    assert {card["chip"] for card in cards} >= {"GK107"}
    card = next(card for card in cards if card["chip"] == "GK107")
    assert card.keys() >= NEEDED
    assert card["shaders"] == 384
    assert card["bandwidth_gbps"] == 80.0
    assert card["source"].startswith("wikipedia-nvidia")


def test_json_of_all_is_one_object_a_variant(lookup):
    code, out, _ = lookup("--all", "--json")
    assert code == 0
    cards = json.loads(out)
    table = load()
    assert len(cards) == len(table.variants)
    for card, row in zip(cards, table.variants, strict=True):
        assert card.keys() >= NEEDED
        assert card["model"] == row.model
        assert card["bandwidth_gbps"] == pytest.approx(
            card["bus_width_bits"] * card["data_rate_mtps"] / 8000, abs=1e-3
        )
        assert card["fp32_gflops"] == pytest.approx(row.fp32 / 1e9, abs=0.1)


def test_all_and_coverage_for_people(lookup):
    code, out, _ = lookup("--all")
    assert code == 0
    assert len(out.splitlines()) > len(load().variants)
    code, out, _ = lookup("--coverage")
    assert code == 0
    table = load()
    assert f"in {len(table.variants)} variants: NVIDIA " in out
    for family in {row.family for row in table.variants}:
        assert family in out
    assert "power_plugs" in out


def test_coverage_counts_every_row_once(lookup):
    _, out, _ = lookup("--coverage", "--json")
    coverage = json.loads(out)
    rows = load().variants
    assert sum(one["variants"] for one in coverage["families"]) == len(rows)
    assert sum(coverage["variants"].values()) == len(rows)
    known = {one["field"]: sum(one["known"].values()) for one in coverage["fields"]}
    assert known["pci_ids"] == sum(bool(row.pci) for row in rows)
    assert known["power_plugs"] == sum(row.power_plugs is not None for row in rows)


EXTRA = """vendor = "NVIDIA"
family = "Mine"
source = "mine"
sources.mine = { title = "My notes", publisher = "Me", date = "2026" }

[[card]]
model = "GeForce GTX 1066"
chip = "GP106"
units = 10
base_mhz = 1506
memory = [{ mib = 6144, type = "GDDR5", bus_bits = 192, rate_mtps = 8000 }]
power_plugs = []
outputs = ["DVI-D", "DP", "DP"]
last_made = "2018"
remarks = ["Never existed."]
odd = "Slower than its name."
from_memory = ["outputs"]

[[card.conflict]]
field = "base_mhz"
says = ["1506 (mine)", "1518 (memory)"]
used = "1506"
why = "The board says so."
"""


def test_rows_of_a_file_are_shown_with_all_that_they_say(lookup, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(EXTRA)
    code, out, err = lookup("GTX 1066", "--reference", str(file))
    assert (code, err) == (0, "")
    for said in (
        "no connector",
        "DVI-D, 2 x DP",
        "last made 2018",
        "Never existed.",
        "base_mhz: 1506 (mine), 1518 (memory); used is 1506: The board says so.",
        "Slower than its name.",
        "My notes. Me, 2026",
    ):
        assert said in out, said


def test_a_broken_file_is_wrong_use_with_every_mistake(lookup, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(EXTRA.replace("units = 10", "units = 11") + '[[card]]\nmodel = "Y"')
    code, out, err = lookup("GTX 1066", "--reference", str(file))
    assert (code, out) == (2, "")
    assert err.splitlines() == [
        "cardassay: mine.toml: card[2].chip: missing",
        "mine.toml: card[2].units: missing",
        "mine.toml: card[2].base_mhz: missing",
        "mine.toml: card[2].memory: missing",
        "mine.toml: card[1] (GeForce GTX 1066).units: 11 of a chip that has 10",
    ]


def test_a_hostile_file_of_rows_cannot_style_the_terminal(lookup, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(
        EXTRA.replace("Never existed.", "\\u001b]0;x\\u0007[red]bold[/red]")
    )
    code, out, _ = lookup("GTX 1066", "--reference", str(file))
    assert code == 0
    assert "\x1b" not in out
    assert "\x07" not in out
    assert "[red]bold[/red]" in out


def test_a_question_of_terminal_escapes_is_harmless(lookup):
    code, _, err = lookup("\x1b[31mGTX\x07")
    assert code == 3
    assert "\x1b" not in err
    assert "\x07" not in err


def test_it_works_from_a_folder_that_cannot_be_written(lookup, tmp_path):
    data = shutil.copytree(DATA, tmp_path / "data")
    for path in data.rglob("*"):
        path.chmod(0o555 if path.is_dir() else 0o444)
    assert load(data=data).sha256 == load().sha256
