"""The kernels are OpenCL C 1.1 and need nothing that a device may lack."""

import re

import pyopencl as cl
import pytest
from opencl_parts import LABEL, card_of, compiled

from probe.chains import STEPS
from probe.errors import CardError
from probe.opencl import programs

pytestmark = pytest.mark.opencl

FILES = ("capacity", "arithmetic", "traffic")
KERNELS = {
    "capacity": {"tag_write", "tag_verify", "tag_turn"},
    "traffic": {"memory_write", "memory_read", "memory_copy"},
    "arithmetic": {
        *("built_fused", "fp32", "int32", "transcendental", "learn", "local_memory")
    },
}
BUILT_IN = {
    *("get_global_id", "get_local_id", "get_group_id", "get_num_groups"),  # 6.11.1
    *("fma", "mad", "fabs", "native_exp2"),  # 6.11.2
    *("min", "max"),  # 6.11.3
    "any",  # 6.11.6
    "barrier",  # 6.11.8
    *("atomic_add", "atomic_min", "atomic_max", "atomic_or", "atomic_and"),  # 6.11.11
    "atomic_cmpxchg",
}
"""Built-in functions of OpenCL 1.1 that the kernels may call (The OpenCL Specification
1.1, Khronos 2011, revision 44; sections from memory). Whoever needs another one looks
it up there first: printf and popcount came with 1.2."""
KEYWORDS = {"if", "for", "while", "return", "switch", "sizeof", "defined"}


class Described:
    """As much of a device as the build options depend on."""

    def __init__(self, *, group=1024, item=1024, extensions=""):
        self.max_work_group_size = group
        self.max_work_item_sizes = [item, 64, 64]
        self.extensions = extensions


def code(name):
    return re.sub(r"/\*.*?\*/|//[^\n]*", " ", programs.source(name), flags=re.DOTALL)


@pytest.mark.parametrize("fp64", [False, True])
@pytest.mark.parametrize("group", [1, 64, 128, 256])
@pytest.mark.parametrize("name", FILES)
def test_every_file_builds_without_a_warning(card, device, name, group, fp64):
    if fp64 and not programs.has_fp64(device):
        pytest.skip("the device has no fp64")
    described = Described(group=group, extensions="cl_khr_fp64" if fp64 else "")
    options = programs.options(name, described)
    assert "-cl-std=CL1.1" in options
    assert f"-DGROUP={group}" in options
    assert ("-DWITH_FP64" in options) == (fp64 and name == "arithmetic")
    program = compiled(card, programs.source(name), [*options, "-Werror"])
    log = program.get_build_info(device, cl.program_build_info.LOG)
    assert "warning" not in log.lower()
    names = set(program.kernel_names.split(";"))
    assert names - {"fp64"} == KERNELS[name]
    assert ("fp64" in names) == ("-DWITH_FP64" in options)


@pytest.mark.parametrize("name", FILES)
def test_only_functions_of_opencl_1_1_are_called(name):
    text = code(name).replace("reqd_work_group_size(GROUP, 1, 1)", "")
    called = set(re.findall(r"\b([a-z]\w*)\s*\(", text))
    own = set(re.findall(r"\b(?:void|u?int4?|float4|Tally) (\w+)\(", text))
    cast = {word for word in called if re.fullmatch(r"as_u(int|long|short)4", word)}
    assert own >= KERNELS[name]
    assert called - own - cast - KEYWORDS - BUILT_IN == set()


@pytest.mark.parametrize("name", FILES)
def test_no_extension_outside_its_guard(name):
    text = code(name)
    for extension in ("fp64", "fp16"):
        guard = rf"#ifdef WITH_{extension.upper()}\n.*?\n#endif"
        for part in re.findall(guard, text, re.DOTALL):
            assert f"#pragma OPENCL EXTENSION cl_khr_{extension} : enable" in part
        text = re.sub(guard, "", text, flags=re.DOTALL)
    assert "#pragma OPENCL" not in text
    assert not re.search(r"\b(double|half)\d*\b", text)
    assert not re.search(r"\b(static|inline|generic|pipe|__generic)\b", text)


