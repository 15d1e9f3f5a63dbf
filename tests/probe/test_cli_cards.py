"""`check` and `list` on PCs of our own invention: no card, one, several, none usable.

The inventory's readers are replaced; a card with a driver is played by the practice
card. Ids: pci.ids.
"""

import json
import sys
from types import SimpleNamespace

import pytest
from command_line import command, keep_table
from in_process import within

from probe import check, cli
from probe.errors import CardError
from probe.identity import cards
from probe.identity.bus import NVIDIA, BusDevice, BusSight
from probe.identity.nvml import Nvml, NvmlSight
from probe.identity.opencl import OpenClDevice, OpenClSight
from probe.opencl import device as opencl_device
from probe.practice import conditions
from reports import codec
from reports.record import Claim

GIB = 2**30
FIRST, SECOND = "0000:01:00.0", "0000:02:00.0"
linux_only = pytest.mark.skipif(
    sys.platform == "win32", reason="the advice names Linux packages"
)


def on_bus(address=FIRST, device=0x1B81):
    return BusDevice(
        address=address, vendor=NVIDIA, device=device, device_class=0x030000,
        source="sysfs",
    )  # fmt: skip


def through_opencl(address=FIRST, *, kind="gpu", label="GeForce GTX 1070"):
    return OpenClDevice(
        handle=address or "the processor",
        platform="NVIDIA CUDA" if kind == "gpu" else "Portable Computing Language",
        rank=0 if kind == "gpu" else 2,
        kind=kind,
        label=label,
        vendor_id=NVIDIA,
        address=address if kind == "gpu" else None,
        address_rule="address from cl_khr_pci_bus_info" if kind == "gpu" else None,
        largest_block_bytes=2 * GIB,
        unified_memory=kind == "cpu",
        claim=Claim(
            layer="opencl", source="OpenCL", model=label, memory_bytes=8 * GIB,
            compute_units=15, compute_capability="6.1",
        ),
    )  # fmt: skip


class Played:
    """An OpenCL device that is a practice card under the facts of the inventory."""

    opened = []  # noqa: RUF012 - emptied by the fixture
    fails = {}  # noqa: RUF012 - as above
    condition = "as-claimed"

    def __new__(cls, handle, facts, _):
        if handle in cls.fails:
            raise cls.fails[handle]
        card = conditions.open_practice(cls.condition)
        object.__setattr__(card.facts, "identity", facts.identity)
        object.__setattr__(card.facts, "claims", facts.claims)
        cls.opened.append(card)
        return card


@pytest.fixture(autouse=True)
def _pc_of_our_own(monkeypatch):
    keep_table(monkeypatch)
    within(monkeypatch)
    monkeypatch.setattr(opencl_device, "OpenCLDevice", Played)
    monkeypatch.setattr(Played, "opened", [])
    monkeypatch.setattr(Played, "fails", {})
    monkeypatch.setattr(Played, "condition", "as-claimed")


@pytest.fixture
def pc(monkeypatch):
    real = cards.find

    def install(opencl=(), bus=(), **sight):
        monkeypatch.setattr(
            cards,
            "find",
            lambda *_: real(
                lambda: OpenClSight(devices=tuple(opencl), **sight),
                lambda: NvmlSight(library=Nvml(library=None), devices=()),
                lambda: BusSight(devices=tuple(bus)),
            ),
        )

    return install


@pytest.fixture
def keyboard(monkeypatch):
    def at(answer, *, terminal=True):
        stdin = SimpleNamespace(isatty=lambda: terminal, readline=lambda: answer)
        monkeypatch.setattr(sys, "stdin", stdin)

    return at


def test_nothing_here_at_all(pc, capsys, tmp_path):
    pc(notes=("no OpenCL driver is installed",))
    ended = command(capsys, tmp_path / "out")
    assert ended.code == 3
    assert ended.out == ""
    assert ended.err.startswith("cardassay: No graphics card here can be tested: ")
    assert "PCI shows no graphics card." in ended.err
    assert "Next: check that the card sits firmly in its slot" in ended.err
    assert not (tmp_path / "out").exists()


@linux_only
def test_a_card_without_a_driver_is_reported_by_its_bus(pc, capsys, tmp_path):
    pc(bus=[on_bus()])
    ended = command(capsys, tmp_path)
    assert ended.code == 3
    assert "PCI shows" in ended.err
    assert "nvidia-opencl-icd" in ended.err
    record = ended.record
    assert not record.practice
    assert not record.interrupted
    assert [claim.layer for claim in record.claims] == ["pci"]
    assert record.claims[0].pci_id == "10de:1b81"
    assert record.capacity is None
    assert record.verdict.outcome == "undetermined"
    (start,) = record.phases
    assert (start.name, start.outcome) == ("start", "failed")
    assert start.detail.startswith("No graphics card here can be tested: OpenCL's")
    assert (tmp_path / "report.html").exists()
    assert "Practice" not in ended.out


