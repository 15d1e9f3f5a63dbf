"""What an eye sees, on genuine cards and on forged ones of our own invention.

Arithmetic: JEDEC's graphics memories have 32 data bits a chip (GDDR5 JESD212), 8 Gbit
are 1 GiB; a slot gives 75 W, a 6-pin plug 75, an 8-pin one 150 (PCI Express Card
Electromechanical Specification). No DAC from GP100 on: nouveau, nvkm/engine/disp.
"""

import made_records as made
import pytest
from hypothesis import given, settings
from msgspec import convert, inspect
from msgspec.structs import replace
from record_strategies import of

from reference import layer_words, markings
from reference.case import Case
from reference.judge import judge
from reference.rules import inspection as rules
from reference.table import load
from reports import codec
from reports.inspection import Inspection
from reports.record import Claim

GTX = "GeForce GTX 1070"
GIB = 2**30
GENUINE = {
    "die": "GP104-200-A1",
    "outputs": ("DVI-D", "HDMI", "DP", "DP", "DP"),
    "plugs": ("8-pin",),
    "memory_chips": 8,
    "memory_density_mbit": 8192,
    "contacts": 16,
    "labels": ("GeForce GTX 1070 8GB", "made in nowhere"),
}
FORGED = {
    "die": "GK107-450-A2",
    "outputs": ("VGA", "DVI-I", "mini-HDMI"),
    "plugs": (),
    "memory_chips": 4,
    "memory_density_mbit": 4096,
    "contacts": 8,
    "labels": ("GTX 650 2GB",),
}


@pytest.fixture(scope="module")
def table():
    return load()


@pytest.fixture(scope="module")
def card(table):
    row = made.one(table, GTX, form="desktop")
    return made.built(made.genuine(row, table), row, table)


def unasked(table, model=GTX, size=None):
    """A card that nobody tested: the listing alone speaks."""
    row = made.one(table, model)
    record = made.genuine(row, table)
    listing = Claim(layer="listing", source="given", model=model, memory_bytes=size)
    return replace(
        record,
        claims=(listing,),
        capacity=None,
        rates=(),
        structure=None,
        telemetry=None,
        phases=(),
    )


def seen(record, **fields):
    return replace(record, inspection=Inspection(**fields))


def weights(record, table):
    return {
        one.rule: (one.bearing, one.strength)
        for one in judge(record, table).findings
        if one.rule.startswith("eye-")
    }


def only(record, table, rule):
    (one,) = [f for f in judge(record, table).findings if f.rule == rule]
    return one


def test_a_genuine_card_agrees_and_stays_as_claimed(card, table):
    record = seen(card, **GENUINE)
    told = weights(record, table)
    assert set(told) >= {
        "eye-die-marking", "eye-power-plugs", "eye-memory-size", "eye-bus-width",
        "eye-contacts", "eye-label",
    }  # fmt: skip
    assert set(told.values()) == {("agrees", "supporting")}
    assert judge(record, table).verdict.outcome == "as claimed"


def test_a_forged_card_is_doubted_and_not_convicted_by_the_eye_alone(table):
    record = seen(unasked(table), **FORGED)
    told = weights(record, table)
    assert told == {
        "eye-die-marking": ("contradicts", "strong"),
        "eye-analog-output": ("contradicts", "strong"),
        "eye-power-plugs": ("contradicts", "strong"),
        "eye-memory-size": ("contradicts", "strong"),
        "eye-bus-width": ("contradicts", "strong"),
        "eye-contacts": ("contradicts", "supporting"),
        "eye-label": ("contradicts", "supporting"),
    }
    verdict = judge(record, table).verdict
    assert verdict.outcome == "undetermined"
    assert "its die is marked as a GK107 (GK107-450-A2)" in verdict.sentence
    assert "Doubtful, but not proven false" in verdict.sentence
    assert "Nothing of the card itself was measured." in verdict.reasons
    for rule in ("eye-die-marking", "eye-memory-size", "eye-power-plugs"):
        assert layer_words.SETTLE[rule] in verdict.settle


def test_a_genuine_card_that_nobody_tested_is_not_doubted(table):
    verdict = judge(seen(unasked(table), **GENUINE), table).verdict
    assert verdict.outcome == "undetermined"
    assert "Nothing proves it false" in verdict.sentence
    assert "nothing of the card itself was measured" in verdict.sentence
    assert any("own driver" in one.replace("maker's", "own") for one in verdict.settle)


