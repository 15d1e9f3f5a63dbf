"""The seam: what the program asks of a card, and nothing about who answers.

Two makers: `probe/opencl/` and the practice card in `probe/practice/`. Imports no
third-party module. All times are seconds, all sizes bytes, and both come from the
device's own clock and counters.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

from reports.record import CardIdentity, Claim, Sample

CELL_BYTES = 16
"""One cell of the capacity proof: four 32-bit words."""

Sweep = Literal["write", "verify", "turn"]
"""write: every cell gets its tag. verify: every cell is read and classified. turn:
every cell is read, classified, and rewritten with the complement of its tag."""

Workload = Literal[
    "fp32",
    "fp64",
    "fp16",
    "int32",
    "transcendental",
    "memory_read",
    "memory_write",
    "memory_copy",
    "local_memory",
    "link_up",
    "link_down",
]


@dataclass(frozen=True, kw_only=True)
class Tagging:
    """Which tags a sweep writes or expects. See `probe/tags.py` for the function."""

    nonce: int
    """64 bits, fresh for each run and seed."""
    complemented: bool
    """Whether the tags expected (verify, turn) or written (write) are complemented."""


@dataclass(frozen=True)
class Block:
    """Card memory held: `first_cell` is its place among all cells of the proof."""

    number: int
    first_cell: int
    size_bytes: int
    handle: object = field(compare=False, repr=False, hash=False, default=None)

    @property
    def cells(self) -> int:
        return self.size_bytes // CELL_BYTES


@dataclass(frozen=True, kw_only=True)
class Census:
    """What one sweep over one block found. Sums over all its launches."""

    intact: int = 0
    mirrored: int = 0
    hollow: int = 0
    failing: int = 0
    scrambled: int = 0
    first_wrong: int | None = None
    """Index within the block of the first wrong cell."""
    last_wrong: int | None = None
    any_flips: tuple[int, int, int, int] = (0, 0, 0, 0)
    """OR of the flipped bits over all failing cells."""
    all_flips: tuple[int, int, int, int] = (0, 0, 0, 0)
    """AND of the flipped bits over all failing cells."""
    foreign_cell: int | None = None
    """Card-wide cell number that one mirrored cell names."""
    foreign_at: int | None = None
    """Index within the block of that mirrored cell."""

    @property
    def checked(self) -> int:
        return self.intact + self.mirrored + self.hollow + self.failing + self.scrambled


@dataclass(frozen=True, kw_only=True)
class Swept:
    """One block after a sweep. `census` is None after a plain write."""

    block: Block
    seconds: float
    census: Census | None


@dataclass(frozen=True, kw_only=True)
class Burst:
    """One launch of a workload."""

    seconds: float
    work: float
    """Operations or bytes, as the workload counts them."""
    checked: int
    """Results compared bit for bit."""
    wrong: int
    worst_groups: tuple[tuple[int, int], ...] = ()
    """Of the work-groups that saw wrong results the worst, WORST_GROUPS at most: number
    and count, the worst first. Arithmetic and local memory alone tell them."""


WORST_GROUPS = 8

ExperimentKind = Literal["staircase", "residency", "chain", "chase", "divergence"]


@dataclass(frozen=True, kw_only=True)
class Experiment:
    """One timed launch that tells how the chip is built. See `probe/structure/`."""

    kind: ExperimentKind
    rounds: int
    """How long each work-item works: turns of 64 multiply-adds (staircase: four chains;
    chain: 128), or hops of a chase."""
    groups: int = 1
    """Work-groups of the largest size (staircase, divergence) or of 32 work-items
    that wait for their own results (residency)."""
    size_bytes: int = 0
    """Chase: the footprint. Residency: local memory that one group holds."""
    width: int = 1
    """Divergence: work-items of a group take the other path by turns of so many."""


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What the driver says that the measuring itself needs. Nothing here is trusted."""

    identity: CardIdentity
    claims: tuple[Claim, ...]
    """Every layer's words, the listing's excepted."""
    memory_bytes: int
    """The most that any layer reports."""
    free_bytes: int | None
    largest_block_bytes: int
    """Largest single allocation that the driver promises."""
    timer: str


class Device(Protocol):
    """One card, ready to be measured. Used as a context manager.

    Every method may raise DeviceLostError; after it only `close` is called.
    """

    @property
    def facts(self) -> Facts: ...

    def now(self) -> float:
        """Seconds since the device was opened, on the clock of the run."""

    def take(self, number: int, first_cell: int, size_bytes: int) -> Block:
        """Hold a block of card memory, touched so that it is really there.

        Raises MemoryRefusedError.
        """

    def release(self, blocks: Sequence[Block]) -> None:
        """Give blocks back."""

    def sweep(
        self,
        action: Sweep,
        blocks: Sequence[Block],
        tagging: Tagging,
        done: Callable[[Swept], None],
    ) -> float:
        """Walk over the blocks in the order given; seconds from first to last.

        Each launch stays under 100 ms. `done` hears of every block in order, while
        later ones may still be running. Raises CardError; MemoryRefusedError where the
        driver finds only at a write that there is less than it gave.
        """

    def supports(self, workload: Workload) -> str | None:
        """None where the workload can run, else the reason, for a person."""

    def burst(
        self,
        workload: Workload,
        scale: float,
        meanwhile: Callable[[], None] | None = None,
    ) -> Burst:
        """Run one launch of about `scale` times the smallest useful size.

        `meanwhile` is called once while the launch runs. Results are checked bit for
        bit on the device. Raises CardError.
        """

    def experiment(self, asked: Experiment) -> float:
        """Run one launch that tells of the chip's structure; seconds it took.

        A chase goes on where the last one over the same footprint stopped. Raises
        UnsupportedError where the device cannot run it, CardError.
        """

    def local_bytes(self) -> int:
        """Return the local memory that one work-group may hold."""

    def settle(self, seconds: float) -> None:
        """Let the card rest that long (dwell between write and read)."""

    def sense(self, phase: str) -> Sample | None:
        """Read the sensors; None where there are none."""

    def limits(self) -> tuple[str | None, str | None, float | None, float | None]:
        """Sensor source, why there is none, slowdown temperature °C, power limit W."""

    def close(self) -> None:
        """Release everything; never raises."""
