"""The verdict table, line by line, and what it says beside the outcome."""

import made_records as made
import pytest
import samples
from msgspec.structs import replace

from reference.judge import judge
from reports.codec import decode, encode
from reports.record import (
    CardIdentity,
    Claim,
    Host,
    Program,
    Record,
    Structure,
    Telemetry,
)

GIB = made.GIB


@pytest.fixture
def card(table):
    return made.genuine(made.one(table, "GTX 1070", units=15), table)


def fake(card):
    return replace(card, capacity=made.capacity(8 * GIB, real=2 * GIB))


def wrong(card):
    return made.with_rate(card, "fp32", wrong=3)


def slow(card):
    return made.with_rate(card, "memory_write", value=1e9)


def stopped(card):
    return replace(card, interrupted=True)


@pytest.mark.parametrize(
    ("done", "outcome"),
    [
        ((), "as claimed"),
        ((slow,), "undetermined"),
        ((stopped,), "undetermined"),
        ((wrong,), "faulty"),
        ((wrong, slow, stopped), "faulty"),
        ((fake,), "not as claimed"),
        ((fake, wrong, slow, stopped), "not as claimed"),
    ],
)
def test_precedence(table, card, done, outcome):
    for change in done:
        card = change(card)
    assert judge(card, table).verdict.outcome == outcome


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"capacity": None}, "The memory was not proven"),
        ({"rates": ()}, "The arithmetic rate (fp32) is missing."),
        ({"interrupted": True}, "The test was stopped before its end."),
    ],
)
def test_what_is_missing_is_said(table, card, change, reason):
    verdict = judge(replace(card, **change), table).verdict
    assert verdict.outcome == "undetermined"
    assert any(one.startswith(reason) for one in verdict.reasons)
    assert "Run the whole test again, to its end." in verdict.settle


def test_a_proof_that_broke_off_is_missing(table, card):
    broken = replace(card.capacity, ended_by="error")
    assert judge(replace(card, capacity=broken), table).verdict.outcome == (
        "undetermined"
    )
    unread = replace(card.capacity, passes=card.capacity.passes[:1])
    assert judge(replace(card, capacity=unread), table).verdict.outcome == (
        "undetermined"
    )


def test_what_could_not_be_checked_is_listed(table, card):
    record = made.with_rate(card, "fp64", value=None, missing="the driver has no fp64")
    record = replace(
        record,
        telemetry=None,
        claims=tuple(one for one in record.claims if one.layer != "pci"),
    )
    unchecked = judge(record, table).verdict.unchecked
    assert unchecked == (
        "Double precision (fp64): the driver has no fp64.",
        "Heat, clocks and power: no sensors were read.",
        "The PCI ids: the system did not show them.",
    )


def test_parts_of_the_chip_that_could_not_be_told_are_listed(table, card):
    built = Structure(
        missing=("units: no number of work-groups takes longer than one",)
    )
    unchecked = judge(replace(card, structure=built), table).verdict.unchecked
    assert (
        "The chip's structure, units: no number of work-groups takes longer than one."
    ) in unchecked


def test_without_a_listing_the_report_is_the_claim(table):
    card = made.genuine(made.one(table, "RX 6600"), table, listed=False)
    verdict = judge(card, table).verdict
    assert verdict.sentence.startswith("Reported as a Radeon RX 6600 with 7.88 GiB.")


def test_a_record_of_nothing_is_undetermined(table):
    empty = Record(
        program=Program(version="0"),
        practice=True,
        started="",
        depth="quick",
        host=Host(system="", release="", machine="", python=""),
        card=CardIdentity(label="", kind="gpu", index=0),
    )
    verdict = judge(empty, table).verdict
    assert verdict.outcome == "undetermined"
    assert verdict.sentence.startswith("Reported as an unnamed card.")


def test_judged_records_can_be_kept(table, card):
    judged = judge(card, table)
    assert decode(encode(judged)) == judged
    assert judge(judged, table) == judged


@pytest.mark.parametrize(
    ("name", "outcome"),
    [
        ("mirrored", "not as claimed"),
        ("hollow", "not as claimed"),
        ("failing", "faulty"),
        ("undetermined", "undetermined"),
    ],
)
def test_sample_records_come_out_as_they_are_meant(table, name, outcome):
    make = next(make for key, make in samples.EVERY.items() if key.startswith(name))
    assert judge(make(), table).verdict.outcome == outcome


def test_a_relabelled_card_whose_drivers_all_lie_is_at_least_doubted(table):
    """The demonstration: a GK107 under a GTX 1070's name in every layer.

    Its memory is left out: rates alone must raise the doubt.
    """
    real = made.one(table, "GTX 650", chip="GK107", memory_bytes=2 * GIB)
    told = made.genuine(made.one(table, "GTX 1070", units=15), table)
    forged = replace(
        told,
        rates=made.rates(made.rate_values(real)),
        telemetry=None,
    )
    verdict = judge(forged, table).verdict
    assert verdict.outcome == "undetermined"
    assert len(verdict.reasons) >= 3
    assert verdict.reasons[0].startswith("Single precision reaches")
    assert verdict.reasons[-1] == "5 more rates are too low as well."


def test_a_claim_of_nothing_but_a_name(table, card):
    record = replace(card, claims=(Claim(layer="listing", source="", model="Xyz"),))
    assert judge(record, table).verdict.outcome == "undetermined"


def test_endless_texts_stay_within_a_record(table, card):
    endless = "x" * 4096
    record = made.with_claims(made.listed_as(card, endless), model=endless)
    record = made.with_rate(record, "fp64", value=None, missing=endless)
    record = replace(record, telemetry=Telemetry(missing=endless))
    judged = judge(record, table)
    assert decode(encode(judged)) == judged


@pytest.mark.parametrize(
    ("more", "settle"),
    [
        (
            {},
            "Close other programs, unplug the display from this card, and test again.",
        ),
        ({"ended_by": "limit asked for"}, "Test again without --memory-limit."),
        (
            {"covered_bytes": 6 * GIB, "spilled_bytes": 4 * GIB},
            (
                "Close other programs, forbid the driver to fall back on the PC's "
                "memory, and test again."
            ),
        ),
    ],
)
def test_the_advice_fits_why_little_was_proven_and_is_given_once(
    table, card, more, settle
):
    held = {"covered_bytes": 2 * GIB, "proven_bytes": 2 * GIB} | more
    record = replace(card, capacity=replace(made.capacity(8 * GIB), **held))
    verdict = judge(record, table).verdict
    assert verdict.settle == (settle,)
    assert len(verdict.reasons) == 1
