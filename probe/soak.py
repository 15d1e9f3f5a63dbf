"""The soak: a card under full load for minutes, every result and every cell compared.

In turns: steady arithmetic, one further kind of it, walks over all memory that can be
had, and load steps from rest to full in one launch. Memory is written once and then
turned again and again: each walk verifies every cell and rewrites it with its
complement. Launches are kept far below the 100 ms that none may reach, also where the
clock falls to a sixth.

Judges nothing. Whatever ends it, what was found until then has been told.
"""

import math
import secrets
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

from probe.device import Block, Burst, Device, Sweep, Swept, Tagging, Workload
from probe.errors import (
    CardError,
    DeviceLostError,
    MemoryRefusedError,
    UnsupportedError,
    UsageError,
)
from probe.events import Noted, Progressed, Soaked, Watcher
from probe.rates import FIRST_SCALE, TITLES
from probe.soaked import Finds
from reports.lasting import MOST_POINTS, Soak
from reports.record import Depth, Sample
from reports.text import plain
from reports.units import quantity, significant

MINUTE = 60.0
DEFAULT_MINUTES = 5.0
"""Of a thorough run."""
MOST_MINUTES = 24 * 60.0
STEADY: Workload = "fp32"
"""What loads a card most, and whose rate is followed."""
OTHERS: tuple[Workload, ...] = (
    "int32",
    "transcendental",
    "local_memory",
    "fp64",
    "fp16",
)
STEADY_SECONDS = 4.0
OTHER_SECONDS = 0.8
MEMORY_SECONDS = 2.0
RESTS = (0.1, 0.2, 0.4)
"""Seconds of rest before each load step of a turn."""
STEP_LAUNCHES = 8
TURN_SECONDS = 8.0
"""About how long a whole turn takes; a shorter soak shortens its parts alike."""
LAUNCH_SECONDS = 0.025
STEP_SECONDS = 0.012
"""A launch out of rest meets a clock that may be a sixth of the full one."""
EASED = 0.5
"""By how much the first launch of a turn is shorter than the last of its kind."""
SHRINKS, GROWS = 0.25, 8.0
MOST_SCALE = 2.0**30
SETTLED = 0.25
"""Share of a turn after which clocks have risen and its rate counts."""
WORTH_TIMING = 0.002
CHUNK_SECONDS = 0.4
"""Memory is walked in stretches of about so long, to look up in between."""
LARGEST_BLOCK = 2**29
SMALLEST_BLOCK = 2**20
SENSE_SECONDS = 1.0
SHOW_SECONDS = 0.5
TELL_SECONDS = 5.0
MOST_TOLD = 200
"""How often at most all of it is told as a fact, finds apart."""
LEAST_POINT_SECONDS = 0.5
POINTS_SPARED = 40
REASON_LIMIT = 2000
TITLE = "Soak: full load, everything compared"


def asked_seconds(text: str | None, depth: Depth) -> float | None:
    """Return how long `--soak MINUTES` asks for; None: no soak.

    Without the option a thorough run soaks for DEFAULT_MINUTES; 0 leaves it out.
    Raises UsageError.
    """
    if text is None:
        return DEFAULT_MINUTES * MINUTE if depth == "thorough" else None
    try:
        minutes = float(text)
    except ValueError:
        minutes = math.nan
    if not 0.0 <= minutes <= MOST_MINUTES:
        raise UsageError(
            f"--soak: {text[:40]!r} is no number of minutes from 0 (none) to "
            f"{MOST_MINUTES:.0f}"
        )
    return minutes * MINUTE or None


@dataclass
class Pace:
    """How large the launches of one kind are, so that each takes about `target`."""

    target: float = LAUNCH_SECONDS
    scale: float = FIRST_SCALE

    def learn(self, seconds: float) -> None:
        """Take in how long a launch took, by the PC's own clock."""
        factor = self.target / max(seconds, 1e-9)
        self.scale *= min(max(factor, SHRINKS), GROWS)
        self.scale = min(max(self.scale, FIRST_SCALE), MOST_SCALE)

    def ease(self) -> None:
        """Begin smaller: the clock may have fallen meanwhile."""
        self.scale = max(self.scale * EASED, FIRST_SCALE)


@dataclass
class Walk:
    """Where the walks over the blocks held stand."""

    blocks: list[Block] = field(default_factory=list)
    nonce: int = field(default_factory=lambda: secrets.randbits(64))
    action: Sweep = "write"
    complemented: bool = False
    """Polarity of what is in memory ahead of the walk."""
    done: int = 0
    """Blocks behind it."""
    rate: float = 0.0
    """Bytes a second, as last seen."""

    def chunk(self, seconds: float) -> list[Block]:
        """Return the next blocks, worth about so many seconds; at least one."""
        order = self.blocks if self.action == "write" else self.blocks[::-1]
        ahead = order[self.done :]
        chosen, size = ahead[:1], ahead[0].size_bytes
        for block in ahead[1:]:
            size += block.size_bytes
            if size > self.rate * seconds:
                break
            chosen.append(block)
        return chosen

    def passed(self, blocks: list[Block], seconds: float) -> bool:
        """Go on behind these blocks; return whether a whole reading walk is over."""
        size = sum(block.size_bytes for block in blocks)
        self.rate = size / max(seconds, 1e-9)
        self.done += len(blocks)
        if self.done < len(self.blocks):
            return False
        self.done = 0
        read = self.action == "turn"
        if read:
            self.complemented = not self.complemented
        self.action = "turn"
        return read


