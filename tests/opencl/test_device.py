"""The OpenCL device as a whole: what it gives, refuses, says, and gives back."""

import gc
import weakref
from types import SimpleNamespace

import psutil
import pyopencl as cl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from opencl_parts import CELLS, LABEL, MIB, card_of, facts_of, held, numbers

from probe import tags
from probe.device import CELL_BYTES, Tagging
from probe.errors import (
    CardError,
    DeviceLostError,
    MemoryRefusedError,
    UnsupportedError,
)
from probe.opencl import calls, sweeps
from probe.opencl.calls import calling, drop, error_name, span
from probe.opencl.device import OpenCLDevice

pytestmark = pytest.mark.opencl

NONCE = 2**63 + 12345
PLAIN = Tagging(nonce=NONCE, complemented=False)
TURNED = Tagging(nonce=NONCE, complemented=True)
LOST = "DEVICE_NOT_AVAILABLE"
ALL = ("fp32", "fp64", "fp16", "int32", "transcendental", "local_memory")
MOVED = ("memory_read", "memory_write", "memory_copy", "link_up", "link_down")


@pytest.fixture
def card(device):
    with card_of(device) as opened:
        yield opened


def failure(name, kind=cl.RuntimeError):
    """Return the error that pyopencl raises for a driver's code."""
    code = getattr(cl.status_code, name)
    return kind(cl._cl._ErrorRecord("clSomething", code, "the driver's words"))


def failing(error):
    def call(*_, **__):
        raise error

    return call


def take(card, sizes):
    blocks = []
    for number, size in enumerate(sizes):
        first = sum(block.cells for block in blocks)
        blocks.append(card.take(number, first, size))
    return blocks


def swept(card, action, blocks, tagging):
    found = []
    seconds = card.sweep(action, blocks, tagging, found.append)
    assert seconds > 0
    assert all(each.seconds > 0 for each in found)
    assert [each.block for each in found] == list(blocks)
    return found


# ------------------------------------------------------------------------------ memory


def test_the_march_over_blocks_of_all_sizes(card):
    blocks = take(card, [16 * MIB, 4 * MIB, 4 * MIB, 2 * MIB, MIB])
    steps = (
        ("write", 1, PLAIN),
        ("verify", 1, PLAIN),
        ("turn", -1, PLAIN),
        ("verify", -1, TURNED),
        ("turn", 1, TURNED),
        ("verify", 1, PLAIN),
    )
    for action, direction, tagging in steps:
        found = swept(card, action, blocks[::direction], tagging)
        if action == "write":
            assert all(each.census is None for each in found)
        else:
            assert all(each.census.intact == each.block.cells for each in found)
            assert all(each.census.checked == each.block.cells for each in found)
            assert {each.census.first_wrong for each in found} == {None}
    for block in blocks:
        want = tags.tags(NONCE, numbers(block))
        assert (held(card, block.handle) == want).all()


@pytest.mark.parametrize("batch_seconds", [1e-9, 1e3])
def test_batches_of_one_block_and_of_all(card, monkeypatch, batch_seconds):
    monkeypatch.setattr(sweeps, "BATCH_SECONDS", batch_seconds)
    batches = []
    sweeper = card._sweeps()
    real = sweeper._counters

    def counted(first, rows):
        batches.append((first, rows))
        return real(first, rows)

    blocks = take(card, [2 * MIB, MIB, MIB])
    monkeypatch.setattr(sweeper, "_counters", counted)
    swept(card, "write", blocks, PLAIN)
    found = swept(card, "verify", blocks, PLAIN)
    assert [each.census.intact for each in found] == [2 * CELLS, CELLS, CELLS]
    one_by_one = [(0, 1), (1, 1), (2, 1)]
    assert batches == (one_by_one if batch_seconds < 1 else [(0, 3)])


def test_more_blocks_than_counters_were_made_for(card, monkeypatch):
    monkeypatch.setattr(sweeps, "FIRST_ROWS", 2)
    blocks = take(card, [MIB] * 7)
    swept(card, "write", blocks, PLAIN)
    found = swept(card, "verify", blocks, PLAIN)
    assert [each.census.intact for each in found] == [CELLS] * 7


