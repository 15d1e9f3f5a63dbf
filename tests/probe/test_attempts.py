"""What is tried after a run was cut off: pure policy, as tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from told_runs import GIB, MIB, incident, short, started, story_of, told, until

from probe.events import Built, Measured, PassBegan, Troubled
from probe.rates import workloads
from probe.session import Plan
from probe.story import Story
from probe.survival.attempts import MOST_PROCESSES, Attempts, resumed
from reports.record import Rate, Structure

KINDS = ("crashed", "killed", "hung", "lost", "babbled", "frozen", "ended")
PROOF = ("take", "write", "verify", "turn", "verify complement", "heat", "dwell")
LAST = {"quick": "memory_write", "thorough": "link_down"}


def opened(*facts, **begun):
    """The story of a card that was opened, and what was told since."""
    return story_of((started(**begun), *short()[1:2], *facts))


def after(*incidents, plan=None, story=None):
    """The plans after each of several incidents."""
    attempts = Attempts(plan or Plan())
    return [attempts.after(one, story or opened()) for one in incidents]


def without(plan):
    return None if plan is None else set(plan.without)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "frozen"])
@pytest.mark.parametrize("phase", PROOF)
def test_a_proof_cut_off_once_is_run_again_as_it_was(kind, phase):
    (plan,) = after(incident(kind, phase, at_bytes=3 * GIB))
    assert plan == Plan(again=True)


@pytest.mark.parametrize(
    ("places", "limit"),
    [
        ((2 * GIB, 2 * GIB), 2 * GIB),
        ((2 * GIB, 3 * GIB), 2 * GIB),
        ((3 * GIB, 2 * GIB), 2 * GIB),
        ((2 * GIB + 5, 2 * GIB + 9), 2 * GIB),
        ((None, 2 * GIB), 2 * GIB),
        ((2 * GIB, None), 2 * GIB),
        ((MIB, MIB), MIB),
    ],
)
def test_cut_off_twice_it_stays_below_the_lower_place(places, limit):
    plans = after(*(incident(at_bytes=place) for place in places))
    assert plans[1] == Plan(again=True, limit_bytes=limit, below_crash=True)


@pytest.mark.parametrize("place", [0, 1, MIB - 1, None])
def test_below_the_first_block_nothing_can_be_proven(place):
    plans = after(*(incident(at_bytes=place) for _ in range(2)))
    assert (without(plans[1]), plans[1].below_crash) == ({"proof"}, False)
    assert plans[1].limit_bytes is None


def test_cut_off_below_its_crash_as_well_the_proof_is_given_up():
    plans = after(*(incident(at_bytes=place * GIB) for place in (4, 4, 1)))
    assert without(plans[2]) == {"proof"}


def test_what_froze_the_pc_is_not_repeated():
    for phase in PROOF:
        (plan,) = after(incident("frozen", phase, at_bytes=2 * GIB))
        assert (plan.limit_bytes, plan.below_crash) == (2 * GIB, True)
    plans = after(*(incident("frozen", at_bytes=place * GIB) for place in (2, 1)))
    assert without(plans[1]) == {"proof"}
    (plan,) = after(incident("frozen", at_bytes=None))
    assert without(plan) == {"proof"}
    plans = after(incident(), incident("frozen", at_bytes=GIB))
    assert (plans[1].limit_bytes, plans[1].below_crash) == (GIB, True)


def test_a_limit_asked_for_stays_where_it_is_lower():
    plan = Plan(limit_bytes=GIB)
    assert after(incident(at_bytes=MIB), plan=plan)[0].limit_bytes == GIB
    plans = after(*[incident(at_bytes=64 * MIB)] * 2, plan=plan)
    assert plans[1].limit_bytes == 64 * MIB


@pytest.mark.parametrize("phase", ["fp32", "memory_read", "structure", "soak"])
@pytest.mark.parametrize("kind", KINDS)
def test_what_cut_off_anything_else_is_left_out(phase, kind):
    story = opened(Measured(rate=Rate(name="fp16", unit="FLOP/s", value=1.0)))
    (plan,) = after(
        incident(kind, phase, at_bytes=None), plan=Plan(soak_seconds=60), story=story
    )
    assert without(plan) == {"proof", "fp16", phase}
    assert plan.again


def test_the_first_look_at_the_link_comes_before_the_proof():
    """It is not the proof's fault: all the memory is still to be proven."""
    (plan,) = after(incident("crashed", "link", at_bytes=None))
    assert without(plan) == {"link"}
    assert plan.limit_bytes is None


def test_giving_memory_back_comes_after_the_proof():
    """What was proven stands: it is not proven again only to be given back again."""
    (plan,) = after(incident("crashed", "release", at_bytes=None))
    assert without(plan) >= {"proof"}


def test_what_is_proven_may_be_counted_on_afterwards():
    whole = story_of(told(size_bytes=64 * MIB))
    (plan,) = after(incident("crashed", "fp32", at_bytes=None), story=whole)
    assert plan.proven_bytes == whole.capacity().proven_bytes > 0