@dataclass
class Soaker:
    """One soak of one card. `result()` is valid at any moment.

    `sense` reads the sensors, keeps the reading where readings are kept, and returns
    it; it and `watch` may raise to stop the soak. `memory_bytes` is how much memory may
    be taken: what the proof held. `may_take` says whether the PC can spare more.
    """

    device: Device
    asked_seconds: float
    watch: Watcher
    sense: Callable[[], Sample | None]
    memory_bytes: int = 0
    may_take: Callable[[], bool] = lambda: True
    walk: Walk = field(default_factory=Walk)
    _paces: dict[str, Pace] = field(default_factory=dict)
    _began: float = 0.0
    _sensed: float = -math.inf
    _shown: float = -math.inf
    _told: float = -math.inf
    _pointed: float = 0.0
    _places: int = 0

    def __post_init__(self) -> None:
        """Set up what does not change."""
        self.finds = Finds(asked_seconds=self.asked_seconds)
        self._others = [one for one in OTHERS if self.device.supports(one) is None]
        self._shorter = min(1.0, self.asked_seconds / TURN_SECONDS)
        spared = MOST_POINTS - POINTS_SPARED
        self._point_every = max(LEAST_POINT_SECONDS, self.asked_seconds / spared)
        self._tell_every = max(TELL_SECONDS, self.asked_seconds / MOST_TOLD)

    def run(self) -> None:
        """Soak until the time is over; tells `Soaked` now and then, and at the end.

        Raises CardError, and whatever `sense` and `watch` raise to stop it. All memory
        is given back unless the device is lost.
        """
        self._began = self.device.now()
        lost = False
        try:
            self._load()
            self._hold()
            while self._left() > 0:
                self._turn()
        except BaseException as error:
            lost = isinstance(error, DeviceLostError)
            self.finds.stopped_by = _why(error)
            raise
        finally:
            if not lost:
                with suppress(CardError):
                    self.finds.seconds = self._at()
                    self.device.release(self.walk.blocks)
            self.finds.point(self.finds.seconds)
            self.watch(Soaked(soak=self.result()))

    def result(self) -> Soak:
        """Return what was found until now."""
        return self.finds.soak()

    def figure(self) -> str:
        """Return what there is to say of it so far, in a few words."""
        finds = self.finds
        heat = finds.sample.temperature_c if finds.sample else None
        parts = [
            f"{heat:.0f} °C" if heat is not None else "",
            quantity(finds.rate, "FLOP/s") if finds.rate else "",
            f"{significant(finds.wrong) if finds.wrong else 'none'} wrong",
        ]
        return ", ".join(part for part in parts if part)

    def _at(self) -> float:
        return max(self.device.now() - self._began, 0.0)

    def _left(self) -> float:
        return self.asked_seconds - self._at()

    def _until(self, seconds: float) -> float:
        """Return when a part of a turn is over, by the soak's own time."""
        return min(self._at() + seconds * self._shorter, self.asked_seconds)

    def _load(self) -> None:
        """Run the smallest launch of every kind.

        Their code and tables have to be on the card before its memory is full.
        """
        for workload in (STEADY, *self._others):
            self._try(workload)

    def _try(self, workload: Workload) -> bool:
        """Launch; leave a kind out that the device cannot run after all."""
        try:
            self._launch(workload)
        except DeviceLostError:
            raise
        except CardError as error:
            if workload == STEADY:
                raise
            self._others.remove(workload)
            if not isinstance(error, UnsupportedError):
                self.watch(Noted(text=f"{TITLES[workload]} left out: {_why(error)}"))
            return False
        return True

    def _hold(self) -> None:
        """Take memory up to what was held before, in blocks as large as can be had."""
        size = min(self.device.facts.largest_block_bytes, LARGEST_BLOCK)
        size = 1 << (max(size, SMALLEST_BLOCK).bit_length() - 1)
        blocks = self.walk.blocks
        while size >= SMALLEST_BLOCK and self._left() > 0 and self.may_take():
            if self.finds.held_bytes + size > self.memory_bytes:
                size //= 2
                continue
            first_cell = sum(block.cells for block in blocks)
            try:
                blocks.append(self.device.take(len(blocks), first_cell, size))
            except MemoryRefusedError:
                size //= 2
                continue
            self.finds.held_bytes += size
            self._look()

    def _turn(self) -> None:
        """One turn: steady load, another kind, memory, load steps."""
        self._steadily()
        if self._others:
            self._otherwise()
        until = self._until(MEMORY_SECONDS)
        while self.walk.blocks and self._at() < until:
            self._sweep(until)
        for rest in RESTS:
            if self._left() > 0:
                self._step(rest)

    def _steadily(self) -> None:
        began, until = self._at(), self._until(STEADY_SECONDS)
        settled = began + SETTLED * (until - began)
        self._pace(STEADY).ease()
        while self._at() < until:
            burst = self._launch(STEADY)
            if burst.seconds >= WORTH_TIMING:
                self.finds.steady(burst, settled=self._at() >= settled)
        self.finds.turn_over()

    def _otherwise(self) -> None:
        workload = self._others.pop(0)
        self._others.append(workload)
        until = self._until(OTHER_SECONDS)
        self._pace(workload).ease()
        while self._at() < until and self._try(workload):
            pass

    def _step(self, rest: float) -> None:
        """Rest, then full load at once."""
        self.device.settle(min(rest * self._shorter, self._left()))
        scale = self._pace(STEADY).scale * STEP_SECONDS / LAUNCH_SECONDS
        for number in range(STEP_LAUNCHES):
            if self._left() <= 0:
                return
            self._launch(STEADY, Pace(STEP_SECONDS, scale))
            self.finds.steps += number == 0

    def _pace(self, workload: Workload) -> Pace:
        return self._paces.setdefault(workload, Pace())

    def _launch(self, workload: Workload, pace: Pace | None = None) -> Burst:
        """Run one launch, sensing meanwhile where that is due. Raises CardError."""
        pace = pace or self._pace(workload)
        began = self._at()
        due = began - self._sensed >= SENSE_SECONDS
        burst = self.device.burst(workload, pace.scale, self._sense if due else None)
        pace.learn(self._at() - began)
        if not 0 <= burst.seconds < math.inf or not 0 < burst.work < math.inf:
            raise CardError(
                f"{self.device.facts.identity.label}: its driver says that a launch "
                f"of {burst.work:g} operations took {burst.seconds:g} s"
            )
        self.finds.launch(workload, burst, began)
        self._look()
        return burst

    def _sweep(self, until: float) -> None:
        """Walk over some more blocks."""
        walk = self.walk
        began = self._at()
        chunk = walk.chunk(max(min(CHUNK_SECONDS, until - began), 0.0))
        tagging = Tagging(nonce=walk.nonce, complemented=walk.complemented)
        try:
            self.device.sweep(walk.action, chunk, tagging, self._swept)
        except MemoryRefusedError:  # found only now that there is less than it gave
            self._halve()
            return
        if walk.passed(chunk, self._at() - began):
            self.finds.passes += 1
        self._look()

    def _swept(self, swept: Swept) -> None:
        """Take in what became of one block; sense while others are still at work."""
        if self._at() - self._sensed >= SENSE_SECONDS:
            self._sense()
        census, block = swept.census, swept.block
        if self.walk.action == "write":
            return
        if census is None or census.checked != block.cells:
            checked = 0 if census is None else census.checked
            raise CardError(
                f"{self.device.facts.identity.label}: its driver counted {checked} of "
                f"{block.cells} cells in block {block.number}: it does not run what it "
                "is given"
            )
        self.finds.reading(block, census, self._at())

    def _halve(self) -> None:
        """Give the upper half back and begin the walks anew."""
        blocks = self.walk.blocks
        kept = len(blocks) // 2
        self.device.release(blocks[kept:])
        self.walk = Walk(blocks[:kept])
        self.finds.held_bytes = sum(block.size_bytes for block in blocks[:kept])

    def _sense(self) -> None:
        self._sensed = self._at()
        self.finds.sample = self.sense() or self.finds.sample

    def _look(self) -> None:
        """Look up from the work: a point, the display, the journal, each where due."""
        at = self.finds.seconds = self._at()
        if at - self._pointed >= self._point_every:
            self._pointed = at
            self.finds.point(at)
        if at - self._shown >= SHOW_SECONDS:
            self._shown = at
            done = min(at, self.asked_seconds)
            self.watch(
                Progressed(done=done, total=self.asked_seconds, figure=self.figure())
            )
        fresh = self.finds.places != self._places and at - self._told >= SENSE_SECONDS
        if fresh or at - self._told >= self._tell_every:
            self._told = at
            self._places = self.finds.places
            self.watch(Soaked(soak=self.result()))


def _why(error: BaseException) -> str:
    """Return what stopped a soak, as a record can hold it."""
    if isinstance(error, KeyboardInterrupt):
        return "the person at the keyboard"
    return plain(str(error), REASON_LIMIT) or type(error).__name__
