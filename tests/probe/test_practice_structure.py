"""The practice card's structure: steps where the silicon has them, published physics.

Published values are named beside each check. No test here waits: time is simulated.
"""

import random
from dataclasses import replace
from itertools import pairwise
from statistics import median

import numpy as np
import pytest

from probe.device import Experiment
from probe.errors import DeviceLostError, MemoryRefusedError, UnsupportedError
from probe.practice.chip import GK107, GP104, Cache, Unit
from probe.practice.conditions import NAMES, open_practice
from probe.practice.experiments import Experiments, cycles, hit_share, hop_seconds
from probe.structure.measure import Surveyor

KIB, MIB = 1 << 10, 1 << 20
LAUNCH_S = 6e-6

# Units: NVIDIA's product pages, 384 / 192 lanes and 1920 / 128.
UNITS = {
    "as-claimed": 15,
    "hot": 15,
    "overheating": 15,
    "busy": 15,
    "relabelled-sibling": 15,
    "lying-driver": 15,
    "unknown-model": 15,
    "mirrored": 2,
    "hollow": 2,
    "spilled": 2,
    "device-lost": 2,
    "honest-after-reflash": 2,
}


def warm(card):
    began = card.now()
    while card.now() < began + 0.05:
        card.experiment(Experiment(kind="staircase", rounds=1024, groups=64))
    return card


def took(card, kind, rounds=256, looks=9, **asked):
    """Return the median time: outliers are rare."""
    one = Experiment(kind=kind, rounds=rounds, **asked)
    return median(card.experiment(one) for _ in range(looks))


def steps(time_of, most):
    """Return the counts of groups after which one more takes a fifth longer."""
    times = [time_of(groups) for groups in range(1, most + 1)]
    return [n for n in range(1, most) if times[n] > 1.15 * times[n - 1]]


@pytest.mark.parametrize(("condition", "units"), UNITS.items())
def test_the_staircase_steps_at_multiples_of_the_silicon_s_units(condition, units):
    with warm(open_practice(condition)) as card:
        times = [
            took(card, "staircase", groups=groups) for groups in range(1, 4 * units + 1)
        ]
    work = [each - LAUNCH_S for each in times]
    for groups, seconds in enumerate(work, start=1):
        stairs = (groups - 1) // units + 1
        assert seconds == pytest.approx(stairs * work[0], rel=0.02)


@pytest.mark.parametrize("condition", ["as-claimed", "mirrored", "lying-driver"])
def test_a_survey_keeps_the_staircase(condition):
    units = UNITS[condition]
    with open_practice(condition) as card:
        surveyor = Surveyor(card, lambda *_: None, 2 << 30)
        surveyor.survey()
    found = {stair.groups: stair.seconds for stair in surveyor.found.stairs}
    assert surveyor.found.units == units
    assert {1, units, units + 1, 2 * units, 2 * units + 1} <= found.keys()
    assert found[units + 1] / found[units] == pytest.approx(2, rel=0.05)
    assert found[2 * units + 1] / found[units] == pytest.approx(3, rel=0.05)
    assert found[2 * units] / found[units + 1] == pytest.approx(1, rel=0.02)


def test_no_lie_moves_the_step():
    with open_practice("lying-driver") as card:
        assert {claim.compute_units for claim in card.facts.claims[:1]} == {20}
        assert card.facts.claims[1].cores == 2560  # GTX 1080: NVIDIA's product page
        warm(card)
        found = steps(lambda n: took(card, "staircase", groups=n), 40)
    assert found == [15, 30]


