"""`inspect`: what it asks, takes, refuses, writes; and a card without a driver, whole.

Cards are of our own invention: sold as a GeForce GTX 1070 with 8 GiB, made of a GK107
with 2 GiB. Ids of functions: envytools, pci.ids.
"""

import contextlib
import hashlib
import io
import json

import made_firmware as firmware
import pytest
from command_line import keep_table
from hypothesis import given, settings
from hypothesis import strategies as st

from probe import answers, cli
from probe.identity import cards
from probe.identity.bus import NVIDIA, BusDevice, BusSight, Sibling
from probe.identity.nvml import Nvml, NvmlSight
from probe.identity.opencl import OpenClSight
from probe.options import parse
from reports import codec
from reports.inspection import Inspection
from reports.page import extract_record
from reports.record import Record

GTX = "GeForce GTX 1070"


@pytest.fixture(autouse=True)
def _table(monkeypatch):
    keep_table(monkeypatch)


def run(capsys, *argv):
    capsys.readouterr()
    code = cli.main([*map(str, argv)])
    out, err = capsys.readouterr()
    return code, out, err


def load(path) -> Record:
    return codec.load(path)


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_options_make_a_record_from_the_eye_alone(capsys, tmp_path):
    photo = tmp_path / "GPS 48.1N.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe1 Exif GPSLatitude 48.1")
    out, page = tmp_path / "record.json", tmp_path / "page.html"
    code, shown, err = run(
        capsys, "inspect", "--claim", "GTX 1070", "--die", "GK107-450-A2",
        "--outputs", "VGA, DVI-D, 2 x HDMI", "--plugs", "none", "--memory-chips", "8",
        "--memory-density", "2Gbit", "--contacts", "x16", "--label", "GTX 650; 2 GB",
        "--photo", photo, "--out", out, "--page", page,
    )  # fmt: skip
    assert code == 3
    assert f"Record: {out}" in err
    record = load(out)
    seen = record.inspection
    assert seen.outputs == ("VGA", "DVI-D", "HDMI", "HDMI")
    assert seen.plugs == ()
    assert (seen.memory_chips, seen.memory_density_mbit) == (8, 2048)
    assert seen.labels == ("GTX 650", "2 GB")
    (one,) = seen.photos
    assert one.name == photo.name
    assert one.sha256 == hashlib.sha256(photo.read_bytes()).hexdigest()
    for file in (out, page):
        assert b"GPSLatitude" not in file.read_bytes()
        assert str(tmp_path).encode() not in file.read_bytes()
    assert extract_record(page.read_text("utf-8")) == out.read_bytes()
    assert "What was seen on it" in shown
    assert "What was seen on it" in page.read_text("utf-8")
    assert "the die is marked" not in shown.splitlines()[0]
    assert record.verdict.outcome == "undetermined"
    assert "Nothing of the card itself was measured." in shown


def test_json_is_the_record_alone(capsys):
    code, out, err = run(
        capsys, "inspect", "--claim", "GTX 1070", "--plugs", "8-pin", "--json"
    )
    assert (code, err) == (3, "")
    assert json.loads(out)["inspection"]["plugs"] == ["8-pin"]


def test_questions_are_asked_where_no_option_answers(capsys, tmp_path, monkeypatch):
    said = ["clear", "GP104-200-A1", "nonsense", "DVI-D, HDMI", "", "8", "", "8Gbit",
            "", "", "", ""]  # fmt: skip
    monkeypatch.setattr("sys.stdin", Terminal("\n".join(said) + "\n"))
    out = tmp_path / "record.json"
    code, _, err = run(capsys, "inspect", "--claim", "GTX 1070", "--out", out)
    assert code == 3
    assert "Switch the PC off" in err
    assert "'nonsense' is not a socket" in err
    assert load(out).inspection == Inspection(
        die_surface="clear", die="GP104-200-A1", outputs=("DVI-D", "HDMI"),
        memory_chips=8, memory_density_mbit=8192,
    )  # fmt: skip


