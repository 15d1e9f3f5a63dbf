"""The traffic kernels against numpy; corruption between write and check is counted."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from opencl_parts import CELLS, MIB, card_of, held, plant

from probe.opencl import traffic
from probe.opencl.traffic import LINK_BYTES, content

pytestmark = pytest.mark.opencl

WORKLOADS = ("memory_write", "memory_read", "memory_copy", "link_up", "link_down")


@pytest.fixture
def card(device):
    with card_of(device) as opened:
        yield opened


@pytest.fixture(scope="module")
def shared(device):
    """Return a card that keeps what earlier bursts left."""
    with card_of(device) as opened:
        yield opened


@pytest.fixture
def moves(card):
    return card._moves()


def rows_of(seed, count, cells=CELLS):
    """Return that many different cells, the outermost among them."""
    rng = np.random.default_rng(seed)
    inner = rng.choice(np.arange(1, cells - 1), max(count - 2, 0), replace=False)
    return [0, cells - 1, *inner.tolist()][:count]


def corrupt(card, buffer, rows, seed=0):
    """Flip one bit in each of the cells."""
    rng = np.random.default_rng(seed)
    words = held(card, buffer)
    for row in rows:
        words[row, rng.integers(4)] ^= np.uint32(1 << int(rng.integers(32)))
    plant(card, buffer, words)


def between(monkeypatch, moves, what):
    """Call `what(number of the buffer)` after the launch, before the check."""
    check = moves._check

    def spoilt_check(number, size):
        what(number)
        return check(number, size)

    monkeypatch.setattr(moves, "_check", spoilt_check)


# ---------------------------------------------------------------------------- content


@pytest.mark.parametrize("scale", [1, 8])
def test_writing_gives_the_content(card, moves, scale):
    for _ in range(3):  # another salt each time
        burst = card.burst("memory_write", scale)
        assert (burst.checked, burst.wrong) == (scale * CELLS, 0)
        size, salt = moves.filled[0]
        assert size == scale * MIB
        want = content(scale * CELLS, salt)
        assert np.array_equal(held(card, moves.buffers[0]), want)


def test_copying_gives_the_first_buffer(card, moves):
    card.burst("memory_write", 4)
    burst = card.burst("memory_copy", 4)
    assert burst.wrong == 0
    first, second = (held(card, buffer) for buffer in moves.buffers)
    assert np.array_equal(first, second)


@given(salt=st.integers(0, 2**32 - 2))
def test_content_tells_elements_and_salts_apart(salt):
    rows, others = content(512, salt), content(512, salt + 1)
    assert len(np.unique(rows[:, 0])) == len(np.unique(rows[:, 1])) == 512
    assert (rows[:, 0] != others[:, 0]).all()
    assert (rows[:, 2:] == ~rows[:, :2]).all()


@pytest.mark.parametrize("workload", WORKLOADS)
def test_what_is_moved_is_what_is_counted(card, moves, workload):
    ways = 2 if workload == "memory_copy" else 1
    for scale, mib in ((1 / 64, 1), (1, 1), (3, 2), (4, 4), (7.9, 4), (16, 16)):
        burst = card.burst(workload, scale)
        assert burst.work == ways * mib * MIB
        assert burst.checked == mib * CELLS
        assert burst.wrong == 0
        assert burst.seconds > 0


@pytest.mark.parametrize("workload", ["link_up", "link_down"])
def test_a_link_launch_is_never_larger_than_its_buffer(card, workload):
    assert card.burst(workload, 4096).work == LINK_BYTES
    assert card.burst(workload, 1).work == MIB


def test_a_smaller_launch_after_a_larger_one(card, moves):
    # What the larger left beyond the smaller must not be taken for its own.
    for scale in (8, 2, 8, 1, 4):
        for workload in WORKLOADS:
            assert card.burst(workload, scale).wrong == 0


@given(
    st.lists(
        st.tuples(st.sampled_from(WORKLOADS), st.sampled_from([1, 2, 4])), max_size=12
    )
)
def test_any_order_of_workloads_is_healthy(shared, order):
    assert all(shared.burst(*each).wrong == 0 for each in order)


def test_one_launch_a_burst_and_one_meanwhile(card, monkeypatch):
    for workload in WORKLOADS:
        calls = []
        card.burst(workload, 1, lambda calls=calls: calls.append(1))
        assert calls == [1]


# -------------------------------------------------------------------------- corruption


@pytest.mark.parametrize("count", [1, 2, 17, 1000])
def test_reading_counts_what_changed_since_the_write(card, moves, count):
    card.burst("memory_write", 1)
    corrupt(card, moves.buffers[0], rows_of(count, count))
    for _ in range(2):
        assert card.burst("memory_read", 1).wrong == count
    told = held(card, moves.wrong, 3)[0]
    assert told[0] == count
    assert told[1] == 0  # the first tile holds a wrong cell
    card.burst("memory_write", 1)
    assert card.burst("memory_read", 1).wrong == 0


def test_every_cell_is_read(card, moves):
    card.burst("memory_write", 1)
    words = held(card, moves.buffers[0])
    plant(card, moves.buffers[0], ~words)
    assert card.burst("memory_read", 1).wrong == CELLS


@pytest.mark.parametrize("count", [1, 2, 300])
def test_a_write_that_did_not_stay_is_counted(card, moves, monkeypatch, count):
    rows = rows_of(count, count)
    between(monkeypatch, moves, lambda n: corrupt(card, moves.buffers[n], rows))
    assert card.burst("memory_write", 1).wrong == count


def test_a_write_that_never_happened_is_counted(card, moves, monkeypatch):
    card.burst("memory_write", 1)
    before = held(card, moves.buffers[0])
    between(monkeypatch, moves, lambda n: plant(card, moves.buffers[n], before))
    assert card.burst("memory_write", 1).wrong == CELLS


@pytest.mark.parametrize("count", [1, 2, 300])
def test_a_copy_that_went_wrong_is_counted(card, moves, monkeypatch, count):
    rows = rows_of(count, count)
    between(monkeypatch, moves, lambda n: corrupt(card, moves.buffers[n], rows))
    assert card.burst("memory_copy", 1).wrong == count


def test_a_copy_carries_what_the_source_has(card, moves, monkeypatch):
    run = moves._run

    def spoilt_run(kernel, *rest):
        if kernel == "memory_copy":
            corrupt(card, moves.buffers[0], rows_of(1, 40))
        return run(kernel, *rest)

    monkeypatch.setattr(moves, "_run", spoilt_run)
    assert card.burst("memory_copy", 1).wrong == 40


def test_a_copy_that_does_nothing_is_seen_each_time(card, moves, monkeypatch):
    run = moves._run
    assert card.burst("memory_copy", 1).wrong == 0

    def lazy_run(kernel, size, meanwhile, *rest):
        if kernel == "memory_copy":
            return run("memory_write", size, meanwhile, rest[0], np.uint32(moves.salt))
        return run(kernel, size, meanwhile, *rest)

    monkeypatch.setattr(moves, "_run", lazy_run)
    assert card.burst("memory_copy", 1).wrong > 0


@pytest.mark.parametrize("count", [1, 2, 300])
def test_what_the_link_brought_up_wrong_is_counted(card, moves, monkeypatch, count):
    rows = rows_of(count, count)
    between(monkeypatch, moves, lambda n: corrupt(card, moves.buffers[n], rows))
    assert card.burst("link_up", 1).wrong == count
    assert card.burst("link_up", 1).wrong == count


@pytest.mark.parametrize("count", [1, 2, 300])
def test_what_the_link_brought_down_wrong_is_counted(card, moves, monkeypatch, count):
    run, rows = moves._run, rows_of(count, count)

    def spoilt_run(kernel, size, *rest):
        timed = run(kernel, size, *rest)
        corrupt(card, moves.buffers[0], rows)
        return timed

    monkeypatch.setattr(moves, "_run", spoilt_run)
    for _ in range(2):
        assert card.burst("link_down", 1).wrong == count


@pytest.mark.parametrize("before", [0, 1, 2])
@pytest.mark.parametrize("workload", ["link_up", "link_down"])
def test_a_transfer_that_never_happened_is_counted(
    card, moves, monkeypatch, workload, before
):
    for _ in range(2):
        card.burst(workload, 1)
    for _ in range(before):  # whatever salt it has by then
        card.burst("memory_write", 1)
    real = traffic.cl.enqueue_copy

    def lazy(queue, to, source, *rest, **options):
        if options.get("is_blocking") is False:  # the timed one
            return traffic.cl.enqueue_marker(queue)
        return real(queue, to, source, *rest, **options)

    monkeypatch.setattr(traffic.cl, "enqueue_copy", lazy)
    # On the way down word 0 is cleared beforehand; in one cell it is 0 anyway.
    assert card.burst(workload, 1).wrong >= CELLS - 1


def test_counters_that_count_too_many_are_refused(card, moves, monkeypatch):
    monkeypatch.setattr(moves, "_wrong", lambda _: CELLS + 1)
    with pytest.raises(traffic.CardError, match="count more cells than there are"):
        card.burst("memory_read", 1)
