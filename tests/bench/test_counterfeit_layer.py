"""The counterfeit layer by itself: it lies exactly as told, and not otherwise.

None of our program runs here. `layer_probe.py` is the witness: a process that knows
only pyopencl.
"""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import counterfeit
import pytest

pytestmark = pytest.mark.opencl

MIB = 2**20
BLOCK = 4 * MIB
WORDS = BLOCK // 4
PROBE = Path(__file__).parent / "layer_probe.py"


def run(environment, *arguments, program=None):
    return subprocess.run(
        [sys.executable, *(("-c", program) if program else (PROBE,)), *arguments],
        capture_output=True,
        text=True,
        env=environment,
        timeout=60,
        check=False,
    )


def seen(layer, size=BLOCK, **lies):
    done = run(counterfeit.environment(layer, **lies), str(size))
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def expression(environment, text):
    done = run(
        environment,
        program=f"import pyopencl as cl; d = cl.get_platforms()[0]; print({text})",
    )
    return done.stdout.strip(), done.stderr.strip()


def test_wrapping_memory_holds_what_was_written_last(layer):
    blocks = seen(layer, kind="wrap", real=12 * MIB, claim=32 * MIB)["blocks"]
    assert len(blocks) == 8
    # real memory of 3 blocks: 7 lies on 4 and 1, 6 on 3 and 0, 5 on 2
    last = {0: 6, 1: 7, 2: 5}
    for number, block in enumerate(blocks):
        lies_here = last[number % 3]
        assert block["right"] == (WORDS if lies_here == number else 0)
        assert block["apart"] == (lies_here - number) * WORDS
        assert block["read"] == [lies_here * WORDS + word for word in range(4)]


@pytest.mark.parametrize(("fill", "name"), [(0, "zeros"), (255, "ones")])
def test_hollow_memory_forgets(layer, fill, name):
    blocks = seen(layer, kind="hollow", real=12 * MIB, claim=32 * MIB, fill=fill)[
        "blocks"
    ]
    assert [block["right"] for block in blocks] == [WORDS] * 3 + [0] * 5
    assert [block[name] for block in blocks] == [0] * 3 + [WORDS] * 5
    assert blocks[7]["read"] == [fill * 0x01010101] * 4


def test_hollow_memory_may_begin_within_a_block(layer):
    blocks = seen(layer, kind="hollow", real=5 * MIB, claim=12 * MIB)["blocks"]
    quarter = WORDS // 4
    assert [block["right"] for block in blocks] == [WORDS, quarter, 0]
    assert [block["zeros"] for block in blocks] == [0, 3 * quarter, WORDS]


