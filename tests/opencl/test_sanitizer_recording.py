"""The recording of a small whole run is whole: done again, the same comes back.

On the processor's OpenCL, out of the driver's own binaries; on a card the replay goes
through CUDA instead (`tests/sanitizer_bench.py`).
"""

import numpy as np
import pyopencl as cl
import pytest
from sanitizer import planted
from sanitizer.recorder import UnheardError, recording
from sanitizer.recording import Folder, Launched, Local, Made, Scalar, Whole, kernels
from sanitizer.replay import Replay
from sanitizer.small_run import MIB, record

from probe.opencl.programs import source

pytestmark = pytest.mark.opencl

FIRST_PLACE = 1 << 40


class Memory:
    """What `sanitizer.cuda.Cuda` is to a card, with OpenCL's buffers as addresses."""

    def __init__(self, device):
        self.device = device
        self.context = cl.Context([device])
        self.queue = cl.CommandQueue(self.context)
        self.buffers = {}
        self.programs = {}

    def take(self, size):
        place = FIRST_PLACE * (len(self.buffers) + 1)
        self.buffers[place] = cl.Buffer(self.context, cl.mem_flags.READ_WRITE, size)
        return place

    def free(self, place):
        self.buffers[place].release()

    def at(self, place):
        return self.buffers[place // FIRST_PLACE * FIRST_PLACE], place % FIRST_PLACE

    def put(self, place, content):
        buffer, offset = self.at(place)
        content = np.frombuffer(content, np.uint8)
        cl.enqueue_copy(self.queue, buffer, content, dst_offset=offset)

    def get(self, place, size):
        buffer, offset = self.at(place)
        content = np.empty(size, np.uint8)
        cl.enqueue_copy(self.queue, content, buffer, src_offset=offset)
        return content.tobytes()

    def move(self, to, source, size):
        (target, to_offset), (begin, offset) = self.at(to), self.at(source)
        offsets = {"src_offset": offset, "dst_offset": to_offset}
        cl.enqueue_copy(self.queue, target, begin, byte_count=size, **offsets)

    def kernel(self, binary, name):
        if binary not in self.programs:
            program = cl.Program(self.context, [self.device], [binary])
            self.programs[binary] = program.build()
        return cl.Kernel(self.programs[binary], name)


class Again(Replay):
    """The replay, with its launches through OpenCL."""

    def _launch(self, event):
        given = []
        for one in event.arguments:
            match one:
                case Whole(number):
                    given.append(self.cuda.buffers[self.places[number]])
                case Scalar(kind, value):
                    given.append(np.frombuffer(value, kind)[0])
                case Local(size):
                    given.append(cl.LocalMemory(size))
        kernel = self.cuda.kernel(self.folder.program(event.program), event.kernel)
        kernel.set_args(*given)
        queue = self.cuda.queue
        cl.enqueue_nd_range_kernel(queue, kernel, event.items, event.group).wait()
        self.last = event.kernel
        self.launches[event.kernel] += 1


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("recorded")
    record(path, "cpu", 2 * MIB)
    return Folder(path)


@pytest.fixture(scope="module")
def recorded(folder):
    return folder.read()


def test_every_kernel_is_launched_or_said_why_not(recorded):
    excused, missing = recorded.missing()
    assert missing == []
    assert excused.keys() <= {"fp16", "fp64"}  # what a driver may not offer
    assert recorded.launches().keys() == kernels() - excused.keys()
    assert all(reason for reason in excused.values())


def test_the_names_of_all_kernels_are_known():
    assert len(kernels()) == 20
    assert {"tag_turn", "built_fused", "fp16", "scatter"} <= kernels()


def test_done_again_the_same_comes_back(folder, recorded, device):
    replay = Again(Memory(device), folder, recorded, None)
    replay.run()
    assert replay.launches == recorded.launches()
    assert replay.differing == []
    assert replay.alike == replay.got > 20
    assert not replay.places


def test_a_recording_with_a_hole_comes_back_otherwise(folder, recorded, device):
    events = [
        event
        for event in recorded.events
        if not (isinstance(event, Launched) and event.kernel == "tag_turn")
    ]
    less = type(recorded)(recorded.device, recorded.driver, tuple(events), {})
    replay = Again(Memory(device), folder, less, None)
    replay.run()
    assert replay.alike < replay.got


def test_each_fault_is_another_program_of_the_same_kernels(folder, recorded):
    assert {fault.tool for fault in recorded.faults} == {
        *("memcheck", "initcheck", "racecheck", "synccheck")
    }
    for fault in recorded.faults:
        assert folder.program(fault.program) != folder.program(fault.replaces)
        assert set(fault.kernels) <= recorded.launches().keys()
    for plant in planted.PLANTS:
        assert planted.text(plant) != source(plant.file)


@pytest.fixture
def opened(device):
    context = cl.Context([device])
    return context, cl.CommandQueue(context)


KERNEL = "__kernel void one(__global uint *a, uint b) { a[0] = b; }"


def test_what_cannot_be_recorded_is_refused(opened, tmp_path):
    context, queue = opened
    before = cl.Buffer(context, cl.mem_flags.READ_WRITE, 64)
    kernel = cl.Kernel(cl.Program(context, KERNEL).build(), "one")
    word = np.zeros(1, np.uint32)
    with recording(tmp_path) as recorder:
        buffer = cl.Buffer(context, cl.mem_flags.READ_WRITE, 64)
        with pytest.raises(UnheardError):
            cl.enqueue_fill_buffer(queue, buffer, word, 0, 64)
        with pytest.raises(UnheardError):
            kernel(queue, (1,), (1,), buffer, word[0])
        with pytest.raises(UnheardError):
            cl.enqueue_copy(queue, buffer, word, wait_for=[])
        with pytest.raises(UnheardError, match="not recorded"):
            cl.enqueue_copy(queue, before, word)
        with pytest.raises(UnheardError, match="unheard"):
            cl.enqueue_nd_range_kernel(queue, kernel, (1,), (1,))
        kernel.set_args(before, word[0])
        with pytest.raises(UnheardError, match="not recorded"):
            cl.enqueue_nd_range_kernel(queue, kernel, (1,), (1,))
        assert recorder.events == [Made(1, 64)]


def test_pyopencl_is_itself_again_afterwards(tmp_path):
    before = dict(vars(cl))
    methods = cl.Kernel.set_args, cl.Kernel.__call__
    with recording(tmp_path):
        assert cl.Buffer is not before["Buffer"]
    assert dict(vars(cl)) == before
    assert (cl.Kernel.set_args, cl.Kernel.__call__) == methods
