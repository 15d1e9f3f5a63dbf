"""Sweeps of the capacity proof on an OpenCL device.

Launches are cut so that each stays well under LAUNCH_SECONDS on this device, and are
given to the driver a batch at a time, so that a fast card never waits for the PC and a
slow one still reports. Counters come back, never the memory.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pyopencl as cl

from probe.device import CELL_BYTES, Block, Census, Sweep, Swept, Tagging
from probe.errors import CardError
from probe.opencl.calls import Timer, calling
from probe.opencl.programs import CAPACITY_TILE, group_size
from probe.tags import HIGH_LIMIT, MASK, Key, Words

FOUND = 18
"""Words of counters a block: see kernels/capacity.cl."""
LAUNCH_SECONDS = 0.04
BATCH_SECONDS = 0.25
SMALLEST_LAUNCH = 2**20
FIRST_ROWS = 1024
"""Counters are made before the card's memory is full: for more blocks than a card of
any size is cut into."""

_ONES = (5, 11, 12, 13, 14, 15)
"""Counters that start at all ones: least values, AND masks, "none yet"."""


@dataclass
class Pace:
    """How fast this device sweeps: what keeps launches short. Bytes per second."""

    rate: float = 0.0

    def launch_bytes(self) -> int:
        most = max(self.rate * LAUNCH_SECONDS, SMALLEST_LAUNCH)
        return 1 << (int(most).bit_length() - 1)

    def learn(self, size_bytes: int, seconds: float) -> None:
        """Take in one measurement; a small launch says little about a big one."""
        rate = size_bytes / max(seconds, 1e-7)
        self.rate = min(rate, 16 * self.rate) if self.rate else rate


@dataclass(frozen=True)
class _Launch:
    row: int
    block: Block
    first: int
    cells: int


@dataclass
class Sweeper:
    """Walks over blocks with one of the three kernels."""

    context: cl.Context
    device: cl.Device
    queue: cl.CommandQueue
    program: cl.Program
    card: str
    timer: Timer = field(default_factory=Timer)
    pace: dict[str, Pace] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.group = group_size(self.device)
        names = ("write", "verify", "turn")
        self.kernels = {n: cl.Kernel(self.program, f"tag_{n}") for n in names}
        self.pace = {n: Pace() for n in names}
        self.found: cl.Buffer | None = None
        self.rows = 0
        self._make_rows(FIRST_ROWS)

    def touch(self, block: Block) -> None:
        """Write one smallest launch at the block's start, so that it is really held.

        Raises MemoryRefusedError where the driver only now finds that it is not. The
        first block runs every kernel: their code, too, must be on the card before its
        memory is full; and it counts, so that a driver that runs nothing is found out
        before it has given any more.
        """
        assert block.first_cell % 2**32 + block.cells <= 2**32, "low halves would carry"
        actions: tuple[Sweep, ...] = ("write",)
        is_first = not self.pace["turn"].rate
        if is_first:
            actions = ("write", "verify", "turn", "write", "verify", "turn")
        tagging = Tagging(nonce=0, complemented=False)
        launch = _Launch(0, block, 0, SMALLEST_LAUNCH // CELL_BYTES)
        with calling("touching a block", self.card, memory=True):
            if is_first:
                self._clear(1)
            for action in actions:
                began = time.perf_counter()
                event = self._enqueue(action, launch, tagging)
                event.wait()
                seconds = self.timer.span([event], time.perf_counter() - began)
                if SMALLEST_LAUNCH / seconds > self.pace[action].rate:
                    self.pace[action].learn(SMALLEST_LAUNCH, seconds)
            counted = _census(self._counters(0, 1)[0]).checked if is_first else 0
        due = (len(actions) - actions.count("write")) * launch.cells
        if counted != due:
            raise CardError(
                f"{self.card}: its driver counted {counted} of {due} cells: it does "
                "not run what it is given"
            )

    def sweep(
        self,
        action: Sweep,
        blocks: Sequence[Block],
        tagging: Tagging,
        done: Callable[[Swept], None],
    ) -> float:
        """See `probe.device.Device.sweep`."""
        with calling(f"the {action} pass", self.card, memory=action == "write"):
            self._clear(len(blocks))
            total = 0.0
            position = 0
            while position < len(blocks):
                count, seconds = self._batch(action, blocks, position, tagging, done)
                position += count
                total += seconds
            return total

    def _batch(
        self,
        action: Sweep,
        blocks: Sequence[Block],
        position: int,
        tagging: Tagging,
        done: Callable[[Swept], None],
    ) -> tuple[int, float]:
        """Sweep whole blocks worth about BATCH_SECONDS, then report them."""
        pace = self.pace[action]
        budget = max(pace.rate * BATCH_SECONDS, SMALLEST_LAUNCH)
        batch: list[Block] = []
        batch_bytes = 0
        while position + len(batch) < len(blocks) and (
            not batch or batch_bytes < budget
        ):
            batch.append(blocks[position + len(batch)])
            batch_bytes += batch[-1].size_bytes
        began = time.perf_counter()
        events: list[list[cl.Event]] = []
        slow = pace.launch_bytes() * 8 < batch[0].size_bytes
        for offset, block in enumerate(batch):
            events.append(
                self._block(action, position + offset, block, tagging, slow=slow)
            )
        self.queue.flush()
        for last in reversed(events):
            last[-1].wait()
        host_seconds = time.perf_counter() - began
        everything = [event for group in events for event in group]
        seconds = self.timer.span([everything[0], everything[-1]], host_seconds)
        pace.learn(batch_bytes, seconds)
        counted = None if action == "write" else self._counters(position, len(batch))
        for offset, (block, group) in enumerate(zip(batch, events, strict=True)):
            census = None if counted is None else _census(counted[offset])
            done(
                Swept(
                    block=block,
                    seconds=self.timer.part(
                        [group[0], group[-1]],
                        host_seconds,
                        block.size_bytes / batch_bytes,
                    ),
                    census=census,
                )
            )
        return len(batch), seconds

    def _block(
        self, action: Sweep, row: int, block: Block, tagging: Tagging, *, slow: bool
    ) -> list[cl.Event]:
        """Enqueue a block's launches; on a slow device, learn between them."""
        pace = self.pace[action]
        events: list[cl.Event] = []
        first = 0
        while first < block.cells:
            cells = min(pace.launch_bytes() // CELL_BYTES, block.cells - first)
            start = block.cells - first - cells if action == "turn" else first
            began = time.perf_counter()
            event = self._enqueue(action, _Launch(row, block, start, cells), tagging)
            if slow:
                event.wait()
                seconds = self.timer.span([event], time.perf_counter() - began)
                pace.learn(cells * CELL_BYTES, seconds)
            events.append(event)
            first += cells
        return events

    def _enqueue(self, action: Sweep, launch: _Launch, tagging: Tagging) -> cl.Event:
        key = Key.of(tagging.nonce)
        base = launch.block.first_cell
        words = (
            launch.first,
            base & MASK,
            base >> 32,
            key.first,
            key.second,
            key.third,
            MASK if tagging.complemented else 0,
        )
        kernel = self.kernels[action]
        arguments = [launch.block.handle, *map(np.uint32, words)]
        if action != "write":
            arguments += [self.found, np.uint32(launch.row)]
        kernel.set_args(*arguments)  # type: ignore[arg-type]
        items = launch.cells // CAPACITY_TILE
        return cl.enqueue_nd_range_kernel(self.queue, kernel, (items,), (self.group,))

    def _make_rows(self, rows: int) -> None:
        flags = cl.mem_flags.READ_WRITE
        self.found = cl.Buffer(self.context, flags, rows * FOUND * 4)
        self.rows = rows

    def _clear(self, rows: int) -> None:
        if rows > self.rows:
            self._make_rows(2 * rows)
        fresh = np.zeros((rows, FOUND), np.uint32)
        fresh[:, _ONES] = MASK
        assert self.found is not None
        cl.enqueue_copy(self.queue, self.found, fresh)

    def _counters(self, first: int, rows: int) -> Words:
        counted = np.empty((rows, FOUND), np.uint32)
        assert self.found is not None
        cl.enqueue_copy(self.queue, counted, self.found, src_offset=first * FOUND * 4)
        return counted


def _census(row: Words) -> Census:
    words = [int(word) for word in row]
    wrong = words[5] != MASK
    failing = words[3] > 0
    named = words[1] > 0 and words[15] != MASK and words[17] < HIGH_LIMIT
    return Census(
        intact=words[0],
        mirrored=words[1],
        hollow=words[2],
        failing=words[3],
        scrambled=words[4],
        first_wrong=words[5] if wrong else None,
        last_wrong=words[6] if wrong else None,
        any_flips=(words[7], words[8], words[9], words[10]),
        all_flips=(words[11], words[12], words[13], words[14])
        if failing
        else (0, 0, 0, 0),
        foreign_cell=words[16] | words[17] << 32 if named else None,
        foreign_at=words[15] if named else None,
    )
