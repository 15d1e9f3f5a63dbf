"""The named conditions of the practice card: which lie over which silicon.

A condition only combines what `reported.py`, `chip.py`, `wiring.py` and `heat.py`
offer; it never says what a test finds. Adding one: an entry here, nothing else.
"""

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from probe.errors import UsageError
from probe.practice.build import Build
from probe.practice.chip import GK107, GP104
from probe.practice.ground import PAGE_BYTES
from probe.practice.heat import Cooling
from probe.practice.reported import (
    GTX_650,
    GTX_1070,
    GTX_1080,
    GTX_1080_OVER_1070,
    NEVER_MADE,
    Reported,
)
from probe.practice.wiring import DeadChip, StuckBit, Wiring

if TYPE_CHECKING:
    from probe.practice.card import PracticeCard

_GIB = 1 << 30


@dataclass(frozen=True, kw_only=True)
class Condition:
    """One practice card. `summary` is its line in a list of all."""

    name: str
    summary: str
    reported: Reported
    build: Build = field(default_factory=lambda: Build(chip=GP104))

    @property
    def ends_process(self) -> bool:
        """Whether it can only be tested in a process of its own."""
        build = self.build
        return bool(build.crash_above_bytes or build.hang_above_bytes)


DEFAULT = "as-claimed"
_FAKE = Build(chip=GK107, wiring=Wiring(real_bytes=2 * _GIB))

_CONDITIONS = (
    Condition(
        name=DEFAULT,
        summary="a genuine GeForce GTX 1070 with 8 GiB",
        reported=GTX_1070,
    ),
    Condition(
        name="mirrored",
        summary="called a GTX 1070: a GK107, its 2 GiB answer four times",
        reported=GTX_1070,
        build=_FAKE,
    ),
    Condition(
        name="hollow",
        summary="called a GTX 1070: a GK107, nothing above 2 GiB",
        reported=GTX_1070,
        build=replace(_FAKE, wiring=Wiring(real_bytes=2 * _GIB, beyond="hollow")),
    ),
    Condition(
        name="spilled",
        summary="called a GTX 1070: above 2 GiB the PC's memory answers",
        reported=GTX_1070,
        build=replace(_FAKE, wiring=Wiring(real_bytes=2 * _GIB, beyond="spilled")),
    ),
    Condition(
        name="failing-cell",
        summary="a genuine GTX 1070 with one stuck memory bit",
        reported=GTX_1070,
        build=Build(
            chip=GP104,
            wiring=Wiring(
                stuck=(StuckBit(cell=0x1234_5678, word=2, bit=17, high=True),)
            ),
        ),
    ),
    Condition(
        name="scrambled",
        summary="a genuine GTX 1070 with one of eight memory chips dead",
        reported=GTX_1070,
        build=Build(chip=GP104, wiring=Wiring(dead=DeadChip(chips=8, index=5))),
    ),
    Condition(
        name="hot",
        summary="a genuine GTX 1070 with a worn cooler, slowed by heat",
        reported=GTX_1070,
        build=Build(
            chip=GP104,
            cooling=Cooling(ambient_c=30.0, kelvin_per_watt=0.7, start_c=91.0),
        ),
    ),
    Condition(
        name="overheating",
        summary="one without a cooler, stopped to protect it",
        reported=GTX_1070,
        build=Build(
            chip=GP104,
            cooling=Cooling(ambient_c=30.0, kelvin_per_watt=0.96, start_c=96.0),
        ),
    ),
    Condition(
        name="relabelled-sibling",
        summary="called a GTX 1080: a GTX 1070",
        reported=GTX_1080_OVER_1070,
    ),
    Condition(
        name="lying-driver",
        summary="a GTX 1070 whose driver says GTX 1080 and 20 units",
        reported=GTX_1080,
    ),
    Condition(
        name="unstable",
        summary="a genuine GTX 1070 that computes wrong now and then",
        reported=GTX_1070,
        build=Build(chip=GP104, wrong_share=2e-4),
    ),
    Condition(
        name="refused",
        summary="a GTX 1070 whose driver gives no more than 2 GiB",
        reported=GTX_1070,
        build=Build(chip=GP104, granted_bytes=2 * _GIB),
    ),
    Condition(
        name="device-lost",
        summary="called a GTX 1070: lost when memory above 2 GiB is used",
        reported=GTX_1070,
        build=replace(_FAKE, lost_above_bytes=2 * _GIB),
    ),
    Condition(
        name="crashing-driver",
        summary="called a GTX 1070: its driver crashes above 2 GiB",
        reported=GTX_1070,
        build=replace(_FAKE, crash_above_bytes=2 * _GIB),
    ),
    Condition(
        name="hanging-driver",
        summary="called a GTX 1070: a launch above 2 GiB never ends",
        reported=GTX_1070,
        build=replace(_FAKE, hang_above_bytes=2 * _GIB),
    ),
    Condition(
        name="honest-after-reflash",
        summary="a GTX 650 with 2 GiB that says so again",
        reported=GTX_650,
        build=Build(chip=GK107),
    ),
    Condition(
        name="unknown-model",
        summary="a healthy card under a name that no table has",
        reported=NEVER_MADE,
    ),
    Condition(
        name="busy",
        summary="a genuine GTX 1070, 60 % of it held by another program",
        reported=GTX_1070,
        build=Build(chip=GP104, busy_share=0.6),
    ),
    Condition(
        name="weak-when-hot",
        summary="a genuine GTX 1070, one memory bit stuck from 56 °C on",
        reported=GTX_1070,
        build=Build(
            chip=GP104,
            weak=(StuckBit(cell=0x0BAD_CE11, word=1, bit=14, high=False),),
            weak_from_c=56.0,
        ),
    ),
)

