"""The chip's structure against simulated silicon whose structure is known.

The silicon here is written for these tests alone: groups are handed to units one by
one, a cache answers by its share of the footprint, warps take both paths where they
have to. Cycles and widths are of the CUDA C++ Programming Guide (warp 32; 4, 6 and 9
cycles a dependent multiply-add: guide for compute capability 7.x, Jia 2018 and Volkov
2016 from memory for older ones).
"""

from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from probe.device import Experiment
from probe.errors import DeviceLostError, MemoryRefusedError, UnsupportedError
from probe.structure import latency, stairs
from probe.structure.measure import Surveyor
from reports.record import Latency

GHZ = 1e9
LAUNCH = 4e-6


@dataclass
class Silicon:
    """A chip with a structure; times are physics plus noise that only slows."""

    units: int = 20
    held: int = 1
    """Groups that one unit takes without slowing."""
    clock: float = 1.7 * GHZ
    cycles: int = 6
    warp: int = 32
    resident: int = 2
    near: tuple[tuple[int, float], ...] = ((32 << 10, 20.0), (2 << 20, 130.0))
    far_ns: float = 300.0
    noise: float = 0.01
    outliers: float = 0.05
    seed: int = 1
    lacks: dict[str, Exception] = field(default_factory=dict)
    clock_now: float = 0.0
    longest: float = 0.0
    launches: int = 0

    def __post_init__(self):
        self.random = np.random.default_rng(self.seed)

    def now(self):
        return self.clock_now

    def local_bytes(self):
        return 48 << 10

    def experiment(self, asked: Experiment) -> float:
        if asked.kind in self.lacks:
            raise self.lacks[asked.kind]
        seconds = LAUNCH + getattr(self, f"_{asked.kind}")(asked)
        seconds *= 1 + abs(self.random.normal(0, self.noise))
        if self.random.random() < self.outliers:
            seconds *= 1.3
        self.launches += 1
        self.clock_now += seconds
        self.longest = max(self.longest, seconds)
        return seconds

    def _staircase(self, asked):
        rounds = -(-asked.groups // (self.units * self.held))
        return rounds * asked.rounds * 64 * 32 / self.clock

    def _residency(self, asked):
        rounds = -(-asked.groups // (self.units * self.resident))
        return rounds * asked.rounds * 64 * self.cycles / self.clock

    def _chain(self, asked):
        return asked.rounds * 128 * self.cycles / self.clock

    def _divergence(self, asked):
        paths = 2 if asked.width < self.warp else 1
        return paths * asked.rounds * 64 * 8 / self.clock

    def _chase(self, asked):
        below, hop = 0.0, 0.0
        for size, ns in self.near:
            share = min(size / asked.size_bytes, 1.0)
            hop += max(share - below, 0.0) * ns
            below = max(below, share)
        hop += (1 - below) * self.far_ns
        return asked.rounds * hop * 1e-9


def surveyed(chip, memory=1 << 31):
    surveyor = Surveyor(chip, lambda *_: None, memory)
    surveyor.survey()
    return surveyor


@pytest.mark.parametrize("units", [1, 2, 3, 5, 8, 15, 16, 20, 36, 82, 132, 170, 304])
def test_units_are_counted(units):
    found = surveyed(Silicon(units=units)).found
    assert (found.units, found.units_low, found.units_high) == (units,) * 3
    assert 1.8 < found.step < 2.2
    assert found.second_step is (None if units == 1 else True)


@settings(max_examples=40, deadline=None)
@given(
    units=st.integers(1, 320),
    noise=st.floats(0, 0.03),
    outliers=st.floats(0, 0.15),
    seed=st.integers(0, 2**32 - 1),
)
def test_noise_and_outliers_do_not_miscount(units, noise, outliers, seed):
    chip = Silicon(units=units, noise=noise, outliers=outliers, seed=seed)
    found = stairs.climb(stairs.timer(chip))
    assert found.last_flat == units or found.first_high - 1 > found.last_flat


@pytest.mark.parametrize("units", [1, 2, 3, 15, 132, 304])
def test_the_staircase_that_was_looked_at_is_kept(units):
    chip = Silicon(units=units)
    stairs_seen = surveyed(chip).found.stairs
    groups = [stair.groups for stair in stairs_seen]
    assert groups == sorted(set(groups))
    wanted = {1, units // 2, units - 1, units, units + 1, units + 2}
    wanted |= {3 * units // 2, 2 * units, 2 * units + 1}
    assert wanted - {0} <= set(groups)
    flat = stairs_seen[0].seconds
    for stair in stairs_seen:
        if stair.groups <= 2.5 * units + 2:
            level = -(-stair.groups // units)
            assert stair.seconds == pytest.approx(level * flat, rel=0.12)


def test_more_looks_cost_little_and_change_no_count():
    def run(chip):
        looks = stairs.Looks(stairs.timer(chip))
        found = stairs.climb(looks)
        return looks, found

    chip = Silicon(units=132)
    looks, found = run(chip)
    seen, began, launches = dict(looks.least), chip.clock_now, chip.launches
    stairs.look_around(looks, found.last_flat)
    assert chip.clock_now - began < 0.1
    assert chip.launches - launches < 120
    assert looks.least.keys() > seen.keys()
    assert all(looks.least[groups] <= seconds for groups, seconds in seen.items())
    # Physics (units) and the same random numbers: the count is the one of before.
    assert (
        surveyed(Silicon(units=132)).found.units == run(Silicon(units=132))[1].last_flat
    )


@settings(max_examples=30, deadline=None)
@given(
    units=st.integers(1, 200),
    noise=st.floats(0, 0.03),
    outliers=st.floats(0, 0.15),
    seed=st.integers(0, 2**32 - 1),
)
def test_noise_leaves_the_staircase_in_sight(units, noise, outliers, seed):
    chip = Silicon(units=units, noise=noise, outliers=outliers, seed=seed)
    looks = stairs.Looks(stairs.timer(chip))
    found = stairs.climb(looks)
    stairs.look_around(looks, found.last_flat)
    assert set(stairs.shown(found.last_flat)) <= looks.least.keys()
    assert all(seconds > 0 for seconds in looks.least.values())


@pytest.mark.parametrize("fails_from", range(1, 121, 7))
def test_a_failing_look_loses_neither_units_nor_what_was_seen(fails_from):
    chip = Silicon(units=20)
    whole = surveyed(Silicon(units=20)).found
    counted, physics = [0], chip._staircase

    def failing(asked):
        counted[0] += 1
        if counted[0] >= fails_from:
            raise UnsupportedError("the driver is out of breath")
        return physics(asked)

    chip._staircase = failing
    found = surveyed(chip).found
    assert found.units in {None, 20}
    assert (found.units is None) == (found.missing[0].startswith("units: "))
    assert len(found.missing) == (2 if found.units is None else 1)
    assert found.missing[0].endswith(": the driver is out of breath")
    assert {one.groups for one in found.stairs} <= {one.groups for one in whole.stairs}
    if found.units:
        assert found.missing[0].startswith("staircase: ")
        assert {20, 21} <= {one.groups for one in found.stairs}
    assert found.warp_width == 32


def test_without_a_step_what_was_looked_at_is_kept():
    chip = Silicon()
    chip._staircase = lambda asked: asked.rounds * 64 * 32 / chip.clock
    found = surveyed(chip).found
    assert found.units is None
    assert [stair.groups for stair in found.stairs] == [1 << n for n in range(13)]


def test_a_unit_that_holds_two_groups_counts_double():
    assert surveyed(Silicon(units=14, held=2)).found.units == 28


def test_a_device_without_steps_has_no_count():
    chip = Silicon()
    chip._staircase = lambda asked: asked.rounds * 64 * 32 / chip.clock
    found = surveyed(chip).found
    assert found.units is None
    assert found.resident_groups is None
    assert found.missing[0] == ("units: no number of work-groups takes longer than one")


@pytest.mark.parametrize(
    ("cycles", "clock"), [(4, 1.98e9), (6, 1.683e9), (9, 1.058e9), (18, 1.4e9)]
)
def test_the_clock_needs_nobodys_word(cycles, clock):
    found = surveyed(Silicon(cycles=cycles, clock=clock)).found
    assert found.link_ns == pytest.approx(1e9 * cycles / clock, rel=0.05)


@pytest.mark.parametrize("share", [0.4, 1.0, 1.15])
def test_lanes_times_cycles_do_not_depend_on_the_clock(share):
    chip = Silicon(units=15, clock=share * 1.683e9, cycles=6)
    surveyor = surveyed(chip)
    surveyor.relate(15 * 128 * 2 * chip.clock)
    assert surveyor.found.lane_cycles == pytest.approx(128 * 6, rel=0.05)


@pytest.mark.parametrize("warp", [16, 32, 64])
def test_the_warp_is_seen_by_diverging(warp):
    assert surveyed(Silicon(warp=warp)).found.warp_width == warp


def test_units_without_warps_have_no_width():
    found = surveyed(Silicon(warp=1)).found
    assert found.warp_width is None
    assert found.missing == ("warp width: both paths cost the same at every width",)


@pytest.mark.parametrize("resident", [1, 2, 3, 4, 16])
def test_groups_on_a_unit_are_counted(resident):
    found = surveyed(Silicon(resident=resident)).found
    assert (found.resident_groups, found.resident_bytes) == (resident, 48 << 10)


@pytest.mark.parametrize("size", [256 << 10, 2 << 20, 6 << 20, 48 << 20])
def test_the_last_cache_ends_near_its_size(size):
    chip = Silicon(near=((16 << 10, 20.0), (size, 130.0)), noise=0.003)
    found = surveyed(chip).found
    assert len(found.levels) == 3
    assert found.levels[1].low_bytes <= 1.5 * size
    assert 0.5 * size <= found.levels[1].reaches_bytes <= 3 * size
    assert found.levels[1].hop_ns == pytest.approx(130, rel=0.1)
    assert found.levels[-1].reaches_bytes is None
    assert found.levels[-1].hop_ns == pytest.approx(300, rel=0.15)


def test_no_launch_comes_near_100_ms_on_a_slow_chip():
    chip = Silicon(
        units=132, clock=1.98e9 / 500, near=((32 << 10, 1000.0),), far_ns=4000.0
    )
    surveyed(chip)
    assert chip.longest < 0.1


def test_a_chip_a_hundred_times_slower_takes_under_20_seconds():
    chip = Silicon(units=16, clock=1.98e7, near=((32 << 10, 400.0),), far_ns=2000.0)
    surveyed(chip)
    assert chip.clock_now < 20


def test_a_part_that_fails_is_named_and_the_others_go_on():
    chip = Silicon(
        lacks={
            "residency": UnsupportedError("no room for such groups"),
            "chase": MemoryRefusedError("taking memory failed", "OUT_OF_RESOURCES"),
        }
    )
    found = surveyed(chip).found
    assert found.units == 20
    assert found.warp_width == 32
    assert found.latencies == found.levels == ()
    assert found.missing == ("groups a unit: no room for such groups",)


def test_a_lost_device_ends_it():
    chip = Silicon(lacks={"chain": DeviceLostError("the device no longer answers")})
    surveyor = Surveyor(chip, lambda *_: None, 1 << 30)
    with pytest.raises(DeviceLostError):
        surveyor.survey()
    assert surveyor.found.units == 20


def test_a_measured_h100_has_three_levels():
    # One H100 80GB HBM3, hops in ns by footprint in KiB, as measured with this code.
    curve = {
        4: 21, 6: 22, 8: 22, 11: 22, 16: 23, 23: 24, 32: 25, 45: 26, 64: 29, 90: 32,
        128: 36, 181: 43, 256: 107, 362: 144, 512: 144, 724: 144, 1024: 145,
        2048: 144, 4096: 145, 8192: 144, 16384: 145, 23170: 151, 32768: 264,
        46341: 267, 65536: 345, 92682: 347, 131072: 346, 185364: 346, 262144: 347,
    }  # fmt: skip
    points = [
        Latency(footprint_bytes=kib << 10, hop_ns=float(ns))
        for kib, ns in curve.items()
    ]
    first, second, memory = latency.levels(points)
    # NVIDIA H100 whitepaper: 256 KB of L1 and shared memory a unit, 50 MB of L2 in two
    # partitions, of which one is near.
    assert 180 << 10 <= first.reaches_bytes <= 256 << 10
    assert 20 << 20 <= second.reaches_bytes <= 50 << 20
    assert memory.hop_ns > 2 * second.hop_ns
