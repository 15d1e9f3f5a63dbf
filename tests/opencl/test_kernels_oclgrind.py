"""No kernel touches memory that is not its own, and no two work-items race.

oclgrind simulates a device (Price and McIntosh-Smith, Oclgrind: an extensible OpenCL
device simulator, IWOCL 2015) and reports each such access. The control shows that it
would have reported one.
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.opencl

RUN = Path(__file__).parent / "simulated_run.py"
WATCH = ("--data-races", "--check-api", "--max-errors", "1000000")
# --uninitialized is left out: oclgrind 21.10 itself crashes with it
ASKED = "\tFunction: clGetDeviceInfo\n\tError:    CL_INVALID_VALUE\n"
"""Not ours: pyopencl asks each device for extensions that it may not have."""

WRONG = """
import pyopencl as cl
context = cl.Context(cl.get_platforms()[0].get_devices())
queue = cl.CommandQueue(context)
kernels = cl.Program(context, '''
__kernel void beyond(__global uint *a) { a[get_global_id(0) + 1] = 1; }
__kernel void race(__global uint *a) { a[0] = get_global_id(0); }
''').build(["-cl-std=CL1.1"])
a = cl.Buffer(context, cl.mem_flags.READ_WRITE, 256)
kernels.beyond(queue, (64,), (64,), a)
kernels.race(queue, (64,), (64,), a)
queue.finish()
"""


def simulate(*program):
    oclgrind = shutil.which("oclgrind")
    assert oclgrind is not None, "oclgrind is missing: apt-get install oclgrind"
    return subprocess.run(
        [oclgrind, *WATCH, sys.executable, *program],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def complaints(text):
    """Return oclgrind's messages, apart by blank lines, without those not ours."""
    messages = (message.strip("\n") for message in text.split("\n\n"))
    return [message for message in messages if message and ASKED not in f"{message}\n"]


@pytest.fixture(scope="module")
def simulated():
    done = simulate(RUN)
    assert done.returncode == 0, done.stderr
    return done


def test_no_invalid_access_no_race(simulated):
    assert complaints(simulated.stderr) == []


def test_the_simulated_device_computes_what_it_must(simulated):
    found = json.loads(simulated.stdout)
    whole = {"intact": 4096, "mirrored": 0, "hollow": 0, "failing": 0, "scrambled": 0}
    spoilt = {
        "intact": 4047,
        "mirrored": 16,
        "hollow": 16,
        "failing": 1,
        "scrambled": 16,
    }
    assert found["proof"] == [whole, whole, whole, spoilt, whole, spoilt, whole, whole]
    assert {"fp32", "fp64", "int32", "link_down"} <= found["rates"].keys()
    assert all(checked for checked, _ in found["rates"].values())
    assert {wrong for _, wrong in found["rates"].values()} == {0}


def test_the_watch_would_have_seen_it():
    seen = "\n".join(complaints(simulate("-c", WRONG).stderr))
    assert "Invalid write of size 4" in seen
    assert "Write-write data race" in seen
