"""What a run tells those who watch it: the live view today, a journal tomorrow.

Plain values, in the order in which things happen. A watcher never answers.
"""

from collections.abc import Callable
from dataclasses import dataclass

from reports.record import BlockState, Phase


@dataclass(frozen=True, kw_only=True)
class RunBegan:
    """First of all: what is about to be tested."""

    label: str
    practice_condition: str | None
    folder: str | None
    expected_seconds: float | None
    """How long the run should take; None where it is only seconds."""


@dataclass(frozen=True, kw_only=True)
class PhaseBegan:
    name: str
    title: str
    """What is being done, for a person: `Memory, first pass: writing`."""


@dataclass(frozen=True, kw_only=True)
class Progressed:
    """How far the running phase is."""

    done: float
    total: float
    figure: str
    """The figure so far: `41.0 GiB proven`, `64.7 TFLOP/s`."""


@dataclass(frozen=True, kw_only=True)
class MapChanged:
    """The block map: one state a block, in address order."""

    states: tuple[BlockState | None, ...]
    """None: held, not judged yet."""


@dataclass(frozen=True, kw_only=True)
class PhaseEnded:
    phase: Phase
    title: str
    figure: str


@dataclass(frozen=True, kw_only=True)
class Noted:
    """A remark worth a line of its own."""

    text: str


Event = RunBegan | PhaseBegan | Progressed | MapChanged | PhaseEnded | Noted
Watcher = Callable[[Event], None]
