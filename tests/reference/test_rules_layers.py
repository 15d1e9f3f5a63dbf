"""Layers that firmware cannot write, and its traces: genuine and forged cards made up.

Chip ids, functions and firmware versions of chips: envytools, pci.ids, and what
operating systems printed (tests/data/outside).
"""

import made_records as made
import pytest
from msgspec.structs import replace

from reference import layer_words
from reference.judge import judge
from reference.table import load
from reports.layers import DriverPackage, FirmwareImage, Function, Layers
from reports.record import Claim

GTX = "GeForce GTX 1070"


@pytest.fixture(scope="module")
def table():
    return load()


def with_layers(record, **fields):
    return replace(record, card=replace(record.card, layers=Layers(**fields)))


def with_driver(record, **fields):
    told = Claim(layer="driver", source="kernel driver", **fields)
    return replace(record, claims=(*record.claims, told))


def functions(*ids):
    kinds = ("0403", "0c03", "0c80")
    return tuple(
        Function(number=place + 1, pci_id=one, device_class=kinds[place])
        for place, one in enumerate(ids)
    )


def card(table, model=GTX, **wanted):
    row = made.one(table, model, **wanted)
    return made.built(made.genuine(row, table), row, table)


def found(record, table, rule):
    return [one for one in judge(record, table).findings if one.rule == rule]


def only(record, table, rule):
    (one,) = found(record, table, rule)
    return one


def weight(record, table, rule):
    one = only(record, table, rule)
    return one.bearing, one.strength


def test_a_genuine_card_agrees_in_every_layer(table):
    record = with_driver(card(table), chip_id="134", firmware="86.04.50.00.70")
    record = with_layers(
        record,
        functions=functions("10de:10f0"),
        outputs=("DVI-D-1", "HDMI-A-1", "DP-1"),
        package=DriverPackage(
            matching_id=r"pci\ven_10de&dev_1b81", line="nvidia_dev.1b81"
        ),
        images=(image("10de:1b81"),),
        virtual_machine=False,
    )
    judged = judge(record, table)
    assert judged.verdict.outcome == "as claimed"
    for rule in ("silicon-id", "sibling-function", "firmware-version",
                 "firmware-image", "driver-package"):  # fmt: skip
        assert only(record, table, rule).bearing == "agrees"
    assert found(record, table, "analog-output") == []


def image(pci_id):
    return FirmwareImage(
        source="image made up", size_bytes=65536, sha256="0" * 64, pci_id=pci_id
    )


def test_another_chips_number_in_the_register_decides(table):
    record = with_driver(card(table), chip_id="0e7")
    assert weight(record, table, "silicon-id") == ("contradicts", "decisive")
    verdict = judge(record, table).verdict
    assert verdict.outcome == "not as claimed"
    assert "GK107" in verdict.sentence
    assert any("its register holds 0e7" in one for one in verdict.reasons)


def test_a_number_that_nobody_knows_is_not_held_against_a_card(table):
    record = with_driver(card(table), chip_id="1ff")
    assert weight(record, table, "silicon-id") == ("open", "supporting")
    assert judge(record, table).verdict.outcome == "as claimed"


def test_steppings_and_second_chips_of_a_model_are_genuine(table):
    """GK208 and GK208B carry different numbers; a GT 730 is of one of three chips."""
    for chip, number in (("GK208", "108"), ("GK208", "106"), ("GF108", "0c1")):
        record = with_driver(card(table, "GeForce GT 730", chip=chip), chip_id=number)
        assert only(record, table, "silicon-id").bearing == "agrees"


def test_another_chips_audio_function_decides(table):
    record = with_layers(card(table), functions=functions("10de:0e1b"))
    one = only(record, table, "sibling-function")
    assert (one.bearing, one.strength) == ("contradicts", "decisive")
    assert "audio function 10de:0e1b belongs to the chip GK107" in one.sentence
    assert judge(record, table).verdict.outcome == "not as claimed"


def test_the_foreign_one_of_several_functions_is_told(table):
    record = with_layers(
        card(table, "GeForce RTX 2060", chip="TU106"),
        functions=functions("10de:10f9", "10de:1ada", "10de:1aed"),
    )
    assert "10de:1aed" in only(record, table, "sibling-function").sentence


def test_a_virtual_machine_may_put_functions_together(table):
    record = with_layers(
        card(table), functions=functions("10de:0e1b"), virtual_machine=True
    )
    assert weight(record, table, "sibling-function") == ("contradicts", "strong")
    assert judge(record, table).verdict.outcome == "undetermined"


@pytest.mark.parametrize("ids", [(), ("8086:293e",), ("10de:ffff",), ("1002:aaf0",)])
def test_hidden_and_unknown_functions_say_nothing(table, ids):
    record = with_layers(card(table), functions=functions(*ids))
    assert found(record, table, "sibling-function") == []


def test_shared_audio_functions_of_amd(table):
    polaris = card(table, "Radeon RX 580", chip="Ellesmere")
    own = with_layers(polaris, functions=functions("1002:aaf0"))
    assert weight(own, table, "sibling-function") == ("agrees", "supporting")
    forged = with_layers(polaris, functions=functions("1002:aa90"))
    assert weight(forged, table, "sibling-function") == ("contradicts", "strong")
    for model in ("Radeon RX 550", "Radeon RX 560"):
        for row in table.resolve(model):
            record = with_layers(
                made.genuine(row, table), functions=functions("1002:aae0")
            )
            assert only(record, table, "sibling-function").bearing == "agrees"


