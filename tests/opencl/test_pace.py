"""No launch plans to stay longer than 100 ms, however slow the card: simulated.

The simulated card needs a fixed time for each launch and its memory's time for each
byte; its clock is the only one that counts here.
"""

from dataclasses import dataclass
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from probe.device import CELL_BYTES, Block, Tagging
from probe.opencl import sweeps
from probe.opencl.sweeps import LAUNCH_SECONDS, SMALLEST_LAUNCH, Pace, Sweeper

MIB, GIB = 2**20, 2**30
LIMIT = 0.1
H100 = 3.2e12
"""Bytes a second that an H100 writes (the datasheet gives 3.35 TB/s)."""
TAGGING = Tagging(nonce=1, complemented=False)
ACTIONS = ("write", "verify", "turn")


@dataclass
class Clock:
    seconds: float = 0.0

    def perf_counter(self):
        return self.seconds


class Done:
    """An event: it ran from one moment to another."""

    def __init__(self, clock, start, end):
        self.clock, self.end = clock, end
        nano = (round(moment * 1e9) for moment in (start, end))
        self.profile = SimpleNamespace(**dict(zip(("start", "end"), nano, strict=True)))

    def wait(self):
        self.clock.seconds = max(self.clock.seconds, self.end)


class Simulated(Sweeper):
    """A sweeper whose launches cost what the card's speed says."""

    def __post_init__(self):
        self.pace = {name: Pace() for name in ACTIONS}
        self.launches = []
        self.covered = {}
        self.free_at = 0.0

    def run_at(self, rate, overhead, clock):
        self.rate, self.overhead, self.clock = rate, overhead, clock
        self.queue = SimpleNamespace(flush=lambda: None)
        return self

    def _enqueue(self, action, launch, tagging):
        ways = 2 if action == "turn" else 1
        rate = self.rate(action, launch) if callable(self.rate) else self.rate
        seconds = self.overhead + launch.cells * CELL_BYTES * ways / rate
        self.launches.append((action, launch, seconds))
        spans = self.covered.setdefault((action, launch.block.number), [])
        spans.append((launch.first, launch.cells))
        start = max(self.clock.seconds, self.free_at)
        self.free_at = start + seconds
        return Done(self.clock, start, self.free_at)

    def _clear(self, rows):
        self.cleared = len(self.launches)

    def _counters(self, first, rows):
        row = [0] * sweeps.FOUND
        row[0] = sum(
            launch.cells
            for action, launch, _ in self.launches[self.cleared :]
            if action != "write"
        )
        return [row] * rows


@pytest.fixture
def card(monkeypatch):
    """Return a function: a simulated card of that speed."""

    def made(rate, overhead=1e-5):
        return simulated(monkeypatch, rate, overhead)

    return made


def simulated(monkeypatch, rate, overhead):
    clock = Clock()
    monkeypatch.setattr(sweeps, "time", clock)
    made = Simulated(None, None, None, None, "simulated")
    return made.run_at(rate, overhead, clock)


def run(card, sizes, actions=ACTIONS):
    """Take the blocks and sweep over them; the launches of the sweeps."""
    blocks = []
    for number, size in enumerate(sizes):
        first = sum(each.cells for each in blocks)
        blocks.append(Block(number, first, size))
        card.touch(blocks[-1])
    card.launches.clear()
    card.covered.clear()
    for action in actions:
        swept = []
        total = card.sweep(action, blocks, TAGGING, swept.append)
        assert [each.block for each in swept] == blocks
        assert total > 0
    for action in actions:
        for block in blocks:
            covers(card.covered[action, block.number], block.cells)
    return card.launches


def covers(spans, cells):
    """Hold the launches to cover a block's cells, each once, in whole tiles."""
    at = 0
    for first, count in sorted(spans):
        assert first == at
        assert count * CELL_BYTES % SMALLEST_LAUNCH == 0
        at += count
    assert at == cells


SLOW = (H100 / 500, 4e9, 1e9, 0.5e9, 0.2e9)


@pytest.mark.parametrize("size", [MIB, 32 * MIB, 128 * MIB, GIB])
@pytest.mark.parametrize("rate", SLOW)
def test_a_card_500_times_slower_never_works_longer_than_100_ms(card, rate, size):
    launches = run(card(rate), [size] * 6)
    assert max(seconds for _, _, seconds in launches) < LIMIT


