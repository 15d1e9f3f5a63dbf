"""The session by itself: phases, what it keeps and when, what it says beforehand."""

from types import SimpleNamespace

import pytest
from command_line import Meddling
from fake_card import GIB, FakeCard

from probe import environment, session
from probe.errors import CardError, DeviceLostError, UnsupportedError
from probe.events import VIEWS, Noted, PhaseBegan, PhaseEnded, RunBegan, Started
from probe.practice import conditions
from probe.session import Plan, Session
from probe.story import Story
from reports import codec
from reports.record import Host, Program

HOST = Host(system="Linux", release="6", machine="x86_64", python="3.13")


def started(depth, condition):
    return Started(
        program=Program(version="0"), started="2026-11-25T12:00:00Z", depth=depth,
        host=HOST, practice_condition=condition,
    )  # fmt: skip


def running(device, **plan):
    """Run a session; return its story, and all that it told."""
    events = []
    asked = Plan(**({"depth": "quick", "practice_condition": "x"} | plan))
    story = Story(started(asked.depth, asked.practice_condition))

    def hear(event):
        if not isinstance(event, VIEWS):
            story.apply(event)
        events.append(event)

    Session(device, asked, hear).run()
    return story, events


def of(kind, events):
    return [event for event in events if isinstance(event, kind)]


def names(run):
    return [phase.name for phase in run.phases]


def test_the_record_is_valid_after_every_fact():
    _, events = running(FakeCard())
    story = Story(started("quick", "x"))
    lengths = []
    for event in events:
        if isinstance(event, VIEWS):
            continue
        story.apply(event)
        record = story.record(1.0, unfinished=True)
        assert codec.decode(codec.encode(record)) == record
        assert record.interrupted
        lengths.append(len(record.phases))
    assert lengths == sorted(lengths)
    assert not story.record(1.0).interrupted


def test_every_phase_begins_and_ends_in_order():
    run, events = running(FakeCard(), depth="thorough")
    began = [event.name for event in events if isinstance(event, PhaseBegan)]
    ended = [event.phase.name for event in events if isinstance(event, PhaseEnded)]
    assert began == ended == names(run)
    starts = [phase.started_seconds for phase in run.phases]
    assert starts == sorted(starts)
    assert isinstance(of(RunBegan, events)[0], RunBegan)


@pytest.mark.parametrize(("depth", "told"), [("quick", False), ("thorough", True)])
def test_only_a_long_run_is_forecast(depth, told):
    _, events = running(FakeCard(), depth=depth, practice_condition=None)
    assert (of(RunBegan, events)[0].expected_seconds is not None) == told


def test_a_forecast_is_not_too_short():
    card = FakeCard(80 * GIB)
    run, events = running(card, depth="thorough")
    assert (
        sum(phase.seconds for phase in run.phases)
        <= of(RunBegan, events)[0].expected_seconds
    )


def test_a_limit_shortens_the_forecast():
    forecasts = [
        of(RunBegan, running(FakeCard(), depth="thorough", limit_bytes=limit)[1])[
            0
        ].expected_seconds
        for limit in (None, GIB, 64 * GIB)
    ]
    assert forecasts[1] < forecasts[0] == forecasts[2]