def test_a_silent_card_with_a_listing(pc, capsys, tmp_path):
    pc(bus=[on_bus()])
    ended = command(capsys, tmp_path, "--claim", "GeForce GTX 1070", "--json")
    assert ended.code == 3
    assert ended.out.encode() == ended.data
    assert [claim.layer for claim in ended.record.claims] == ["listing", "pci"]


def test_of_two_silent_cards_one_is_named(pc, capsys, tmp_path):
    pc(bus=[on_bus(), on_bus(SECOND, 0x0FC6)])
    ended = command(capsys, tmp_path / "none")
    assert ended.code == 3
    assert ended.err.count("PCI shows") == 2
    assert not (tmp_path / "none").exists()
    for number, wanted in enumerate(("1", "02:00.0", SECOND)):
        ended = command(capsys, tmp_path / str(number), "--card", wanted)
        assert ended.code == 3
        assert ended.record.card.pci_address == SECOND


def test_or_practice_says_so(pc, capsys, tmp_path):
    pc(bus=[on_bus()])
    ended = command(capsys, tmp_path, "--or-practice")
    assert ended.code == 0
    assert "cannot be tested" in ended.err or "can be tested" in ended.err
    notice = "Practice run: no real card was tested. Simulated: as-claimed."
    assert (ended.lines[0], ended.lines[-1]) == (notice, notice)
    assert ended.record.practice


def test_or_practice_never_stands_in_for_a_card(pc, keyboard, capsys, tmp_path):
    pc([through_opencl()], [on_bus()])
    ended = command(capsys, tmp_path, "--or-practice", "--yes")
    assert ended.code == 0
    assert not ended.record.practice
    assert ended.record.practice_condition is None
    assert "Practice" not in ended.out


def test_or_practice_does_not_replace_a_named_card(pc, capsys, tmp_path):
    pc(bus=[on_bus()])
    ended = command(capsys, tmp_path, "--or-practice", "--card", "0")
    assert ended.code == 3
    assert not ended.record.practice


def test_one_card_is_taken_without_asking(pc, capsys, tmp_path):
    pc([through_opencl()], [on_bus()])
    ended = command(capsys, tmp_path, "--yes", "--claim-memory", "8GB")
    assert (ended.code, ended.err) == (0, "")
    assert ended.record.card.pci_address == FIRST
    assert [claim.layer for claim in ended.record.claims] == [
        "listing", "opencl", "pci",
    ]  # fmt: skip


