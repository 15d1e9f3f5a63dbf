"""The practice card as a device: rates, heat, refusals, and the same numbers each time.

Published values are named beside each check. No test here waits: time is simulated.
"""

from dataclasses import asdict

import pytest

from probe.device import Tagging
from probe.errors import DeviceLostError, MemoryRefusedError, UnsupportedError
from probe.practice.conditions import NAMES, open_practice

GIB, MIB = 1 << 30, 1 << 20
PLAIN = Tagging(nonce=0x1122_3344_5566_7788, complemented=False)


def filled(card, size=256 * MIB, least=1 * MIB):
    """Take blocks, halving their size, until the driver gives no more."""
    blocks, cell = [], 0
    while size >= least:
        try:
            blocks.append(card.take(len(blocks), cell, size))
        except MemoryRefusedError:
            size //= 2
        else:
            cell += blocks[-1].cells
    return blocks


def swept(card, action, blocks, tagging=PLAIN):
    found = []
    card.sweep(action, blocks, tagging, found.append)
    return found


def rate(card, workload, scale=200):
    """Return operations or bytes a second, after warming up for 50 ms."""
    began = card.now()
    while card.now() < began + 0.05:
        card.burst(workload, scale)
    burst = card.burst(workload, scale)
    return burst.work / burst.seconds


def test_clocks_rise_within_some_launches_and_fall_at_rest():
    with open_practice() as card:
        first = card.burst("fp32", 200)
        warm = rate(card, "fp32")
        card.settle(10)
        rested = card.burst("fp32", 200)
    assert 0.75 < first.work / first.seconds / warm < 0.95
    assert 0.75 < rested.work / rested.seconds / warm < 0.95


@pytest.mark.parametrize(
    ("condition", "workload", "theory", "low", "high"),
    [
        # GeForce GTX 1070: 15 units x 128 lanes x 2 x 1683 MHz = 6.463 TFLOP/s, 256 bit
        # x 8008 MT/s / 8 = 256.3 GB/s (NVIDIA's product page). Shares: multiply-adds
        # 0.93 to 0.97 (Jia et al., arXiv:1804.06826, from memory); GDDR5 of that
        # generation 0.78 to 0.86 (FluidX3D's table of results).
        ("as-claimed", "fp32", 6.463e12, 0.93, 0.97),
        ("as-claimed", "memory_read", 256.3e9, 0.76, 0.90),
        ("as-claimed", "memory_write", 256.3e9, 0.76, 0.90),
        ("as-claimed", "memory_copy", 256.3e9, 0.76, 0.90),
        # fp64 1:32 at compute capability 6.1, 1:24 at 3.0 (CUDA C++ Programming Guide,
        # throughput of native arithmetic instructions).
        ("as-claimed", "fp64", 6.463e12 / 32, 0.93, 1.0),
        ("honest-after-reflash", "fp64", 812.5e9 / 24, 0.93, 1.0),
        # GeForce GTX 650: 2 x 192 x 2 x 1058 MHz = 812.5 GFLOP/s, 128 bit x 5000 MT/s
        # / 8 = 80 GB/s. Kepler reaches 132 to 178 of 192 lanes (Lai and Seznec, 2013).
        ("honest-after-reflash", "fp32", 812.5e9, 132 / 192, 178 / 192),
        ("honest-after-reflash", "memory_read", 80e9, 0.62, 0.85),
        ("mirrored", "fp32", 812.5e9, 132 / 192, 178 / 192),
        # PCI Express 3.0 x16: 15.75 GB/s, pinned copies "approximately 12 GB/s" (CUDA
        # C++ Best Practices Guide, Pinned Memory).
        ("as-claimed", "link_up", 12e9, 0.97, 1.03),
        ("as-claimed", "link_down", 12e9, 0.97, 1.03),
    ],
)
def test_rates_lie_in_the_published_bands(condition, workload, theory, low, high):
    with open_practice(condition) as card:
        assert low <= rate(card, workload) / theory <= high


@pytest.mark.parametrize("condition", NAMES)
def test_the_smallest_launch_is_short_and_work_grows_with_scale(condition):
    with open_practice(condition) as card:
        small, large = card.burst("fp32", 1), card.burst("fp32", 8)
    assert 0 < small.seconds < 0.02
    assert large.work == 8 * small.work
    assert small.seconds < large.seconds < 9 * small.seconds


