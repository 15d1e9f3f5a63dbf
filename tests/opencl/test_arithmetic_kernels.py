"""The arithmetic kernels against probe.chains: every end, every count, all the work."""

import re
from fractions import Fraction

import numpy as np
import pyopencl as cl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from opencl_parts import LABEL, card_of, compiled, held, plant

from probe import chains
from probe.errors import CardError
from probe.opencl import arithmetic
from probe.opencl.arithmetic import Arithmetic
from probe.opencl.programs import group_size, options, source
from probe.tags import MASK

pytestmark = pytest.mark.opencl

GROUPS = 4
"""Few: a whole grid takes a processor seconds."""
PART = 1 / 2
ROUNDS = 67.0
"""More than there are seeds: every work-item comes round again."""
KNOWN = ("fp32", "fp64", "int32", "local_memory")


def built(card, device, *defines, text=None):
    """Return the workloads of a build of its own."""
    program = compiled(
        card, text or source("arithmetic"), [*options("arithmetic", device), *defines]
    )
    maker = Arithmetic(card._context, device, card._queue, program, LABEL)
    maker.groups = GROUPS
    return maker


def with_exp2(expression):
    """Return the kernels with another exp2."""
    text = source("arithmetic").replace("native_exp2(", "EXP2(")
    return f"#define EXP2(x) ({expression})\n{text}"


@pytest.fixture(scope="module")
def card(device):
    with card_of(device) as opened:
        opened._computes().groups = GROUPS
        yield opened


@pytest.fixture(scope="module")
def plain(card, device):
    """Return the build for devices without a fast fma()."""
    return built(card, device, "-DFUSED=1", "-DPLAIN_WALK")


@pytest.fixture(params=[*KNOWN, "fp32 plain", "transcendental"])
def loaded(request, card, plain):
    """Return workload, its maker, and its buffers; whole again afterwards."""
    name, *walk = request.param.split()
    if card.supports(name) is not None:
        pytest.skip(card.supports(name))
    maker = plain if walk else card._computes()
    maker.burst(name, PART, None)
    ready = maker.loaded[name]
    width = 8 if name == "fp64" else 4
    want = held(card, ready.want, width)
    yield name, maker, ready, want
    plant(card, ready.want, want)


