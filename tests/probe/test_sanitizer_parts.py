"""Parts of the sanitizer bench that need no card: PTX as text, reports as text."""

import json

import pytest
import sanitizer_bench
from sanitizer.ptx import adapted
from sanitizer.recording import Launched, Made, Recording, Whole, kernels
from sanitizer.replay import MARK

PTX = """\
.version 9.0
.target sm_90, texmode_independent
.address_size 64

.entry residency(
\t.param .u32 residency_param_0,
\t.param .u64 .ptr .global .align 4 residency_param_2,
\t.param .u64 .ptr .shared .align 4 residency_param_3
)
{
\tld.param.u64 \t%rd2, [residency_param_3];
\tmov.b32 \t%r2, %envreg0;
\tmov.b32 \t%r4, %envreg3;
\tmov.b32 \t%r5, %envreg6;
\tret;
}
.metadata_section {

.metadata 0 {
\t"cl_kernel_attributes",
}

} // end of .metadata_section

\0\0"""
"""The shape of what NVIDIA's OpenCL driver 580.159 gives."""


def test_ptx_stands_on_its_own_feet():
    text = adapted(PTX, "residency", 3, 8192)
    assert ".target sm_90\n" in text
    assert ".address_size 64\n.shared .align 16 .b8 local_argument[8192];" in text
    assert "mov.u64 \t%rd2, local_argument;" in text
    assert ".param .u64 residency_param_3" in text
    assert ".param .u64 .ptr .global .align 4 residency_param_2" in text
    assert "mov.b32 \t%r2, 0;" in text
    assert "mov.b32 \t%r4, 0;" in text
    assert "mov.b32 \t%r5, %nctaid.x;" in text
    assert not any(word in text for word in ("envreg", "metadata", "\0"))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("%envreg6", "%envreg9", "%envreg9"),
        ("[residency_param_3]", "[residency_param_2]", "never read"),
        (".address_size 64", "", "no PTX"),
        ("\tret;", "\t.samplerref s;", ".samplerref"),
    ],
)
def test_ptx_of_another_shape_is_refused(old, new, said):
    with pytest.raises(ValueError, match=said):
        adapted(PTX.replace(old, new), "residency", 3, 8192)


LAUNCH = Launched("p", "chase", (Whole(1),), (1,), (1,))
RECORDING = Recording("a card", "a driver", (Made(1, 4), LAUNCH, LAUNCH), {})
RIGHT = {"launches": {"chase": 2}, "got": 1, "alike": 1, "problem": None}
CLEAN = {
    "memcheck": "LEAK SUMMARY: 0 bytes leaked in 0\n========= ERROR SUMMARY: 0 errors",
    "initcheck": "ERROR SUMMARY: 0 errors",
    "racecheck": "RACECHECK SUMMARY: 0 hazards displayed (0 errors, 0 warnings)",
    "synccheck": "ERROR SUMMARY: 0 errors",
}


def said(tool, summary, **told):
    text = f"{MARK}{json.dumps({**RIGHT, **told})}\n========= {summary}\n"
    return sanitizer_bench.Watched(tool, text, 1.0)


@pytest.mark.parametrize("tool", sanitizer_bench.TOOLS)
def test_a_clean_replay_of_everything_is_right(tool):
    assert sanitizer_bench.judge(said(tool, CLEAN[tool]), RECORDING) == []


@pytest.mark.parametrize(
    ("tool", "summary", "told"),
    [
        ("synccheck", "ERROR SUMMARY: 1 error", {}),
        ("initcheck", "ERROR SUMMARY: 12 errors", {}),
        (
            "racecheck",
            "RACECHECK SUMMARY: 1 hazard displayed (0 errors, 1 warning)",
            {},
        ),
        ("racecheck", CLEAN["racecheck"].replace("0 warn", "1 warn"), {}),
        ("racecheck", CLEAN["racecheck"].replace("0 haz", "1 haz"), {}),
        ("racecheck", "ERROR SUMMARY: 0 errors", {}),
        ("memcheck", "ERROR SUMMARY: 0 errors", {}),
        ("memcheck", CLEAN["memcheck"].replace("0 bytes", "4 bytes"), {}),
        ("synccheck", "Target application terminated before first instrumented", {}),
        ("synccheck", CLEAN["synccheck"], {"launches": {"chase": 1}}),
        ("synccheck", CLEAN["synccheck"], {"alike": 0}),
        ("synccheck", CLEAN["synccheck"], {"problem": "chase: failed"}),
    ],
)
def test_anything_else_is_wrong(tool, summary, told):
    assert sanitizer_bench.judge(said(tool, summary, **told), RECORDING)


def test_a_replay_that_says_nothing_is_wrong():
    silent = sanitizer_bench.Watched("synccheck", CLEAN["synccheck"], 1.0)
    assert sanitizer_bench.judge(silent, RECORDING)


REPORT = "Invalid __global__ write of size 16\n=========     at memory_write+0x20\n"
FAULT = ("past the end", r"Invalid __global__ write", "memory_write")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        (f"{REPORT}========= ERROR SUMMARY: 8 errors", False),
        (f"{REPORT}========= ERROR SUMMARY: 0 errors", True),
        ("another\n========= ERROR SUMMARY: 8 errors", True),
        ("Invalid __global__ write\n========= ERROR SUMMARY: 8 errors", True),
    ],
)
def test_a_planted_fault_must_be_reported_where_it_is(text, wrong):
    assert bool(sanitizer_bench.judge_fault(said("memcheck", text), *FAULT)) == wrong


def test_a_kernel_that_never_ran_is_named():
    excused, missing = RECORDING.missing()
    assert excused == {}
    assert set(missing) == kernels() - {"chase"}
    wrong = sanitizer_bench.describe(RECORDING)
    assert "never launched: tag_turn" in wrong
