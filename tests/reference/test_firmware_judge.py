"""What an image says for and against a claim: genuine and forged, of our invention."""

import hashlib

import made_firmware as made
import pytest
from msgspec.structs import replace

from reference.firmware.look import card_on_record, look
from reference.table import load
from reports.codec import decode
from reports.firmware_report import FirmwareCard
from reports.layers import FirmwareImage, Layers


@pytest.fixture(scope="module")
def table():
    return load()


@pytest.fixture
def judged(table):
    def judge(data, claim=None, reads=3, **given):
        named = [(f"read {number}", data) for number in range(reads)]
        return look(named, table, version="test", claim=claim, **given)

    return judge


def rules(report, bearing, strength="strong"):
    return {
        one.rule
        for one in report.findings
        if (one.bearing, one.strength) == (bearing, strength)
    }


def test_a_genuine_one(judged):
    report = judged(made.pascal(), "GTX 1070")
    assert report.outcome == "nothing against it"
    assert {one.bearing for one in report.findings} == {"agrees"}
    assert report.claim == "GeForce GTX 1070"
    assert report.sentence == (
        "Nothing in this firmware speaks against it being that of a GeForce GTX 1070. "
        "Firmware can be rewritten: this proves nothing of the card."
    )


def test_a_genuine_old_card_under_its_own_name(judged):
    report = judged(made.nvidia(), "GTX 650")
    assert report.outcome == "nothing against it"
    assert {one.bearing for one in report.findings} <= {"agrees", "explains"}


def test_a_genuine_amd_card(judged):
    report = judged(made.amd(), "RX 480")
    assert report.outcome == "nothing against it"
    assert {one.bearing for one in report.findings} == {"agrees"}


def test_a_gk107_dressed_up(judged):
    report = judged(made.dressed_up(), "GTX 1070")
    assert report.outcome == "not as claimed"
    assert report.sentence == (
        "This is not the firmware of a GeForce GTX 1070. It is that of a GK107."
    )
    assert rules(report, "contradicts") == {
        "firmware-version-chip",
        "firmware-built",
        "firmware-chips",
    }
    assert rules(report, "contradicts", "supporting") == {
        "firmware-analog",
        "firmware-image-ids",
    }
    assert "firmware-id" in rules(report, "agrees", "supporting")


def test_a_forgery_is_at_odds_with_itself_before_anything_is_claimed(judged):
    report = judged(made.dressed_up())
    assert report.outcome == "undetermined"
    assert rules(report, "contradicts") == {"firmware-chips"}


def test_an_old_firmware_that_was_left_alone(judged):
    report = judged(made.nvidia(), "GTX 1070")
    assert report.outcome == "not as claimed"
    assert rules(report, "contradicts") == {
        *("firmware-id", "firmware-version-chip", "firmware-built", "firmware-texts"),
    }


def test_one_contradiction_alone_accuses_nobody(judged):
    report = judged(made.pascal(version="80.07.95.00.07", device=0x1B81), "GTX 1070")
    assert report.outcome == "undetermined"
    assert rules(report, "contradicts") == {"firmware-version-chip", "firmware-chips"}


def test_an_id_of_the_same_window_that_no_list_has(judged):
    report = judged(made.pascal(device=0x1B9F), "GTX 1070")
    assert "firmware-id" in rules(report, "open", "supporting")
    assert report.outcome == "nothing against it"


def test_an_unlisted_id_in_another_chips_window(judged):
    report = judged(made.pascal(device=0x0FDE), "GTX 1070")
    assert "firmware-id" in rules(report, "contradicts")


@pytest.mark.parametrize(
    ("date", "bearing", "strength"),
    [
        ("05/27/16", "agrees", "supporting"),
        ("11/30/15", "agrees", "supporting"),
        ("05/01/15", "contradicts", "supporting"),
        ("05/01/14", "contradicts", "strong"),
        ("06/21/30", "agrees", "supporting"),
    ],
)
def test_only_years_before_the_first_card_count(judged, date, bearing, strength):
    """The table: the first card with a GP104 was launched on 2016-05-27."""
    report = judged(made.pascal(date=date), "GTX 1070")
    (found,) = [one for one in report.findings if one.rule == "firmware-built"]
    assert (found.bearing, found.strength) == (bearing, strength)


def test_a_launch_from_memory_supports_at_most(judged):
    """The first card on the Pitcairn has its launch from memory in the table."""
    report = judged(made.pascal(date="01/01/05"), "Radeon HD 7850")
    (built,) = [one for one in report.findings if one.rule == "firmware-built"]
    assert (built.bearing, built.strength) == ("contradicts", "supporting")
    assert built.sources == ("from memory",)
    report = judged(made.pascal(date="01/01/05"), "GTX 1070")
    (built,) = [one for one in report.findings if one.rule == "firmware-built"]
    assert (built.bearing, built.strength) == ("contradicts", "strong")
    assert built.sources[0] == "List of Nvidia graphics processing units"


