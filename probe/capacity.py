"""The capacity proof: write everything, then verify everything, in both polarities.

  take     blocks until the driver refuses, the whole claim is held, or we stop
  write    upward, every cell gets its tag
  verify   upward
  turn     downward: verify, and rewrite with the complement
  verify   downward, so that as much lies between a cell's write and its reading as
           before: a cache must not answer for memory

(The march  ⇑w ⇑r ⇓(r,w̄) ⇓r̄.) Under wrapping addresses a later write lands on an
earlier one, so exactly the real storage keeps its tags, whatever the mapping. Proven
is what survived in the worst of the reading passes, spilled blocks left out.

Holds no opinion: which share of which kind means what is decided in `reference/`.
"""

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field

from probe.device import CELL_BYTES, Census, Device, Sweep, Swept, Tagging
from probe.errors import CardError, MemoryRefusedError
from probe.events import MapChanged, Progressed, Watcher
from probe.held import Held, as_block, proven_cells, spilled, state, summed
from reports import record
from reports.record import Capacity, EndedBy
from reports.text import plain
from reports.units import gib

MIB = 2**20
SMALLEST_BLOCK = MIB
LARGEST_BLOCK = 2**30
BLOCKS_AT_LEAST = 64
"""A card's claim is cut into at least this many blocks: the map's resolution."""
DISPLAY_MARGIN = 0.04
MAPS_A_PASS = 16
"""How often the map is drawn while a pass goes on."""
DISTURBED = 0.05
"""Up to this share of what is held may be slow because something came between."""
SECOND_LOOKS = 3
HOST_SPARED = 512 * MIB
"""The PC's free memory is not taken below this, nor below an eighth of what was free;
a PC that has less to begin with keeps half."""
REASON_LIMIT = 2000
"""Longest refusal that is kept, in characters."""