def test_another_nonce_leaves_nothing_intact(card):
    (block,) = take(card, [MIB])
    swept(card, "write", [block], PLAIN)
    (found,) = swept(card, "verify", [block], Tagging(nonce=1, complemented=False))
    assert (found.census.intact, found.census.scrambled) == (0, CELLS)


def test_an_empty_sweep_is_none(card):
    assert card.sweep("verify", [], PLAIN, lambda _: None) == 0.0


def test_a_block_larger_than_the_driver_makes_is_refused(card, device):
    with pytest.raises(MemoryRefusedError) as caught:
        card.take(0, 0, 2 * device.global_mem_size)
    assert str(caught.value).startswith(f"{LABEL}: taking ")
    assert "(INVALID_BUFFER_SIZE)" in str(caught.value)
    (block,) = take(card, [MIB])  # and nothing else is the matter
    swept(card, "write", [block], PLAIN)


def test_the_largest_block_that_the_driver_promises(card, device):
    most = card.facts.largest_block_bytes
    if psutil.virtual_memory().available < 2 * most:
        most = 2 * 2**30
    size = 1 << (most.bit_length() - 1)
    block = card.take(0, 0, size)  # touched at its start only
    assert block.cells == size // CELL_BYTES
    assert block.handle.size == size
    card.release([block])


def test_memory_refused_only_when_touched(card, monkeypatch):
    sweeper = card._sweeps()
    blocks = take(card, [MIB])
    error = failure("MEM_OBJECT_ALLOCATION_FAILURE")
    with monkeypatch.context() as patch:
        patch.setattr(sweeper, "_enqueue", failing(error))
        with pytest.raises(MemoryRefusedError, match="touching a block failed"):
            card.take(1, CELLS, MIB)
    assert len(card._held) == 1
    swept(card, "write", blocks, PLAIN)


def test_memory_comes_back(card):
    process = psutil.Process()
    swept(card, "write", take(card, [MIB]), PLAIN)
    before = process.memory_info().rss
    blocks = take(card, [64 * MIB] * 4)
    swept(card, "write", blocks, PLAIN)
    full = process.memory_info().rss
    if full - before < 128 * MIB:
        pytest.skip("the device's memory is not the PC's")
    card.release(blocks)
    card.release(blocks)  # twice is once
    gc.collect()
    assert process.memory_info().rss - before < (full - before) // 4


def test_traffic_gives_way_to_blocks(card):
    card.burst("memory_copy", 8)
    assert card._traffic.size == 8 * MIB
    take(card, [MIB])
    assert card._traffic.size == 0
    assert card.burst("memory_copy", 8).wrong == 0


# ---------------------------------------------------------------------------- supports


def described(device, **changed):
    """Return a device that says other things of itself than it should."""
    kept = {
        name: getattr(device, name)
        for name in (
            *("extensions", "max_work_group_size", "max_work_item_sizes"),
            "max_compute_units",
        )
    }
    return SimpleNamespace(**{**kept, **changed})


def supporting(device, monkeypatch, extensions, **identity):
    card = OpenCLDevice(device, facts_of(device, **identity), None)
    monkeypatch.setattr(card, "_device", described(device, extensions=extensions))
    monkeypatch.setattr(card, "_extensions", frozenset(extensions.split()))
    return card


def test_what_a_device_lacks_is_said(device, monkeypatch):
    lacking = supporting(device, monkeypatch, "cl_khr_icd cl_khr_fp64_not")
    assert lacking.supports("fp64") == "its driver offers no fp64 (cl_khr_fp64)"
    assert lacking.supports("fp16") == "its driver offers no fp16 (cl_khr_fp16)"
    for name in (*MOVED, "fp32", "int32", "transcendental", "local_memory"):
        assert lacking.supports(name) is None
    with pytest.raises(UnsupportedError, match=f"{LABEL}: its driver offers no fp64"):
        lacking.burst("fp64", 1)
    having = supporting(device, monkeypatch, "cl_khr_fp64 cl_khr_fp16")
    assert {having.supports(name) for name in (*ALL, *MOVED)} == {None}


