"""What cards of one PC must not use at once: waited for, never for ever."""

import contextlib
import signal
import subprocess
import sys

import pytest
from told_runs import MIB, started

from probe import locks, turns
from probe.errors import UnsupportedError
from probe.events import VIEWS, Linked, Noted, Working
from probe.plan import Plan
from probe.practice import conditions
from probe.session import LINK_SHARED, Session
from probe.story import Story
from probe.turns import NOT_ALONE, POLL_SECONDS, Together
from reports.record import Rate

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
HOLD = """
import sys
from probe.locks import lock_shared
lock = lock_shared(sys.argv[1])
print("held" if lock and lock.note is None else "not", flush=True)
sys.stdin.read()
"""


class Time:
    """A clock that only sleeping moves."""

    def __init__(self, at=None, then=None):
        self.now, self.slept = 100.0, []
        self.at, self.then = at, then

    def __call__(self):
        return self.now

    def sleep(self, seconds):
        self.slept.append(seconds)
        self.now += seconds
        if len(self.slept) == self.at:
            self.then()


@contextlib.contextmanager
def another_run(name):
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, name],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout.readline() == "held\n"
        yield process
        process.stdin.close()


def is_free(name):
    lock = locks.lock_shared(name)
    if lock is not None:
        lock.release()
    return lock is not None


def together(heard, time):
    return Together(heard.append, clock=time, sleep=time.sleep)


def test_a_free_turn_comes_at_once_and_is_given_back():
    heard, time = [], Time()
    for _ in range(2):
        with together(heard, time).take("link", 60.0) as came:
            assert came
            assert not is_free("link")
            assert is_free("load")
    assert (heard, time.slept) == ([], [])


def test_another_process_is_waited_for_until_the_wait_ends():
    heard, time = [], Time()
    with (
        another_run("link"),
        together(heard, time).take("link", 5.0) as came,
    ):
        assert not came
    assert time.now - 100.0 == pytest.approx(5.0, abs=2 * POLL_SECONDS)
    notes = [one for one in heard if isinstance(one, Noted)]
    assert [one.text for one in notes] == [turns.WAITING["link"]]
    told = [one for one in heard if isinstance(one, Working)]
    assert 5 <= len(told) <= 6  # once a second, or the watchdog would end the run
    assert all(one.seconds >= 1.0 for one in told)


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_the_death_of_its_holder_gives_the_turn_on(number):
    with another_run("load") as other:

        def die():
            other.send_signal(number)
            other.wait()

        heard, time = [], Time(3, die)
        with together(heard, time).take("load", 60.0) as came:
            assert came
        assert len(time.slept) == 3


def test_a_turn_ends_with_an_error_too():
    with pytest.raises(KeyError), Together([].append).take("link", 1.0):
        raise KeyError
    assert is_free("link")


def test_without_locks_nobody_is_waited_for(monkeypatch):
    assert turns.missing() is None
    assert is_free("link")
    with another_run("link"):
        assert turns.missing() is None
    monkeypatch.setattr(locks, "state_folder", lambda: None)
    assert "no lock can be had" in turns.missing()
    with Together(pytest.fail).take("link", 60.0) as came:
        assert came


class Never:
    """No turn comes."""

    def __init__(self):
        self.asked = []

    @contextlib.contextmanager
    def take(self, what, most_seconds):
        self.asked.append((what, most_seconds))
        yield False


class Noting(Never):
    """Each turn comes; what is done meanwhile is noted."""

    def __init__(self, facts):
        super().__init__()
        self.facts, self.spans = facts, []

    @contextlib.contextmanager
    def take(self, what, most_seconds):
        begin = len(self.facts)
        yield True
        self.spans.append((what, self.facts[begin:]))


def running(make, size=4 * MIB, **plan):
    asked = Plan(practice_condition="as-claimed", **plan)
    story = Story(started(depth=asked.depth))
    facts = []

    def hear(event):
        facts.append(event)
        if not isinstance(event, VIEWS):
            story.apply(event)

    taken = make(facts)
    with contextlib.closing(conditions.open_practice("as-claimed", size)) as card:
        Session(card, asked, hear, taken).run()
    return story, facts, taken