@dataclass
class Proof:
    """One capacity proof as it goes on. `result()` is valid at any moment."""

    device: Device
    watch: Watcher
    limit_bytes: int | None = None
    host_available: Callable[[], int | None] = lambda: None
    held: list[Held] = field(default_factory=list)
    passes: list[record.Pass] = field(default_factory=list)
    ended_by: EndedBy = "error"
    refusal: str | None = None
    margin_bytes: int = 0
    nonce: int = field(default_factory=lambda: secrets.randbits(64))
    link_rate: float | None = None
    """Bytes per second of the host link: what spilled blocks run at."""

    @property
    def covered_bytes(self) -> int:
        """What is held: blocks lie one after the other."""
        if not self.held:
            return 0
        last = self.held[-1].block
        return last.first_cell * CELL_BYTES + last.size_bytes

    def take(self) -> None:
        """Hold as much memory as can be had, touched, all at once."""
        target = self._target()
        size = self._first_size()
        started_with = self.host_available()
        while size >= SMALLEST_BLOCK:
            if self.covered_bytes + size > target:
                size //= 2
                continue
            if self._host_is_short(started_with):
                self.ended_by = "host memory"
                break
            try:
                self._take_one(size)
            except MemoryRefusedError as error:
                self.refusal = plain(str(error), REASON_LIMIT)
                size //= 2
            self._took(target)
        else:
            self.ended_by = self._ending(target)
        self._show()

    def write(self) -> None:
        """Write every cell. Raises CardError.

        A driver may find only when all of it is used that it gave more than it has:
        then the upper half is given back, until what is left can be written.
        """
        while True:
            try:
                self._pass("write", upward=True, tag=False, figure="written")
            except MemoryRefusedError as error:
                kept = len(self.held) // 2
                if not kept:
                    raise
                self.refusal = plain(str(error), REASON_LIMIT)
                self.ended_by = "driver refused"
                self.device.release([each.block for each in self.held[kept:]])
                del self.held[kept:]
            else:
                return

    def verify(self) -> None:
        """Verify what the last write or turn left, in the direction it walked."""
        last = self._last()
        self._pass(
            "verify", upward=last.upward, tag=last.complemented, figure="verified"
        )

    def turn(self) -> None:
        """Verify downward and rewrite with the complement."""
        last = self._last()
        self._pass("turn", upward=False, tag=last.complemented, figure="turned")

    def disturbed(self) -> list[Held]:
        """Return the blocks that look spilled, where they are few."""
        beyond = self._spilled()
        size = sum(each.block.size_bytes for each in beyond)
        if size > DISTURBED * self.covered_bytes:
            return []
        return [each for each in self.held if each in beyond]

    def time_again(self) -> None:
        """Read the few slow blocks again, for their speed alone."""
        by_number = {each.block.number: each for each in self.disturbed()}
        tagging = Tagging(nonce=self.nonce, complemented=self._last().complemented)

        def done(swept: Swept) -> None:
            by_number[swept.block.number].timed(swept.seconds)

        for _ in range(SECOND_LOOKS):
            slow = [each.block for each in self.disturbed()]
            if not slow:
                break
            self.device.sweep("verify", slow, tagging, done)
        self._show()

    def renew(self) -> None:
        """Begin again with another seed: all tags change."""
        self.nonce = secrets.randbits(64)

    def wrong_cells(self) -> int:
        """Return the cells found failing or scrambled in any pass so far."""
        return sum(
            p.counts.failing + p.counts.scrambled for p in self.passes if p.counts
        )

    def release(self) -> None:
        """Give all blocks back; what was found stays."""
        self.device.release([each.block for each in self.held])

    def result(self) -> Capacity:
        """Return the proof as far as it has come."""
        beyond = self._spilled()
        blocks = tuple(as_block(each, spilled=each in beyond) for each in self.held)
        return Capacity(
            claimed_bytes=self.device.facts.memory_bytes,
            free_bytes=self.device.facts.free_bytes,
            covered_bytes=self.covered_bytes,
            proven_bytes=proven_cells(self.held, beyond) * CELL_BYTES,
            spilled_bytes=sum(each.block.size_bytes for each in beyond),
            margin_bytes=self.margin_bytes,
            ended_by=self.ended_by,
            refusal=self.refusal,
            nonce=f"{self.nonce:016x}",
            passes=tuple(self.passes),
            blocks=blocks,
        )

    def _last(self) -> record.Pass:
        """Return the pass that left what is in memory."""
        return next(p for p in reversed(self.passes) if p.name != "verify")

    def _target(self) -> int:
        """Return how much to take, in whole blocks of the smallest size."""
        target = self._without_margin()
        if self.limit_bytes is not None:
            target = min(target, self.limit_bytes)
        return max(target // SMALLEST_BLOCK * SMALLEST_BLOCK, SMALLEST_BLOCK)

    def _without_margin(self) -> int:
        """Return the claim without what is left to the display."""
        facts = self.device.facts
        target = facts.memory_bytes
        display = facts.identity.drives_display
        if display:
            self.margin_bytes = max(256 * MIB, int(target * DISPLAY_MARGIN))
        elif display is None and facts.identity.kind == "gpu":
            self.margin_bytes = min(128 * MIB, int(target * DISPLAY_MARGIN))
        return target - self.margin_bytes

    def _ending(self, target: int) -> EndedBy:
        """Return why no more was taken, once no block of any size was left to try."""
        if self.covered_bytes < target:
            return "driver refused"
        full = self._without_margin()
        limited = self.limit_bytes is not None and self.limit_bytes < full
        return "limit asked for" if limited else "whole claim held"

    def _took(self, target: int) -> None:
        whole = gib(self.device.facts.memory_bytes)
        self.watch(
            Progressed(
                done=self.covered_bytes,
                total=target,
                figure=f"{gib(self.covered_bytes)} of {whole}",
            )
        )

    def _first_size(self) -> int:
        share = self._target() // BLOCKS_AT_LEAST
        most = min(share, self.device.facts.largest_block_bytes, LARGEST_BLOCK)
        return 1 << (max(most, SMALLEST_BLOCK).bit_length() - 1)

    def _host_is_short(self, started_with: int | None) -> bool:
        """Whether taking more could freeze the PC: blocks may come out of its memory.

        A processor's memory is the PC's; half of what was free may be used.
        """
        left = self.host_available()
        if left is None or started_with is None:
            return False
        if self.device.facts.identity.unified_memory:
            return left < started_with // 2
        spared = max(HOST_SPARED, started_with // 8)
        return left < min(spared, started_with // 2)

    def _take_one(self, size: int) -> None:
        first_cell = self.covered_bytes // CELL_BYTES
        block = self.device.take(len(self.held), first_cell, size)
        self.held.append(Held(block))

    def _pass(self, action: Sweep, *, upward: bool, tag: bool, figure: str) -> None:
        order = self.held if upward else self.held[::-1]
        by_number = {each.block.number: each for each in self.held}
        total = sum(each.block.size_bytes for each in order)
        moved = 0
        intact = 0
        counts: list[Census] = []
        shown_at = 0

        def done(swept: Swept) -> None:
            nonlocal moved, intact, shown_at
            held = by_number[swept.block.number]
            moved += swept.block.size_bytes
            self._keep(action, held, swept)
            if swept.census is not None:
                counts.append(swept.census)
                intact += swept.census.intact
                shown = f"{gib(intact * CELL_BYTES)} intact"
            else:
                shown = f"{gib(moved)} {figure}"
            self.watch(Progressed(done=moved, total=total, figure=shown))
            if action != "write" and moved - shown_at >= total // MAPS_A_PASS:
                shown_at = moved
                self._show()

        blocks = [each.block for each in order]
        tagging = Tagging(nonce=self.nonce, complemented=tag)
        seconds = self.device.sweep(action, blocks, tagging, done)
        ways = 2 if action == "turn" else 1
        self.passes.append(
            record.Pass(
                name=action,
                upward=upward,
                complemented=tag != (action == "turn"),
                bytes_moved=moved * ways,
                seconds=seconds,
                counts=None if action == "write" else summed(counts),
            )
        )
        self._show()

    def _keep(self, action: Sweep, held: Held, swept: Swept) -> None:
        if action != "turn":  # a link carries both ways at once, memory does not
            held.timed(swept.seconds)
        if action == "write":
            held.write_seconds = swept.seconds
            return
        census = swept.census
        if census is None or census.checked != held.block.cells:
            checked = 0 if census is None else census.checked
            label = self.device.facts.identity.label
            raise CardError(
                f"{label}: its driver counted {checked} of {held.block.cells} cells in "
                f"block {held.block.number}: it does not run what it is given"
            )
        held.add(census)
        if action == "verify":
            held.verify_seconds = swept.seconds

    def _show(self) -> None:
        beyond = self._spilled()
        self.watch(
            MapChanged(
                states=tuple(
                    state(each, spilled=each in beyond) if each.censuses else None
                    for each in self.held
                )
            )
        )

    def _spilled(self) -> frozenset[Held]:
        unified = self.device.facts.identity.unified_memory
        if unified or self.link_rate is None:
            return frozenset()
        return spilled(self.held, self.link_rate)


def prove(proof: Proof, phase: Callable[[str, str, Callable[[], None]], None]) -> None:
    """Run the two passes; `phase(name, title, work)` runs and times each step.

    The blocks stay held: the caller releases them.
    """
    phase("take", "Taking memory", lambda: _take_some(proof))
    phase("write", "Memory, first pass: writing", proof.write)
    phase("verify", "Memory, first pass: verifying", proof.verify)
    second_pass(proof, phase)


def _take_some(proof: Proof) -> None:
    proof.take()
    if proof.held:
        return
    label = proof.device.facts.identity.label
    if proof.ended_by == "host memory":
        raise CardError(
            f"{label}: the PC has too little memory free; close other programs"
        )
    raise CardError(f"{label}: its driver gave no memory at all: {proof.refusal}")


def second_pass(
    proof: Proof,
    phase: Callable[[str, str, Callable[[], None]], None],
    called: str = "second pass",
    verifying: str = "verifying",
) -> None:
    """Turn and verify again; where cells failed or few blocks were slow, once more."""
    phase("turn", f"Memory, {called}: turning", proof.turn)
    phase("verify complement", f"Memory, {called}: {verifying}", proof.verify)
    if proof.wrong_cells():
        phase("verify again", "Memory: verifying wrong cells again", proof.verify)
    if proof.disturbed():
        phase("time again", "Memory: timing slow blocks again", proof.time_again)
