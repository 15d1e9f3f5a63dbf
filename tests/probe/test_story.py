"""A run put together from its facts: at any moment, in any order, over restarts."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from told_runs import GIB, MIB, incident, short, started, story_of, told, until

from probe.device import Census
from probe.events import (
    VIEWS,
    BlockSwept,
    Built,
    Closed,
    Dropped,
    Ended,
    Guarded,
    HostMemory,
    Linked,
    MapChanged,
    Measured,
    Noted,
    Opened,
    PassBegan,
    PassOver,
    PhaseBegan,
    PhaseEnded,
    Progressed,
    ProofBegan,
    Refused,
    Renewed,
    RunBegan,
    Sensed,
    Soaked,
    Taken,
    Taking,
    TakingOver,
    Troubled,
    Working,
)
from probe.story import Story
from reports import codec
from reports.lasting import Soak
from reports.record import Phase, Rate, Sample, Structure

FAKE = ("mirrored", 64 * MIB)
"""Of 64 MiB claimed a quarter is real."""


def proof_of(facts):
    return story_of(facts).record(1.0).capacity


@pytest.mark.parametrize(
    ("condition", "plan"),
    [("mirrored", {"depth": "standard"}), ("device-lost", {}), ("busy", {})],
)
def test_the_record_is_valid_after_every_fact_of_a_run(condition, plan):
    facts = told(condition, 16 * MIB, **plan)
    story = Story(facts[0])
    for fact in facts[1:]:
        story.apply(fact)
        for unfinished in (False, True):
            record = story.record(1.0, unfinished=unfinished)
            assert codec.decode(codec.encode(record)) == record
    assert story.capacity() is not None


def test_the_record_is_valid_wherever_a_run_is_cut_off():
    facts = told(*FAKE)
    for end in range(1, len(facts) + 1):
        story = story_of(facts[:end])
        cut = story.incident("crashed", "why")
        story.apply(Troubled(incident=cut, seconds=1.5))
        record = story.record(1.0)
        assert codec.decode(codec.encode(record)) == record
        assert record.incidents == (cut,)
        assert not story.running


SOME = (
    *told(*FAKE)[1:],
    *short()[1:],
    Renewed(nonce=5),
    Dropped(kept=3),
    Guarded(reason="hot"),
    HostMemory(available_bytes=0),
    Closed(),
    Ended(lost=True),
    Linked(bytes_a_second=0.0),
    Taking(number=2**63 - 1, first_cell=2**63 - 1, size_bytes=0),
    Refused(text=""),
    TakingOver(ended_by="host memory", margin_bytes=2**63 - 1),
    PassBegan(action="turn", upward=False),
    BlockSwept(action=None, number=0, seconds=0.0),
    BlockSwept(action="verify", number=0, seconds=1e30, census=Census(intact=5)),
    Built(structure=Structure()),
    Soaked(soak=Soak(asked_seconds=1, seconds=1)),
    Troubled(incident=incident(), seconds=1e30),
    Noted(text="x"),
    Progressed(done=1, total=0, figure=""),
    MapChanged(states=()),
    Working(seconds=1),
    RunBegan(label="x", practice_condition=None, folder=None, expected_seconds=None),
)
"""Every kind of event, and figures at their bounds."""


@given(st.randoms(use_true_random=False), st.integers(1, 200))
def test_in_any_order_facts_only_ever_contradict_each_other(rnd: random.Random, most):
    """In an order that is half the real one, so that proofs come about."""
    story = Story(started())
    at, said = 0, []
    for _ in range(most):
        at = rnd.randrange(len(SOME)) if rnd.random() < 0.3 else at + 1
        try:
            story.apply(SOME[at % len(SOME)])
        except ValueError as error:
            said.append(str(error))
        story.record(1.0)
        story.incident("lost", "x")
    assert all("block" in one or "never opened" in one for one in said)


def test_views_are_passed_over():
    story = story_of(short())
    before = story.record(1.0)
    views = [one for one in SOME if isinstance(one, VIEWS)]
    assert {type(one) for one in views} == set(VIEWS)
    for view in views:
        story.apply(view)
    assert story.record(1.0) == before


def test_what_is_told_twice_is_kept_once():
    story = story_of(short())
    for value in (1.0, 2.0):
        story.apply(Measured(rate=Rate(name="fp32", unit="FLOP/s", value=value)))
    (rate,) = story.record(1.0).rates
    assert rate.value == 2.0


@pytest.mark.parametrize(
    ("fact", "said"),
    [
        (Taken(number=0), "block 0 was taken without a word before"),
        (BlockSwept(action="write", number=900, seconds=1.0), "swept and never taken"),
        (ProofBegan(nonce=1), "a card that was never opened"),
    ],
)
def test_contradictions_are_named(fact, said):
    opened = short()[0 if isinstance(fact, ProofBegan) else -1 :][:1]
    story = story_of(short()) if opened != short()[:1] else Story(started())
    with pytest.raises(ValueError, match=said):
        story.apply(fact)


def test_blocks_come_one_after_the_other():
    story = story_of(until(short(), Taken))
    story.apply(Taking(number=5, first_cell=0, size_bytes=MIB))
    with pytest.raises(ValueError, match="block 5 after 1 others"):
        story.apply(Taken(number=5))


def test_before_anything_the_card_meant_is_named():
    record = Story(started()).record(0.0)
    assert record.card.label == "a card that was never opened"


def test_the_card_meant_is_known_before_it_is_opened():
    opened = next(one for one in short() if isinstance(one, Opened))
    begun = started(identity=opened.identity, claims=opened.claims)
    record = Story(begun).record(0.0, unfinished=True)
    assert record.card == opened.identity
    assert record.claims == opened.claims
    assert record.telemetry is None
    assert (record.telemetry, record.capacity, record.phases) == (None, None, ())
    assert codec.decode(codec.encode(record)) == record


# After a restart


def restarted(first, second, seconds=1.0):
    """One run cut off after `first`, gone on with by `second`."""
    story = story_of(first)
    story.apply(Troubled(incident=story.incident("crashed", "x"), seconds=seconds))
    for fact in second:
        story.apply(fact)
    return story


def test_a_restarted_cards_clock_goes_on_where_the_first_ended():
    first = until(short(), PassBegan, action="write")
    story = restarted(first, short()[1:], seconds=2.0)
    phases = story.record(9.0).phases
    cut = next(one for one in phases if one.outcome == "failed")
    assert (cut.name, cut.seconds, cut.detail) == ("write", 2.0, "x")
    starts = [one.started_seconds for one in phases]
    assert starts == sorted(starts)
    again = phases[phases.index(cut) + 1]
    assert again.name == "link"
    assert again.started_seconds == pytest.approx(cut.started_seconds + 2.0)
    samples = [one.at_seconds for one in story.record(9.0).telemetry.samples]
    assert samples == sorted(samples)
    assert samples[-1] >= cut.started_seconds + 2.0


def test_each_restart_adds_to_the_last():
    first = until(short(), PassBegan, action="write")
    story = restarted(first, first[1:], seconds=2.0)
    offset = story.offset_seconds
    story.apply(Troubled(incident=story.incident("crashed", "x"), seconds=3.0))
    story.apply(next(one for one in first if isinstance(one, Opened)))
    assert story.offset_seconds > offset + 3.0
    assert story.record(1.0).card == story_of(short()).record(1.0).card


def test_only_so_many_readings_are_kept():
    story = story_of(short())
    for at in range(5000):
        story.apply(Sensed(sample=Sample(at_seconds=at, phase="soak")))
    record = story.record(1.0)
    assert len(record.telemetry.samples) == 4000
    codec.encode(record)


# Which proof counts


def swept(story, number, **census):
    story.apply(
        BlockSwept(action="verify", number=number, seconds=0.1, census=Census(**census))
    )


def test_the_last_whole_proof_counts():
    facts = told(*FAKE)
    half = until(facts, PassBegan, action="turn")
    assert proof_of(facts).ended_by == "driver refused"
    for pair in ((half, facts), (facts, half)):
        story = restarted(pair[0], pair[1][1:])
        assert len(story.proofs) == 2
        assert story.capacity() == proof_of(facts)


def test_of_two_whole_proofs_the_one_that_proved_more_counts():
    low = told(size_bytes=64 * MIB, limit_bytes=32 * MIB, below_crash=True)
    high = told(size_bytes=64 * MIB)
    assert proof_of(low).ended_by == "below a crash"
    for pair in ((low, high), (high, low)):
        story = restarted(pair[0], pair[1][1:])
        assert story.capacity().proven_bytes == proof_of(high).proven_bytes


def test_a_whole_proof_below_a_crash_counts_more_than_a_longer_torn_one():
    torn = until(told(size_bytes=64 * MIB), PassBegan, action="turn")
    low = told(size_bytes=64 * MIB, limit_bytes=32 * MIB, below_crash=True)
    story = restarted(torn, low[1:])
    assert story.capacity().ended_by == "below a crash"
    assert story.capacity().proven_bytes == 32 * MIB


def test_what_showed_another_places_data_is_never_forgotten():
    """No honest card does that, however little of it was read before the crash."""
    torn = until(told(*FAKE), PassBegan, action="turn")
    low = told("mirrored", 64 * MIB, limit_bytes=8 * MIB, below_crash=True)
    assert not any(one.state == "mirrored" for one in proof_of(low).blocks)
    story = restarted(torn, low[1:])
    assert any(one.state == "mirrored" for one in story.capacity().blocks)


def test_nothing_torn_is_called_whole():
    facts = told()
    for end, fact in enumerate(facts):
        if (
            isinstance(fact, PassOver)
            and fact.made.name == "verify"
            and fact.made.complemented
        ):
            break
        story = story_of(facts[: end + 1])
        assert not any(proof.whole for proof in story.proofs)


# Where it was cut off


def walked(action, upward, done):
    """A story in which four blocks were taken and some of them walked over."""
    facts = until(told(size_bytes=64 * MIB, limit_bytes=32 * MIB), TakingOver)
    story = story_of(facts)
    count = len(story.proofs[0].held)
    story.apply(
        PhaseEnded(
            phase=Phase(name="take", outcome="done", started_seconds=0, seconds=0),
            title="", figure="",
        )
    )  # fmt: skip
    story.apply(PhaseBegan(name=action, title=f"Doing: {action}"))
    story.apply(PassBegan(action=action, upward=upward))
    order = range(count) if upward else range(count - 1, -1, -1)
    for number in list(order)[:done]:
        story.apply(BlockSwept(action=action, number=number, seconds=0.1))
    return story, [one.block for one in story.proofs[0].held]


@pytest.mark.parametrize("done", [0, 1, 3])
@pytest.mark.parametrize(
    ("action", "upward"), [("write", True), ("verify", True), ("turn", False)]
)
def test_a_walk_is_cut_off_at_the_block_that_comes_next(action, upward, done):
    story, blocks = walked(action, upward, done)
    assert len(blocks) > 4
    expected = (blocks if upward else blocks[::-1])[done]
    cut = story.incident("hung", "no answer")
    assert cut.at_bytes == expected.first_cell * 16
    assert cut.block_bytes == expected.size_bytes
    assert (cut.phase, cut.doing) == (action, f"Doing: {action}")
    assert cut.proven_bytes is not None


def test_a_walk_that_is_done_has_no_place():
    story, blocks = walked("write", True, 99)
    assert story.incident("crashed", "").at_bytes is None
    assert blocks


def test_a_block_being_taken_is_the_place():
    facts = until(told(size_bytes=64 * MIB), Taking, number=3)
    cut = story_of(facts).incident("crashed", "")
    assert cut.at_bytes == facts[-1].first_cell * 16
    assert cut.block_bytes == facts[-1].size_bytes
    after = story_of((*facts, Refused(text="no"))).incident("crashed", "")
    assert after.at_bytes is None


def test_outside_of_phases_there_is_no_place():
    story = Story(started())
    cut = story.incident("crashed", "x")
    assert (cut.phase, cut.doing, cut.at_bytes) == ("opening", "Opening the card", None)
    story = story_of(told(*FAKE))
    cut = story.incident("crashed", "x")
    assert (cut.phase, cut.at_bytes) == ("after", None)


def test_a_lost_device_ended_its_phase_by_itself():
    facts = told("device-lost", 64 * MIB)
    story = story_of(facts)
    assert facts[-1] == Ended(lost=True)
    assert not story.is_over
    cut = story.incident("lost", "gone")
    assert (cut.phase, cut.doing) == ("write", "Memory, first pass: writing")
    assert cut.at_bytes == 16 * MIB


def test_a_card_that_does_not_open_again_is_not_lost_at_its_old_place():
    """The driver was gone before anything was done: no second crash at that place."""
    story = story_of(told("device-lost", 64 * MIB))
    story.apply(Troubled(incident=story.incident("lost", "gone")))
    again = story.incident("lost", "no OpenCL driver shows this card")
    assert (again.phase, again.at_bytes) == ("after", None)


@pytest.mark.parametrize(
    ("facts", "over"),
    [
        ([], False),
        ([Ended()], True),
        ([Ended(interrupted=True)], True),
        ([Ended(lost=True)], False),
        ([Ended(lost=True), Troubled(incident=incident("lost")), Ended()], True),
        ([Ended(), PhaseBegan(name="fp32", title="")], False),
    ],
)
def test_a_run_is_over_when_all_was_told(facts, over):
    story = story_of((*short()[:-1], *facts))
    assert story.is_over == over
    assert story.interrupted == any(
        isinstance(one, Ended) and one.interrupted for one in facts
    )


def test_the_pcs_least_free_memory_is_kept():
    story = story_of(short())
    for left in (8 * GIB, 3 * GIB, 5 * GIB):
        story.apply(HostMemory(available_bytes=left))
    told_of = story.record(1.0).telemetry
    assert told_of.host_memory_before_bytes == 8 * GIB
    assert told_of.host_memory_least_bytes == 3 * GIB


def test_no_age_is_below_zero():
    assert story_of(short()).record(-5.0).seconds == 0.0
    assert replace(started(), depth="quick") == started()