def test_two_chips_in_one_slot_are_told_without_any_model(table):
    record = made.listed_as(card(table), "No such card")
    record = made.with_claims(record, ("opencl", "nvml"), model=None)
    record = with_layers(record, functions=functions("10de:0bee"))
    one = only(record, table, "sibling-function")
    assert (one.bearing, one.strength) == ("contradicts", "strong")
    assert "two chips speak there" in one.sentence


def test_firmware_of_another_chip_raises_doubt_alone(table):
    for version in ("80.07.95.00.07", "Version80.7.95.0.7"):
        record = with_driver(card(table), firmware=version)
        one = only(record, table, "firmware-version")
        assert (one.bearing, one.strength) == ("contradicts", "strong")
        assert "made for GK107" in one.sentence
        assert judge(record, table).verdict.outcome == "undetermined"


@pytest.mark.parametrize("version", ["113-D00034-L01", "80.10.11.00.01", "", "86.04"])
def test_unknown_versions_say_nothing(table, version):
    record = with_driver(card(table), firmware=version or None)
    assert found(record, table, "firmware-version") == []


def test_firmware_made_for_another_function(table):
    record = card(table, "Radeon RX 580", chip="Ellesmere", units=36)
    alike = with_layers(record, images=(image("1002:67df"),))
    assert only(alike, table, "firmware-image").bearing == "agrees"
    forged = with_layers(record, images=(image("1002:6759"),))
    assert weight(forged, table, "firmware-image") == ("contradicts", "strong")
    unknown = with_layers(record, images=(image("1002:ffff"), image(None)))
    assert weight(unknown, table, "firmware-image") == ("contradicts", "supporting")


def package(line="nvidia_dev.1b81", matching=r"pci\ven_10de&dev_1b81"):
    return DriverPackage(
        hardware_ids=(r"PCI\VEN_10DE&DEV_1B81&SUBSYS_37011458&REV_A1",),
        matching_id=matching,
        line=line,
    )


@pytest.mark.parametrize(
    "forged",
    [
        package(line="NVIDIA_DEV.1C82"),
        package(line="nvidia_dev.1c82.8576.1043"),
        package(matching=r"PCI\VEN_10DE&DEV_1C82&SUBSYS_85761043"),
    ],
)
def test_a_line_for_another_card_raises_doubt_alone(table, forged):
    record = with_layers(card(table), package=forged)
    one = only(record, table, "driver-package")
    assert (one.bearing, one.strength) == ("contradicts", "strong")
    assert "GeForce GTX 1050 Ti" in one.sentence
    verdict = judge(record, table).verdict
    assert verdict.outcome == "undetermined"
    assert layer_words.SETTLE["driver-package"] in verdict.settle


@pytest.mark.parametrize(
    "genuine",
    [
        package(line="nvidia_dev.1b81.3701.1458"),
        package(line="NVIDIA_DEV.1B81.01"),
        package(line="some.other.word"),
    ],
)
def test_makers_ways_to_name_a_line(table, genuine):
    record = with_layers(card(table), package=genuine)
    assert only(record, table, "driver-package").bearing == "agrees"


def test_a_package_without_ids_says_nothing(table):
    nothing = package(line="basicdisplay", matching=r"PCI\CC_0300")
    record = with_layers(card(table), package=nothing)
    assert found(record, table, "driver-package") == []


def test_amds_lines_carry_ids_too(table):
    record = made.with_claims(
        card(table, "Radeon RX 580", chip="Ellesmere"), ("pci",), pci_id="1002:67df"
    )
    genuine = with_layers(record, package=DriverPackage(line="AMD67DF.51"))
    assert only(genuine, table, "driver-package").bearing == "agrees"
    forged = with_layers(record, package=DriverPackage(line="amd6759.1"))
    assert only(forged, table, "driver-package").bearing == "contradicts"


def test_amds_board_name_is_held_against_its_chips_name(table):
    """AMD's OpenCL prints the chip as device name and the model as board name."""
    record = made.with_claims(
        card(table, "Radeon RX 580", chip="Ellesmere"), ("opencl",), gfx_target="Turks"
    )
    for told in (record, replace(record, claims=record.claims[1:])):
        one = only(told, table, "gfx-target")
        assert (one.bearing, one.strength) == ("contradicts", "decisive")


def test_an_analog_output_never_moves_a_verdict(table):
    record = with_layers(card(table), outputs=("VGA-1", "DVI-I-1", "HDMI-A-1"))
    assert weight(record, table, "analog-output") == ("contradicts", "supporting")
    assert judge(record, table).verdict.outcome == "as claimed"
    older = with_layers(card(table, "GeForce GTX 970"), outputs=("DVI-I-1",))
    assert found(older, table, "analog-output") == []


@pytest.mark.parametrize(
    ("generation", "bearing"), [(2, "open"), (3, None), (4, "contradicts")]
)
def test_the_ports_generation_never_moves_a_verdict(table, generation, bearing):
    record = made.with_claims(card(table), ("pci",), link_generation=generation)
    told = [one.bearing for one in found(record, table, "link-maximum")]
    assert told == ([bearing] if bearing else [])
    assert judge(record, table).verdict.outcome == "as claimed"


def test_what_nobody_read_is_never_suspicious(table):
    record = with_layers(card(table))
    assert judge(record, table).verdict == judge(card(table), table).verdict


def test_every_rule_of_doubt_has_its_words():
    for rule, word in layer_words.CLAUSES.items():
        assert rule in layer_words.SETTLE
        assert word