@pytest.mark.parametrize(
    ("group", "item", "size"),
    [
        (1024, 1024, 256),
        (256, 256, 256),
        (255, 1024, 128),
        (128, 1024, 128),
        (1024, 64, 64),
        (100, 100, 64),
        (8, 8192, 8),
        (1, 1, 1),
    ],
)
def test_the_group_fits_a_device_with_a_smaller_limit(group, item, size):
    described = Described(group=group, item=item)
    assert programs.group_size(described) == size
    for name in FILES:
        assert f"-DGROUP={size}" in programs.options(name, described)


def test_options_name_what_the_device_has():
    plain = programs.options("arithmetic", Described())
    assert plain == ["-cl-std=CL1.1", "-DGROUP=256", f"-DSTEPS={STEPS}"]
    both = Described(extensions="cl_khr_icd cl_khr_fp16 cl_khr_fp64 ")
    assert {"-DWITH_FP64", "-DWITH_FP16"} <= set(programs.options("arithmetic", both))
    near = Described(extensions="cl_amd_fp64 cl_khr_fp16_other")
    assert programs.options("arithmetic", near) == plain
    for name in ("capacity", "traffic"):
        options = programs.options(name, both)
        tile = next(word for word in options if word.startswith("-DTILE="))
        assert f"-DBATCH={tile.removeprefix('-DTILE=')}" in options


def test_small_groups_compute_the_same(device, monkeypatch):
    monkeypatch.setattr(programs, "group_size", lambda _: 32)
    for module in ("sweeps", "arithmetic", "traffic"):
        monkeypatch.setattr(f"probe.opencl.{module}.group_size", lambda _: 32)
    with card_of(device) as card:
        card._computes().groups = 8
        for name in ("fp32", "int32", "transcendental", "local_memory", "memory_copy"):
            assert card.burst(name, 1).wrong == 0


# ------------------------------------------------------------------ a build that fails

LOGS = {
    # pocl 3.1, as pyopencl passes it on
    "clBuildProgram failed: BUILD_PROGRAM_FAILURE\n\n"
    "Build on <pyopencl.Device 'x' on 'y'>:\n\n"
    "error: /srv/cache/pocl/kcache/tempfile_c8.cl:1:44: use of undeclared a\n"
    "Device x failed to build the program\n\n(options: -cl-std=CL1.1)": (
        "error: tempfile_c8.cl:1:44: use of undeclared a"
    ),
    "1:4:12: error: unknown type name 'half4'\n": (
        "1:4:12: error: unknown type name 'half4'"
    ),
    "<kernel>:3:1: ERROR: no more registers\n": (
        "<kernel>:3:1: ERROR: no more registers"
    ),
    r"error: C:\Users\jo\AppData\Local\Temp\a.cl:1:2: bad": "error: a.cl:1:2: bad",
    "clBuildProgram failed: OUT_OF_HOST_MEMORY\n": (
        "clBuildProgram failed: OUT_OF_HOST_MEMORY"
    ),
    "\n \n": "no reason given",
    "": "no reason given",
}


@pytest.mark.parametrize("log", LOGS)
def test_the_line_that_says_most(log):
    assert programs.complaint(log) == LOGS[log]


def test_a_failed_build_says_what_the_compiler_said(card, device, monkeypatch):
    broken = "__kernel void a(__global uint *x) { x[0] = missing_name; }\n"
    monkeypatch.setattr(programs, "source", lambda _: broken)
    with pytest.raises(CardError) as caught:
        programs.build(card._context, device, "traffic", LABEL)
    said = str(caught.value)
    assert said.startswith(f"{LABEL}: its driver could not build the traffic kernels: ")
    assert "missing_name" in said
    assert "\n" not in said
    assert len(said) < 400
    assert caught.value.code == "BUILD_PROGRAM_FAILURE"
