"""Counterfeits of every make: how the memory is wired, how it ails, how drivers lie.

Beside the missing memory that `test_counterfeit_check.py` proves to the block: sizes
that are no power of two, pages and lines that coincide, what nothing may read as, a
cache in front of nothing, launches that never ran, timers that lie. The program is the
unmodified one; a healthy card of an odd wiring must never be accused.
"""

import counterfeit
import pytest
from counterfeit import size, text, word
from meeting import Meeting, findings, meeter

pytestmark = pytest.mark.opencl

MIB = 2**20
CELL = 16
CLAIM = 64 * MIB
HEALTHY = {"real": CLAIM, "claim": CLAIM}
MISSING = ("not as claimed", 1)
FAULTY = ("faulty", 1)
OPEN = ("undetermined", 3)


@pytest.fixture(scope="module")
def meet(layer, tmp_path_factory):
    return meeter(layer, tmp_path_factory.mktemp)


def silicon(meet, real, claim=CLAIM, **lies):
    return meet(kind="silicon", real=real, claim=claim, **lies)


def failed(met):
    return {
        p["name"]: p["detail"] for p in met.record["phases"] if p["outcome"] != "done"
    }


def accused(met):
    return [
        one
        for one in met.record["findings"]
        if one["bearing"] in ("contradicts", "fault")
    ]


@pytest.mark.parametrize(
    ("claim", "real", "wiring"),
    [
        (128, 48, "modulo"),
        (64, 48, f"upper:{32 * MIB}"),  # only the upper half repeats itself
    ],
)
def test_memory_that_repeats_after_any_size(meet, claim, real, wiring):
    met = silicon(meet, real * MIB, claim * MIB, wiring=wiring)
    assert met.capacity["proven_bytes"] == real * MIB
    assert set(met.states) == {"proven", "mirrored"}
    assert met.outcome == MISSING


