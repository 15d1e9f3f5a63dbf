"""A device whose every call is announced, so that silence can be told from a hang.

Passes calls on and changes nothing; whoever watches learns how long a call may take.
"""

import time
from collections.abc import Callable, Sequence
from typing import Self

from probe.device import (
    Block,
    Burst,
    Device,
    Experiment,
    Facts,
    Sweep,
    Swept,
    Tagging,
    Workload,
)
from probe.events import Event, Working
from reports.record import Sample

CALL_SECONDS = 1.0
"""Launches are far shorter; a batch of a sweep reports four times a second."""
QUIET_SECONDS = 0.2
"""Least time between two announcements of the same length."""


class Watched:
    """See `probe.device.Device`."""

    def __init__(
        self, device: Device, hear: Callable[[Event], None], build_seconds: float
    ) -> None:
        self._device = device
        self._hear = hear
        self._build_seconds = build_seconds
        self._told = 0.0
        self._tried: set[str] = set()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def facts(self) -> Facts:
        return self._device.facts

    def now(self) -> float:
        return self._device.now()

    def take(self, number: int, first_cell: int, size_bytes: int) -> Block:
        self._announce("take")
        return self._device.take(number, first_cell, size_bytes)

    def release(self, blocks: Sequence[Block]) -> None:
        self._announce("release")
        self._device.release(blocks)

    def sweep(
        self,
        action: Sweep,
        blocks: Sequence[Block],
        tagging: Tagging,
        done: Callable[[Swept], None],
    ) -> float:
        self._announce(action)
        return self._device.sweep(action, blocks, tagging, done)

    def supports(self, workload: Workload) -> str | None:
        return self._device.supports(workload)

    def burst(
        self,
        workload: Workload,
        scale: float,
        meanwhile: Callable[[], None] | None = None,
    ) -> Burst:
        self._announce(workload)
        return self._device.burst(workload, scale, meanwhile)

    def experiment(self, asked: Experiment) -> float:
        self._announce(asked.kind)
        return self._device.experiment(asked)

    def local_bytes(self) -> int:
        return self._device.local_bytes()

    def settle(self, seconds: float) -> None:
        self._say(seconds + CALL_SECONDS)
        self._device.settle(seconds)

    def sense(self, phase: str) -> Sample | None:
        return self._device.sense(phase)

    def limits(self) -> tuple[str | None, str | None, float | None, float | None]:
        return self._device.limits()

    def close(self) -> None:
        self._announce("close")
        self._device.close()

    def _announce(self, call: str) -> None:
        """Say that a call begins; the first of a kind may have a kernel compiled."""
        if call not in self._tried:
            self._tried.add(call)
            self._say(self._build_seconds)
        elif time.monotonic() - self._told >= QUIET_SECONDS:
            self._say(CALL_SECONDS)

    def _say(self, seconds: float) -> None:
        self._told = time.monotonic()
        self._hear(Working(seconds=seconds))