@pytest.mark.parametrize(
    ("condition", "slots", "size"),
    [
        # Shared memory of a multiprocessor 48 KiB (3.0) and 96 KiB (6.1), resident
        # blocks 16 and 32 (CUDA C++ Programming Guide, technical specifications).
        ("mirrored", 1, 48 * KIB),
        ("mirrored", 3, 16 * KIB),
        ("mirrored", 16, 128),
        ("as-claimed", 2, 48 * KIB),
        ("as-claimed", 2, 48 * KIB - 64),
        ("as-claimed", 3, 32 * KIB),
        ("as-claimed", 32, 0),
    ],
)
def test_groups_are_resident_as_far_as_local_memory_reaches(condition, slots, size):
    units = UNITS[condition]
    with warm(open_practice(condition)) as card:
        fitting, more, twice, third = (
            took(card, "residency", rounds=1024, groups=groups, size_bytes=size)
            for groups in (
                units * slots,
                units * slots + 1,
                2 * units * slots,
                2 * units * slots + 1,
            )
        )
    assert more / fitting == pytest.approx(2, rel=0.2)
    assert twice / fitting == pytest.approx(2, rel=0.2)
    assert third > 1.15 * twice


@pytest.mark.parametrize(
    ("condition", "cycles_a_link", "mhz"),
    [
        # Dependent multiply-add: 9 cycles on Kepler (Volkov, 2016, from memory), 6 on
        # Pascal (Jia et al., arXiv:1804.06826, from memory). Clocks: product pages.
        ("honest-after-reflash", 9, 1058),
        ("mirrored", 9, 1058),
        ("as-claimed", 6, 1683),
        ("relabelled-sibling", 6, 1683),
    ],
)
def test_a_chain_tells_the_clock(condition, cycles_a_link, mhz):
    with warm(open_practice(condition)) as card:
        long, short = (took(card, "chain", rounds=n) for n in (4096, 2048))
    link = (long - short) / (2048 * 128)
    assert link * mhz * 1e6 == pytest.approx(cycles_a_link, rel=0.02)
    assert 2 * short - long == pytest.approx(LAUNCH_S, abs=20e-6)


def test_a_hot_card_s_chain_tells_the_lowered_clock():
    with warm(open_practice("overheating")) as card:
        seconds = took(card, "chain", rounds=4096)
        sensed = card.sense("structure").core_mhz
    assert 0.6 * 1683 < sensed < 0.8 * 1683
    assert seconds == pytest.approx(4096 * 128 * 6 / (sensed * 1e6), rel=0.02)


@pytest.mark.parametrize("condition", ["as-claimed", "mirrored"])
def test_both_paths_add_up_below_the_width_of_a_warp(condition):
    # Warp of 32: CUDA C++ Programming Guide, SIMT architecture.
    with warm(open_practice(condition)) as card:
        times = {
            width: took(card, "divergence", groups=UNITS[condition], width=width)
            for width in (1, 2, 4, 8, 16, 24, 32, 48, 64, 1024)
        }
    alone = times[1024] - LAUNCH_S
    for width in (1, 2, 4, 8, 16, 24):
        assert times[width] - LAUNCH_S == pytest.approx(2 * alone, rel=0.03)
    for width in (32, 64):
        assert times[width] - LAUNCH_S == pytest.approx(alone, rel=0.03)
    # Turns of 48: of three warps the second takes both paths, 10 of 32 warps.
    assert times[48] - LAUNCH_S == pytest.approx((1 + 10 / 32) * alone, rel=0.03)


def walked(card, size):
    """Return nanoseconds a hop, after one walk through."""
    hops = size // 128
    card.experiment(Experiment(kind="chase", rounds=hops, size_bytes=size))
    return 1e9 * took(card, "chase", rounds=100_000, size_bytes=size) / 100_000


@pytest.mark.parametrize(
    ("condition", "plateaus"),
    [
        # GP104: 24 KiB near (82 cycles), 2 MiB (216); columns P4 of Jia et al., table
        # 3.1. GK107: level 2 of 256 KiB only, K80 about 200 cycles. From memory.
        (
            "as-claimed",
            [(8 * KIB, 82 / 1.683), (MIB, 216 / 1.683), (128 * MIB, 298)],
        ),
        ("mirrored", [(8 * KIB, 200 / 1.058), (240 * KIB, 200 / 1.058)]),
        ("mirrored", [(64 * MIB, 389)]),
    ],
)
def test_a_hop_takes_the_latency_of_what_holds_the_footprint(condition, plateaus):
    with warm(open_practice(condition)) as card:
        for size, hop_ns in plateaus:
            assert walked(card, size) == pytest.approx(hop_ns, rel=0.03)


