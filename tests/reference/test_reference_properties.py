"""Sentences about the judge that hold for every record."""

import random

import made_records as made
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from record_strategies import records

from reference import rules
from reference.case import Case
from reference.judge import conclude, judge
from reference.table import load
from reports.codec import decode, encode

TABLE = load()
ORDER = ["as claimed", "undetermined", "faulty", "not as claimed"]
"""From the best verdict to the worst."""

rows = st.sampled_from(TABLE.variants)
clocks = st.floats(0.85, 1.15)
share = st.floats(0.2, 1.0)


@st.composite
def cards(draw):
    """Genuine cards, some of them damaged, forged or badly measured."""
    row = draw(rows)
    card = made.genuine(
        row, TABLE, clock=draw(clocks), listed=draw(st.booleans()), shown=0.985
    )
    if draw(st.booleans()):
        name = draw(st.sampled_from(made.NAMES + made.MEMORY))
        value = next(r.value for r in card.rates if r.name == name)
        if value:
            card = made.with_rate(card, name, value=value * draw(share))
    if draw(st.integers(0, 3)) == 0:
        beyond = draw(st.sampled_from(["mirrored", "hollow", "failing", "scrambled"]))
        size = card.capacity.claimed_bytes
        real = int(size * draw(st.sampled_from([0.25, 0.5, 0.9, 0.999, 0.999999])))
        card = replace(card, capacity=made.capacity(size, real=real, beyond=beyond))
    if draw(st.integers(0, 3)) == 0:
        other = draw(rows)
        card = made.listed_as(card, other.model, other.memory_bytes)
    if draw(st.integers(0, 5)) == 0:
        card = made.with_rate(card, "fp32", wrong=7)
    if draw(st.integers(0, 5)) == 0:
        hot = made.telemetry(throttle=("thermal slowdown (software)",), core=500.0)
        card = replace(card, telemetry=hot)
    return card


def bare(finding):
    """The finding without its sources: the judge gives them titles for ids."""
    return replace(finding, sources=())


def outcome(record):
    return judge(record, TABLE).verdict.outcome


@given(records())
@settings(max_examples=60)
def test_any_record_gets_a_verdict_that_can_be_kept(record):
    judged = judge(record, TABLE)
    assert decode(encode(judged)) == judged
    assert judged.verdict.outcome in ORDER


@given(cards())
@settings(max_examples=60)
def test_made_records_get_a_verdict_that_can_be_kept(card):
    judged = judge(card, TABLE)
    assert decode(encode(judged)) == judged
    assert bool(judged.verdict.settle) == (judged.verdict.outcome == "undetermined")
    assert judged.verdict.reasons


@given(cards(), st.randoms(use_true_random=False))
@settings(max_examples=60)
def test_no_order_matters(card, dice: random.Random):
    def mixed(items):
        items = list(items)
        dice.shuffle(items)
        return tuple(items)

    telemetry = replace(card.telemetry, samples=mixed(card.telemetry.samples))
    other = replace(
        card, claims=mixed(card.claims), rates=mixed(card.rates), telemetry=telemetry
    )
    first, second = judge(card, TABLE), judge(other, TABLE)
    assert first.findings == second.findings
    assert first.verdict == second.verdict
    asked = mixed(rules.ANY_DEVICE + rules.CARD)
    case = Case(card, TABLE)
    found = {bare(one) for rule in asked for one in rule(case)}
    assert found == set(map(bare, first.findings))
    assert conclude(case, first.findings) == first.verdict


@given(cards(), st.data())
@settings(max_examples=80)
def test_removing_essential_evidence_never_clears_a_card(card, data):
    """Essential: the memory proof, fp32 with the memory rates, the sensors, the names.

    Extra evidence (fp64, PCI ids) cannot be meant: who never asked for it was never
    told of a contradiction.
    """
    before = outcome(card)
    cut = data.draw(st.sampled_from(["capacity", "passes", "rates", "sensors", "all"]))
    less = {
        "capacity": lambda: replace(card, capacity=None),
        "passes": lambda: replace(card, capacity=replace(card.capacity, passes=())),
        "rates": lambda: replace(card, rates=()),
        "sensors": lambda: replace(card, telemetry=None),
        "all": lambda: replace(card, capacity=None, rates=(), claims=()),
    }[cut]()
    if before != "as claimed":
        assert outcome(less) != "as claimed"


