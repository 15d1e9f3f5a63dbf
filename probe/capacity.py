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

from probe.account import Account
from probe.device import CELL_BYTES, Block, Census, Device, Sweep, Swept, Tagging
from probe.errors import CardError, MemoryRefusedError
from probe.events import (
    BlockSwept,
    Dropped,
    Event,
    Linked,
    PassBegan,
    PassOver,
    Progressed,
    ProofBegan,
    Refused,
    Renewed,
    Taken,
    Taking,
    TakingOver,
    Watcher,
)
from probe.guards import display_margin
from probe.held import Held, summed
from reports import record
from reports.record import Capacity, EndedBy
from reports.text import plain
from reports.units import gib

MIB = 2**20
SMALLEST_BLOCK = MIB
LARGEST_BLOCK = 2**30
BLOCKS_AT_LEAST = 64
"""A card's claim is cut into at least this many blocks: the map's resolution."""
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
    """One capacity proof as it goes on. `result()` is valid at any moment.

    What it finds it tells as facts; its own books are kept from the same facts.
    """

    device: Device
    watch: Watcher
    limit_bytes: int | None = None
    host_available: Callable[[], int | None] = lambda: None
    below_crash: bool = False
    """Whether the limit lies where an earlier proof was cut off."""
    account: Account = field(init=False)
    handles: list[Block] = field(default_factory=list)
    """The blocks held, as the device knows them."""

    def __post_init__(self) -> None:
        facts = self.device.facts
        self.account = Account(
            claimed_bytes=facts.memory_bytes,
            free_bytes=facts.free_bytes,
            unified_memory=facts.identity.unified_memory,
        )
        nonce = secrets.randbits(64)
        self._tell(ProofBegan(nonce=nonce, below_crash=self.below_crash))

    @property
    def held(self) -> list[Held]:
        """The blocks held, and what the passes found in them."""
        return self.account.held

    @property
    def passes(self) -> list[record.Pass]:
        """The walks that are over."""
        return self.account.passes

    @property
    def ended_by(self) -> EndedBy:
        """Why no more blocks were taken."""
        return self.account.ended_by

    @property
    def refusal(self) -> str | None:
        """The driver's words when it refused."""
        return self.account.refusal

    @property
    def nonce(self) -> int:
        """The number that is part of every tag."""
        return self.account.nonce

    @property
    def covered_bytes(self) -> int:
        """What is held: blocks lie one after the other."""
        return self.account.covered_bytes

    def take(self) -> None:
        """Hold as much memory as can be had, touched, all at once."""
        target = self._target()
        size = self._first_size()
        started_with = self.host_available()
        ended_by: EndedBy | None = None
        while size >= SMALLEST_BLOCK:
            if self.covered_bytes + size > target:
                size //= 2
                continue
            if self.host_is_short(started_with):
                ended_by = "host memory"
                break
            try:
                self._take_one(size)
            except MemoryRefusedError as error:
                self._tell(Refused(text=plain(str(error), REASON_LIMIT)))
                size //= 2
            self._took(target)
        _, margin = self._without_margin()
        self._tell(
            TakingOver(ended_by=ended_by or self._ending(target), margin_bytes=margin)
        )
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
                self._tell(Refused(text=plain(str(error), REASON_LIMIT)))
                self._tell(Dropped(kept=kept))
                self.device.release(self.handles[kept:])
                del self.handles[kept:]
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
        beyond = self.account.spilled()
        size = sum(each.block.size_bytes for each in beyond)
        if size > DISTURBED * self.covered_bytes:
            return []
        return [each for each in self.held if each in beyond]

    def time_again(self) -> None:
        """Read the few slow blocks again, for their speed alone."""
        tagging = Tagging(nonce=self.nonce, complemented=self._last().complemented)

        def done(swept: Swept) -> None:
            number, seconds = swept.block.number, swept.seconds
            self._tell(BlockSwept(action=None, number=number, seconds=seconds))

        for _ in range(SECOND_LOOKS):
            slow = [self.handles[each.block.number] for each in self.disturbed()]
            if not slow:
                break
            self.device.sweep("verify", slow, tagging, done)
        self._show()

    def link(self, bytes_a_second: float) -> None:
        """Note what the host link gives: what spilled blocks run at."""
        self._tell(Linked(bytes_a_second=bytes_a_second))

    def renew(self) -> None:
        """Begin again with another seed: all tags change."""
        self._tell(Renewed(nonce=secrets.randbits(64)))

    def wrong_cells(self) -> int:
        """Return the cells found failing or scrambled in any pass so far."""
        return self.account.wrong_cells()

    def release(self) -> None:
        """Give all blocks back; what was found stays."""
        self.device.release(self.handles)

    def result(self) -> Capacity:
        """Return the proof as far as it has come."""
        return self.account.result()

    def _tell(self, fact: Event) -> None:
        """Say what was found; what is risky is only done once this returns."""
        self.watch(fact)
        self.account.apply(fact)

    def _last(self) -> record.Pass:
        """Return the pass that left what is in memory."""
        return next(p for p in reversed(self.passes) if p.name != "verify")

    def _target(self) -> int:
        """Return how much to take, in whole blocks of the smallest size."""
        target, _ = self._without_margin()
        if self.limit_bytes is not None:
            target = min(target, self.limit_bytes)
        return max(target // SMALLEST_BLOCK * SMALLEST_BLOCK, SMALLEST_BLOCK)

    def _without_margin(self) -> tuple[int, int]:
        """Return the claim without what is left to the display, and that."""
        facts = self.device.facts
        margin = display_margin(facts.identity, facts.memory_bytes)
        return facts.memory_bytes - margin, margin

    def _ending(self, target: int) -> EndedBy:
        """Return why no more was taken, once no block of any size was left to try."""
        if self.covered_bytes < target:
            return "driver refused"
        full, _ = self._without_margin()
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

    def host_is_short(self, started_with: int | None) -> bool:
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
        number = len(self.held)
        self._tell(Taking(number=number, first_cell=first_cell, size_bytes=size))
        self.handles.append(self.device.take(number, first_cell, size))
        self._tell(Taken(number=number))

    def _pass(self, action: Sweep, *, upward: bool, tag: bool, figure: str) -> None:
        blocks = self.handles if upward else self.handles[::-1]
        total = sum(block.size_bytes for block in blocks)
        moved = 0
        intact = 0
        counts: list[Census] = []
        shown_at = 0

        def done(swept: Swept) -> None:
            nonlocal moved, intact, shown_at
            moved += swept.block.size_bytes
            self._keep(action, swept)
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

        tagging = Tagging(nonce=self.nonce, complemented=tag)
        self._tell(PassBegan(action=action, upward=upward))
        seconds = self.device.sweep(action, blocks, tagging, done)
        ways = 2 if action == "turn" else 1
        made = record.Pass(
            name=action,
            upward=upward,
            complemented=tag != (action == "turn"),
            bytes_moved=moved * ways,
            seconds=seconds,
            counts=None if action == "write" else summed(counts),
        )
        self._tell(PassOver(made=made))
        self._show()

    def _keep(self, action: Sweep, swept: Swept) -> None:
        census, block = swept.census, swept.block
        unread = census is None or census.checked != block.cells
        if action != "write" and unread:
            checked = 0 if census is None else census.checked
            label = self.device.facts.identity.label
            raise CardError(
                f"{label}: its driver counted {checked} of {block.cells} cells in "
                f"block {block.number}: it does not run what it is given"
            )
        self._tell(
            BlockSwept(
                action=action,
                number=block.number,
                seconds=max(swept.seconds, 0.0),
                census=census,
            )
        )

    def _show(self) -> None:
        self.watch(self.account.drawn())


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