def test_memory_answers_within_published_bounds():
    # Genuine discrete cards: 200 to 700 ns (Mei and Chu, IEEE TPDS 28, 2017; Luo et
    # al., arXiv:2402.13499; from memory).
    for chip in (GP104, GK107):
        assert 200e-9 < hop_seconds(chip, 1 << 29, chip.clock_mhz) < 700e-9


def test_the_curve_never_falls_and_has_no_cliff():
    for chip in (GP104, GK107):
        sizes = [int(4096 * 2 ** (step / 8)) for step in range(8 * 14)]
        hops = [hop_seconds(chip, size, chip.clock_mhz) for size in sizes]
        pairs = list(pairwise(hops))
        assert all(before <= after * (1 + 1e-9) for before, after in pairs)
        assert max(after / before for before, after in pairs) < 1.35


def test_a_walk_not_made_before_misses_every_cache():
    with warm(open_practice()) as card:
        first = Experiment(kind="chase", rounds=8192, size_bytes=MIB)
        cold, near = card.experiment(first), card.experiment(first)
        other = Experiment(kind="chase", rounds=64, size_bytes=8 * MIB)
        card.experiment(other)
        again = card.experiment(first)
    assert cold > 1.5 * near
    assert again > 1.5 * near


@pytest.mark.parametrize("times", [0.5, 1.0, 1.1, 1.5, 2.0, 4.0])
def test_hits_are_those_of_random_replacement(times):
    """A cache of 512 lines, replaced at random, walked in a cycle until steady."""
    lines, dice = 512, random.Random(7)
    places, holds = [None] * lines, {}
    footprint = int(lines * times)
    hits = hops = 0
    for hop in range(60 * footprint):
        line = hop % footprint
        counted = hop >= 30 * footprint
        hops += counted
        if line in holds:
            hits += counted
            continue
        empty = len(holds) < lines
        place = len(holds) if empty else dice.randrange(lines)
        if not empty:
            del holds[places[place]]
        places[place] = line
        holds[line] = place
    assert hit_share(times) == pytest.approx(hits / hops, abs=0.03)


# The same model with the figures of an H100 SXM: 132 units of 128 lanes (NVIDIA's
# whitepaper), 228 KiB shared less 1 KiB a group, 4 cycles a link (CUDA C++ Programming
# Guide), against times measured on one such card at 1.95 GHz.
H100 = replace(
    GP104,
    units=132,
    unit=Unit(link_cycles=4, warp=32, items=2048, groups=32, local_bytes=224 * KIB),
    caches=(
        Cache(size_bytes=192 * KIB, cycles=43),
        Cache(size_bytes=25 * MIB, cycles=287),
    ),
    memory_ns=156,
    achieved=GP104.achieved | {"fp32": 0.985},
)
MEASURED_MHZ = 1950


@pytest.mark.parametrize(
    ("groups", "measured_us"),
    [(1, 141.2), (132, 141.2), (133, 276), (264, 276), (265, 412), (396, 412)],
)
def test_the_model_gives_an_h100_s_measured_stairs(groups, measured_us):
    asked = Experiment(kind="staircase", rounds=128, groups=groups)
    seconds = LAUNCH_S + cycles(H100, asked) / (MEASURED_MHZ * 1e6)
    assert 1e6 * seconds == pytest.approx(measured_us, rel=0.03)


def test_the_model_gives_an_h100_s_measured_link_and_residency():
    chain = cycles(H100, Experiment(kind="chain", rounds=1000))
    assert chain / 128_000 / (MEASURED_MHZ * 1e-3) == pytest.approx(2.05, rel=0.01)
    fit, more = (
        cycles(
            H100,
            Experiment(kind="residency", rounds=9, groups=n, size_bytes=48 * KIB),
        )
        for n in (528, 529)
    )
    assert more == 2 * fit


