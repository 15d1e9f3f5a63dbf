"""`firmware`: what it prints, writes and returns, and what it refuses."""

import json
import os
from pathlib import Path

import made_firmware as made
import pytest
from command_line import keep_table
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from in_process import within
from msgspec.structs import replace

from probe import cli
from probe.identity import cards
from probe.identity.bus import NVIDIA, BusDevice, BusSight
from probe.identity.nvml import NvmlSight
from probe.identity.opencl import OpenClSight
from reports import codec
from reports.firmware_report import decode_report, report_schema
from reports.page import render_page
from reports.record import CardIdentity, Claim

GOLDEN = Path(__file__).parent.parent / "data" / "golden" / "h100-sxm.json"


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


@pytest.fixture
def save(tmp_path):
    def write(data, *names):
        for name in names:
            (tmp_path / name).write_bytes(data)
        return [tmp_path / name for name in names]

    return write


def run(capsys, *argv):
    capsys.readouterr()
    code = cli.main(["firmware", *map(str, argv)])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_genuine_one(capsys, save):
    reads = save(made.pascal(), "a.rom", "b.rom", "c.rom")
    code, out, err = run(capsys, *reads, "--claim", "GTX 1070")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[1].startswith("= a.rom ")
    assert any(line.split()[:3] == ["0x0", "x86", "10de:1b81"] for line in lines)
    assert any(line.split()[:3] == ["0xf000", "EFI", "x64"] for line in lines)
    assert "Chip by version    GP104" in out
    assert "All 3 reads are the same, byte for byte." in out
    assert lines[-2].startswith("Nothing in this firmware speaks against it being that")
    assert max(map(len, lines)) <= 80
    assert "Before anyone" not in out


def test_a_dressed_up_one(capsys, save):
    reads = save(made.dressed_up(), "a.rom", "b.rom", "c.rom")
    code, out, err = run(capsys, *reads, "--claim", "GTX 1070")
    assert (code, err) == (1, "")
    assert out.splitlines()[-1] == (
        "This is not the firmware of a GeForce GTX 1070. It is that of a GK107."
    )
    assert "≠ strong, contradicts: Version 80.07.95.00.07 is that of a GK107" in out


def test_reads_that_differ_are_drawn(capsys, save):
    bad = bytearray(made.pascal())
    for place in range(0x4000, 0x6000, 3):
        bad[place] ^= 0xA5
    bad[0x200] ^= 1
    good = save(made.pascal(), "a.rom", "c.rom")
    code, out, _ = run(capsys, good[0], *save(bytes(bad), "b.rom"), good[1])
    assert code == 0
    assert "≠ b.rom" in out
    lines = out.splitlines()
    first = lines.index("b.rom against a.rom") + 1
    assert lines[first] == "▏●" + "█" * 7 + "╳╳╳╳" + "█" * 52 + "▕"  # noqa: RUF001
    assert "2.00 KiB a sign" in out
    assert "loose contact" in out
    assert "One supply only" in out


def test_a_candidate(capsys, save):
    now = save(made.dressed_up(), "a.rom", "b.rom", "c.rom")
    (candidate,) = save(made.pascal(), "new.rom")
    code, out, _ = run(capsys, *now, "--against", candidate)
    assert code == 1
    assert "The candidate against this card" in out
    assert "3.3 V destroys a 1.8 V part" in out
    last = " ".join(out.splitlines()[-3:])
    assert "The candidate is not to be written to this card: chip" in last
    newer = save(made.pascal(version="86.04.50.00.99"), "newer.rom")
    code, out, _ = run(capsys, *[candidate] * 3, "--against", *newer)
    assert code == 0


def test_json_is_the_whole_report(capsys, save):
    import jsonschema  # noqa: PLC0415 - this test alone

    reads = save(made.dressed_up(), "a.rom", "b.rom")
    code, out, _ = run(capsys, *reads, "--claim", "GTX 1070", "--json")
    assert code == 1
    report = decode_report(out.encode())
    assert report.outcome == "not as claimed"
    assert report.image.nvidia.version == "80.07.95.00.07"
    assert [one.device_id for one in report.image.chains[0].images] == [0x1B81, 0x0FC6]
    assert report.cautions
    jsonschema.validate(json.loads(out), report_schema())


def test_against_a_record(capsys, save, tmp_path):
    (image,) = save(made.pascal(), "a.rom")
    code, out, _ = run(capsys, image, "--record", GOLDEN, "--json")
    report = decode_report(out.encode())
    assert code == 3
    assert report.card.pci_id == "10de:2330"
    assert "firmware-card-id" in {
        one.rule for one in report.findings if one.bearing == "contradicts"
    }
    page = tmp_path / "report.html"
    data = GOLDEN.read_bytes()
    page.write_text(render_page(codec.decode(data), data), encoding="utf-8")
    assert run(capsys, image, "--record", page, "--json") == (code, out, "")


def test_a_records_listing_is_the_claim(capsys, save, tmp_path):
    record = codec.load(GOLDEN)
    listing = Claim(layer="listing", source="given by the user", model="GTX 1070")
    path = tmp_path / "record.json"
    path.write_bytes(codec.encode(replace(record, claims=(listing, *record.claims))))
    (image,) = save(made.dressed_up(), "a.rom")
    _, out, _ = run(capsys, image, "--record", path, "--json")
    assert decode_report(out.encode()).claim == "GeForce GTX 1070"
    _, out, _ = run(capsys, image, "--record", path, "--claim", "GTX 650", "--json")
    assert decode_report(out.encode()).claim == "GeForce GTX 650"


