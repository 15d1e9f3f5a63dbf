"""Does again what a recording holds, through CUDA: `-m sanitizer.replay FOLDER`.

The process that the tool watches. Every buffer in its own allocation, every launch with
the driver's own PTX, sizes and arguments; what comes back is held against what came
back then. Prints one line of JSON.
"""

import argparse
import ctypes
import json
import struct
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path

from sanitizer.cuda import Cuda, CudaError
from sanitizer.ptx import adapted
from sanitizer.recording import (
    Dropped,
    Event,
    Fault,
    Folder,
    Got,
    Launched,
    Local,
    Made,
    Moved,
    Put,
    Recording,
    Scalar,
    Whole,
    name_of,
)

MARK = "replayed: "
Shelf = tuple[()] | tuple[str, int, int]
"""A kernel, its local argument's place among the others, its bytes."""


class Replay:
    """A recording in progress on a card."""

    def __init__(
        self, cuda: Cuda, folder: Folder, recording: Recording, fault: Fault | None
    ) -> None:
        self.cuda, self.folder, self.recording = cuda, folder, recording
        self.fault = fault
        self.launches: Counter[str] = Counter()
        self.got = self.alike = 0
        self.differing: list[str] = []
        self.places: dict[int, int] = {}
        self.modules: dict[tuple[str, Shelf], ctypes.c_void_p] = {}
        self.functions: dict[tuple[str, Shelf, str], ctypes.c_void_p] = {}
        self.last = "the beginning"

    def run(self) -> None:
        try:
            for event in self.recording.events:
                self._one(event)
                if self.fault is not None and self.launches[self.fault.kernels[-1]]:
                    break
        finally:
            for number in tuple(self.places):
                with suppress(CudaError):  # after an error it takes no more calls
                    self.cuda.free(self.places.pop(number))

    def _one(self, event: Event) -> None:
        places, cuda = self.places, self.cuda
        match event:
            case Made(number, size):
                places[number] = cuda.take(size)
            case Dropped(number):
                cuda.free(places.pop(number))
            case Put(number, offset, content):
                cuda.put(places[number] + offset, self.folder.content(content))
            case Moved(to, at, source, begin, size):
                cuda.move(places[to] + at, places[source] + begin, size)
            case Got() if self.fault is not None:
                pass  # what came of launches left out would be errors of its own
            case Got(number, offset, size, content):
                came = name_of(cuda.get(places[number] + offset, size))
                self.got += 1
                self.alike += came == content
                if came != content:
                    self.differing.append(f"{size} bytes after {self.last}")
            case Launched():
                self._launch(event)

    def _launch(self, event: Launched) -> None:
        if self.fault is not None and event.kernel not in self.fault.kernels:
            return
        given = []
        shelves: list[tuple[int, int]] = []
        for index, one in enumerate(event.arguments):
            match one:
                case Whole(number):
                    given.append(struct.pack("<Q", self.places[number]))
                case Scalar(_, value):
                    given.append(value)
                case Local(size):
                    shelves.append((index, size))
                    given.append(bytes(8))
        groups = [n // size for n, size in zip(event.items, event.group, strict=True)]
        rest = (1,) * (3 - len(groups))
        self.last = event.kernel
        function = self._function(event.program, event.kernel, shelves)
        self.launches[event.kernel] += 1
        self.cuda.launch(function, (*groups, *rest), (*event.group, *rest), given)

    def _function(
        self, program: str, kernel: str, shelves: list[tuple[int, int]]
    ) -> ctypes.c_void_p:
        """Return a kernel; one with local memory out of a program of its own."""
        if self.fault is not None and program == self.fault.replaces:
            program = self.fault.program
        if len(shelves) > 1:
            raise ValueError(f"{kernel}: more than one local argument")
        own = (kernel, *shelves[0]) if shelves else ()
        if (program, own) not in self.modules:
            text = self.folder.program(program).decode()
            self.modules[program, own] = self.cuda.load(adapted(text, *own))
        if (program, own, kernel) not in self.functions:
            found = self.cuda.function(self.modules[program, own], kernel)
            self.functions[program, own, kernel] = found
        return self.functions[program, own, kernel]


def main() -> None:
    parser = argparse.ArgumentParser(description="Do a recording again through CUDA.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--card", type=int, default=0, help="CUDA's number of it")
    parser.add_argument("--fault", type=int, metavar="N")
    asked = parser.parse_args()
    folder = Folder(asked.folder)
    recording = folder.read()
    fault = None if asked.fault is None else recording.faults[asked.fault]
    replay = Replay(Cuda(asked.card), folder, recording, fault)
    began = time.perf_counter()
    problem = None
    try:
        replay.run()
    except Exception as error:  # noqa: BLE001 - told, and the tool comes to its summary
        problem = f"{replay.last}: {error}"
    told = {
        "launches": replay.launches,
        "got": replay.got,
        "alike": replay.alike,
        "differing": replay.differing[:5],
        "seconds": time.perf_counter() - began,
        "problem": problem,
    }
    print(f"\n{MARK}{json.dumps(told)}", flush=True)


if __name__ == "__main__":
    main()
