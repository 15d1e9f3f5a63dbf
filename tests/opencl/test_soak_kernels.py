"""Placing what a soak finds, on a real OpenCL device, against numpy; a short soak."""

from itertools import pairwise

import numpy as np
import pytest
from opencl_parts import MIB, card_of, held, plant

from probe import chains
from probe.device import WORST_GROUPS, Tagging
from probe.opencl import arithmetic
from probe.soak import Soaker
from reports.record import Sample

pytestmark = pytest.mark.opencl

GROUPS = 24
"""Few: a whole grid takes a processor seconds."""


@pytest.fixture(scope="module")
def card(device):
    with card_of(device) as opened:
        opened._computes().groups = GROUPS
        yield opened


@pytest.fixture(params=["fp32", "int32", "local_memory", "fp64", "transcendental"])
def loaded(request, card):
    """Return a workload, its maker and the ends wanted; whole again afterwards."""
    name = request.param
    if card.supports(name) is not None:
        pytest.skip(card.supports(name))
    maker = card._computes()
    maker.burst(name, 1.0, None)
    ready = maker.loaded[name]
    want = held(card, ready.want, 8 if name == "fp64" else 4)
    yield name, maker, ready, want
    plant(card, ready.want, want)


def wrong_by_group(name, maker, bad, groups, rounds):
    """Return how many results of each group are wrong, by the kernels' own order."""
    item = np.arange(groups * maker.group)
    if name == "local_memory":
        place = item % maker.group % chains.TABLE
        visited = np.broadcast_to(place, (rounds, item.size))
    else:
        visited = (item[None, :] + np.arange(rounds)[:, None]) % chains.SEEDS
    return bad[visited].sum(axis=0).reshape(groups, maker.group).sum(axis=1)


def test_groups_of_a_healthy_device_are_not_named(loaded):
    name, maker, _, _ = loaded
    assert maker.burst(name, 1.0, None).worst_groups == ()


@pytest.mark.parametrize("scale", [1 / 3, 1.0, 3.0])
def test_wrong_results_are_counted_for_each_group(card, loaded, scale):
    name, maker, ready, want = loaded
    spoilt = want.copy()
    rows = np.array([3, 17, 40])
    spoilt[rows, 0] ^= np.uint32(1 << 9)
    plant(card, ready.want, spoilt)
    bad = np.zeros(len(want), np.int64)
    bad[rows] = 1
    groups, rounds = max(1, round(GROUPS * min(scale, 1.0))), max(1, round(scale))
    due = wrong_by_group(name, maker, bad, groups, rounds)
    for _ in range(2):  # counters begin anew with each launch
        burst = maker.burst(name, scale, None)
        assert burst.wrong == due.sum() > 0
        told = dict(burst.worst_groups)
        assert len(told) == min(WORST_GROUPS, np.count_nonzero(due))
        assert all(due[group] == count for group, count in told.items())
        counts = list(told.values())
        assert all(a >= b for a, b in pairwise(counts))
    plant(card, ready.want, want)
    after = maker.burst(name, scale, None)
    assert (after.wrong, after.worst_groups) == (0, ())


def test_one_group_alone_is_named(card):
    # The counters are what a launch left: as if one group of all had seen errors.
    maker = card._computes()
    totals = arithmetic.TOTALS
    counts = np.zeros(totals + GROUPS, np.uint32)
    counts[totals + 11] = 5
    counts[totals + 7] = 2
    plant(card, maker.wrong, counts.reshape(1, -1))
    assert maker._worst(GROUPS) == ((11, 5), (7, 2))
    assert maker._worst(GROUPS) == ()


def soak(card, seconds, memory, **more):
    told = []
    heat = Sample(at_seconds=0.0, phase="soak", temperature_c=61.0)
    soaker = Soaker(
        card, seconds, told.append, lambda: heat, memory_bytes=memory, **more
    )
    began = card.now()
    soaker.run()
    assert abs(card.now() - began - seconds) < 2.0
    return soaker.result()


def test_a_short_soak_of_a_healthy_device(card):
    found = soak(card, 4.0, 24 * MIB)
    assert (found.wrong, found.spots) == (0, ())
    assert found.checked == sum(test.checked for test in found.tests) > 0
    assert found.held_bytes == 24 * MIB
    assert found.passes > 0
    assert found.cells.intact == found.cells.cells >= found.passes * 24 * MIB // 16
    assert found.steps > 0
    assert found.rate_end > 0
    assert card._held == {}


def test_a_soak_places_spoilt_results_and_cells(card):
    maker = card._computes()
    maker.burst("fp32", 1.0, None)
    ready = maker.loaded["fp32"]
    want = held(card, ready.want)
    spoilt = want.copy()
    spoilt[5, 2] ^= np.uint32(1)
    sweep = card.sweep
    flipped = []

    def spoiling(action, blocks, tagging: Tagging, done):
        """Flip one bit of one cell in memory before the second walk."""
        if action == "turn" and not flipped:
            words = held(card, blocks[0].handle)
            words[1234, 1] ^= np.uint32(1 << 30)
            plant(card, blocks[0].handle, words)
            flipped.append(blocks[0])
        return sweep(action, blocks, tagging, done)

    plant(card, ready.want, spoilt)
    card.sweep = spoiling
    try:
        found = soak(card, 2.0, 4 * MIB)
    finally:
        del card.sweep
        plant(card, ready.want, want)
    fp32 = {test.name: test for test in found.tests}["fp32"]
    # One end of 256 (64 seeds, 4 chains) is spoilt: so many results come out wrong.
    assert fp32.wrong == pytest.approx(fp32.checked / 256, rel=0.05)
    assert found.wrong == fp32.wrong
    results = [spot for spot in found.spots if spot.kind == "results"]
    assert results
    assert all(spot.test == "fp32" and spot.group < GROUPS for spot in results)
    (cell,) = [spot for spot in found.spots if spot.kind == "memory"]
    at = (flipped[0].first_cell + 1234) * 16
    assert (cell.first_byte, cell.last_byte) == (at, at)
    assert cell.flips.any_mask == cell.flips.all_mask == (0, 1 << 30, 0, 0)
    assert (cell.wrong, cell.times, cell.temperature_c) == (1, 1, 61.0)
    assert found.cells.failing == 1
