"""A session that goes on after another was cut off, or that a guard stops."""

import pytest
from fake_card import GIB, FakeCard
from told_runs import started

from probe.events import (
    VIEWS,
    Ended,
    Guarded,
    PhaseBegan,
    ProofBegan,
    RunBegan,
    Taking,
)
from probe.rates import workloads
from probe.session import Plan, Session
from probe.story import Story
from reports import codec
from reports.record import Sample


def running(card, **plan):
    """Run a session; return its story, and all that it told."""
    asked = Plan(**({"depth": "standard", "practice_condition": "x"} | plan))
    story, events = Story(started(depth=asked.depth)), []

    def hear(event):
        events.append(event)
        if not isinstance(event, VIEWS):
            story.apply(event)

    Session(card, asked, hear).run()
    return story, events


def begun(events):
    return [event.name for event in events if isinstance(event, PhaseBegan)]


PROOF = ["link", "take", "write", "verify", "turn", "verify complement", "release"]


def test_the_whole_first():
    story, events = running(FakeCard())
    assert begun(events) == [*PROOF, *workloads("standard"), "structure"]
    assert isinstance(events[-1], Ended)
    assert story.is_over


def test_without_the_proof_its_phases_are_left_out():
    card = FakeCard()
    _, events = running(card, without=("proof",), again=True)
    assert begun(events) == [*workloads("standard"), "structure"]
    assert not any(isinstance(one, ProofBegan | Taking) for one in events)
    assert not any(isinstance(one, RunBegan) for one in events)


def test_without_a_first_look_the_proof_is_still_run():
    story, events = running(FakeCard(), without=("link",))
    assert begun(events)[: len(PROOF) - 1] == PROOF[1:]
    assert story.proofs[0].whole


@pytest.mark.parametrize("name", [*workloads("standard"), "structure"])
def test_without_any_one_all_others_are_done(name):
    _, events = running(FakeCard(), without=(name,))
    wanted = [*PROOF, *workloads("standard"), "structure"]
    wanted.remove(name)
    assert begun(events) == wanted


def test_without_all_nothing_is_done():
    without = ("proof", "structure", *workloads("standard"))
    story, events = running(FakeCard(), without=without)
    assert begun(events) == []
    assert story.is_over


def test_a_soak_may_be_left_out():
    without = ("proof", "structure", *workloads("standard"))
    assert begun(running(FakeCard(), without=without, soak_seconds=1.0)[1]) == ["soak"]
    without = (*without, "soak")
    assert begun(running(FakeCard(), without=without, soak_seconds=1.0)[1]) == []


def test_below_a_crash_the_limit_says_so():
    story, events = running(FakeCard(), limit_bytes=2 * GIB, below_crash=True)
    assert story.capacity().ended_by == "below a crash"
    assert story.capacity().covered_bytes <= 2 * GIB
    (proof,) = [one for one in events if isinstance(one, ProofBegan)]
    assert proof.below_crash
    story, _ = running(FakeCard(GIB), limit_bytes=2 * GIB, below_crash=True)
    assert story.capacity().ended_by != "below a crash"  # it was never reached


def hot(card, phase, degrees=99.0):
    """Have a card be as hot as that in a phase, and time pass in its walks."""

    def now():
        card.clock += 0.3
        return card.clock

    def sense(running):
        return Sample(
            at_seconds=card.clock,
            phase=running,
            temperature_c=degrees if running == phase else 50.0,
        )

    card.sense, card.now = sense, now
    return card


@pytest.mark.parametrize("phase", ["write", "fp32", "memory_read"])
def test_a_guard_stops_it_and_what_was_learnt_stays(phase):
    story, events = running(hot(FakeCard(), phase))
    (guarded,) = [one for one in events if isinstance(one, Guarded)]
    record = story.record(1.0)
    stopped = [one for one in record.phases if one.outcome == "interrupted"]
    assert [one.name for one in stopped] == [phase]
    assert stopped[0] == record.phases[-1]
    assert record.telemetry.stopped == guarded.reason
    assert "to protect the card" in guarded.reason
    assert codec.decode(codec.encode(record)) == record
    assert events[-1] == Ended()
    assert not record.interrupted
    assert not record.incidents
