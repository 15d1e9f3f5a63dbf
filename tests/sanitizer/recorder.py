"""Listens to pyopencl: every buffer, copy and launch of a program, in order.

The program is unchanged: for as long as `recording` lasts, the functions of pyopencl
that it calls tell what they are given before they do it. Whatever could change a
card's memory unheard is refused, so that a recording is whole or is none.
"""

import weakref
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
import pyopencl as cl
from sanitizer.recording import (
    Dropped,
    Event,
    Folder,
    Got,
    Launched,
    Local,
    Made,
    Moved,
    Put,
    Scalar,
    Whole,
)

_HEARD = {"enqueue_copy", "enqueue_nd_range_kernel", "enqueue_map_buffer"}
_HARMLESS = {"enqueue_barrier", "enqueue_marker"}
_MAKERS = ("Image", "Pipe", "SVM", "Sampler")
_copy = cl.enqueue_copy
_launch = cl.enqueue_nd_range_kernel
_map = cl.enqueue_map_buffer
_set_args = cl.Kernel.set_args
_buffer = cl.Buffer


class UnheardError(Exception):
    """The program did what no recording can hold yet."""


class Recorder:
    """What was heard so far."""

    def __init__(self, folder: Path) -> None:
        self.folder = Folder(folder)
        self.events: list[Event] = []
        self.made = 0
        self.alive: set[int] = set()
        self.mapped: set[int] = set()
        """Buffers that the PC writes into directly: pinned, never an argument."""
        self.arguments: dict[int, tuple[Any, ...]] = {}
        self.programs: dict[int, tuple[cl.Program, str]] = {}
        """By the driver's handle. The program is held, so that none is used again."""

    def number(self, buffer: Any) -> int:
        number = getattr(buffer, "number", None)
        if number is None or number in self.mapped:
            raise UnheardError(f"{buffer!r} holds what was not recorded")
        return number

    def make(self, size: int) -> int:
        self.made += 1
        self.alive.add(self.made)
        self.events.append(Made(self.made, size))
        return self.made

    def drop(self, number: int) -> None:
        if number in self.alive:
            self.alive.remove(number)
            self.events.append(Dropped(number))

    def copy(self, queue: cl.CommandQueue, dest: Any, src: Any, **more: Any) -> Any:
        if isinstance(dest, _buffer) and isinstance(src, _buffer):
            return self._move(queue, dest, src, more)
        return (self._put if isinstance(dest, _buffer) else self._get)(
            queue, dest, src, more
        )

    def _put(self, queue: cl.CommandQueue, dest: Any, src: Any, more: Any) -> Any:
        _known(more, {"dst_offset", "is_blocking"})
        content = self.folder.keep(_bytes(src))
        event = _copy(queue, dest, src, **more)
        at = int(more.get("dst_offset", 0))
        self.events.append(Put(self.number(dest), at, content))
        return event

    def _get(self, queue: cl.CommandQueue, dest: Any, src: Any, more: Any) -> Any:
        _known(more, {"src_offset", "is_blocking"})
        event = _copy(queue, dest, src, **more)
        event.wait()  # what came must be there to be named
        content = _bytes(dest)
        name = self.folder.keep(content)
        at = int(more.get("src_offset", 0))
        self.events.append(Got(self.number(src), at, len(content), name))
        return event

    def _move(self, queue: cl.CommandQueue, dest: Any, src: Any, more: Any) -> Any:
        _known(more, {"src_offset", "dst_offset", "byte_count"})
        event = _copy(queue, dest, src, **more)
        to, source = (int(more.get(f"{end}_offset", 0)) for end in ("dst", "src"))
        size = int(more.get("byte_count", src.size))
        numbers = self.number(dest), self.number(src)
        self.events.append(Moved(numbers[0], to, numbers[1], source, size))
        return event

    def map(self, queue: cl.CommandQueue, buffer: Any, *rest: Any, **more: Any) -> Any:
        self.mapped.add(self.number(buffer))
        return _map(queue, buffer, *rest, **more)

    def set_args(self, kernel: cl.Kernel, *arguments: Any) -> None:
        self.arguments[kernel.int_ptr] = arguments
        _set_args(kernel, *arguments)

    def launch(
        self, queue: cl.CommandQueue, kernel: cl.Kernel, items: Any, group: Any
    ) -> Any:
        given = self.arguments.get(kernel.int_ptr)
        if given is None:
            raise UnheardError(f"{kernel.function_name}: given its arguments unheard")
        arguments = tuple(map(self._argument, given))
        program = self._program(kernel)
        event = _launch(queue, kernel, items, group)
        self.events.append(
            Launched(
                program=program,
                kernel=kernel.function_name,
                arguments=arguments,
                items=tuple(map(int, items)),
                group=tuple(map(int, group)),
            )
        )
        return event

    def _argument(self, value: Any) -> Whole | Scalar | Local:
        if isinstance(value, _buffer):
            return Whole(self.number(value))
        if isinstance(value, cl.LocalMemory):
            return Local(int(value.size))
        if isinstance(value, np.generic):
            return Scalar(str(value.dtype), value.tobytes())
        raise UnheardError(f"an argument of a kernel: {value!r}")

    def _program(self, kernel: cl.Kernel) -> str:
        program = kernel.get_info(cl.kernel_info.PROGRAM)
        known = self.programs.get(program.int_ptr)
        if known is None:
            (binary,) = program.get_info(cl.program_info.BINARIES)
            known = program, self.folder.keep_program(binary)
            self.programs[program.int_ptr] = known
        return known[1]


def _bytes(array: Any) -> bytes:
    if not isinstance(array, np.ndarray) or not array.flags.c_contiguous:
        raise UnheardError(f"a copy with {type(array).__name__}")
    return array.tobytes()


def _known(given: dict[str, Any], allowed: set[str]) -> None:
    if given.keys() - allowed:
        raise UnheardError(f"a copy with {', '.join(given.keys() - allowed)}")


@contextmanager
def recording(folder: Path) -> Iterator[Recorder]:
    """Hear everything that this process does through pyopencl meanwhile."""
    recorder = Recorder(folder)

    class Buffer(_buffer):
        def __init__(self, context: cl.Context, flags: int, size: int) -> None:
            super().__init__(context, flags, size)
            self.number = recorder.make(size)
            weakref.finalize(self, recorder.drop, self.number).atexit = False

        def release(self) -> None:
            super().release()
            recorder.drop(self.number)

    def set_args(kernel: cl.Kernel, *arguments: Any) -> None:
        recorder.set_args(kernel, *arguments)

    def refuse(*_: Any, **__: Any) -> Any:
        raise UnheardError("a call that no recording can hold")

    every = {name for name in vars(cl) if name.startswith("enqueue_")}
    unheard = {*(every - _HEARD - _HARMLESS), *_MAKERS} & vars(cl).keys()
    heard = {
        "Buffer": Buffer,
        "enqueue_copy": recorder.copy,
        "enqueue_nd_range_kernel": recorder.launch,
        "enqueue_map_buffer": recorder.map,
    }
    with (
        mock.patch.multiple(cl, **heard, **dict.fromkeys(unheard, refuse)),
        mock.patch.object(cl.Kernel, "set_args", set_args),
        mock.patch.object(cl.Kernel, "__call__", refuse),
    ):
        yield recorder