def test_questions_end_where_nobody_answers_any_more(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", Terminal("unreadable\nHDMI"))
    out = tmp_path / "record.json"
    code, _, err = run(capsys, "inspect", "--claim", "GTX 1070", "--out", out)
    assert code == 3
    assert "What does it say" not in err  # it cannot be read
    assert load(out).inspection == Inspection(
        die_surface="unreadable", outputs=("HDMI",)
    )


def test_an_answer_that_stays_nonsense_is_passed_over(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", Terminal("x\ny\nz\n" + "\n" * 30))
    code, _, err = run(capsys, "inspect", "--claim", "GTX 1070")
    assert code == 2
    assert "passed over" in err
    assert "will not be kept" in err
    assert err.endswith("cardassay: nothing was told of the card\n")


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        ([], "no card was named"),
        (["--claim", "GTX 1070"], "nothing was told of the card"),
        (["--claim", "no such card", "--plugs", "none"], "has no card called"),
        (["--claim", "GTX 1070", "--plugs", "7-pin"], "--plugs: '7-pin' is not"),
        (["--claim", "GTX 1070", "--outputs", ","], "--outputs: nothing was named"),
        (["--claim", "GTX 1070", "--outputs", "99 x DP"], "nothing was named"),
        (["--claim", "GTX 1070", "--memory-chips", "0"], "--memory-chips: '0' is no"),
        (["--claim", "GTX 1070", "--memory-density", "8GB"], "write it in bits"),
        (["--claim", "GTX 1070", "--memory-width", "31"], "no width of a chip"),
        (["--claim", "GTX 1070", "--contacts", "12"], "no number of lanes"),
        (["--claim", "GTX 1070", "--photo", "nowhere.jpg"], "cannot be read"),
        (["--claim", "GTX 1070", "--photo", ""], "--photo: no file was named"),
        (["--claim", "GTX 1070", "--die", " "], "--die: no text"),
        (
            ["--claim", "GTX 1070", "--die", "GK107", "--die-state", "unreadable"],
            "called unreadable",
        ),
        (["nowhere.json", "--plugs", "none"], "nowhere.json"),
    ],
)
def test_what_it_refuses(capsys, monkeypatch, argv, said):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    code, out, err = run(capsys, "inspect", *argv)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_hostile_words_are_made_harmless(capsys, tmp_path):
    out = tmp_path / "record.json"
    run(
        capsys, "inspect", "--claim", "GTX 1070", "--die", "GP104\x1b[31m-200",
        "--label", "\u202eevil\r\n", "--out", out,
    )  # fmt: skip
    text = out.read_text("utf-8")
    assert "\x1b" not in text
    assert "\u202e" not in text


@given(st.text(max_size=60))
@settings(max_examples=300)
def test_any_answer_is_understood_or_refused(said):
    for question in answers.QUESTIONS:
        if question.field == "photos":
            continue
        with contextlib.suppress(answers.AnswerError):
            value = question.understand(said)
            seen = answers.made({question.field: value})
            assert codec.msgspec.convert(codec.msgspec.to_builtins(seen), Inspection)


def test_every_question_is_an_option_as_well():
    asked = parse(["inspect"])
    for question in answers.QUESTIONS:
        assert hasattr(asked, question.option.lstrip("-").replace("-", "_"))
    fields = {question.field for question in answers.QUESTIONS}
    assert fields == set(Inspection.__struct_fields__)


def test_a_later_look_goes_over_an_earlier_one(capsys, tmp_path):
    first, second = tmp_path / "1.json", tmp_path / "2.json"
    run(capsys, "inspect", "--claim", "GTX 1070", "--plugs", "none", "--contacts", "16",
        "--out", first)  # fmt: skip
    before = first.read_bytes()
    code, _, _ = run(capsys, "inspect", first, "--plugs", "8-pin", "--out", second)
    assert code == 3
    assert first.read_bytes() == before
    seen = load(second).inspection
    assert (seen.plugs, seen.contacts) == (("8-pin",), 16)
    code, _, err = run(capsys, "inspect", first, "--plugs", "8-pin", "--out", first)
    assert code == 2
    assert "stays as it is" in err