def test_heat_slows_the_hot_card_and_its_sensors_say_why():
    with open_practice("overheating") as hot, open_practice() as cool:
        seen = []
        share = rate(hot, "fp32") / rate(cool, "fp32")
        hot.burst("fp32", 200, lambda: seen.append(hot.sense("fp32")))
        _, _, slowdown, limit = hot.limits()
    assert 0.62 < share < 0.78
    assert seen[0].throttle == (
        "thermal slowdown (software)",
        "thermal slowdown (hardware)",
    )
    assert seen[0].temperature_c >= slowdown
    assert 0.62 < seen[0].core_mhz / 1683 < 0.78
    assert seen[0].power_w < limit
    assert seen[0].utilisation_percent == 100


def test_a_genuine_card_warms_under_load_and_cools_at_rest():
    with open_practice() as card:
        start = card.sense("idle").temperature_c
        for _ in range(400):
            card.burst("fp32", 20_000)
        worked = card.sense("fp32")
        card.settle(300)
        rested = card.sense("idle")
    assert start < worked.temperature_c < 83
    assert worked.throttle == ()
    assert rested.temperature_c < worked.temperature_c - 10


@pytest.mark.parametrize("condition", ["as-claimed", "mirrored"])
def test_the_link_rests_slower_than_it_works(condition):
    # NVIDIA's product pages: GTX 1070 and GTX 650 have a PCI Express 3.0 link.
    with open_practice(condition) as card:
        resting = card.sense("idle")
        for _ in range(3):
            card.burst("fp32", 2_000)
        working = card.sense("fp32")
        card.settle(10)
        again = card.sense("idle")
    assert [s.link_generation for s in (resting, working, again)] == [1, 3, 1]
    assert {s.link_width for s in (resting, working, again)} == {16}


def test_only_the_unstable_card_computes_wrong():
    for name in NAMES:
        with open_practice(name) as card:
            bursts = [card.burst("fp32", 20) for _ in range(10)]
            other = card.burst("fp64", 20)
        assert other.wrong == 0
        assert all(burst.wrong < burst.checked / 100 for burst in bursts)
        assert any(burst.wrong for burst in bursts) == (name == "unstable")


def test_old_silicon_says_what_it_lacks():
    with open_practice("mirrored") as card:
        reason = "its driver offers no fp16 (cl_khr_fp16)"
        assert card.supports("fp16") == reason
        assert card.supports("fp64") is None
        with pytest.raises(
            UnsupportedError, match="GeForce GTX 1070: its driver offers no"
        ):
            card.burst("fp16", 1)
    with open_practice() as card:
        assert card.supports("fp16") is None


def test_meanwhile_is_called_once_in_the_middle_of_the_launch():
    with open_practice() as card:
        times = [card.now()]
        burst = card.burst("fp32", 100, lambda: times.append(card.now()))
        times.append(card.now())
    assert len(times) == 3
    assert times[0] < times[1] < times[2]
    assert times[2] - times[1] == pytest.approx(burst.seconds / 2)