def test_memory_shared_with_the_pc_has_no_link(device, monkeypatch):
    shared = supporting(device, monkeypatch, "", unified_memory=True)
    said = "it works in the PC's own memory: there is no link to measure"
    assert shared.supports("link_up") == shared.supports("link_down") == said
    assert shared.supports("memory_copy") is None
    with pytest.raises(UnsupportedError, match="no link to measure"):
        shared.burst("link_down", 1)


def test_everything_supported_runs(card):
    card._computes().groups = 4
    for name in (*ALL, *MOVED):
        if card.supports(name) is None:
            burst = card.burst(name, 1 / 64)
            assert (burst.wrong, burst.checked > 0) == (0, True)
            assert burst.work > 0
            assert 0 < burst.seconds < 60


def test_without_sensors_that_is_said(card):
    assert card.sense("idle") is None
    assert card.limits() == (None, "no sensor of this card can be read", None, None)


def test_the_runs_clock_only_goes_on(card):
    moments = [card.now() for _ in range(5)]
    assert moments == sorted(moments)
    assert moments[0] >= 0
    card.settle(0.0)
    assert card.now() >= moments[-1]


# ------------------------------------------------------------------------------ errors


@pytest.mark.parametrize(
    ("name", "memory", "kind"),
    [
        ("OUT_OF_RESOURCES", False, CardError),
        ("OUT_OF_RESOURCES", True, MemoryRefusedError),
        ("MEM_OBJECT_ALLOCATION_FAILURE", True, MemoryRefusedError),
        ("OUT_OF_HOST_MEMORY", True, MemoryRefusedError),
        ("INVALID_BUFFER_SIZE", True, MemoryRefusedError),
        ("INVALID_KERNEL_ARGS", True, CardError),
        ("INVALID_WORK_GROUP_SIZE", False, CardError),
        ("DEVICE_NOT_AVAILABLE", False, DeviceLostError),
        ("DEVICE_NOT_AVAILABLE", True, DeviceLostError),
        ("INVALID_CONTEXT", False, DeviceLostError),
    ],
)
@pytest.mark.parametrize("raised", [cl.RuntimeError, cl.LogicError, cl.MemoryError])
def test_the_drivers_errors_in_our_words(name, memory, kind, raised):
    with (
        pytest.raises(CardError) as caught,
        calling("the write pass", LABEL, memory=memory),
    ):
        raise failure(name, raised)
    assert type(caught.value) is kind
    assert str(caught.value) == f"{LABEL}: the write pass failed ({name})"
    assert caught.value.code == name
    assert caught.value.__suppress_context__


def test_our_own_and_the_pcs_errors():
    with pytest.raises(MemoryRefusedError), calling("x", LABEL, memory=True):
        raise MemoryError
    with (
        pytest.raises(CardError, match=r"x failed \(MemoryError\)"),
        calling("x", LABEL),
    ):
        raise MemoryError
    with pytest.raises(ZeroDivisionError), calling("x", LABEL):
        raise ZeroDivisionError
    # a size that makes no sense ends within pyopencl: in C++, or in its Python
    with pytest.raises(CardError, match="ValueError"), calling("x", LABEL):
        raise ValueError("cannot create std::vector larger than max_size()")
    with pytest.raises(CardError, match="TypeError"), calling("x", LABEL):
        cl.enqueue_copy(None, object(), object())
    with pytest.raises(TypeError), calling("x", LABEL):
        raise TypeError("ours")
    assert error_name(failure("OUT_OF_RESOURCES")) == "OUT_OF_RESOURCES"
    unknown = cl.RuntimeError(cl._cl._ErrorRecord("clSomething", -9999, ""))
    assert "9999" in error_name(unknown)