def test_a_lying_card_is_found_out(pc, capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(Played, "condition", "mirrored")
    pc([through_opencl()], [on_bus()])
    assert command(capsys, tmp_path, "--yes").code == 1


def test_two_cards_are_listed_to_choose_from(pc, capsys, tmp_path):
    pc(
        [through_opencl(), through_opencl(SECOND, label="GeForce GTX 650")],
        [on_bus(), on_bus(SECOND, 0x0FC6)],
    )
    ended = command(capsys, tmp_path / "none", "--yes")
    assert ended.code == 2
    assert ended.err == (
        "cardassay: Several graphics cards are here; say which one is meant:\n"
        f"  --card 0  GeForce GTX 1070 at {FIRST} (NVIDIA CUDA)\n"
        f"  --card 1  GeForce GTX 650 at {SECOND} (NVIDIA CUDA)\n"
    )
    assert not (tmp_path / "none").exists()
    ended = command(capsys, tmp_path, "--yes", "--card", "1")
    assert ended.record.card.label == "GeForce GTX 650"


def test_an_unknown_card_is_refused(pc, capsys, tmp_path):
    pc([through_opencl()], [on_bus()])
    for wanted in ("7", "0000:09:00.0", "GeForce", "-"):
        ended = command(capsys, tmp_path / "none", "--yes", f"--card={wanted}")
        assert ended.code == 2
        assert ended.err.startswith(
            f"cardassay: There is no card {wanted!r} here; there are:\n  --card 0  "
        )


def two(pc):
    pc([through_opencl(), through_opencl(SECOND)], [on_bus(), on_bus(SECOND)])


def test_all_cards_in_turn(pc, capsys, tmp_path):
    two(pc)
    ended = command(capsys, tmp_path, "--yes", "--card", "all", "--quiet")
    assert (ended.code, len(ended.lines)) == (0, 2)
    names = sorted(folder.name for folder in tmp_path.iterdir())
    assert names == ["0000-01-00.0", "0000-02-00.0"]
    for name in names:
        record = codec.load(tmp_path / name / "record.json")
        assert record.card.pci_address.replace(":", "-") == name


def test_all_cards_have_default_folders_of_their_own(pc, capsys, tmp_path, monkeypatch):
    two(pc)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.delenv("XDG_DOCUMENTS_DIR", raising=False)
    assert cli.main(["check", "--yes", "--card", "all", "--quiet"]) == 0
    folders = sorted(tmp_path.iterdir())
    assert len(folders) == 2
    assert all((each / "report.html").exists() for each in folders)


def test_all_cards_need_documents_of_their_own(pc, capsys, tmp_path):
    two(pc)
    ended = command(capsys, tmp_path, "--card", "all", "--json")
    assert ended.code == 2
    assert ended.err == (
        "cardassay: --json prints one record: name one card with --card\n"
    )


def test_one_broken_card_does_not_spare_the_other(pc, capsys, tmp_path):
    two(pc)
    Played.fails[FIRST] = CardError("GeForce GTX 1070: opening the card failed", "X")
    ended = command(capsys, tmp_path, "--yes", "--card", "all", "--quiet")
    assert ended.code == 3
    assert ended.err == "cardassay: GeForce GTX 1070: opening the card failed (X)\n"
    first, second = (
        codec.load(tmp_path / name / "record.json")
        for name in ("0000-01-00.0", "0000-02-00.0")
    )
    assert first.capacity is None
    assert first.phases[0].detail == "GeForce GTX 1070: opening the card failed (X)"
    assert second.verdict.outcome == "as claimed"


def test_ctrl_c_on_one_card_leaves_the_next_alone(pc, capsys, tmp_path, monkeypatch):
    two(pc)

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("probe.practice.card.PracticeCard.sweep", interrupted)
    ended = command(capsys, tmp_path, "--yes", "--card", "all", "--quiet")
    assert ended.code == 130
    assert len(Played.opened) == 1
    assert codec.load(tmp_path / "0000-01-00.0" / "record.json").interrupted


def test_cautions_need_a_yes_where_nobody_can_answer(pc, keyboard, capsys, tmp_path):
    pc([through_opencl()], [on_bus()])
    keyboard("y\n", terminal=False)
    ended = command(capsys, tmp_path / "none")
    assert (ended.code, ended.out) == (2, "")
    assert ended.err == (
        check.CAUTIONS + "\ncardassay: a real card is only tested once these are "
        "accepted: add --yes\n"
    )
    assert not (tmp_path / "none").exists()
    assert Played.opened == []


@pytest.mark.parametrize("answer", ["y\n", "Y\n", "yes\n", " Yes \n"])
def test_cautions_accepted(answer, pc, keyboard, capsys, tmp_path):
    pc([through_opencl()], [on_bus()])
    keyboard(answer)
    ended = command(capsys, tmp_path)
    assert ended.code == 0
    assert ended.err == check.CAUTIONS + "\nGo on? [y/N] "


@pytest.mark.parametrize("answer", ["\n", "n\n", "", "yep\n", "no\n"])
def test_cautions_not_accepted(answer, pc, keyboard, capsys, tmp_path):
    pc([through_opencl()], [on_bus()])
    keyboard(answer)
    ended = command(capsys, tmp_path / "none")
    assert ended.code == 2
    assert ended.err.endswith("cardassay: not accepted; nothing was tested\n")
    assert Played.opened == []


def test_a_processor_needs_no_cautions(pc, keyboard, capsys, tmp_path):
    pc([through_opencl(None, kind="cpu", label="A processor")])
    keyboard("", terminal=False)
    ended = command(capsys, tmp_path, "--card", "cpu", "--depth", "quick")
    assert ended.err == ""
    assert ended.code == 3
    assert ended.record.card.kind == "cpu"


def test_no_driver_for_the_processor(pc, capsys, tmp_path):
    pc(bus=[on_bus()])
    ended = command(capsys, tmp_path / "none", "--card", "cpu")
    assert ended.code == 3
    assert ended.err == (
        "cardassay: No OpenCL driver for the processor is here.\n"
        "Next: install one (Debian, Ubuntu: pocl-opencl-icd).\n"
    )


def test_a_layer_that_was_left_out_is_no_driver_that_is_missing(pc, capsys, tmp_path):
    left_out = "OpenCL was left out: its process was ended by SIGSEGV"
    pc(bus=[on_bus()], notes=(left_out,))
    ended = command(capsys, tmp_path / "a", "--card", "cpu")
    assert ended.code == 3
    assert f"The processor cannot be tested: {left_out}\n" in ended.err
    ended = command(capsys, tmp_path / "b", "--card", "0", "--yes")
    assert ended.code == 3
    assert f"  {left_out}\n" in ended.err


def test_list_tells_a_script_whether_there_is_a_card(pc, capsys):
    pc()
    assert cli.main(["list"]) == 3
    pc(bus=[on_bus()])
    assert cli.main(["list"]) == 0
    capsys.readouterr()
    assert cli.main(["list", "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert "10de:1b81" in json.dumps(shown)
