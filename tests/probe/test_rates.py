"""Rates: no launch too long on any card, nothing dropped, failures become reasons.

Figures of the H100 SXM: NVIDIA's datasheet (67 TFLOP/s fp32, 3.35 TB/s, PCIe 5.0). A
display driver on Windows resets after 2 s without progress (Microsoft, "Timeout
Detection and Recovery").
"""

import math
from statistics import median

import pytest
from fake_card import GIB, MIB, CardError, FakeCard
from hypothesis import assume, given
from hypothesis import strategies as st

from probe.device import Burst
from probe.errors import DeviceLostError
from probe.events import Progressed
from probe.rates import MOST_WARMUPS, SAMPLES, TITLES, WORKLOADS, Meter, workloads
from reports.units import RATE_UNITS

LONGEST = 0.1


def meter(card, depth="standard", memory=4 * GIB, watch=lambda _: None, sense=None):
    return Meter(card, depth, watch, sense or (lambda: None), memory)


def slowed(factor, fp64=1 / 2):
    card = FakeCard()
    card.flops /= factor
    card.memory_rate /= factor
    card.link_rate = max(card.link_rate / factor, 250e6)  # PCI Express 1.0, one lane
    card.units = max(int(card.units / factor), 1)
    card.per["fp64"] = fp64
    return card


@pytest.mark.parametrize("factor", [0.5, 1, 20, 500])
@pytest.mark.parametrize("fp64", [1 / 2, 1 / 64])
@pytest.mark.parametrize("workload", WORKLOADS)
def test_no_launch_is_long(factor, fp64, workload):
    card = slowed(factor, fp64)
    rate = meter(card).measure(workload)
    assert rate.missing is None
    assert max(seconds for _, _, seconds in card.launches) < LONGEST
    # and none so short that the timer's grain would show
    if not workload.startswith(("memory", "link")) or factor > 1:
        assert median(rate.sample_seconds) > 0.002


@given(
    flops=st.floats(1e9, 1e15),
    memory=st.floats(5e9, 1e13),
    link=st.floats(2e8, 1e11),
    units=st.integers(1, 300),
    latency=st.floats(1e-7, 1e-3),
    cache=st.integers(0, 256 * MIB),
    workload=st.sampled_from(WORKLOADS),
)
def test_no_launch_is_long_on_any_card(
    flops, memory, link, units, latency, cache, workload
):
    card = FakeCard()
    card.flops, card.memory_rate, card.link_rate = flops, memory, link
    card.units, card.latency, card.cache_bytes = (
        units,
        latency,
        min(cache, memory / 1e4),
    )
    if workload not in {"memory_read", "memory_write", "memory_copy"}:
        # what one group of work-items alone takes is the kernel's to keep short
        least = 256 * 512 * 16 * 64 / (flops / units * card.per.get(workload, 1.0))
        assume(workload.startswith("link") or least < LONGEST / 4)
    meter(card, "quick").measure(workload)
    assert max(seconds for _, _, seconds in card.launches) < LONGEST