@given(values=of(inspect.type_info(Inspection)))
@settings(max_examples=150, deadline=None)
def test_the_eye_never_decides_whatever_it_says(values):
    table, record = _shipped()
    looked = replace(record, inspection=convert(values, Inspection))
    case = Case(looked, table)
    for rule in (rules.die_marking, rules.analog_output, rules.power_plugs,
                 rules.memory_chips, rules.contacts, rules.labels):  # fmt: skip
        for one in rule(case):
            assert one.strength != "decisive"
            assert one.bearing != "fault"
    judged = judge(looked, table)
    assert judged.verdict.outcome in {"as claimed", "undetermined"}
    codec.encode(judged)


_KEPT = []


def _shipped():
    if not _KEPT:
        table = load()
        row = made.one(table, GTX, form="desktop")
        _KEPT.append((table, made.genuine(row, table)))
    return _KEPT[0]


def test_what_nobody_looked_at_says_nothing(card, table):
    assert weights(seen(card), table) == {}
    assert judge(seen(card), table).verdict == judge(card, table).verdict


@pytest.mark.parametrize(
    ("marking", "chips"),
    [
        ("GP104-200-A1", ("GP104",)),
        ("1721A1 / gk107-450-a2", ("GK107",)),
        ("GF116-400-A1", ("GF116",)),
        ("G96-600-A1", ("G96",)),  # a chip that no row of the table is made of
        ("215-0910038", ()),
        ("GeForce GTX 1070", ()),
        ("10de:1b81", ()),
        ("1721A1", ()),
        ("/", ()),
    ],
)
def test_markings_of_dies(table, marking, chips):
    assert markings.chips_on_die(marking, table) == chips


@pytest.mark.parametrize(
    ("marking", "part"),
    [
        ("MT51J256M32HF-80:A", (8192, 32)),
        ("MT61K512M32KPA-14", (16384, 32)),
        ("mt41k256m16ha-125", (4096, 16)),
        ("MT40A1G8SA-075", (8192, 8)),
        ("K4G80325FB-HC25", (8192, 32)),
        ("K4G10325FE-HC04", None),  # its guide is not published
        ("H5GQ1H24AFR", None),
        ("D9WCW", None),
        ("MT51J9999M64", None),
    ],
)
def test_part_numbers_of_memory(marking, part):
    """Micron's part numbering of DRAM components; Samsung's product pages."""
    found = markings.memory_part(marking)
    assert (found and found[:2]) == part


def test_amds_numbers_name_no_chip(table):
    record = seen(unasked(table, "Radeon RX 580"), die="215-0910038")
    one = only(record, table, "eye-die-marking")
    assert (one.bearing, one.strength) == ("open", "supporting")
    assert "no list of chips is published" in one.sentence


@pytest.mark.parametrize("chip", ["GF108", "GK107", "GK208"])
def test_each_chip_of_a_model_is_genuine(table, chip):
    """A GeForce GT 730 is made of one of three chips (PCI ID repository)."""
    record = seen(unasked(table, "GeForce GT 730"), die=f"{chip}-400-A1")
    assert weights(record, table)["eye-die-marking"] == ("agrees", "supporting")


def test_a_marking_against_the_pci_id_where_nobody_knows_the_model(card, table):
    record = made.with_claims(
        made.listed_as(card, "No such card"), ("opencl", "nvml"), model=None
    )
    told = seen(record, die="GK107-450-A2")
    assert weights(told, table)["eye-die-marking"] == ("contradicts", "strong")


@pytest.mark.parametrize(
    ("surface", "bearing"), [("tampered", "contradicts"), ("unreadable", "open")]
)
def test_a_marking_that_is_not_there_supports_at_most(card, table, surface, bearing):
    record = seen(card, die_surface=surface)
    assert weights(record, table)["eye-die-marking"] == (bearing, "supporting")
    assert judge(record, table).verdict.outcome == "as claimed"


def test_a_converter_may_make_an_analog_picture(card, table):
    """What was measured outweighs a socket; without any measurement it is a doubt."""
    outputs = ("VGA", "HDMI")
    measured = seen(card, outputs=outputs)
    assert weights(measured, table) == {
        "eye-analog-output": ("contradicts", "supporting")
    }
    assert judge(measured, table).verdict.outcome == "as claimed"
    older = seen(unasked(table, "GeForce GTX 970"), outputs=outputs)
    assert weights(older, table) == {}
    amds = seen(unasked(table, "Radeon RX 580"), outputs=outputs)
    assert weights(amds, table) == {}  # nothing sourced on its converters