def counters(card, maker):
    """Return the counters: three of the launch, one for each group."""
    words = np.empty(maker.wrong.size // 4, np.uint32)
    cl.enqueue_copy(card._queue, words, maker.wrong)
    return words.tolist()


def grid(maker, scale):
    """Return a launch's work-items and rounds."""
    groups = max(1, round(maker.groups * min(scale, 1.0)))
    return groups * maker.group, max(1, round(scale))


# -------------------------------------------------------------------------- the ends


def test_a_healthy_device_ends_where_the_chains_end(loaded):
    name, maker, _, _ = loaded
    for scale in (PART, 1.0, ROUNDS):
        items, rounds = grid(maker, scale)
        burst = maker.burst(name, scale, None)
        assert burst.wrong == 0
        assert burst.checked == items * rounds * 4
        assert burst.seconds > 0


def test_what_is_wanted_is_what_the_chains_give(card, loaded):
    name, maker, ready, want = loaded
    seeds = held(card, ready.seeds, want.shape[1])
    fused = maker._fused()
    if name == "fp64":
        told = chains.logistic_seeds(np.float64), chains.logistic_ends(np.float64)
    elif name == "int32":
        told = chains.integer_seeds(), chains.integer_ends()
    elif name == "local_memory":
        told = chains.shelf(), chains.shelf_ends()
    elif name == "fp32" and fused:
        told = chains.logistic_seeds(np.float32), chains.logistic_ends(np.float32)
    elif name == "fp32":
        told = chains.walk_seeds(), chains.walk_ends()
    else:
        told = chains.fold_seeds(), want.view(np.float32)
        assert ((want.view(np.float32) >= 0) & (want.view(np.float32) < 4)).all()
    assert np.array_equal(seeds, told[0].view(np.uint32).reshape(seeds.shape))
    assert np.array_equal(want, told[1].view(np.uint32).reshape(want.shape))


def test_both_builds_of_fp32_ran(card, device, plain):
    assert not plain._fused()
    fused = built(card, device, "-DFUSED=1")
    assert fused._fused()
    assert fused.burst("fp32", PART, None).wrong == 0


def test_the_plain_walk_rounds_nowhere():
    # The kernel's walk, each operation rounded to fp32 and each exact in fp64.
    near, exact = chains.walk_seeds(), chains.walk_seeds().astype(np.float64)
    for _ in range(chains.STEPS // 2):
        for times, plus in ((2, 6), (0.5, -5), (2, 10), (0.5, -2)):
            near = near * np.float32(times) + np.float32(plus)
            exact = exact * times + plus
        assert np.array_equal(near, exact)
    assert np.array_equal(near.view(np.uint32), chains.walk_ends())


def test_the_integer_chain_in_whole_numbers():
    for row, column in ((0, 0), (17, 1), (63, 3)):
        x = int(chains.integer_seeds()[row, column])
        y = (x ^ MASK) | 1
        c = x & 0x7FFFFFFE
        for _ in range(chains.STEPS):
            x = (x * y + c) % 2**32
            y = (y * x + 0x9E3779B0) % 2**32
        assert chains.integer_ends()[row, column] == x ^ y >> 1


def test_the_fp16_chain_in_rational_arithmetic(card):
    # IEEE 754-2008 binary16, rounded once an operation. Few devices have fp16.
    r, c = (Fraction(float(np.float16(value))) for value in (3.9, 0.0001))
    for row, column in ((0, 0), (17, 1), (40, 2), (63, 3)):
        x = Fraction(float(chains.logistic_seeds(np.float16)[row, column]))
        for _ in range(chains.STEPS):
            u = rounded_to_half(x - x * x)
            x = rounded_to_half(u * r + c)
        want = np.float16(float(x)).view(np.uint16)
        assert chains.logistic_ends(np.float16)[row, column] == want
    if card.supports("fp16") is None:
        assert card.burst("fp16", PART).wrong == 0


def rounded_to_half(value):
    """Round a positive number to 11 significant bits, ties to even."""
    unit = Fraction(2) ** -24
    while value >= 2**11 * unit:
        unit *= 2
    return round(value / unit) * unit


# ------------------------------------------------------------------------ the counting


@pytest.mark.parametrize(
    ("spoilt", "scale"), [(1, PART), (5, 3.0), (5, ROUNDS), (64, 1.0)]
)
def test_wrong_results_are_counted_exactly(card, loaded, spoilt, scale):
    name, maker, ready, want = loaded
    rng = np.random.default_rng(spoilt)
    fresh = want.copy()
    rows = rng.choice(len(want), spoilt, replace=False)
    lanes = rng.integers(4, size=spoilt)
    width = want.shape[1] // 4
    for row, lane in zip(rows, lanes, strict=True):
        word = lane * width + rng.integers(width)
        fresh[row, word] ^= np.uint32(1 << int(rng.integers(32)))
    plant(card, ready.want, fresh)
    burst = maker.burst(name, scale, None)
    items, rounds = grid(maker, scale)
    bad = np.zeros((len(want), 1), np.int64)
    bad[rows] = 1
    item = np.arange(items)
    if name == "local_memory":  # each work-item keeps to one place of the table
        place = item % maker.group % chains.TABLE
        visited = np.broadcast_to(place, (rounds, items))
    else:
        visited = (item[None, :] + np.arange(rounds)[:, None]) % chains.SEEDS
    seen = bad[visited, 0]
    assert burst.wrong == seen.sum()
    if seen.any():
        first = int(np.flatnonzero(seen.any(axis=0))[0])
        assert counters(card, maker)[:2] == [seen.sum(), first]
    plant(card, ready.want, want)
    assert maker.burst(name, scale, None).wrong == 0


def test_all_lanes_of_a_result_count(card, loaded):
    name, maker, ready, want = loaded
    plant(card, ready.want, ~want)
    burst = maker.burst(name, PART, None)
    assert burst.wrong == burst.checked


@given(st.integers(0, MASK), st.integers(0, MASK), st.integers(1, 2**40))
def test_counters_that_wrap_still_tell(count, first, results):
    wrong = arithmetic._wrong(np.array([count, first], np.uint32), results)
    assert wrong == min(max(count, first != MASK), results)
    assert arithmetic._wrong(np.array([0, MASK], np.uint32), results) == 0
    assert arithmetic._wrong(np.array([0, first // 2], np.uint32), results) == 1


# ---------------------------------------------------------------------- transcendental


def test_the_learned_ends_are_the_same_every_time(card, device):
    seeds = chains.fold_seeds()
    ends = [built(card, device)._learn(seeds) for _ in range(2)]
    ends += [card._computes()._learn(seeds) for _ in range(3)]
    assert all(np.array_equal(each, ends[0]) for each in ends)
    assert len(np.unique(ends[0])) > 0.9 * ends[0].size


def test_one_step_is_near_numpys(card):
    seeds = chains.fold_seeds()
    maker = card._computes()
    ends = np.zeros((chains.SEEDS, 4), np.uint32)
    given_, to_ends, once = map(maker._buffer, (seeds, ends, seeds))
    kernel = cl.Kernel(maker.program, "learn")
    kernel.set_args(given_, to_ends, once)
    items = -(-chains.SEEDS // maker.group) * maker.group
    cl.enqueue_nd_range_kernel(card._queue, kernel, (items,), (maker.group,))
    got = held(card, once).view(np.float32).astype(np.float64)
    assert np.allclose(got, np.exp2(seeds.astype(np.float64)), rtol=2.0**-12, atol=0)


@pytest.mark.parametrize(
    ("factor", "refused"),
    [("1.0f", False), ("1.0001f", False), ("1.0005f", True), ("0.0f", True)],
)
def test_an_exp2_that_is_off_is_refused(card, device, factor, refused):
    maker = built(card, device, text=with_exp2(f"exp2(x) * {factor}"))
    if refused:
        with pytest.raises(CardError, match=f"{LABEL}: exp2 is off by a factor of"):
            maker.burst("transcendental", PART, None)
        assert "transcendental" not in maker.loaded
    else:
        assert maker.burst("transcendental", PART, None).wrong == 0


def test_an_exp2_that_is_no_number_is_refused(card, device):
    maker = built(card, device, text=with_exp2("exp2(x) * NAN"))
    with pytest.raises(CardError, match="computes wrong"):
        maker.burst("transcendental", PART, None)


# ---------------------------------------------------------------------------- the work

WORK = {"fma": 2, "mad": 2, "native_exp2": 1}
"""Operations that a call is worth, in each of a vector's four parts."""


def kernel_body(name, *, fused):
    """Return the loop over `k` of a kernel: how often its body runs, and the body."""
    text = re.sub(r"/\*.*?\*/", "", source("arithmetic"), flags=re.DOTALL)
    text = text.replace("\\\n", " ")
    # The walk of exp2 is a function of its own.
    start = "float4 transcendental_walk" if name == "transcendental" else f"void {name}"
    text_of_kernel = text.split(f"{start}(", 1)[1].split("\n}", 1)[0]
    if name == "fp32":
        both = re.search(
            r"#ifdef FUSED(.*?)#else(.*?)#endif", text_of_kernel, re.DOTALL
        )
        text_of_kernel = both[1 if fused else 2]
    loop = re.search(
        r"for \(k = 0; k < STEPS; k \+= (\d+)\)\s*\{\s*REPEAT(\d+)\((.*?)\)\s*\}\s",
        text_of_kernel + "\n",
        re.DOTALL,
    )
    step, repeats, body = int(loop[1]), int(loop[2]), loop[3]
    macro = re.match(r"(LOGISTIC|WALK|FOLD)\b", body)
    if macro:
        body = re.search(rf"#define {macro[1]}\b(?:\([^)]*\))?(.*)\n", text)[1]
    assert chains.STEPS % step == 0
    return chains.STEPS // step * repeats, body


@pytest.mark.parametrize(
    ("name", "fused"),
    [
        ("fp32", True),
        ("fp32", False),
        *((name, True) for name in ("fp64", "fp16", "int32", "transcendental")),
    ],
)
def test_operations_are_counted_as_the_kernel_does_them(name, fused):
    times, body = kernel_body(name, fused=fused)
    if name == "int32":
        each = len(re.findall(r" [*+] ", body))
    else:
        each = sum(len(re.findall(rf"\b{c}\(", body)) * WORK[c] for c in WORK)
    assert each > 0
    assert times * each * 4 == chains.STEPS * arithmetic.PER_STEP[name]


def test_bytes_of_local_memory_are_counted_as_read():
    times, body = kernel_body("local_memory", fused=True)
    assert body.count("shelf[") == 1
    assert times * 16 == chains.STEPS * arithmetic.PER_STEP["local_memory"]


@pytest.mark.parametrize("scale", [1 / 1024, PART, 1.0, 2.4, 5.0])
def test_a_launchs_work(card, scale):
    maker = card._computes()
    burst = maker.burst("int32", scale, None)
    items, rounds = grid(maker, scale)
    assert burst.work == items * rounds * chains.STEPS * 16
    assert burst.checked == items * rounds * 4
    assert items % maker.group == 0


def test_the_grid_fits_the_device(device):
    with card_of(device) as card:
        maker = card._computes()
        assert maker.group == group_size(device)
        assert 256 <= maker.groups <= 16384


def test_meanwhile_is_called_once_a_launch(card):
    calls = []
    card.burst("int32", PART, lambda: calls.append(1))
    assert calls == [1]