NAMES = tuple(condition.name for condition in _CONDITIONS)


def find(text: str) -> Condition:
    """Return the condition that `text` names.

    Case, spaces, hyphens and underscores are all alike. Raises UsageError, which
    lists all conditions.
    """
    wanted = _plain(text)
    for condition in _CONDITIONS:
        if _plain(condition.name) == wanted:
            return condition
    width = max(map(len, NAMES))
    lines = [f"  {each.name:{width}}  {each.summary}" for each in _CONDITIONS]
    raise UsageError(
        "\n".join(
            [
                f"no practice condition is called {text[:80]!r}; choose one of these:",
                *lines,
            ]
        )
    )


def open_practice(name: str = DEFAULT, claimed: int | None = None) -> "PracticeCard":
    """Open the practice card in a condition.

    `claimed` replaces the memory size that it reports, in bytes; what is real behind
    it grows or shrinks in proportion. Raises UsageError.
    """
    from probe.practice.card import PracticeCard  # noqa: PLC0415 - brings numpy in

    condition = find(name)
    nominal = condition.reported.memory_bytes
    if claimed is None:
        claimed = nominal
    if claimed < PAGE_BYTES:
        raise UsageError(
            f"a practice card cannot claim {claimed} bytes; claim {PAGE_BYTES} or more"
        )
    return PracticeCard(
        seed=condition.name,
        reported=condition.reported,
        build=_scaled(condition.build, claimed, nominal),
        claimed_bytes=claimed,
    )


def _scaled(build: Build, claimed: int, nominal: int) -> Build:
    def pages(size_bytes: int | None) -> int | None:
        if size_bytes is None:
            return None
        return max(size_bytes * claimed // nominal // PAGE_BYTES, 1) * PAGE_BYTES

    def moved(bits: tuple[StuckBit, ...]) -> tuple[StuckBit, ...]:
        return tuple(replace(bit, cell=bit.cell * claimed // nominal) for bit in bits)

    wiring = replace(
        build.wiring,
        real_bytes=pages(build.wiring.real_bytes),
        stuck=moved(build.wiring.stuck),
    )
    return replace(
        build,
        wiring=wiring,
        weak=moved(build.weak),
        granted_bytes=pages(build.granted_bytes),
        lost_above_bytes=pages(build.lost_above_bytes),
        crash_above_bytes=pages(build.crash_above_bytes),
        hang_above_bytes=pages(build.hang_above_bytes),
    )


def _plain(text: str) -> str:
    return "".join(text.split()).replace("-", "").replace("_", "").casefold()