@given(cards(), st.data())
@settings(max_examples=80)
def test_a_worse_reading_never_makes_a_better_verdict(card, data):
    before = ORDER.index(outcome(card))
    what = data.draw(st.sampled_from(["rate", "wrong", "cells", "proven"]))
    if what == "cells":
        beyond = data.draw(
            st.sampled_from(["mirrored", "hollow", "failing", "scrambled"])
        )
        step = data.draw(st.sampled_from([1, 10**3, 10**6]))
        worse = replace(
            card,
            capacity=replace(
                card.capacity,
                passes=tuple(
                    _spoilt(one, beyond, step) for one in card.capacity.passes
                ),
            ),
        )
    elif what == "proven":
        proven = int(card.capacity.proven_bytes * data.draw(share))
        worse = replace(card, capacity=replace(card.capacity, proven_bytes=proven))
    else:
        name = data.draw(st.sampled_from(("fp32", *made.MEMORY)))
        rate = next(one for one in card.rates if one.name == name)
        envelope = Case(card, TABLE).envelopes.get(name)
        if what == "wrong":
            worse = made.with_rate(card, name, wrong=rate.wrong + 1)
        elif (
            envelope is not None
            and rate.value <= envelope.high
            and (
                name in made.MEMORY  # a slower fp32 can also mend a ratio
            )
        ):
            worse = made.with_rate(card, name, value=rate.value * data.draw(share))
        else:
            return
    assert ORDER.index(outcome(worse)) >= before


def _spoilt(one, beyond, step):
    if one.counts is None or one.counts.intact <= step:
        return one
    worse = {beyond: getattr(one.counts, beyond) + step}
    counts = replace(one.counts, intact=one.counts.intact - step, **worse)
    return replace(one, counts=counts)


def test_no_genuine_card_of_any_row_is_called_false():
    """Every row, clocks 15 % down to 15 % up, memory as drivers show it.

    Where an old driver shows a part of the memory, or clocks are those of another card
    with as many units, a few stay open.
    """
    seen = {"as claimed": 0, "undetermined": 0, "faulty": 0, "not as claimed": 0}
    for row in TABLE.variants:
        kind = TABLE.architecture(row)
        least = max(kind.memory_shown[0] + 0.001, 0.3)
        for clock, shown, count in (
            (0.85, least, kind.units_as[0]),
            (1.0, 0.985, 1),
            (1.15, 1.0, kind.units_as[-1]),
        ):
            card = made.genuine(
                row,
                TABLE,
                clock=clock,
                shown=shown,
                count=count,
                listed=clock != 1.0,
            )
            seen[outcome(card)] += 1
    assert seen["not as claimed"] == seen["faulty"] == 0
    assert seen["undetermined"] < 0.06 * sum(seen.values())


def test_memory_that_repeats_is_caught_whatever_the_card():
    dice = random.Random(2026)
    for _ in range(400):
        real, told = dice.choice(TABLE.variants), dice.choice(TABLE.variants)
        if real.vendor == told.vendor and real.memory_bytes < told.memory_bytes * 0.9:
            card = made.genuine(told, TABLE)
            size = card.capacity.claimed_bytes
            card = replace(card, capacity=made.capacity(size, real=real.memory_bytes))
            assert outcome(card) == "not as claimed", (real.id, told.id)


def test_another_chip_with_another_unit_count_is_never_cleared():
    """The driver's name lies, its unit count and instruction set do not."""
    dice = random.Random(2026)
    tried = 0
    for _ in range(600):
        real, told = dice.choice(TABLE.variants), dice.choice(TABLE.variants)
        same = {row.chip for row in TABLE.resolve(told.model)}
        if real.vendor != "NVIDIA" or told.vendor != "NVIDIA" or real.chip in same:
            continue
        capability = TABLE.chip(real).compute_capability
        if real.shaders in {row.shaders for row in TABLE.resolve(told.model)}:
            continue
        card = replace(
            made.genuine(told, TABLE), rates=made.rates(made.rate_values(real))
        )
        card = made.with_claims(
            card, ("opencl",), compute_units=real.units, compute_capability=capability
        )
        card = made.with_claims(
            card, ("nvml",), cores=real.shaders, compute_capability=capability
        )
        tried += 1
        assert outcome(card) != "as claimed", (real.id, told.id)
    assert tried > 50