def test_noise_is_small_and_outliers_are_rare_and_upward():
    with warm(open_practice()) as card:
        asked = Experiment(kind="chain", rounds=4096)
        times = np.array([card.experiment(asked) for _ in range(3000)])
    times /= np.median(times)
    late = times > 1.05
    assert 0.01 < late.mean() < 0.035
    assert np.median(times[late]) == pytest.approx(1.3, rel=0.01)
    assert times[~late].std() == pytest.approx(0.003, rel=0.1)
    assert times.min() > 0.98


def test_time_passes_and_the_card_warms():
    with open_practice() as card:
        began, cool = card.now(), card.sense("idle").temperature_c
        asked = Experiment(kind="staircase", rounds=100_000, groups=15)
        whole = sum(card.experiment(asked) for _ in range(200))
        assert whole < card.now() - began < whole + 200 * 1e-4
        assert card.sense("structure").temperature_c > cool + 5
        assert card.sense("structure").utilisation_percent == 0


def test_experiments_leave_the_noise_of_other_launches_alone():
    def burst(before):
        with open_practice() as card:
            for _ in range(before):
                card.experiment(Experiment(kind="chain", rounds=1))
            card.settle(100)
            return card.burst("memory_read", 200).seconds

    assert burst(0) == pytest.approx(burst(3), rel=1e-5)


@pytest.mark.parametrize("condition", NAMES)
def test_the_same_experiments_give_the_same_times(condition):
    asked = [
        Experiment(kind="staircase", rounds=9, groups=20),
        Experiment(kind="residency", rounds=9, groups=40, size_bytes=1024),
        Experiment(kind="chain", rounds=9),
        Experiment(kind="chase", rounds=999, size_bytes=MIB),
        Experiment(kind="divergence", rounds=9, groups=3, width=16),
    ]

    def times():
        with open_practice(condition) as card:
            return [card.experiment(each) for each in asked * 3]

    first = times()
    assert first == times()
    assert all(seconds > 0 for seconds in first)


def test_conditions_differ_in_their_noise():
    asked = Experiment(kind="chain", rounds=9)
    times = set()
    for name in NAMES:
        with open_practice(name) as card:
            times.add(card.experiment(asked))
    assert len(times) == len(NAMES)


def test_what_cannot_run_is_said():
    with open_practice() as card:
        assert card.local_bytes() == 48 * KIB
        asked = Experiment(kind="residency", rounds=1, size_bytes=48 * KIB + 1)
        with pytest.raises(UnsupportedError) as error:
            card.experiment(asked)
        assert str(error.value) == (
            "GeForce GTX 1070: a work-group holds at most 49152 bytes of local memory, "
            "not 49153"
        )
        vast = Experiment(kind="chase", rounds=1, size_bytes=4 << 30)
        with pytest.raises(MemoryRefusedError):
            card.experiment(vast)
        card.close()
        with pytest.raises(DeviceLostError):
            card.experiment(Experiment(kind="chain", rounds=1))
    with open_practice("refused") as card:
        block = card.take(0, 0, 2 << 30)
        chase = Experiment(kind="chase", rounds=1, size_bytes=MIB)
        with pytest.raises(MemoryRefusedError):
            card.experiment(chase)
        card.release([block])
        assert card.experiment(chase) > 0


def test_a_chase_holds_no_memory_afterwards():
    with open_practice() as card:
        used = card.sense("idle").memory_used_bytes
        card.experiment(Experiment(kind="chase", rounds=9, size_bytes=100 * MIB + 7))
        assert card.sense("idle").memory_used_bytes == used


def test_load_follows_the_units_that_work():
    bench = Experiments(GP104, np.random.default_rng(1))
    few, all_of_them = (
        bench.load(Experiment(kind="staircase", rounds=1, groups=n)) for n in (1, 15)
    )
    assert 0 < few < all_of_them == 1.0