@pytest.mark.parametrize("name", [LOST, "OUT_OF_RESOURCES", "INVALID_COMMAND_QUEUE"])
def test_a_device_lost_midway(card, monkeypatch, name):
    blocks = take(card, [MIB])
    card.burst("memory_read", 1)
    with monkeypatch.context() as patch:
        error = failure(name)
        patch.setattr(cl, "enqueue_nd_range_kernel", failing(error))
        patch.setattr(cl, "enqueue_copy", failing(error))
        for call in (
            lambda: card.sweep("verify", blocks, PLAIN, lambda _: None),
            lambda: card.burst("memory_read", 1),
            lambda: card.burst("int32", 1),
            lambda: card.take(1, CELLS, MIB),
        ):
            with pytest.raises(DeviceLostError) as caught:
                call()
            assert str(caught.value).startswith(LABEL)
            assert caught.value.code == name


def test_after_a_loss_the_next_step_is_said(card, monkeypatch):
    monkeypatch.setattr(cl, "enqueue_copy", failing(failure("OUT_OF_RESOURCES")))
    with pytest.raises(DeviceLostError, match="restart the PC before testing it again"):
        card.burst("int32", 1)


def test_a_passing_error_is_no_loss(card, monkeypatch):
    blocks = take(card, [MIB])
    with monkeypatch.context() as patch:
        error = failure("OUT_OF_RESOURCES")
        patch.setattr(cl, "enqueue_nd_range_kernel", failing(error))
        for what, call in (
            ("the verify pass", lambda: swept(card, "verify", blocks, PLAIN)),
            ("measuring memory_read", lambda: card.burst("memory_read", 1)),
            ("measuring int32", lambda: card.burst("int32", 1)),
        ):
            with pytest.raises(CardError) as caught:
                call()
            assert type(caught.value) is CardError
            assert str(caught.value) == f"{LABEL}: {what} failed (OUT_OF_RESOURCES)"
    swept(card, "write", blocks, PLAIN)


def test_a_device_that_answers_nonsense_is_lost(card, monkeypatch):
    monkeypatch.setattr(cl, "enqueue_nd_range_kernel", failing(failure("MAP_FAILURE")))
    monkeypatch.setattr(cl, "enqueue_copy", lambda *_, **__: None)
    with pytest.raises(DeviceLostError, match="the device answers nonsense"):
        card.burst("int32", 1)


def test_a_device_that_can_not_be_opened(device, monkeypatch):
    monkeypatch.setattr(cl, "CommandQueue", failing(failure(LOST)))
    with pytest.raises(DeviceLostError, match=f"{LABEL}: opening the card failed"):
        card_of(device)


@pytest.mark.parametrize("what", ["take", "int32", "memory_read"])
def test_kernels_that_can_not_be_prepared(card, monkeypatch, what):
    error = failure("OUT_OF_HOST_MEMORY")
    for name in ("Buffer", "Kernel"):
        with monkeypatch.context() as patch:
            patch.setattr(cl, name, failing(error))
            with pytest.raises(CardError, match=r"failed \(OUT_OF_HOST_MEMORY\)"):
                card.take(0, 0, MIB) if what == "take" else card.burst(what, 1)


def test_a_build_that_fails(card, monkeypatch):
    monkeypatch.setattr("probe.opencl.programs.source", lambda _: "missing x;")
    for call in (
        lambda: card.take(0, 0, MIB),
        lambda: card.burst("int32", 1),
        lambda: card.burst("link_up", 1),
    ):
        with pytest.raises(CardError, match=r"could not build the \w+ kernels: .*miss"):
            call()


# ------------------------------------------------------------------------------- close


def test_close_gives_everything_back_and_may_come_twice(device):
    card = card_of(device)
    blocks = take(card, [MIB, MIB])
    card.burst("memory_read", 4)
    card.burst("link_up", 1)
    card.close()
    card.close()
    card.release(blocks)
    assert card._held == {}
    for call in (
        lambda: card.take(2, 0, MIB),
        lambda: card.sweep("verify", blocks, PLAIN, lambda _: None),
        lambda: card.burst("int32", 1),
        lambda: card.burst("memory_read", 1),
    ):
        with pytest.raises(CardError, match="it was closed; open it again"):
            call()
    assert card.now() > 0
    assert card.sense("idle") is None