def test_a_later_look_at_the_die_leaves_nothing_of_the_earlier_one(capsys, tmp_path):
    files = [tmp_path / f"{number}.json" for number in range(3)]
    run(capsys, "inspect", "--claim", "GTX 1070", "--die", "GK107-450-A2",
        "--out", files[0])  # fmt: skip
    run(capsys, "inspect", files[0], "--die-state", "unreadable", "--out", files[1])
    run(capsys, "inspect", files[1], "--die", "GP104-200-A1", "--out", files[2])
    looks = [load(one).inspection for one in files]
    assert [(one.die, one.die_surface) for one in looks] == [
        ("GK107-450-A2", None),
        (None, "unreadable"),
        ("GP104-200-A1", None),
    ]


# A card without a driver, the whole way: check, firmware, inspect.


def on_bus(audio):
    return BusDevice(
        address="0000:01:00.0", vendor=NVIDIA, device=0x1B81, device_class=0x030000,
        subsystem_vendor=0x1458, subsystem_device=0x3701, revision=0xA1,
        source="sysfs",
        siblings=(
            Sibling(address="0000:01:00.1", vendor=NVIDIA, device=audio,
                    device_class=0x040300),
        ),
    )  # fmt: skip


@pytest.fixture
def silent(monkeypatch):
    """A PC with one card that no driver answers for."""
    from in_process import within  # noqa: PLC0415 - this fixture alone

    within(monkeypatch)
    real = cards.find

    def build(audio):
        sight = BusSight(devices=(on_bus(audio),), virtual_machine=False)
        monkeypatch.setattr(
            cards,
            "find",
            lambda *_: real(
                OpenClSight,
                lambda: NvmlSight(library=Nvml(library=None)),
                lambda: sight,
            ),
        )

    return build


def reads(tmp_path, data):
    names = [tmp_path / f"{name}.rom" for name in "abc"]
    for name in names:
        name.write_bytes(data)
    return names


def whole_way(capsys, tmp_path, image, *looked):
    """Return the records after each step, and the last page."""
    folder = tmp_path / "checked"
    checked = run(capsys, "check", "--claim", "GTX 1070", "--yes", "--out", folder)
    second, third = tmp_path / "second.json", tmp_path / "third.json"
    page = tmp_path / "page.html"
    read = run(capsys, "firmware", *reads(tmp_path, image), "--record",
               folder / "record.json", "--out", second)  # fmt: skip
    seen = run(capsys, "inspect", second, *looked, "--out", third, "--page", page)
    records = [load(folder / "record.json"), load(second), load(third)]
    return records, [checked[0], read[0], seen[0]], seen[1], page.read_text("utf-8")


def test_a_genuine_silent_card(silent, capsys, tmp_path):
    silent(0x10F0)  # GP104's own audio function
    records, codes, shown, page = whole_way(
        capsys, tmp_path, firmware.pascal(), "--die", "GP104-200-A1", "--plugs",
        "8-pin", "--memory-chips", "8", "--memory-marking", "MT51J256M32HF-80",
    )  # fmt: skip
    assert codes == [3, 3, 3]
    for record in records:
        assert record.verdict.outcome == "undetermined"
        assert "Nothing proves it false" in record.verdict.sentence
        assert not [f for f in record.findings if f.bearing == "contradicts"]
    last = records[-1]
    agreed = {f.rule for f in last.findings if f.bearing == "agrees"}
    assert agreed >= {
        "sibling-function", "pci-id", "read-version-chip", "read-card-id",
        "eye-die-marking", "eye-memory-size", "eye-bus-width", "eye-power-plugs",
    }  # fmt: skip
    assert any("own driver" in one or "driver" in one for one in last.verdict.settle)
    for text in (shown, page):
        assert "What its firmware holds" in text
        assert "What was seen on it" in text
    assert "Nothing of the card itself was measured" in page