@pytest.mark.parametrize("memory", [0, 1, MIB, 256 * MIB])
@pytest.mark.parametrize("workload", ["memory_read", "memory_write", "memory_copy"])
def test_traffic_stays_within_the_proven_memory(memory, workload):
    card = FakeCard()
    rate = meter(card, memory=memory).measure(workload)
    ways = 2 if workload == "memory_copy" else 1
    assert rate.value > 0
    assert rate.work_per_launch / ways <= max(memory // 8, MIB)


@pytest.mark.parametrize("depth", SAMPLES)
def test_every_sample_and_every_warm_up_is_kept(depth):
    card = FakeCard()
    measuring = meter(card, depth, memory=80 * GIB)
    for workload in workloads(depth):
        before = len(card.launches)
        rate = measuring.measure(workload)
        seconds = tuple(each[2] for each in card.launches[before:])
        assert rate.warmup_seconds + rate.sample_seconds == seconds
        assert len(rate.sample_seconds) == SAMPLES[depth]
        assert rate.checked == 8 * len(seconds)
        assert rate.unit == RATE_UNITS[workload]
        speeds = [rate.work_per_launch / each for each in rate.sample_seconds]
        assert rate.value == pytest.approx(median(speeds))
        assert rate.remarks == ()


def test_the_first_workload_warms_the_card_longest():
    card = FakeCard()
    measuring = meter(card)
    first = measuring.measure("fp32")
    second = measuring.measure("int32")
    assert sum(first.warmup_seconds) >= 0.3 > sum(second.warmup_seconds) >= 0.06


def test_a_spread_is_remarked_and_kept():
    card = FakeCard()
    card.jitter = lambda number: 1.3 if number % 3 == 0 else 1.0
    rate = meter(card).measure("fp32")
    (remark,) = rate.remarks
    assert remark == (
        "samples spread by 23 %: the card was not alone or its clocks moved"
    )


def test_too_short_launches_are_remarked():
    card = FakeCard()
    card.memory_rate = 1e13
    rate = meter(card, memory=MIB).measure("memory_read")
    assert "launches were too short to time well" in rate.remarks


def test_warm_ups_end_even_where_the_clock_stands_still():
    card = FakeCard()
    card.now = lambda: 0.0
    rate = meter(card).measure("fp32")
    assert len(rate.warmup_seconds) == MOST_WARMUPS


def test_what_fails_becomes_a_reason_and_the_next_goes_on():
    card = FakeCard()
    card.fails["fp64"] = CardError("Card: measuring fp64 failed", "CL_OUT_OF_RESOURCES")
    card.lacks["fp16"] = "its driver offers no fp16 (cl_khr_fp16)"
    measuring = meter(card)
    found = {name: measuring.measure(name) for name in workloads("standard")}
    failed = found["fp64"]
    assert (failed.value, failed.sample_seconds) == (None, ())
    assert failed.missing == (
        "failed: Card: measuring fp64 failed (CL_OUT_OF_RESOURCES)"
    )
    assert found["fp16"].missing == "its driver offers no fp16 (cl_khr_fp16)"
    assert [name for name in found if found[name].value is None] == ["fp64", "fp16"]


def test_a_lost_device_is_not_a_reason():
    card = FakeCard()
    card.fails["fp32"] = DeviceLostError("Card: gone")
    with pytest.raises(DeviceLostError):
        meter(card).measure("fp32")


@pytest.mark.parametrize("seconds", [0.0, -1.0, math.nan, math.inf])
def test_a_timer_that_lies_is_no_rate(seconds):
    card = FakeCard()
    card.burst = lambda *_: Burst(seconds=seconds, work=1e6, checked=0, wrong=0)
    rate = meter(card).measure("fp32")
    assert rate.value is None
    assert rate.missing.startswith("failed: Card: its driver")


@pytest.mark.parametrize("work", [0.0, -1.0, math.nan])
def test_work_that_was_not_done_is_no_rate(work):
    card = FakeCard()
    card.burst = lambda *_: Burst(seconds=0.01, work=work, checked=0, wrong=0)
    assert meter(card).measure("memory_read").value is None


def test_sensors_are_read_while_samples_run():
    reads = []
    card = FakeCard()
    meter(card, sense=lambda: reads.append(card.clock)).measure("fp32")
    assert len(reads) == 2
    assert reads == sorted(set(reads))


def test_progress_counts_samples():
    events = []
    meter(FakeCard(), watch=events.append).measure("fp32")
    wanted = SAMPLES["standard"]
    assert [event.done for event in events] == list(range(1, wanted + 1))
    assert all(isinstance(event, Progressed) for event in events)
    assert {event.total for event in events} == {wanted}
    assert events[-1].figure.endswith("TFLOP/s")


def test_every_workload_has_a_title():
    assert set(TITLES) == set(WORKLOADS) == set(RATE_UNITS)
    assert set(workloads("quick")) < set(workloads("standard")) == set(WORKLOADS)