@pytest.mark.parametrize(
    ("condition", "held", "proven"),
    [
        ("as-claimed", 8 * GIB - 64 * MIB, 8 * GIB - 64 * MIB),
        ("mirrored", 8 * GIB - 64 * MIB, 2 * GIB),
        ("hollow", 8 * GIB - 64 * MIB, 2 * GIB),
        ("spilled", 8 * GIB - 64 * MIB, 8 * GIB - 64 * MIB),
        ("scrambled", 8 * GIB - 64 * MIB, (8 * GIB - 64 * MIB) * 7 // 8),
        ("refused", 2 * GIB, 2 * GIB),
        ("honest-after-reflash", 2 * GIB - 32 * MIB, 2 * GIB - 32 * MIB),
        ("busy", 3212 * MIB, 3212 * MIB),
    ],
)
def test_exactly_the_real_storage_survives(condition, held, proven):
    with open_practice(condition) as card:
        blocks = filled(card)
        assert sum(block.size_bytes for block in blocks) == held
        assert card.facts.free_bytes - held < (
            6 * GIB if condition == "refused" else MIB
        )
        swept(card, "write", blocks)
        intact = sum(each.census.intact for each in swept(card, "verify", blocks))
        assert intact * 16 == proven
        turned = swept(card, "turn", blocks[::-1])
        assert sum(each.census.intact for each in turned) * 16 == proven


def test_what_the_pc_serves_is_as_slow_as_the_link():
    with open_practice("spilled") as card:
        blocks = filled(card)
        found = swept(card, "write", blocks)
    near = [each for each in found if each.block.handle < 2 * GIB]
    far = [each for each in found if each.block.handle >= 2 * GIB]
    fastest_far = max(each.block.size_bytes / each.seconds for each in far)
    slowest_near = min(each.block.size_bytes / each.seconds for each in near)
    # PCI Express 3.0 x16 carries at most 15.75 GB/s.
    assert fastest_far < 15.75e9
    assert slowest_near > 4 * fastest_far


def test_done_hears_of_every_block_and_times_add_up():
    with open_practice() as card:
        blocks = filled(card)[:5]
        began = card.now()
        found = []
        whole = card.sweep("write", blocks, PLAIN, found.append)
        assert [each.block for each in found] == blocks
        assert all(each.census is None for each in found)
        assert whole == pytest.approx(sum(each.seconds for each in found))
        assert whole <= card.now() - began < whole + 1e-3


def test_eighty_gib_in_one_mib_blocks_are_swept_exactly():
    with open_practice("mirrored", claimed=80 * GIB) as card:
        blocks = filled(card)
        swept(card, "write", blocks)
        found = swept(card, "verify", blocks)
    assert sum(each.census.intact for each in found) * 16 == 20 * GIB
    first = found[0].census
    assert (first.foreign_at, first.foreign_cell) == (0, 60 * GIB // 16)


def test_the_driver_refuses_in_its_own_words():
    with open_practice("refused") as card:
        filled(card)
        with pytest.raises(MemoryRefusedError) as refusal:
            card.take(99, 0, MIB)
        assert str(refusal.value) == (
            "GeForce GTX 1070: the driver gave no further block of 1.00 MiB beside the "
            "2.00 GiB it has given; ask for a smaller one "
            "(CL_MEM_OBJECT_ALLOCATION_FAILURE)"
        )
    with open_practice() as card:
        assert card.facts.largest_block_bytes == 2 * GIB
        for size in (2 * GIB + 16, 24, 0):
            with pytest.raises(MemoryRefusedError) as refusal:
                card.take(0, 0, size)
            assert refusal.value.code == "CL_INVALID_BUFFER_SIZE"


def test_released_memory_is_given_again():
    with open_practice("refused") as card:
        blocks = filled(card)
        card.release(blocks[1:3])
        again = [card.take(50 + n, 0, 256 * MIB) for n in range(2)]
        assert [each.handle for each in again] == [each.handle for each in blocks[1:3]]
        with pytest.raises(MemoryRefusedError):
            card.take(60, 0, MIB)


def test_the_lost_device_answers_nothing_more():
    card = open_practice("device-lost")
    blocks = filled(card)
    found = []
    with pytest.raises(DeviceLostError) as lost:
        card.sweep("write", blocks, PLAIN, found.append)
    assert str(lost.value) == (
        "GeForce GTX 1070: the device no longer answers; restart the PC before testing "
        "it again (CL_DEVICE_NOT_AVAILABLE)"
    )
    assert sum(each.block.size_bytes for each in found) == 2 * GIB
    for ask in (
        lambda: card.burst("fp32", 1),
        lambda: card.take(0, 0, MIB),
        lambda: card.release(blocks),
        lambda: card.settle(1),
        lambda: card.sense("idle"),
        lambda: card.sweep("verify", blocks[:1], PLAIN, found.append),
    ):
        with pytest.raises(DeviceLostError):
            ask()
    card.close()


def test_cards_without_a_sensor_give_no_reading():
    with open_practice("unknown-model") as card:
        assert card.sense("idle") is None
        missing = "no sensor interface answers for this card"
        assert card.limits() == (None, missing, None, None)
    with open_practice("honest-after-reflash") as card:
        sample = card.sense("idle")
        assert sample.temperature_c is not None
        assert sample.power_w is sample.utilisation_percent is None


@pytest.mark.parametrize("condition", NAMES)
def test_the_same_calls_give_the_same_numbers(condition):
    def numbers():
        with open_practice(condition) as card:
            blocks = filled(card)[:4]
            found = swept(card, "write", blocks) + swept(card, "verify", blocks)
            bursts = [card.burst("fp32", scale) for scale in (1, 10, 100)]
            sample = card.sense("idle")
            return [asdict(each) for each in [*found, *bursts]], sample, card.now()

    assert numbers() == numbers()