def test_memory_that_repeats_by_pages(meet):
    met = silicon(meet, CLAIM // 2, wiring="pairs:4096")
    assert met.capacity["proven_bytes"] == met.capacity["covered_bytes"] // 2
    assert met.outcome == MISSING
    # what the rates read wrong is the missing memory's, not the arithmetic's
    assert "faulty" not in met.record["verdict"]["sentence"]
    assert not any(
        "computes wrong" in one["sentence"] for one in met.record["findings"]
    )


def test_a_healthy_card_may_be_wired_as_it_likes(meet):
    met = silicon(meet, CLAIM, wiring="cross:5:25")
    assert met.capacity["proven_bytes"] == met.capacity["covered_bytes"]
    assert accused(met) == []
    assert met.outcome == OPEN  # no such model


@pytest.mark.parametrize(
    ("nothing", "state"),
    [
        ("0123456789abcdef", "hollow"),
        ("held", "mirrored"),
        ("noise", "scrambled"),
    ],
)
def test_whatever_nothing_reads_as_it_is_not_there(meet, nothing, state):
    met = silicon(meet, 16 * MIB, wiring="end", nothing=nothing)
    assert met.capacity["proven_bytes"] == 16 * MIB
    assert set(met.states) == {"proven", state}
    assert met.outcome == MISSING
    assert "16.0 MiB of working memory" in met.record["verdict"]["sentence"]


def test_noise_within_every_block_is_a_fault(meet):
    met = silicon(meet, 48 * MIB, wiring="holes:4096:4:1", nothing="noise")
    assert met.capacity["proven_bytes"] == met.capacity["covered_bytes"] * 3 // 4
    assert met.outcome == FAULTY
    assert "arithmetic" not in met.record["verdict"]["sentence"]


def test_a_cache_does_not_answer_for_what_is_not_there(meet):
    met = silicon(meet, 16 * MIB, wiring="end", cache=16 * MIB)
    # it answers in the first pass for the last blocks, in the last for the first
    found = [p["counts"]["intact"] * CELL for p in met.capacity["passes"][1:]]
    assert found[0] > 16 * MIB
    assert met.capacity["proven_bytes"] == found[-1] == 16 * MIB
    assert met.outcome == MISSING


def test_single_bits_and_cells_that_disturb_each_other(meet):
    last = 61 * MIB - 1  # the last byte of what is held
    met = silicon(meet, CLAIM, stuck=((last, 7, 0),), couple=(8 * MIB, 30 * MIB + 5))
    assert [s for s in met.states if s != "proven"] == ["failing", "failing"]
    # both in one pass, or each in its own: the nonce decides
    lost = met.capacity["covered_bytes"] - met.capacity["proven_bytes"]
    assert lost in {CELL, 2 * CELL}
    assert met.outcome == FAULTY


@pytest.mark.parametrize(
    ("lie", "phase", "words"),
    [
        ({"skip": "tag_"}, "take", "does not run what it is given"),
        ({"twice": "fp32"}, "fp32", "work-groups"),
        ({"skip": "memory_read"}, "memory_read", "does not run what it is given"),
        ({"refused": ("tag_write", 66, -4)}, "write", "MEM_OBJECT_ALLOCATION_FAILURE"),
    ],
)
def test_launches_that_are_not_run_as_given(meet, lie, phase, words):
    met = meet(**HEALTHY, **lie)
    assert words in failed(met)[phase]
    assert accused(met) == []
    assert met.outcome == OPEN


def test_memory_that_is_refused_only_when_all_of_it_is_used(meet):
    met = meet(kind="lazy", real=40 * MIB, claim=256 * MIB)
    assert set(met.states) == {"proven"}
    assert met.capacity["ended_by"] == "driver refused"
    assert "MEM_OBJECT_ALLOCATION_FAILURE" in met.capacity["refusal"]
    assert 20 * MIB <= met.capacity["proven_bytes"] <= 40 * MIB
    assert met.outcome == OPEN


def test_writing_that_does_nothing_is_no_fault_of_the_memory(meet):
    met = meet(**HEALTHY, skip="memory_write")
    assert accused(met) == []
    assert met.outcome == OPEN
    (found,) = findings(met.record, "memory-write-results")
    assert "did not run" in found["sentence"]


def test_a_timer_a_thousand_times_too_fast(meet):
    met = meet(**HEALTHY, timer=0.001)
    rates = {rate["name"]: rate for rate in met.record["rates"]}
    assert 1e7 < rates["fp32"]["value"] < 1e12
    assert 1e8 < rates["memory_read"]["value"] < 1e12
    assert max(rates["fp32"]["sample_seconds"]) < 0.5
    assert met.outcome == OPEN


def test_limits_that_make_no_sense(meet):
    nonsense = {
        counterfeit.GROUP: size(0),
        counterfeit.GROUP_SIZES: b"",
        counterfeit.LARGEST_BLOCK: size(3 * MIB + 17),
        counterfeit.UNITS: word(0),
    }
    met = meet(**HEALTHY, info=nonsense, name="")
    assert met.record["card"]["label"].strip()
    assert met.capacity["proven_bytes"] == met.capacity["covered_bytes"]
    assert met.outcome == OPEN


def test_limits_beyond_all_measure(meet):
    nonsense = {
        counterfeit.GROUP: size(2**40),
        counterfeit.LARGEST_BLOCK: size(2**64 - 1),
        counterfeit.UNITS: word(2**32 - 1),
    }
    met = meet(**HEALTHY, info=nonsense, name="   ")
    assert met.record["card"]["label"].strip()
    assert met.capacity["proven_bytes"] == met.capacity["covered_bytes"]
    assert met.outcome == OPEN


def test_fp64_that_is_promised_and_does_not_compile(meet):
    promised = {counterfeit.EXTENSIONS: text("cl_khr_fp64")}
    met = meet(**HEALTHY, info=promised, prelude="#define double4 no_such_type\n")
    rates = {rate["name"]: rate for rate in met.record["rates"]}
    assert rates["fp32"]["value"] > 0
    assert "could not build" in rates["fp64"]["missing"]
    assert met.outcome == OPEN


def test_a_memory_size_that_makes_no_sense(layer, tmp_path):
    met = Meeting(layer, tmp_path, real=CLAIM, info={counterfeit.MEMORY: size(2**63)})
    assert met.capacity is None
    assert met.outcome == OPEN
    assert "memory size" in failed(met)["start"]
