"""Whether a candidate fits a card: told before anyone writes."""

import made_firmware as made
import pytest

from reference.firmware import fit as fits
from reference.firmware import parse, reads
from reference.firmware.look import look
from reference.table import load
from reports.firmware_report import FirmwareCard

KIB = 1024


@pytest.fixture(scope="module")
def table():
    return load()


@pytest.fixture
def fit(table):
    def run(now, candidate, card=None, count=3):
        comparison = reads.compare([(str(n), now) for n in range(count)])
        one = parse.parse(comparison.reads[0], now, table)
        other = parse.parse(comparison.reads[0], candidate, table)
        lines = fits.fit(one, other, table, comparison=comparison, card=card)
        return {line.quantity: line for line in lines}

    return run


def states(lines, state):
    return {name for name, line in lines.items() if line.state == state}


def test_the_same_again(fit):
    lines = fit(made.pascal(), made.pascal())
    assert {line.state for line in lines.values()} == {"same"}


def test_a_newer_version_for_the_same_board(fit):
    lines = fit(made.pascal(), made.pascal(version="86.04.50.00.99"))
    assert states(lines, "differs") == {"Version"}
    assert not states(lines, "blocks")


def test_another_boards(fit):
    lines = fit(
        made.pascal(), made.pascal(subsystem=(0x1462, 0x3302), sockets=(0x61,) * 5)
    )
    assert states(lines, "differs") == {"Subsystem", "Sockets"}
    assert "another board" in lines["Subsystem"].risk


def test_a_sister_model_of_the_same_chip(fit):
    lines = fit(made.pascal(), made.pascal(device=0x1B80))
    assert states(lines, "differs") == {"PCI id"}
    assert "another model of the same chip" in lines["PCI id"].risk


def test_a_firmware_for_another_chip(fit):
    lines = fit(made.nvidia(), made.pascal())
    assert "Chip" in states(lines, "blocks")
    assert lines["Chip"].risk.startswith("A firmware for another chip.")


def test_what_starts_a_dressed_up_card_decides(fit):
    lines = fit(made.dressed_up(), made.pascal())
    assert "Chip" in states(lines, "blocks")
    assert "What starts the card now is one for GK107." in lines["Chip"].risk
    back = fit(made.dressed_up(), made.nvidia())
    assert back["Chip"].state == "unknown"
    assert "read the marking" in back["Chip"].risk


def test_what_was_measured_decides(fit):
    card = FirmwareCard(label="a card", chips=("GK107",))
    lines = fit(made.dressed_up(), made.nvidia(), card)
    assert lines["Chip"].state == "same"
    assert lines["Chip"].card == "GK107 (measured)"
    assert fit(made.pascal(), made.pascal(), card)["Chip"].state == "blocks"


def test_a_candidate_that_was_dressed_up(fit):
    lines = fit(made.nvidia(), made.dressed_up())
    assert "Candidate's own chip" in states(lines, "blocks")


def test_memory_that_it_does_not_know(fit):
    lines = fit(made.pascal(memory=(3,)), made.pascal(memory=(8,)))
    assert states(lines, "blocks") == {"Memory"}
    lines = fit(made.pascal(memory=(3, 1)), made.pascal(memory=(3,)))
    assert lines["Memory"].state == "differs"


def test_amd_memory_by_part(fit):
    other = made.amd(modules=(("MT51J256M32HF", 8192),))
    lines = fit(made.amd(), other)
    assert lines["Memory"].state == "blocks"
    some = made.amd(modules=(("K4G80325FB", 8192),))
    assert fit(made.amd(), some)["Memory"].state == "differs"
    assert fit(made.amd(), made.amd())["Memory"].state == "same"


def test_another_makers(fit):
    lines = fit(made.pascal(), made.amd())
    assert {"Vendor", "Chip"} <= states(lines, "blocks")


@pytest.mark.parametrize(
    ("size", "state"), [(512, "blocks"), (256, "same"), (128, "differs")]
)
def test_sizes(fit, size, state):
    lines = fit(made.pascal(), made.pascal(chip_size=size * KIB))
    assert lines["Size"].state == state


def test_a_chip_that_was_read_twice_over(fit):
    lines = fit(made.pascal() * 2, made.pascal() * 2)
    assert lines["Size"].state == "blocks"
    assert "smaller than what was read" in lines["Size"].risk
    assert fit(made.pascal() * 2, made.pascal())["Size"].state == "same"


def test_a_read_that_is_no_chip(fit):
    assert fit(made.pascal()[:-1], made.pascal())["Size"].state == "unknown"


@pytest.mark.parametrize(
    ("candidate", "said"),
    [
        (made.pascal()[: 64 * KIB], "cut off or broken"),
        (made.pascal().replace(b"Board", b"Bored", 1), "sum wrong in image 1"),
        (b"\xff" * 256 * KIB, "no expansion ROM in it"),
    ],
)
def test_a_broken_candidate(fit, candidate, said):
    line = fit(made.pascal(), candidate)["Candidate itself"]
    assert (line.state, line.candidate) == ("blocks", said)


def test_reads_come_first(fit, table):
    line = fit(made.pascal(), made.pascal(), count=1)["Reads of what is there"]
    assert line.state == "unknown"
    bad = made.pascal().replace(b"Board", b"Bored", 1)
    differ = [("a", made.pascal()), ("b", bad)]
    report = look(differ, table, version="t", against=("c", made.pascal()))
    assert report.outcome == "does not fit"
    assert report.fit[0].state == "blocks"


def test_the_whole_sentence(table):
    now = [(str(n), made.pascal()) for n in range(3)]
    newer = made.pascal(version="86.04.50.00.99")
    report = look(now, table, version="t", against=("new", newer))
    assert report.outcome == "nothing against it"
    assert report.sentence == (
        "Nothing speaks against the candidate fitting this card. That is no promise "
        "that it runs."
    )
    report = look(now[:1], table, version="t", against=("new", newer))
    assert report.outcome == "undetermined"
    assert report.sentence.startswith(
        "Whether the candidate fits stays open: reads of what is there. There is no "
        "copy to go back to"
    )
    empty = look(now, table, version="t", against=("empty", b"\xff" * 256 * KIB))
    assert empty.sentence.startswith(
        "The candidate is not to be written to this card: no expansion ROM in it. The "
    )
    report = look(now, table, version="t", against=("old", made.nvidia()))
    assert report.outcome == "does not fit"
    assert report.sentence.startswith(
        "The candidate is not to be written to this card: chip"
    )


def test_the_trades_cautions_are_there_and_no_steps():
    text = " ".join(fits.CAUTIONS)
    for word in ("3.3 V", "1.8 V", "One supply", "the same", "original", "maker"):
        assert word in text