@pytest.mark.parametrize("overhead", [0.0, 1e-6, 1e-4, 5e-3])
@pytest.mark.parametrize("rate", [*SLOW, 3e10, 3e11, H100])
def test_not_on_any_card(card, rate, overhead):
    launches = run(card(rate, overhead), [256 * MIB, 256 * MIB, 64 * MIB, 3 * MIB])
    assert max(seconds for _, _, seconds in launches) < LIMIT


def test_a_fast_card_gets_few_launches(card):
    launches = run(card(H100), [GIB] * 40)
    assert len(launches) == 3 * 40  # one for each block and sweep


def test_a_fast_card_waits_once_a_batch(card):
    fast = card(H100)
    waits = []
    blocks = [Block(n, n * GIB // CELL_BYTES, GIB) for n in range(40)]
    for block in blocks:
        fast.touch(block)
    batch = fast._batch

    def counted(*arguments):
        count, seconds = batch(*arguments)
        waits.append(count)
        return count, seconds

    fast._batch = counted
    fast.sweep("verify", blocks, TAGGING, lambda _: None)
    assert sum(waits) == 40
    assert len(waits) <= 4


def test_a_turn_walks_down_within_the_block(card):
    slow = card(1e9)
    run(slow, [128 * MIB], ("turn",))
    firsts = [first for first, _ in slow.covered["turn", 0]]
    assert firsts == sorted(firsts, reverse=True)
    slow = card(1e9)
    run(slow, [128 * MIB], ("verify",))
    firsts = [first for first, _ in slow.covered["verify", 0]]
    assert firsts == sorted(firsts)


def test_a_card_that_slows_down_is_followed(card):
    # Hot, throttled to a tenth in mid-sweep: at most the block under way runs on.
    speed = {"now": 6.4e10}
    slow = card(lambda action, launch: speed["now"] if launch.row < 2 else 6.4e9)
    launches = run(slow, [GIB // 4] * 12, ("verify",))
    late = [seconds for _, launch, seconds in launches if launch.row >= 2]
    assert sum(seconds > LIMIT for seconds in late) == 0


def test_a_slow_card_that_slows_down_more_is_followed_within_a_block(card):
    # One launch was planned before anyone could know; the next is short again.
    speed = iter([1e9] * 10 + [1.5e8] * 500)
    slow = card(1e9)
    blocks = [Block(0, 0, GIB)]
    slow.touch(blocks[0])
    slow.rate = lambda action, launch: next(speed)
    slow.launches.clear()
    slow.sweep("verify", blocks, TAGGING, lambda _: None)
    assert sum(seconds > LIMIT for _, _, seconds in slow.launches) == 1


@given(
    rate=st.floats(2e8, 4e12),
    overhead=st.floats(0, 1e-3),
    sizes=st.lists(st.sampled_from([1, 2, 8, 64, 256]), min_size=1, max_size=8),
)
def test_any_speed_any_blocks(rate, overhead, sizes):
    with pytest.MonkeyPatch.context() as patch:
        launches = run(
            simulated(patch, rate, overhead), [mib * MIB for mib in sorted(sizes)[::-1]]
        )
        assert max(seconds for _, _, seconds in launches) < LIMIT


# ---------------------------------------------------------------------- the pace alone


@given(st.floats(0, 1e14))
def test_a_launch_is_planned_for_its_time(rate):
    pace = Pace(rate)
    size = pace.launch_bytes()
    assert size & (size - 1) == 0
    assert size == SMALLEST_LAUNCH or size <= rate * LAUNCH_SECONDS < 2 * size


def test_one_measurement_never_raises_the_pace_without_limit():
    pace = Pace()
    pace.learn(MIB, 1.0)
    assert pace.rate == MIB
    pace.learn(MIB, 0.0)
    assert pace.rate == 16 * MIB
    pace.learn(MIB, 4.0)
    assert pace.rate == MIB / 4


def test_the_first_block_shows_every_action_and_later_ones_only_speed_up(card):
    made = card(1e9)
    made.touch(Block(0, 0, MIB))
    assert [action for action, _, _ in made.launches] == [*ACTIONS, *ACTIONS]
    made.touch(Block(1, MIB // CELL_BYTES, MIB))
    assert len(made.launches) == 7
    rate = made.pace["write"].rate
    made.overhead = 1.0
    made.touch(Block(2, 2 * MIB // CELL_BYTES, MIB))
    assert made.pace["write"].rate == rate


def test_a_block_never_straddles_the_low_halves_end(card):
    with pytest.raises(AssertionError):
        card(1e9).touch(Block(0, 2**32 - 1, MIB))