def test_an_unreadable_date_says_nothing(judged):
    report = judged(made.pascal(date="99/99/99"), "GTX 1070")
    assert not [one for one in report.findings if one.rule == "firmware-built"]


def test_texts_of_another_model(judged):
    report = judged(made.pascal(sign_on="GeForce GT 730", product="x"), "GTX 1070")
    (found,) = [one for one in report.findings if one.rule == "firmware-texts"]
    assert (found.bearing, found.strength) == ("contradicts", "strong")
    assert "GeForce GT 730" in found.sentence
    assert report.outcome == "undetermined"


def test_texts_of_a_sister_on_the_same_chip(judged):
    report = judged(made.pascal(sign_on="GeForce GTX 1080", product="x"), "GTX 1070")
    (found,) = [one for one in report.findings if one.rule == "firmware-texts"]
    assert (found.bearing, found.strength) == ("contradicts", "supporting")


def test_memory_that_the_model_never_had(judged):
    report = judged(made.pascal(memory=(1,)), "GTX 1070")
    assert "firmware-memory" in rules(report, "contradicts", "supporting")


@pytest.mark.parametrize(
    ("codes", "claim", "bearing"),
    [
        ((8,), "GTX 1070", "agrees"),  # GDDR5X beside GDDR5: no card is accused
        ((9,), "RTX 3080", "agrees"),  # GDDR6X has no published code
        ((6,), "H100 SXM", "agrees"),
        ((0xC,), "GTX 1070", None),
    ],
)
def test_memory_codes_that_tell_little(judged, codes, claim, bearing):
    report = judged(made.pascal(memory=codes), claim)
    found = [one.bearing for one in report.findings if one.rule == "firmware-memory"]
    assert found == ([bearing] if bearing else [])


def test_the_wrong_makers_image(judged):
    report = judged(made.amd(), "GTX 1070")
    assert report.outcome == "not as claimed"


def test_a_network_cards_image(judged):
    image = made.seal(made.x86(0x8086, 0x100E), 0xEFFF)
    made_of = bytearray(image)
    made.put(made_of, 0x18D, b"\0\0\x02")
    report = judged(made.seal(made_of, 0xEFFF), "GTX 1070")
    assert report.outcome == "not as claimed"
    assert rules(report, "contradicts") == {"firmware-class", "firmware-id"}
    report = judged(made.seal(made_of, 0xEFFF))
    assert report.outcome == "undetermined"
    assert "no graphics card (PCI class 0200)" in report.sentence


def test_a_bare_header_is_for_no_card_that_can_be_told(judged):
    """55 AA and a length, as expansion ROMs before PCI had them."""
    report = judged(b"\x55\xaa\x01" + bytes(509))
    assert report.outcome == "undetermined"
    assert report.sentence.startswith("The image states no PCI id")
    assert "firmware-chain" in rules(report, "open", "supporting")


def test_a_start_that_is_no_image_is_told(judged):
    """What a contact that came late leaves: the legacy image's header is gone."""
    late = bytes(100) + made.pascal()[100:]
    (one,) = [one for one in judged(late, "GTX 1070").findings if one.bearing == "open"]
    assert one.sentence.startswith("The first image begins at 0xf000, not at 0")
    header = b"NVGI" + bytes(1532)
    report = judged(made.pascal(header=header), "GTX 1070")
    assert {one.bearing for one in report.findings} == {"agrees"}


def test_an_image_that_runs_more_kinds_of_memory_than_the_model_has(judged):
    report = judged(made.nvidia(memory=(1, 3)), "GTX 1070")
    (memory,) = [one for one in report.findings if one.rule == "firmware-memory"]
    assert memory.sentence == (
        "It is made to run DDR3 or GDDR5; a GeForce GTX 1070 has GDDR5 or GDDR5X."
    )


def test_a_read_that_broke_off_is_not_called_cut_to_its_length(judged):
    for size, said in ((40, "broke off"), (84, "cut to its length")):
        report = judged(made.pascal()[: size * made.KIB], "GTX 1070")
        (surface,) = [one for one in report.findings if one.rule == "firmware-surface"]
        assert said in surface.sentence


def test_a_model_that_the_table_lacks(judged):
    report = judged(made.pascal(), "GTX 1075 Ultra")
    assert report.outcome == "undetermined"
    assert report.sentence.startswith("The table of genuine cards has no GTX 1075 Ult")


def test_reads_that_differ_are_believed_by_nobody(judged, table):
    bad = bytearray(made.pascal())
    bad[0x3333] ^= 0x10
    reads = [("a", made.pascal()), ("b", bytes(bad))]
    report = look(reads, table, version="test", claim="GTX 1070")
    assert report.outcome == "faulty"
    assert report.sentence.startswith("No two reads are the same")
    reads.append(("c", made.pascal()))
    report = look(reads, table, version="test", claim="GTX 1070")
    assert report.outcome == "nothing against it"
    assert rules(report, "fault", "supporting") == {"firmware-reads"}


