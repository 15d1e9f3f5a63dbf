"""A whole run in small, recorded: `-m sanitizer.small_run FOLDER [--card WHICH]`.

A process of its own. The program's own session at standard depth, launches kept short
(a tool makes them hundreds of times slower); then what a sound card never shows, so
that every branch of the kernels runs: a block spoilt in every way that the proof tells
apart, results that are wrong; and every experiment once.
"""

import argparse
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast
from unittest import mock

import numpy as np
import pyopencl as cl
from sanitizer.planted import plant
from sanitizer.recorder import recording
from sanitizer.recording import Recording

from probe import rates
from probe.device import CELL_BYTES, Block, Burst, Experiment, Swept, Tagging, Workload
from probe.events import Event, PhaseEnded
from probe.opencl.device import OpenCLDevice
from probe.session import Plan, Session
from probe.structure import latency, measure, stairs
from probe.survival.work import Worker

MIB = 2**20
SMALL: tuple[tuple[Any, dict[str, Any]], ...] = (
    (
        rates,
        {
            "TARGET_SECONDS": 2e-4,
            "WORTH_TIMING": 2e-5,
            "FIRST_WARMUP_SECONDS": 0.0,
            "WARMUP_SECONDS": 0.0,
            "SAMPLES": {"standard": 3},
        },
    ),
    (latency, {"WALK": 4096, "MOST_BYTES": 4 * MIB, "HOPS": 1024}),
    (measure, {"CHAIN_SECONDS": 1e-4, "DIVERGENCE_SECONDS": 5e-5, "MOST_RESIDENT": 8}),
    (stairs, {"SHORTEST_SECONDS": 3e-5}),
)
EXPERIMENTS = (
    Experiment(kind="staircase", rounds=8, groups=3),
    Experiment(kind="residency", rounds=8, groups=3, size_bytes=8192),
    Experiment(kind="divergence", rounds=8, groups=3, width=8),
    Experiment(kind="chase", rounds=1024, size_bytes=65536),
    Experiment(kind="chain", rounds=8),
    Experiment(kind="chase", rounds=1024, size_bytes=65536),
)
"""The chase goes on over the same cycle after another experiment."""


@contextmanager
def short() -> Iterator[None]:
    """Keep the program's launches short and few meanwhile."""
    patches = [mock.patch.multiple(module, **values) for module, values in SMALL]
    for patch in patches:
        patch.start()
    try:
        yield
    finally:
        for patch in patches:
            patch.stop()


def session(card: OpenCLDevice, limit_bytes: int) -> dict[str, str]:
    """Run the program; return what the card could not be given, and why."""
    phases = []

    def hear(event: Event) -> None:
        if isinstance(event, PhaseEnded):
            phases.append(event.phase)

    Session(card, Plan(depth="standard", limit_bytes=limit_bytes), hear).run()
    bad = [p for p in phases if p.outcome not in {"done", "skipped"}]
    if bad or not phases:
        raise SystemExit(f"the run to be recorded failed: {bad}")
    return {phase.name: phase.detail for phase in phases if phase.outcome == "skipped"}


def spoil(card: OpenCLDevice, from_block: Block, to_block: Block) -> None:
    """Leave foreign tags, zeros, flipped bits and noise in a block, 16 cells each."""
    queue, part = card._queue, 16 * CELL_BYTES
    handle = cast("cl.Buffer", to_block.handle)
    words = np.empty(part // 4, np.uint32)
    cl.enqueue_copy(queue, handle, from_block.handle, byte_count=part)
    cl.enqueue_copy(queue, handle, np.zeros_like(words), dst_offset=part)
    cl.enqueue_copy(queue, words, handle, src_offset=2 * part)
    cl.enqueue_copy(queue, handle, words ^ np.uint32(1 << 7), dst_offset=2 * part)
    noise = np.random.default_rng(1).integers(2**32, size=part // 4, dtype=np.uint32)
    cl.enqueue_copy(queue, handle, noise, dst_offset=3 * part)


def spoilt(card: OpenCLDevice) -> list[Swept]:
    """Prove two blocks, one spoilt; return the looks at that one."""
    blocks = [card.take(n, n * MIB // CELL_BYTES, MIB) for n in range(2)]
    seen: list[Swept] = []
    plain = Tagging(nonce=0x0123456789ABCDEF, complemented=False)
    turned = Tagging(nonce=0x0123456789ABCDEF, complemented=True)
    card.sweep("write", blocks, plain, lambda swept: None)
    spoil(card, *blocks)
    card.sweep("verify", blocks, plain, seen.append)
    card.sweep("turn", blocks, plain, seen.append)
    card.sweep("verify", blocks, turned, lambda swept: None)
    card.release(blocks)
    return [swept for swept in seen if swept.block.number == 1]


def wronged(card: OpenCLDevice) -> dict[str, Burst]:
    """Compare results with others than the right ones; return what was found."""
    queue = card._queue
    found = {}
    arithmetic = card._computes()
    for name, loaded in arithmetic.loaded.items():
        nothing = np.zeros(loaded.want.size // 4, np.uint32)
        cl.enqueue_copy(queue, loaded.want, nothing)
        found[name] = card.burst(cast("Workload", name), 1 / 4)
    card.burst("memory_write", 1)
    cells = np.zeros(64, np.uint32)
    cl.enqueue_copy(queue, card._moves().buffers[0], cells, dst_offset=MIB // 2)
    found["memory_read"] = card.burst("memory_read", 1)
    return found


def small_run(card: OpenCLDevice, limit_bytes: int) -> dict[str, str]:
    """Run everything; return what was left out, and why."""
    with short():
        left_out = session(card, limit_bytes)
        for swept in spoilt(card):
            census = swept.census
            assert census is not None
            kinds = census.mirrored, census.hollow, census.failing, census.scrambled
            assert kinds == (16, 16, 16, 16), f"spoilt otherwise than planned: {kinds}"
        for name, burst in wronged(card).items():
            assert burst.wrong, f"{name} takes any result for right"
        for experiment in EXPERIMENTS:
            card.experiment(experiment)
    return left_out


def record(folder: Path, wanted: str, limit_bytes: int) -> Recording:
    """Record a small run on a card, and the faults planted; keep it in a folder."""
    warnings.simplefilter("ignore", cl.CompilerWarning)
    with recording(folder) as recorder:
        worker = Worker(lambda word: None)
        (target,) = worker.pick(wanted, {}).targets
        with cast("OpenCLDevice", worker.open(target.identity)) as card:
            left_out = small_run(card, limit_bytes)
            device = card._device
            faults = plant(recorder, device)
        recorded = Recording(
            device=str(device.name),
            driver=f"{device.platform.name}, {device.driver_version}",
            events=tuple(recorder.events),
            left_out=left_out,
            faults=faults,
        )
    recorder.folder.write(recorded)
    return recorded


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="Record a small whole run.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--card", default="0", help="index or address")
    parser.add_argument("--limit-mib", type=int, default=32, help="memory to prove")
    asked = parser.parse_args()
    record(asked.folder, asked.card, asked.limit_mib * MIB)
