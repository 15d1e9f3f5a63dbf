"""A run stopped to protect the card, and a PC on battery: what is made of both."""

import made_records as made
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from probe.guards import Guard
from reference.case import Case
from reference.judge import judge
from reference.rules import guarding
from reports import terminal
from reports.codec import decode, encode
from reports.page import render_page
from reports.record import Sample

GIB = made.GIB
WHAT = "stopped at 95 °C to protect the card (it slows itself down from 94 °C on)"
STEP = "Let it cool, clean its cooler, see that air reaches it, and test again."


@pytest.fixture
def card(table):
    return made.genuine(made.one(table, "GTX 1070", units=15), table)


def reason(label, heat=95.0, limit=94.0):
    guard = Guard(label, limit)
    for seconds in (1.0, 2.0):
        guard.feed(Sample(at_seconds=seconds, phase="heat", temperature_c=heat))
    assert guard.stopped is not None
    return guard.stopped


def stopped(card, said=None, **more):
    """The record of a run that a guard stopped."""
    said = reason(card.card.label) if said is None else said
    telemetry = replace(card.telemetry, stopped=said)
    return replace(card, telemetry=telemetry, interrupted=True, **more)


def test_the_verdict_says_so_and_what_to_do(table, card):
    verdict = judge(stopped(card), table).verdict
    assert verdict.outcome == "undetermined"
    assert verdict.sentence == (
        "Sold as a GeForce GTX 1070 with 8.00 GiB. Nothing proves it false, but the "
        f"test was {WHAT}. Undetermined."
    )
    assert verdict.reasons == (f"The test was {WHAT}.",)
    assert verdict.settle == (STEP,)


def test_it_is_said_before_what_is_missing_for_it(table, card):
    verdict = judge(stopped(card, rates=(), capacity=None), table).verdict
    assert f"but the test was {WHAT}. Undetermined." in verdict.sentence
    assert verdict.reasons[0] == f"The test was {WHAT}."
    assert len(verdict.reasons) == 4
    assert verdict.settle[0] == STEP
    assert "Run the whole test again, to its end." not in verdict.settle


def test_a_stop_after_all_was_measured_passes_nothing(table, card):
    whole = replace(stopped(card), interrupted=False)
    assert judge(card, table).verdict.outcome == "as claimed"
    assert judge(whole, table).verdict.outcome == "undetermined"


def test_what_was_proven_before_stands(table, card):
    fake = replace(card, capacity=made.capacity(8 * GIB, real=2 * GIB))
    wrong = made.with_rate(card, "fp32", wrong=3)
    for record, outcome in ((fake, "not as claimed"), (wrong, "faulty")):
        assert judge(record, table).verdict.outcome == outcome
        assert judge(stopped(record), table).verdict.outcome == outcome


def test_it_never_speaks_against_the_card(table, card):
    (finding,) = guarding.guarded(Case(stopped(card), table))
    assert (finding.rule, finding.strength, finding.bearing) == (
        "guarded",
        "strong",
        "open",
    )
    assert not list(guarding.guarded(Case(card, table)))
    assert not list(guarding.guarded(Case(replace(card, telemetry=None), table)))


def test_every_kind_of_stop_reads_as_a_sentence(table, card):
    guard = Guard(card.card.label, None)
    for second in range(20):
        guard.feed(
            Sample(
                at_seconds=float(second),
                phase="heat",
                temperature_c=76.0 + 0.6 * second,
                fan_percent=0.0,
            )
        )
    verdict = judge(stopped(card, guard.stopped), table).verdict
    (told,), (step,) = verdict.reasons, verdict.settle
    assert told == (
        "The test was stopped at 83 °C to protect the card (its fan stands at 0 % "
        "while it becomes hotter)."
    )
    assert step == (
        "See whether the fan turns freely and is plugged in, give a board without fans "
        "a stream of air, and test again."
    )
    usual = judge(stopped(card, reason(card.card.label, 91.0, None)), table).verdict
    assert "stopped at 91 °C to protect the card (90 °C is the" in usual.sentence


def test_a_name_with_the_separators_in_it(table, card):
    for label in ("A; B: C", "x; " * 1300, "", ": ", "stopped at"):
        named = replace(card, card=replace(card.card, label=label))
        verdict = judge(stopped(named), table).verdict
        assert verdict.reasons == (f"The test was {WHAT}.",)
        assert verdict.settle == (STEP,)


@given(said=st.text(max_size=4096))
def test_any_word_of_a_record_from_elsewhere_is_borne(table, said):
    card = made.genuine(made.one(table, "GTX 1070", units=15), table)
    judged = judge(stopped(card, said), table)
    assert decode(encode(judged)) == judged
    assert judged.verdict.outcome == "undetermined"


def test_the_sentence_is_on_page_and_terminal(table, card):
    judged = judge(stopped(card), table)
    page = render_page(judged, encode(judged))
    assert f"the test was {WHAT}" in page
    assert STEP.rstrip(".") in page
    assert f"the test was {WHAT}" in terminal.sentence_of(judged)


def on_battery(record, **more):
    return replace(record, host=replace(record.host, on_battery=True), **more)


@pytest.mark.parametrize("rate", ["fp32", "memory_write"])
def test_a_low_rate_on_battery_is_no_contradiction(table, card, rate):
    low = made.with_rate(card, rate, value=1e9)
    doubted = judge(low, table).verdict
    assert "Doubtful, but not proven false" in doubted.sentence
    verdict = judge(on_battery(low), table).verdict
    assert verdict.outcome == "undetermined"
    assert "Nothing proves it false, but it is slower than" in verdict.sentence
    assert any("the PC ran on its battery" in one for one in verdict.reasons)
    assert "Plug in the PC's mains adapter, and test again." in verdict.settle


def test_a_battery_excuses_no_missing_memory(table, card):
    fake = replace(card, capacity=made.capacity(8 * GIB, real=2 * GIB))
    assert judge(on_battery(fake), table).verdict.outcome == "not as claimed"


def test_a_card_at_its_full_rates_is_passed_on_battery(table, card):
    assert judge(on_battery(card), table).verdict.outcome == "as claimed"


def test_a_simulated_card_draws_nothing_from_the_battery(table, card):
    low = made.with_rate(card, "fp32", value=1e9)
    low = replace(low, practice=True)
    assert judge(on_battery(low), table).findings == judge(low, table).findings
    assert judge(on_battery(low), table).verdict == judge(low, table).verdict
