"""The benchmark: prints the figures that the project holds itself to.

    python tests/benchmark.py [--card CARD] [--memory-limit SIZE] [--skip-check]

On a graphics card it covers all memory and, where PyTorch is there, times PyTorch's
fill and compare on the same card in the same run; on a processor it times numpy's.
Prints, judges nothing, and is no part of the tests.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

from probe.capacity import Proof
from probe.device import Block, Sweep, Tagging
from probe.identity import cards, select
from probe.opencl.device import OpenCLDevice
from probe.rates import WORKLOADS, Meter
from probe.sizes import size_bytes

ROUNDS = 5


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--card")
    parser.add_argument("--memory-limit")
    parser.add_argument("--skip-check", action="store_true")
    asked = parser.parse_args()
    limit = None
    if asked.memory_limit:
        limit = size_bytes(asked.memory_limit, "--memory-limit")
    found = select.select(cards.find(), asked.card)
    facts = cards.facts(found, "OpenCL events")
    line("card", f"{facts.identity.label} at {facts.identity.pci_address}")
    with OpenCLDevice(found.opencl_device, facts, found.sensors()) as device:
        capacity(device, limit)
        rates(device)
    if facts.identity.kind == "cpu":
        beside_numpy(limit or 2**30)
    else:
        beside_pytorch()
    if not asked.skip_check:
        whole_check(asked)
    help_time()


def line(name: str, value: str) -> None:
    print(f"{name:<44} {value}", flush=True)


def capacity(device: OpenCLDevice, limit: int | None) -> None:
    proof = Proof(device, lambda _: None, limit_bytes=limit)
    began = time.perf_counter()
    proof.take()
    seconds = time.perf_counter() - began
    line("taking memory", f"{seconds:.3f} s, {len(proof.handles)} blocks")
    facts = device.facts
    line("covered", f"{proof.covered_bytes / 2**30:.3f} GiB")
    if facts.free_bytes:
        share = proof.covered_bytes / facts.free_bytes
        line("covered of what NVML calls free", f"{100 * share:.2f} %")
    blocks = proof.handles
    plain = Tagging(nonce=proof.nonce, complemented=False)
    turned = Tagging(nonce=proof.nonce, complemented=True)
    line("write, first time", sweep(device, "write", blocks, plain, 1))
    line("write", sweep(device, "write", blocks, plain))
    line("verify, all intact", sweep(device, "verify", blocks, plain))
    shifted = [
        Block(b.number, b.first_cell + 2**33, b.size_bytes, b.handle) for b in blocks
    ]
    line("verify, every cell mirrored", sweep(device, "verify", shifted, plain))
    other = Tagging(nonce=proof.nonce ^ 0xABCDEF0123456789, complemented=False)
    line("verify, every cell scrambled", sweep(device, "verify", blocks, other))
    down = blocks[::-1]
    figures = []
    for number in range(ROUNDS):
        tags = turned if number % 2 else plain
        figures.append(device.sweep("turn", down, tags, lambda _: None))
    moved = 2 * proof.covered_bytes
    line("turn, both ways counted", f"{moved / median(figures) / 1e12:.3f} TB/s")
    began = time.perf_counter()
    proof.release()
    line("giving memory back", f"{time.perf_counter() - began:.3f} s")


def sweep(
    device: OpenCLDevice,
    action: Sweep,
    blocks: list[Block],
    tags: Tagging,
    rounds: int = ROUNDS,
) -> str:
    size = sum(block.size_bytes for block in blocks)
    host: list[float] = []
    taken: list[float] = []
    for _ in range(rounds):
        began = time.perf_counter()
        taken.append(device.sweep(action, blocks, tags, lambda _: None))
        host.append(time.perf_counter() - began)
    device_rate = size / median(taken) / 1e12
    return (
        f"{device_rate:.3f} TB/s ({1e3 * median(taken):.1f} ms; "
        f"{size / median(host) / 1e12:.3f} TB/s on the PC's clock)"
    )


def rates(device: OpenCLDevice) -> None:
    meter = Meter(device, "standard", lambda _: None, lambda: None, 16 * 2**30)
    if device.facts.identity.kind == "cpu":
        meter.memory_bytes = 2**30
    for workload in WORKLOADS:
        began = time.perf_counter()
        rate = meter.measure(workload)
        if rate.value is None:
            line(workload, rate.missing or "")
            continue
        longest = 1e3 * max(*rate.warmup_seconds, *rate.sample_seconds)
        line(
            workload,
            f"{rate.value / 1e12:.4f} T{rate.unit}, wrong {rate.wrong} of "
            f"{rate.checked}, longest launch {longest:.1f} ms, "
            f"in all {time.perf_counter() - began:.2f} s",
        )


def beside_pytorch() -> None:
    try:
        import torch  # noqa: PLC0415 - may not be there
    except ImportError:
        line("PyTorch", "not here")
        return
    size = 16 * 2**30
    x = torch.zeros(size // 4, dtype=torch.int32, device="cuda")

    def timed(work: Callable[[], object]) -> float:
        taken = []
        for _ in range(2 + ROUNDS):
            start = torch.cuda.Event(enable_timing=True)
            end = torch.cuda.Event(enable_timing=True)
            start.record()
            work()
            end.record()
            end.synchronize()
            taken.append(start.elapsed_time(end) * 1e-3)
        return median(taken[2:])

    line("PyTorch fill_", f"{size / timed(lambda: x.fill_(7)) / 1e12:.3f} TB/s")
    every = timed(lambda: torch.all(x == 7))
    line("PyTorch all(x == value)", f"{size / every / 1e12:.3f} TB/s")
    x.resize_(0)
    x.untyped_storage().resize_(0)
    torch.cuda.empty_cache()


def beside_numpy(size: int) -> None:
    x = np.zeros(size // 4, np.uint32)
    for name, work in (
        ("numpy fill", lambda: x.fill(7)),
        ("numpy all(x == value)", lambda: bool(np.all(x == 7))),
    ):
        taken = []
        for _ in range(ROUNDS):
            began = time.perf_counter()
            work()
            taken.append(time.perf_counter() - began)
        line(name, f"{size / median(taken) / 1e9:.2f} GB/s")


WATCHED = """
import resource, sys
from probe.cli import main
code = main(sys.argv[1:])
status = open("/proc/self/status").read()
own = int(status.split("VmHWM:")[1].split()[0])
measuring = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
print(own + measuring, file=sys.stderr)
sys.exit(code)
"""
"""Runs the command line, then says the most memory that this process and the measuring
one held, in KiB."""


def whole_check(asked: argparse.Namespace) -> None:
    options = ["check", "--yes", "--quiet"]
    options += ["--card", asked.card] if asked.card else []
    options += ["--memory-limit", asked.memory_limit] if asked.memory_limit else []
    for number in (1, 2, 3):
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.executable, "-c", WATCHED, *options, "--out", folder]
            began = time.perf_counter()
            done = subprocess.run(command, check=False, capture_output=True, text=True)
            whole = time.perf_counter() - began
            record = json.loads((Path(folder) / "record.json").read_bytes())
        proof = sum(
            phase["seconds"]
            for phase in record["phases"]
            if phase["name"] in PROOF_PHASES
        )
        most = int(done.stderr.split()[-1]) * 1024
        line(
            f"check, standard depth, run {number}",
            f"{whole:.2f} s in all, {proof:.2f} s in the capacity proof, "
            f"{most / 1e6:.0f} MB of host memory, exit {done.returncode}: "
            f"{done.stdout.strip()}",
        )


PROOF_PHASES = ("take", "write", "verify", "turn", "verify complement", "release")


def help_time() -> None:
    taken = []
    environment = dict(os.environ)
    for _ in range(7):
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "probe", "--help"],
            check=True,
            capture_output=True,
            env=environment,
        )
        taken.append(time.perf_counter() - began)
    line("--help", f"{median(taken):.3f} s")


if __name__ == "__main__":
    main()
