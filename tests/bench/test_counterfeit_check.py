"""The unmodified program against counterfeits: proven capacity, exact to the block.

The layer keeps a ledger of the addresses it gave; from them follows, with no word of
our program's, which block must be what.
"""

import pytest
from meeting import findings, meeter, megabytes

pytestmark = pytest.mark.opencl

MIB = 2**20
CELL = 16
REAL, CLAIM = 128 * MIB, 512 * MIB
BIG = {"real": REAL, "claim": CLAIM}


@pytest.fixture(scope="module")
def meet(layer, tmp_path_factory):
    return meeter(layer, tmp_path_factory.mktemp)


@pytest.mark.parametrize("real", [128 * MIB, 192 * MIB])
def test_wrapping_memory_is_proven_to_the_block(meet, real):
    met = meet(kind="wrap", real=real, claim=CLAIM)
    assert [size for _, size in met.places] == [b["size_bytes"] for b in met.blocks]
    images = {at % real for at in megabytes(met.places)}
    assert len(images) * MIB == real
    proven = [
        place
        for place, state in zip(met.places, met.states, strict=True)
        if state == "proven"
    ]
    # each place of the real memory holds exactly one block's data
    assert len(megabytes(proven)) == len(images)
    assert {at % real for at in megabytes(proven)} == images
    assert met.capacity["proven_bytes"] == real
    assert set(met.states) == {"proven", "mirrored"}
    for block in met.blocks:
        if block["state"] == "mirrored":
            assert block["mirror_distance_bytes"] % real == 0
            assert block["mirror_distance_bytes"] != 0
            assert block["counts"]["mirrored"] * CELL == block["size_bytes"]
    assert met.outcome == ("not as claimed", 1)
    (bits,) = findings(met.record, "memory-bits")
    assert (bits["strength"], bits["bearing"]) == ("decisive", "contradicts")


@pytest.mark.parametrize("fill", [0, 255])
def test_hollow_memory_is_proven_to_the_block(meet, fill):
    met = meet(kind="hollow", fill=fill, **BIG)
    assert met.states == [
        "proven" if address + size <= REAL else "hollow" for address, size in met.places
    ]
    assert met.capacity["proven_bytes"] == sum(
        size for address, size in met.places if address + size <= REAL
    )
    assert "hollow" in met.states
    assert met.outcome == ("not as claimed", 1)


def test_hollow_memory_that_begins_within_a_block(meet):
    met = meet(kind="hollow", real=REAL + MIB, claim=CLAIM)
    assert met.capacity["proven_bytes"] == sum(
        min(size, max(0, REAL + MIB - address)) for address, size in met.places
    )
    split = [a <= REAL + MIB < a + size for a, size in met.places].index(True)
    assert met.states[split] == "hollow"
    counts = met.blocks[split]["counts"]
    assert counts["intact"] * CELL == REAL + MIB - met.places[split][0]
    assert met.outcome == ("not as claimed", 1)


@pytest.mark.parametrize("value", [0, 1])
def test_one_stuck_bit_is_found_where_it_is(meet, value):
    byte = 64 * MIB + 5
    met = meet(real=REAL, stuck=((byte, 3, value),))
    inside = [a <= byte < a + size for a, size in met.places]
    assert met.states == ["failing" if there else "proven" for there in inside]
    assert met.capacity["proven_bytes"] == met.capacity["covered_bytes"] - CELL
    block = met.blocks[inside.index(True)]
    assert block["counts"]["failing"] == 1
    assert block["flips"]["any_mask"] == [0, 1 << 11, 0, 0]  # second byte, second word
    assert block["flips"]["all_mask"] == [0, 1 << 11, 0, 0]
    within = (byte - met.places[inside.index(True)][0]) // CELL * CELL
    assert block["flips"]["first_byte"] == block["offset_bytes"] + within
    assert met.outcome == ("faulty", 1)