def phases(facts):
    return [one.phase.name for one in facts if type(one).__name__ == "PhaseEnded"]


@pytest.fixture(scope="module")
def thorough():
    return running(Noting, depth="thorough", soak_seconds=1.0)


def test_what_is_shared_is_used_in_turn_and_nothing_else_is(thorough):
    _, _, taken = thorough
    held = [(what, *phases(span)) for what, span in taken.spans]
    assert held == [
        ("link", "link"),
        ("load", "heat"),
        ("link", "link_up"),
        ("link", "link_down"),
        ("load", "soak"),
    ]


def test_where_no_turn_comes_rates_say_so_and_no_load_is_put_on():
    story, _, never = running(
        lambda _: Never(), depth="thorough", soak_seconds=300.0, without=("structure",)
    )
    assert {what for what, _ in never.asked} == {"link", "load"}
    assert dict(never.asked)["load"] >= 7 * 330  # seven others may be before
    ends = {one.name: one.outcome for one in story.phases}
    assert (ends["heat"], ends["soak"]) == ("skipped", "skipped")
    detail = next(one.detail for one in story.phases if one.name == "soak")
    assert detail.endswith("test this one alone")
    assert ends["verify"] == "done"
    for rate in story.rates:
        said = rate.name.startswith("link")
        assert (NOT_ALONE in rate.remarks) == said


def test_a_person_can_allow_full_load_together():
    story, _, never = running(
        lambda _: Never(),
        depth="thorough",
        soak_seconds=1.0,
        load_together=True,
        without=("structure",),
    )
    assert {what for what, _ in never.asked} == {"link"}
    ends = {one.name: one.outcome for one in story.phases}
    assert (ends["heat"], ends["soak"]) == ("done", "done")


def linked(facts):
    return [one.bytes_a_second for one in facts if isinstance(one, Linked)]


def looked_again(first, second, *, guessed=False, alone=True):
    """Return what is told of the link at the second look, and the link then."""
    facts = []
    with contextlib.closing(conditions.open_practice("as-claimed", 4 * MIB)) as card:
        session = Session(card, Plan(practice_condition="as-claimed"), facts.append)
        session._begin()
        session._prove()
        session.proof.link(first)
        session.link_guessed = guessed
        missing = None if second else "not supported"
        rate = Rate(name="link_down", unit="B/s", value=second, missing=missing)
        meter = type("Meter", (), {"measure": lambda *_: rate})()
        del facts[:]
        with contextlib.suppress(UnsupportedError):
            session._one(meter, "link_down", alone=alone)
    return linked(facts), session.proof.account.link_rate


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [(2e9, 12e9, 12e9), (11e9, 12e9, None), (12e9, 11e9, None), (2e9, None, None)],
)
def test_a_first_look_at_a_shared_link_is_corrected(first, second, told):
    assert looked_again(first, second) == ([told] if told else [], told or first)


@pytest.mark.parametrize(
    ("first", "alone", "told"),
    [
        (24e9, True, 12e9),  # the link seen alone at last: not what it gives at most
        (24e9, False, 48e9),
        (48e9, False, None),
    ],
)
def test_a_link_never_seen_alone_may_give_more_than_was_seen(first, alone, told):
    """Or memory of the PC, read at full speed later, would pass for the card's."""
    said = looked_again(first, 12e9, guessed=True, alone=alone)
    assert said == ([told] if told else [], told or first)


def test_a_first_look_without_its_turn_is_kept_as_what_it_is():
    story, facts, _ = running(lambda _: Never())
    _, undisturbed, _ = running(Noting)
    assert linked(facts)[0] == pytest.approx(LINK_SHARED * linked(undisturbed)[0])
    (phase,) = (one for one in story.phases if one.name == "link")
    assert (phase.outcome, phase.detail) == ("done", NOT_ALONE)


def test_who_has_no_link_waits_for_none():
    taken = Never()
    with contextlib.closing(conditions.open_practice("as-claimed", 4 * MIB)) as card:
        card.supports = lambda workload: (
            "no link" if workload.startswith("link") else None
        )
        plan = Plan(practice_condition="as-claimed", without=("structure",))
        Session(card, plan, lambda _: None, taken).run()
    assert taken.asked == []