def test_one_read_is_not_enough_and_says_so(judged):
    report = judged(made.pascal(), reads=1)
    assert "firmware-reads" in rules(report, "open", "supporting")
    assert report.outcome == "nothing against it"


@pytest.mark.parametrize(
    ("data", "rule"),
    [
        (b"\xff" * 65536, "firmware-surface"),
        (bytes(65536), "firmware-surface"),
        (bytes(n & 0xFB for n in made.nvidia()), "firmware-surface"),
        (bytes(n | 0x22 for n in made.nvidia()), "firmware-surface"),
        (made.nvidia()[: 64 * 1024], "firmware-chain"),
        (made.nvidia().replace(b"Board", b"Bored", 1), "firmware-checksum"),
    ],
)
def test_faults(judged, data, rule):
    report = judged(data)
    assert report.outcome == "faulty"
    assert rule in rules(report, "fault")


def test_a_copy_out_of_the_pcs_memory_is_explained(judged):
    report = judged(made.nvidia()[: 64 * 1024])
    assert "the copy that a PC keeps" in report.sentence


def test_something_else_entirely(judged):
    report = judged(b"holiday pictures" * 4096)
    assert report.outcome == "undetermined"
    assert report.sentence == "This is no firmware image of a PCI card."


def test_a_mirrored_read_is_no_fault(judged):
    report = judged(made.pascal() * 2, "GTX 1070")
    assert report.outcome == "nothing against it"
    assert "firmware-surface" in rules(report, "explains", "supporting")


CARD = FirmwareCard(
    label="a card",
    pci_id="10de:1b81",
    subsystem="1458:3701",
    firmware="86.04.50.00.41",
    chips=("GP104",),
)


@pytest.mark.parametrize(
    ("changes", "rule", "bearing", "strength"),
    [
        ({}, "firmware-card-id", "agrees", "supporting"),
        ({}, "firmware-running", "agrees", "supporting"),
        ({}, "firmware-subsystem", "agrees", "supporting"),
        ({}, "firmware-measured-chip", "agrees", "supporting"),
        ({"pci_id": "10de:1b82"}, "firmware-card-id", "explains", "supporting"),
        ({"pci_id": "10de:0fc6"}, "firmware-card-id", "contradicts", "strong"),
        (
            {"subsystem": "1458:3702"},
            *("firmware-subsystem", "contradicts", "supporting"),
        ),
        ({"firmware": "86.04.26.00.80"}, "firmware-running", "open", "supporting"),
        ({"chips": ("GK107",)}, "firmware-measured-chip", "contradicts", "strong"),
    ],
)
def test_a_card_on_record(table, changes, rule, bearing, strength):
    from reference.firmware import findings, parse, reads  # noqa: PLC0415

    comparison = reads.compare([("a", made.pascal())])
    image = parse.parse(comparison.reads[0], made.pascal(), table)
    card = replace(CARD, **changes)
    found = findings.judge(comparison, image, table, card=card).findings
    (one,) = [one for one in found if one.rule == rule]
    assert (one.bearing, one.strength) == (bearing, strength)


def test_a_text_left_over_from_the_card_it_was(judged):
    data = bytearray(made.pascal())
    made.put(data, 0xB00, b"\0GK107 P2010 SKU 0 VGA BIOS\0")
    report = judged(made.seal(data[: 60 * 1024], 0xEFFF), "GTX 1070")
    assert report.image.loose == ("GK107 P2010 SKU 0 VGA BIOS",)
    assert "firmware-left-over" in rules(report, "contradicts", "supporting")
    own = bytearray(made.pascal())
    made.put(own, 0xB00, b"\0GP104 P2010 SKU 0 VGA BIOS\0")
    report = judged(made.seal(own[: 60 * 1024], 0xEFFF), "GTX 1070")
    assert report.image.loose == ("GP104 P2010 SKU 0 VGA BIOS",)
    assert not rules(report, "contradicts", "supporting")


def test_an_image_that_the_driver_held(golden, table):
    data = made.pascal()
    digest = hashlib.sha256(data).hexdigest()
    held = FirmwareImage(source="driver", size_bytes=len(data), sha256=digest.upper())
    odd = FirmwareImage(source="driver", size_bytes=1, sha256="odd")
    layers = Layers(images=(odd, held))
    record = replace(golden, card=replace(golden.card, layers=layers))
    report = look([("a", data)], table, version="t", record=record)
    assert report.card.images == (digest,)
    assert "firmware-held" in rules(report, "agrees", "supporting")


def test_what_a_record_says_of_its_card(golden):
    card = card_on_record(golden)
    assert card.pci_id == "10de:2330"
    assert card.firmware is not None
    assert card.firmware.startswith("96.00.")
    assert card.chips[:1] in {("GH100",), ()}


@pytest.fixture
def golden():
    from pathlib import Path  # noqa: PLC0415

    folder = Path(__file__).parents[1] / "data" / "golden"
    return decode((folder / "h100-sxm.json").read_bytes())