def on_bus(address, device):
    return BusDevice(
        address=address, vendor=NVIDIA, device=device, device_class=0x030000,
        subsystem_vendor=0x1458, subsystem_device=0x3701, source="sysfs",
    )  # fmt: skip


@pytest.fixture
def two_cards(monkeypatch):
    """Two cards on the bus, neither with a driver."""
    devices = (on_bus("0000:01:00.0", 0x1B81), on_bus("0000:02:00.0", 0x0FC6))
    within(monkeypatch)
    real = cards.find
    monkeypatch.setattr(
        cards,
        "find",
        lambda *_: real(OpenClSight, NvmlSight, lambda: BusSight(devices=devices)),
    )


@pytest.mark.usefixtures("two_cards")
def test_against_a_card_that_no_driver_runs(capsys, save):
    reads = save(made.pascal(), "a.rom", "b.rom", "c.rom")
    for card, code, bearing in (("0", 0, "agrees"), ("2:0.0", 3, "contradicts")):
        ended, out, err = run(capsys, *reads, "--card", card, "--json")
        assert (ended, err) == (code, "")
        report = decode_report(out.encode())
        found = {one.rule: one.bearing for one in report.findings}
        assert found["firmware-card-id"] == bearing
        assert found["firmware-subsystem"] == "agrees"


@pytest.mark.usefixtures("two_cards")
def test_a_card_that_is_not_there(capsys, save):
    image = save(made.pascal(), "a.rom")
    code, out, err = run(capsys, *image, "--card", "7")
    assert (code, out) == (2, "")
    assert err.startswith(
        "cardassay: --card: there is no card '7' here; there are: 0 ("
    )
    code, _, err = run(capsys, *image, "--card", "0", "--record", GOLDEN)
    assert code == 2
    assert "not allowed with" in err


def test_a_processor_has_no_firmware_chip(capsys, save, monkeypatch):
    identity = CardIdentity(label="a processor", kind="cpu", index=0)
    there = cards.Found(
        identity=identity, claims=(), memory_bytes=None, free_bytes=None,
        largest_block_bytes=None, opencl_device=None, sensors=lambda: None,
        sensors_missing=None, bus=None,
    )  # fmt: skip
    inventory = cards.Inventory(cards=(there,))
    monkeypatch.setattr(cards, "find", lambda: inventory)
    code, out, err = run(capsys, *save(made.pascal(), "a.rom"), "--card", "0")
    assert (code, out) == (2, "")
    assert err.startswith("cardassay: --card: 0 is a processor")


def test_what_is_no_firmware_is_undetermined(capsys, save):
    code, out, _ = run(capsys, *save(b"a letter\n" * 9000, "letter.txt"))
    assert code == 3
    assert out.splitlines()[-1] == "This is no firmware image of a PCI card."


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["none.rom"], "none.rom: cannot be read: No such file or directory"),
        (["."], ".: cannot be read: Is a directory"),
        (["a\0b"], "a�b: cannot be read: embedded null byte"),
    ],
)
@pytest.mark.skipif(os.name == "nt", reason="the system words it otherwise")
def test_what_cannot_be_read(capsys, given, said):
    code, out, err = run(capsys, *given)
    assert (code, out) == (2, "")
    assert err == f"cardassay: {said}\n"


def test_an_empty_file_and_one_too_large(capsys, save, tmp_path):
    code, _, err = run(capsys, *save(b"", "empty.rom"))
    assert (code, err) == (2, "cardassay: empty.rom: the file is empty\n")
    large = tmp_path / "large.rom"
    with large.open("wb") as file:
        file.truncate(64 * 2**20 + 1)
    code, _, err = run(capsys, large)
    assert code == 2
    assert err.startswith("cardassay: large.rom: larger than 64 MiB")


def test_an_empty_claim(capsys, save):
    code, _, err = run(capsys, *save(made.pascal(), "a.rom"), "--claim", " ")
    assert code == 2
    assert err.startswith("cardassay: --claim: no model was named")


def test_no_record(capsys, save, tmp_path):
    image = save(made.pascal(), "a.rom")
    code, _, err = run(capsys, *image, "--record", tmp_path / "none.json")
    assert code == 2
    assert err.startswith(f"cardassay: {tmp_path / 'none.json'}: cannot be read: ")


def test_no_read_at_all(capsys):
    code, _, err = run(capsys)
    assert code == 2
    assert "READ" in err


def test_names_and_texts_cannot_give_orders(capsys, save):
    image = made.nvidia(sign_on="\x1b]0;gone\x07[red]x[/red]", product="\u009b2J")
    code, out, _ = run(capsys, *save(image, "a\x1b[2Jb.rom"))
    assert code == 0
    assert not {"\x1b", "\x07", "\u009b"} & set(out)
    assert "[red]x[/red]" in out


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=300), st.booleans())
def test_any_file_ends_well(capsys, tmp_path, data, as_json):
    path = tmp_path / "any.rom"
    path.write_bytes(data)
    code, out, err = run(
        capsys, path, "--against", path, *(["--json"] if as_json else [])
    )
    assert code in {0, 1, 2, 3}
    assert bool(out) != bool(err)
    assert err.count("\n") <= 1


def test_help_says_what_it_does(capsys):
    code, out, _ = run(capsys, "--help")
    assert code == 0
    assert "Writes to nothing." in out
    assert "0 nothing against it" in out