def test_a_forged_silent_card_is_convicted_by_what_firmware_cannot_write(
    silent, capsys, tmp_path
):
    silent(0x0E1B)  # GK107's audio function beside a GTX 1070's id
    records, codes, shown, page = whole_way(
        capsys, tmp_path, firmware.dressed_up(), "--die", "GK107-450-A2", "--plugs",
        "none", "--memory-chips", "4", "--memory-density", "4Gbit",
    )  # fmt: skip
    assert codes == [1, 1, 1]
    for record in records:
        assert record.verdict.outcome == "not as claimed"
        assert any(
            one.startswith("Nothing of the card itself was measured")
            for one in record.verdict.reasons
        )
    assert "GK107" in records[0].verdict.sentence
    strong = {
        f.rule for f in records[-1].findings
        if (f.bearing, f.strength) == ("contradicts", "strong")
    }  # fmt: skip
    assert strong >= {"read-version-chip", "eye-die-marking", "eye-memory-size"}
    decisive = {f.rule for f in records[-1].findings if f.strength == "decisive"}
    assert decisive == {"sibling-function"}
    assert "The memory&#39;s real size." in page or "The memory's real size." in shown


def test_a_forged_card_whose_audio_is_hidden_stays_open_and_doubted(
    silent, capsys, tmp_path
):
    silent(0xFFFF)
    records, codes, _, _ = whole_way(
        capsys, tmp_path, firmware.dressed_up(), "--die", "GK107-450-A2"
    )
    assert codes == [3, 3, 3]
    assert records[0].verdict.outcome == "undetermined"
    assert "Nothing proves it false" in records[0].verdict.sentence
    for record in records[1:]:
        assert "Doubtful, but not proven false" in record.verdict.sentence


def test_firmware_alone_makes_a_record(capsys, tmp_path):
    out = tmp_path / "record.json"
    code, shown, _ = run(
        capsys, "firmware", *reads(tmp_path, firmware.nvidia()), "--claim", "GTX 1070",
        "--out", out,
    )  # fmt: skip
    assert code == 3
    record = load(out)
    assert record.firmware_report.image.version == "80.07.95.00.07"
    assert "Doubtful, but not proven false" in shown
    assert load(out).claims[0].model == GTX


def test_firmware_of_a_card_in_this_pc_makes_a_record(silent, capsys, tmp_path):
    silent(0x0E1B)
    out = tmp_path / "record.json"
    code, _, _ = run(
        capsys, "firmware", *reads(tmp_path, firmware.dressed_up()), "--card", "0",
        "--claim", "GTX 1070", "--out", out,
    )  # fmt: skip
    assert code == 1
    assert load(out).verdict.outcome == "not as claimed"


def test_a_bad_read_does_not_make_a_bad_card(silent, capsys, tmp_path):
    silent(0x10F0)
    folder, out = tmp_path / "checked", tmp_path / "record.json"
    run(capsys, "check", "--claim", "GTX 1070", "--yes", "--out", folder)
    empty = tmp_path / "empty.rom"
    empty.write_bytes(b"\xff" * 65536)
    code, _, _ = run(
        capsys, "firmware", empty, "--record", folder / "record.json", "--out", out
    )
    record = load(out)
    assert code == 3
    assert record.verdict.outcome == "undetermined"
    told = [f for f in record.findings if f.rule.startswith("read-")]
    assert told
    assert {(f.bearing, f.strength) for f in told} == {("open", "supporting")}


def test_a_candidate_is_no_part_of_the_cards_record(capsys, tmp_path):
    out, other = tmp_path / "record.json", tmp_path / "other.rom"
    other.write_bytes(firmware.pascal())
    code, _, _ = run(
        capsys, "firmware", *reads(tmp_path, firmware.nvidia()), "--against", other,
        "--claim", "GTX 650", "--out", out,
    )  # fmt: skip
    assert code == 3
    report = load(out).firmware_report
    assert report.against is None
    assert report.fit == ()