@pytest.mark.parametrize("value", [0, 1])
def test_one_bit_is_stuck(layer, value):
    at = 5 * MIB + 1  # second byte of a word of block 1
    word = WORDS + MIB // 4
    flipped = (word >> 8 & 1) != value
    blocks = seen(layer, real=12 * MIB, stuck=((at, 0, value),))["blocks"]
    assert [block["right"] for block in blocks] == [WORDS, WORDS - flipped, WORDS]
    assert blocks[1]["flips"] == (1 << 8 if flipped else 0)
    assert blocks[1]["at"] == (MIB // 4 if flipped else 0)


def test_a_stuck_bit_shows_wherever_its_memory_is_mirrored(layer):
    blocks = seen(
        layer, kind="wrap", real=4 * MIB, claim=8 * MIB, stuck=((0, 0, 1), (4, 1, 1))
    )["blocks"]
    assert [block["read"] for block in blocks] == [
        [WORDS | 1, WORDS + 1 | 2, WORDS + 2, WORDS + 3]
    ] * 2


@pytest.mark.parametrize(
    ("kind", "call"),
    [("refuse", "clEnqueueNDRangeKernel"), ("create", "create_buffer")],
)
def test_memory_is_refused(layer, kind, call):
    found = seen(layer, kind=kind, real=12 * MIB, claim=32 * MIB)
    assert [block["right"] for block in found["blocks"]] == [WORDS] * 3
    assert found["refusal"] == f"{call} failed: MEM_OBJECT_ALLOCATION_FAILURE"


def test_spilled_memory_works(layer):
    blocks = seen(layer, kind="spill", real=12 * MIB, claim=32 * MIB)["blocks"]
    assert [block["right"] for block in blocks] == [WORDS] * 8


OTHER_WAYS = """
import json
import numpy as np
import pyopencl as cl
MIB = 2**20
context = cl.Context(cl.get_platforms()[0].get_devices())
queue = cl.CommandQueue(context)
flags = cl.mem_flags
ones = np.ones(MIB, np.uint32)
low = cl.Buffer(context, flags.READ_WRITE | flags.COPY_HOST_PTR, hostbuf=ones)
high = cl.Buffer(context, flags.READ_WRITE, 4 * MIB)
said = {}
def read(buffer, at=0):
    word = np.empty(1, np.uint32)
    cl.enqueue_copy(queue, word, buffer, src_offset=at)
    return int(word[0])
said["given at creation"] = read(low)
cl.enqueue_copy(queue, high, low)
said["copied"] = read(high)
part = high.get_sub_region(2 * MIB, MIB)
cl.enqueue_fill_buffer(queue, part, np.uint32(7), 0, MIB)
high.release()
said["filled by part"] = read(part), read(low, 2 * MIB)
view, _ = cl.enqueue_map_buffer(
    queue, low, cl.map_flags.READ | cl.map_flags.WRITE, 0, (MIB,), np.uint32)
view[MIB // 2] = 9
view.base.release(queue)
said["mapped"] = read(part), read(low, 2 * MIB)
print(json.dumps(said))
"""


@pytest.mark.parametrize(
    ("kind", "copied", "filled", "mapped"),
    [("wrap", 1, [7, 7], [9, 9]), ("hollow", 0, [0, 1], [0, 9])],
)
def test_memory_lies_whichever_way_it_is_reached(layer, kind, copied, filled, mapped):
    lies = counterfeit.environment(layer, kind=kind, real=4 * MIB, claim=8 * MIB)
    done = run(lies, program=OTHER_WAYS)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {
        "given at creation": 1,
        "copied": copied,
        "filled by part": filled,
        "mapped": mapped,
    }


def test_words_lie_about_the_device(layer, tmp_path):
    name = "GeForce\x1b[31m " + "x" * 300_000
    lies = {
        "kind": "wrap",
        "real": 8 * MIB,
        "claim": 2**36,
        "device_type": "gpu",
        "vendor": "NVIDIA Corporation",
        "units": 15,
    }
    told = seen(layer, **lies, name=name, info_file=tmp_path / "info")["words"]
    assert told["name"] == name
    assert told["vendor"] == "NVIDIA Corporation"
    assert told["memory"] == 2**36
    assert told["largest"] == 2**34
    assert told["units"] == 15
    assert told["unified"] is False


def test_a_gpu_is_found_only_where_gpus_are_asked_for(layer):
    gpu = counterfeit.environment(layer, device_type="gpu")
    assert expression(gpu, "len(d.get_devices(cl.device_type.GPU))") == ("1", "")
    assert expression(gpu, "len(d.get_devices(cl.device_type.CPU))") == ("0", "")


def test_an_honest_layer_changes_nothing(layer):
    told = "[(x.name, x.vendor, x.type, x.global_mem_size, x.max_mem_alloc_size, "
    told += "x.max_compute_units, x.host_unified_memory) for x in d.get_devices()]"
    honest = counterfeit.environment(layer)
    bare = {key: value for key, value in honest.items() if key != "OPENCL_LAYERS"}
    assert expression(honest, told) == expression(bare, told)
    blocks = seen(layer)["blocks"]
    assert len(blocks) == 64
    assert all(block["right"] == WORDS for block in blocks)


def test_an_honest_card_of_a_size_is_that_size(layer):
    found = seen(layer, real=10 * MIB)
    assert found["words"]["memory"] == 10 * MIB
    assert [block["right"] for block in found["blocks"]] == [WORDS] * 2


def test_the_arithmetic_can_be_wrong(layer):
    blocks = seen(layer, real=8 * MIB, prelude="#define get_global_id(x) 0u")["blocks"]
    assert blocks[1]["read"][0] == WORDS
    assert blocks[1]["read"][1] != WORDS + 1


def test_results_can_be_garbage(layer):
    blocks = seen(layer, real=8 * MIB, garbage=1)["blocks"]
    assert any(block["others"] for block in blocks)


def test_a_device_is_lost_after_some_launches(layer):
    lost = run(counterfeit.environment(layer, lost_after=3), str(BLOCK))
    assert lost.returncode == 1
    assert "failed: OUT_OF_RESOURCES" in lost.stderr
    gone = run(counterfeit.environment(layer, lost_after=3, lost_code=-2), str(BLOCK))
    assert "failed: DEVICE_NOT_AVAILABLE" in gone.stderr


def test_the_process_is_killed_after_some_launches(layer):
    done = run(counterfeit.environment(layer, kill_after=3), str(BLOCK))
    assert done.returncode == -signal.SIGKILL


@pytest.mark.parametrize("lie", [{"hang_after": 3}, {"fault": (40, "hang")}])
def test_a_device_hangs(layer, lie):
    with subprocess.Popen(
        [sys.executable, PROBE, str(BLOCK)],
        env=counterfeit.environment(layer, **lie),
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            # the line comes, or the process ends and there are no more lines
            assert "counterfeit: hangs\n" in iter(process.stderr.readline, "")
            assert process.poll() is None
        finally:
            process.kill()


def test_any_call_can_fail(layer, tmp_path):
    tally = tmp_path / "tally"
    quiet = {"real": 8 * MIB, "tally": tally}
    seen(layer, **quiet)
    calls = int(tally.read_text())
    assert calls > 50
    results = {
        run(
            counterfeit.environment(layer, real=8 * MIB, fault=(number, -36)),
            str(BLOCK),
        ).returncode
        for number in (1, calls // 3, calls // 2)
    }
    assert results <= {0, 1}
    assert 1 in results
    killed = counterfeit.environment(layer, real=8 * MIB, fault=(calls // 2, "kill"))
    assert run(killed, str(BLOCK)).returncode == -signal.SIGKILL


@pytest.mark.parametrize(
    ("variable", "value"),
    [
        ("KIND", "wrapped"),
        ("REAL", "128MB"),
        ("CLAIM", "9MiB"),
        ("STUCK", "1:8:1"),
        ("STUCK", f"{8 * MIB}:0:1"),
        ("TYPE", "GPU"),
        ("INFO", "0x102B:41"),
        ("FAULT", "0:hang"),
        ("FAULT", "1:later"),
        ("LOST_CODE", "5"),
    ],
)
def test_a_lie_that_cannot_be_told_ends_the_process(layer, variable, value):
    environment = counterfeit.environment(layer, real=8 * MIB)
    environment[f"COUNTERFEIT_{variable}"] = value
    done = run(environment, str(BLOCK))
    assert done.returncode == 97
    assert f"counterfeit: COUNTERFEIT_{variable} cannot be" in done.stderr


def test_no_lie_of_the_surroundings_is_inherited(layer, monkeypatch):
    monkeypatch.setenv("COUNTERFEIT_KIND", "wrap")
    assert "COUNTERFEIT_FAULT" not in counterfeit.environment(layer)
    assert counterfeit.environment(layer)["COUNTERFEIT_KIND"] == "honest"
    assert os.environ["COUNTERFEIT_KIND"] == "wrap"