@pytest.mark.parametrize(
    ("model", "plugs", "expected"),
    [
        (GTX, ("8-pin",), ("agrees", "supporting")),
        (GTX, ("6-pin",), ("agrees", "supporting")),
        (GTX, (), ("contradicts", "strong")),
        ("GeForce GTX 1050 Ti", (), ("agrees", "supporting")),
        ("GeForce GTX 1050 Ti", ("6-pin",), ("agrees", "supporting")),
        ("Radeon HD 7770", (), ("contradicts", "supporting")),  # 80 W: some do without
        ("GeForce RTX 4090", ("16-pin",), ("agrees", "supporting")),
        ("GeForce RTX 4090", ("8-pin",), ("contradicts", "strong")),
    ],
)
def test_power(table, model, plugs, expected):
    told = weights(seen(unasked(table, model), plugs=plugs), table)
    assert told["eye-power-plugs"] == expected


@pytest.mark.parametrize(
    ("chips", "mbit", "size", "bus"),
    [
        (8, 8192, "agrees", "agrees"),
        (16, 4096, "agrees", "agrees"),  # two chips share a channel
        (8, 2048, "contradicts", "agrees"),
        (4, 16384, "agrees", "contradicts"),
        (6, 8192, "contradicts", "contradicts"),
    ],
)
def test_memory_chips_of_a_gtx_1070(table, chips, mbit, size, bus):
    """8 GiB on 256 bits: 8 chips of 8 Gbit with 32 bits each."""
    record = seen(unasked(table), memory_chips=chips, memory_density_mbit=mbit)
    told = weights(record, table)
    assert told["eye-memory-size"][0] == size
    assert told["eye-bus-width"][0] == bus


def test_chips_of_unknown_size_tell_of_the_bus_alone(table):
    told = weights(seen(unasked(table), memory_chips=4), table)
    assert told == {"eye-bus-width": ("contradicts", "strong")}


def test_a_size_that_the_part_number_belies_is_not_counted_on(table):
    """Samsung: a K4G80325FB has 8 Gbit, 256 M x 32."""
    told = {"memory_chips": 8, "memory_marking": "K4G80325FB"}
    for at_odds in ({"memory_density_mbit": 4096}, {"memory_width_bits": 16}):
        record = seen(unasked(table), **told, **at_odds)
        assert weights(record, table) == {"eye-memory-size": ("open", "supporting")}
    record = seen(unasked(table), **told, memory_density_mbit=8192)
    assert weights(record, table) == {
        "eye-memory-size": ("agrees", "supporting"),
        "eye-bus-width": ("agrees", "supporting"),
    }


def test_memory_known_from_memory_supports_at_most(table):
    """That a Radeon HD 6350 has 64 bits of DDR3 is from memory in the table."""
    model = "Radeon HD 6350"
    record = seen(
        unasked(table, model),
        memory_chips=1, memory_density_mbit=1024, memory_width_bits=8,
    )  # fmt: skip
    assert weights(record, table) == {
        "eye-memory-size": ("contradicts", "supporting"),
        "eye-bus-width": ("contradicts", "supporting"),
    }


def test_a_marking_called_unreadable_is_not_held_against_anything(table):
    record = seen(unasked(table), die="GK107-450-A2", die_surface="unreadable")
    assert weights(record, table) == {"eye-die-marking": ("open", "supporting")}


def test_chips_of_16_bits_need_their_width_told(table):
    """A GeForce GT 730 was sold with DDR3 of 16 bits a chip: 4 chips, 64 bits."""
    row = made.one(table, "GeForce GT 730", chip="GK208", memory_type="DDR3")
    record = unasked(table, "GeForce GT 730", row.memory_bytes)
    assert "eye-bus-width" not in weights(seen(record, memory_chips=4), table)
    told = weights(seen(record, memory_chips=4, memory_width_bits=16), table)
    assert told["eye-bus-width"][0] == "agrees"


def test_stacks_beside_the_die_are_not_counted(table):
    record = seen(unasked(table, "Radeon VII"), memory_chips=4)
    assert weights(record, table) == {}


def test_chips_and_proof_are_held_against_each_other(card, table):
    """2 GiB of chips under a driver that tells of 8: as much as was proven."""
    proof = made.capacity(8 * GIB, real=2 * GIB)
    record = seen(
        replace(card, capacity=proof), memory_chips=8, memory_density_mbit=2048
    )
    one = only(record, table, "eye-memory-proven")
    assert one.bearing == "contradicts"
    assert "Its chips hold 2.00 GiB" in one.sentence
    assert judge(record, table).verdict.outcome == "not as claimed"
    misread = seen(card, memory_chips=8, memory_density_mbit=2048)
    assert only(misread, table, "eye-memory-proven").bearing == "explains"


def test_a_short_edge_and_labels_never_move_a_verdict(card, table):
    record = seen(card, contacts=4, labels=("GeForce GTX 650", "GK107", "12 V"))
    assert set(weights(record, table).values()) == {("contradicts", "supporting")}
    assert judge(record, table).verdict.outcome == "as claimed"