def test_close_gives_the_pcs_memory_back(device):
    process = psutil.Process()
    with card_of(device) as card:
        swept(card, "write", take(card, [MIB]), PLAIN)
        before = process.memory_info().rss
        kept = take(card, [64 * MIB] * 3)
        swept(card, "write", kept, PLAIN)
        card.burst("memory_copy", 64)
        full = process.memory_info().rss
    gc.collect()
    if full - before < 128 * MIB:
        pytest.skip("the device's memory is not the PC's")
    assert process.memory_info().rss - before < (full - before) // 4


def test_close_of_a_lost_device_never_raises(device, monkeypatch):
    card = card_of(device)
    take(card, [MIB])
    card.burst("memory_read", 1)
    with monkeypatch.context() as patch:
        for each in (*card._traffic.buffers, *card._held.values()):
            each.release()  # the driver now refuses to give these back
        patch.setattr(cl, "enqueue_copy", failing(failure(LOST)))
        card.close()
    drop(SimpleNamespace(release=failing(failure(LOST))))


class Map:
    """A mapping whose end a lost device refuses."""

    def release(self, queue):
        raise failure(LOST)


def test_a_mapping_that_can_not_end_outlives_its_owner(card):
    mapped = Map()
    gone = weakref.ref(mapped)
    calls.unmap(mapped, card._queue)
    del mapped
    gc.collect()
    assert gone() is not None


def test_pinned_memory_is_unmapped_at_close(device):
    card = card_of(device)
    card.burst("link_up", 1)
    mapped = card._traffic.host.base
    card.close()
    with pytest.raises(cl.Error, match="INVALID_VALUE"):
        mapped.release(card._queue)


# -------------------------------------------------------------------------- the timers


def ran(*spans):
    return [
        SimpleNamespace(profile=SimpleNamespace(start=start, end=end))
        for start, end in spans
    ]


@pytest.mark.parametrize(
    ("spans", "seconds"),
    [
        ([(1_000, 2_000_001_000)], 2.0),
        ([(10, 500_000_010), (600_000_010, 1_000_000_010)], 1.0),
        ([(5, 5)], 3.0),  # no time at all
        ([(0, 0)], 3.0),
        ([(9, 5)], 3.0),  # backwards
        ([(0, 3_000_000_001)], 3.0),  # longer than the PC saw
        ([(0, 2**64 - 1)], 3.0),
    ],
)
def test_the_pcs_clock_stands_in_for_a_nonsense_timer(spans, seconds):
    assert span(ran(*spans), 3.0) == seconds


def test_it_stands_in_for_the_share_that_is_meant():
    assert span(ran((5, 5)), 3.0, 0.25) == 0.75
    assert span(ran((0, 2_000_000_000)), 3.0, 0.25) == 2.0


class Untimed:
    """An event of a driver that keeps no time, or that has lost the device."""

    def __init__(self, name):
        self.name = name

    @property
    def profile(self):
        raise failure(self.name, cl.RuntimeError)


def test_a_driver_without_a_timer():
    assert span([Untimed(calls.NO_TIMER)], 3.0, 0.5) == 1.5
    with pytest.raises(DeviceLostError), calling("x", LABEL):
        span([Untimed(LOST)], 3.0)


@given(st.integers(0, 2**63), st.integers(0, 2**63), st.floats(1e-9, 1e4))
def test_a_span_is_never_more_than_what_passed(start, end, passed):
    assert 0 < span(ran((start, end)), passed) <= passed


def test_blocks_share_the_pcs_time_where_the_timer_is_nonsense(card, monkeypatch):
    # Else each block of a batch would seem as slow as all of them together.
    blocks = take(card, [2 * MIB, MIB, MIB])
    monkeypatch.setattr(sweeps, "BATCH_SECONDS", 1e3)
    real = calls.span

    def blind(events, passed, share=1.0):
        return real(ran((0, 0)), passed, share)

    monkeypatch.setattr(calls, "span", blind)
    found = []
    seconds = card.sweep("write", blocks, PLAIN, found.append)
    assert sum(each.seconds for each in found) == pytest.approx(seconds)
    assert found[0].seconds == pytest.approx(2 * found[1].seconds)