@pytest.mark.parametrize("kind", ["refuse", "create"])
def test_memory_that_the_driver_refuses(meet, kind):
    met = meet(kind=kind, **BIG)
    assert set(met.states) == {"proven"}
    assert met.capacity["ended_by"] == "driver refused"
    assert "MEM_OBJECT_ALLOCATION_FAILURE" in met.capacity["refusal"]
    assert met.capacity["proven_bytes"] == sum(size for _, size in met.places)
    # all that is real: the blocks follow the few buffers held before them
    assert max(a + size for a, size in met.places) == REAL
    assert met.places[0][0] <= REAL // 8
    assert met.outcome == ("undetermined", 3)


def test_an_honest_card_is_not_accused(meet):
    met = meet(real=REAL)
    assert set(met.states) == {"proven"}
    assert met.capacity["proven_bytes"] == met.capacity["covered_bytes"]
    assert not [f for f in met.record["findings"] if f["bearing"] == "contradicts"]
    # no such model, so no more can be said
    assert met.outcome == ("undetermined", 3)


def test_a_name_and_a_size_that_lie(meet):
    met = meet(
        "--claim",
        "GeForce GTX 1070",
        "--claim-memory",
        "512MiB",
        kind="wrap",
        name="GeForce GTX 1070",
        vendor="NVIDIA Corporation",
        units=15,
        **BIG,
    )
    (claim,) = [c for c in met.record["claims"] if c["layer"] == "opencl"]
    assert claim["model"] == "GeForce GTX 1070"
    assert claim["memory_bytes"] == CLAIM
    assert claim["compute_units"] == 15
    assert met.record["card"]["kind"] == "gpu"
    assert met.capacity["proven_bytes"] == REAL
    assert met.outcome == ("not as claimed", 1)


def test_a_hostile_name_harms_nothing(meet, tmp_path):
    name = "\x1b]0;x\x07\x1b[2J<script>[red]/../\u202e" + "A" * 200_000 + "\udcff"
    met = meet(
        real=REAL,
        name=name.encode("utf-8", "surrogateescape"),
        info_file=tmp_path / "info",
    )
    label = met.record["card"]["label"]
    assert len(label) <= 256
    assert label.isprintable()
    assert "\x1b" not in met.done.stdout + met.done.stderr
    assert met.outcome == ("undetermined", 3)


POOR = """
#define ODD (get_group_id(0) == 3)
#define POOR(T) T __attribute__((overloadable)) poor_fma(T a, T b, T c) \\
    { return ODD ? fma(a, b, c) + 1 : fma(a, b, c); }
POOR(float4)
#ifdef cl_khr_fp64
#pragma OPENCL EXTENSION cl_khr_fp64 : enable
POOR(double4)
#endif
#ifdef cl_khr_fp16
#pragma OPENCL EXTENSION cl_khr_fp16 : enable
POOR(half4)
#endif
float4 poor_mad(float4 a, float b, float c) { return ODD ? a * b : a * b + c; }
#undef fma
#undef mad
#define fma poor_fma
#define mad poor_mad
"""
"""Multiply-adds that come out wrong in one work-group."""


def test_wrong_arithmetic_is_a_fault(meet):
    met = meet(real=REAL, prelude=POOR)
    wrong = {rate["name"]: rate["wrong"] for rate in met.record["rates"]}
    assert wrong["fp32"] > 0
    assert wrong["memory_read"] == 0
    assert set(met.states) == {"proven"}
    assert met.outcome == ("faulty", 1)


@pytest.mark.parametrize("launches", [3, 60, 200, 600])
def test_a_lost_device_ends_in_a_record(meet, launches):
    met = meet(real=REAL, lost_after=launches)
    assert met.outcome == ("undetermined", 3)
    assert any(phase["outcome"] == "failed" for phase in met.record["phases"])
    assert not [f for f in met.record["findings"] if f["bearing"] == "contradicts"]