def test_a_structure_that_was_told_is_not_told_again():
    story = opened(Built(structure=Structure(units=3)))
    plan = Plan(soak_seconds=60)
    (left,) = after(incident("hung", "soak", at_bytes=None), plan=plan, story=story)
    assert without(left) == {"proof", "structure", "soak"}


@pytest.mark.parametrize("depth", ["quick", "standard", "thorough"])
def test_nothing_is_tried_where_nothing_is_left(depth):
    rates = [
        Measured(rate=Rate(name=name, unit="x", missing="failed: x"))
        for name in workloads(depth)[:-1]
    ]
    built = [] if depth == "quick" else [Built(structure=Structure())]
    story = opened(*rates, *built)
    last = incident("crashed", workloads(depth)[-1], at_bytes=None)
    assert after(last, plan=Plan(depth=depth), story=story) == [None]
    soaking = Plan(depth=depth, soak_seconds=60)
    assert after(last, plan=soaking, story=story) != [None]


@pytest.mark.parametrize("phase", ["before", "opening", "after"])
def test_a_card_that_does_not_open_is_tried_twice(phase):
    cut = incident("crashed", phase, at_bytes=None)
    first, second = after(cut, cut, story=Story(started()))
    assert first == Plan(again=True)
    assert second is None


def test_what_ends_again_and_again_is_given_up():
    names = workloads("thorough")
    cuts = [incident("crashed", name, at_bytes=None) for name in names]
    plans = after(*cuts[:MOST_PROCESSES], plan=Plan(depth="thorough"))
    assert all(plans[:-1])
    assert plans[-1] is None


@given(
    st.lists(
        st.tuples(
            st.sampled_from(KINDS),
            st.sampled_from(
                ("opening", "link", "release", "soak", "verify", *workloads("quick"))
            ),
            st.none() | st.integers(0, 8 * GIB),
        ),
        min_size=MOST_PROCESSES,
        max_size=MOST_PROCESSES,
    )
)
def test_it_always_comes_to_an_end_and_never_does_more(cuts):
    attempts = Attempts(Plan(soak_seconds=60, limit_bytes=6 * GIB))
    before = attempts.plan
    for kind, phase, place in cuts:
        plan = attempts.after(incident(kind, phase, at_bytes=place), opened())
        if plan is None:
            return
        assert without(before) <= without(plan)
        assert MIB <= plan.limit_bytes <= 8 * GIB
        assert plan.depth == before.depth
        before = plan
    raise AssertionError("it goes on without end")


# A run that is gone on with after the PC went down


def torn(kind="frozen", size_bytes=64 * MIB):
    """The story of a run that was cut off while memory was written."""
    facts = until(told(size_bytes=size_bytes), PassBegan, action="write")
    story = story_of(facts)
    story.apply(Troubled(incident=story.incident(kind, "x")))
    return story


def test_a_resumed_run_goes_on_below_what_froze_the_pc():
    story = torn()
    story.incidents[0] = replace(story.incidents[0], at_bytes=32 * MIB)
    plan = resumed(story, "/somewhere")
    assert plan.folder == "/somewhere"
    assert (plan.limit_bytes, plan.below_crash) == (32 * MIB, True)
    assert (plan.depth, plan.practice_condition) == ("quick", "as-claimed")


def test_a_program_that_was_ended_repeats_the_proof():
    plan = resumed(torn("ended"), "/x")
    assert (plan.limit_bytes, plan.below_crash, plan.without) == (None, False, ())


def test_a_resumed_run_keeps_what_was_asked_for():
    story = opened(
        Troubled(incident=incident("frozen", "fp16", at_bytes=None)),
        depth="thorough",
        limit_bytes=GIB,
        soak_seconds=90.0,
    )
    plan = resumed(story, "/x")
    assert (plan.depth, plan.limit_bytes, plan.soak_seconds) == ("thorough", GIB, 90.0)
    assert set(plan.without) == {"proof", "fp16"}


def test_nothing_cut_off_is_nothing_to_go_on_with():
    assert resumed(story_of(short()), "/x") is None


def test_a_run_that_went_on_and_ended_is_not_begun_again():
    """Cut off once, gone on with to its end, and only its record not stored."""
    story = torn("crashed")
    for fact in told(size_bytes=64 * MIB)[1:]:
        story.apply(fact)
    assert story.is_over
    assert resumed(story, "/x") is None


@pytest.mark.parametrize(
    ("kinds", "limit", "below"),
    [
        (("crashed", "ended"), None, False),
        (("ended", "ended", "ended"), None, False),
        (("ended", "crashed", "crashed"), 2 * GIB, True),
        (("frozen", "ended"), 2 * GIB, True),
        (("crashed", "hung", "ended"), 2 * GIB, True),
    ],
)
def test_every_earlier_incident_counts_that_the_card_may_have_caused(
    kinds, limit, below
):
    told_of = [Troubled(incident=incident(kind)) for kind in kinds]
    plan = resumed(opened(*told_of), "/x")
    assert (plan.limit_bytes, plan.below_crash, plan.without) == (limit, below, ())
