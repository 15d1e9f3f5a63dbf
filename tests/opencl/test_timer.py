"""The driver's timer, held against the PC's clock: when it is believed."""

from types import SimpleNamespace

import pytest

from probe.opencl.calls import Timer

pytestmark = pytest.mark.opencl


def ran(seconds):
    return [SimpleNamespace(profile=SimpleNamespace(start=0, end=int(seconds * 1e9)))]


def test_a_right_timer_is_believed():
    timer = Timer()
    for seconds in (1e-5, 0.02, 0.5):
        assert timer.span(ran(seconds), seconds * 1.1) == pytest.approx(seconds)
        assert timer.part(ran(seconds / 2), seconds, 0.5) == pytest.approx(seconds / 2)


def test_a_timer_far_too_fast_is_caught_for_good():
    timer = Timer()
    assert timer.span(ran(1e-6), 0.001) == pytest.approx(1e-6)  # too short to tell
    assert timer.span(ran(1e-4), 0.1) == 0.1
    assert timer.span(ran(1e-4), 0.1) == 0.1
    assert timer.span(ran(2.5e-5), 0.025) == 0.025
    assert timer.part(ran(1e-5), 0.4, 0.25) == pytest.approx(0.1)


def test_kernels_compiled_at_their_first_launch_cost_no_trust():
    timer = Timer()
    for _ in range(5):
        assert timer.span(ran(1e-4), 0.8) == 0.8  # compiled first
        assert timer.span(ran(0.02), 0.021) == pytest.approx(0.02)
    assert timer.doubts == 0


def test_time_in_which_the_pc_did_something_else_does_not_count():
    timer = Timer()
    for _ in range(5):
        assert timer.span(ran(0.001), 0.2, 0.0001) == pytest.approx(0.001)
