"""One OpenCL device for all tests here. Without one they fail; they never skip."""

import pyopencl as cl
import pytest
from opencl_parts import card_of


@pytest.fixture(scope="session")
def device():
    """Return the CPU if a driver shows it, else the first device that there is."""
    try:
        found = [d for p in cl.get_platforms() for d in p.get_devices()]
    except cl.Error as error:
        pytest.fail(f"no OpenCL driver: apt-get install pocl-opencl-icd ({error})")
    real = [d for d in found if "oclgrind" not in d.platform.name.lower()]
    real.sort(key=lambda d: not d.type & cl.device_type.CPU)
    if not real:
        pytest.fail("no OpenCL device: apt-get install pocl-opencl-icd")
    return real[0]


@pytest.fixture(scope="module")
def card(device):
    with card_of(device) as opened:
        yield opened