def test_heat_never_launches_for_long():
    for factor in (1, 500):
        card = FakeCard()
        card.flops /= factor
        card.units = max(card.units // factor, 1)
        run, _ = running(card, depth="thorough")
        heat = next(phase for phase in run.phases if phase.name == "heat")
        assert 30 <= heat.seconds < 30.2
        assert max(seconds for _, _, seconds in card.launches) < 0.1


def test_heating_ends_where_the_timer_stands_still():
    card = FakeCard()
    real = card.burst

    def timeless(workload, scale, meanwhile=None):
        assert scale <= session.HEAT_LARGEST
        burst = real(workload, min(scale, 4.0), meanwhile)
        card.clock += 0.1
        return type(burst)(seconds=0.0, work=burst.work, checked=1, wrong=0)

    card.burst = timeless
    run, _ = running(card, depth="thorough")
    assert "heat" in names(run)
    assert run.record(1.0).rates[0].missing.startswith("failed: ")


def test_broken_sensors_are_said_once_and_do_no_harm():
    card = FakeCard()

    def sense(_):
        raise CardError("Card: its sensors answer nonsense")

    card.sense = sense
    run, events = running(card)
    notes = [event.text for event in events if isinstance(event, Noted)]
    assert notes[-1:] == [
        "sensors not read: Card: its sensors answer nonsense; going on"
    ]
    assert {phase.outcome for phase in run.phases} == {"done"}


def test_a_lost_device_is_only_closed_after_it():
    lost = DeviceLostError("Card: gone")
    device = Meddling(conditions.open_practice(), 90, lost, for_good=True)
    run, _ = running(device)
    run.record(1.0)
    asked = [name for name in device.called[89:] if name != "now"]
    assert len(asked) <= 1  # the clock's silence alone says nothing yet
    assert run.ended.lost


def test_what_the_card_cannot_do_is_skipped():
    card = FakeCard()
    card.lacks["fp64"] = "its driver offers no fp64 (cl_khr_fp64)"
    run, _ = running(card)
    skipped = [phase for phase in run.phases if phase.outcome == "skipped"]
    assert [(phase.name, phase.detail) for phase in skipped] == [
        ("fp64", "its driver offers no fp64 (cl_khr_fp64)")
    ]
    card.fails["fp32"] = UnsupportedError("no")
    assert "fp32" in names(running(card)[0])


def test_without_memory_the_rates_are_still_had():
    run, _ = running(FakeCard(granted=0))
    record = run.record(1.0)
    take = record.phases[1]
    assert (take.name, take.outcome) == ("take", "failed")
    assert take.detail == (
        "Card: its driver gave no memory at all: Card: the driver gave no more (NO)"
    )
    assert "write" not in names(run)
    assert record.capacity.covered_bytes == record.capacity.proven_bytes == 0
    assert record.capacity.ended_by == "driver refused"
    assert all(rate.value for rate in record.rates)


def test_a_failing_proof_gives_its_memory_back():
    card = FakeCard()
    card.census_of = lambda _: (_ for _ in ()).throw(CardError("Card: no"))
    run, _ = running(card)
    assert card.held == 0
    assert [p.name for p in run.phases if p.outcome == "failed"] == ["verify"]
    assert "release" in names(run)
    assert run.record(1.0).capacity.ended_by == "whole claim held"


def test_without_a_link_nothing_is_compared_with_it():
    card = FakeCard(unified_memory=True)
    card.lacks |= dict.fromkeys(("link_up", "link_down"), "no link")
    run, _ = running(card)
    assert names(run)[0] == "take"
    assert run.proofs[0].link_rate is None


def test_the_pcs_memory_is_watched_for_real_cards_alone(monkeypatch):
    left = iter(range(10**6, 0, -1))
    monkeypatch.setattr(environment, "available_bytes", lambda: next(left) * 2**30)
    run, _ = running(FakeCard(), practice_condition=None)
    telemetry = run.record(1.0).telemetry
    assert telemetry.host_memory_before_bytes == 10**6 * 2**30
    assert telemetry.host_memory_least_bytes < telemetry.host_memory_before_bytes
    run, _ = running(FakeCard())
    assert run.record(1.0).telemetry.host_memory_before_bytes is None


def test_the_host_says_nothing_of_its_owner(monkeypatch):
    monkeypatch.setattr(environment.platform, "release", lambda: "6.1\x1b[31m\n")
    host = environment.host()
    assert host.release == "6.1\N{REPLACEMENT CHARACTER}[31m"
    assert host.memory_bytes > 0
    fields = codec.json_schema()["$defs"]["Host"]["properties"]
    assert set(fields) == {
        "system", "release", "machine", "python", "memory_bytes", "on_battery",
    }  # fmt: skip


@pytest.mark.parametrize("error", [OSError, ValueError, AttributeError])
def test_an_unreadable_memory_size_is_absent(error, monkeypatch):
    def fail():
        raise error

    monkeypatch.setattr("psutil.virtual_memory", fail)
    assert environment.available_bytes() is None
    assert environment.host().memory_bytes is None
    monkeypatch.setattr("psutil.virtual_memory", lambda: SimpleNamespace(total=5))
    assert environment.available_bytes() is None
