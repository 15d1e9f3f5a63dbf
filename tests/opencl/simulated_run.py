"""Every kernel at small sizes, through our own host code; run under oclgrind.

A process of its own. Memory is spoilt in every way that the proof tells apart, so that
each branch of the kernels runs. Prints what was found, as JSON.
"""

import json

import numpy as np
import pyopencl as cl

from probe.device import CELL_BYTES, Facts, Swept, Tagging
from probe.opencl import device as opencl
from probe.opencl import sweeps
from reports.record import CardIdentity

SMALL = 64 * 1024
"""Bytes a launch: a simulator takes seconds for what a card does in microseconds."""
GROUPS = 1 / 256


def spoil(card: opencl.OpenCLDevice, from_block: object, to_block: object) -> None:
    """Leave foreign tags, zeros, a flipped bit and noise in a block, 16 cells each."""
    queue, part = card._queue, 16 * CELL_BYTES
    cl.enqueue_copy(queue, to_block, from_block, byte_count=part)
    zeros = np.zeros(part // 4, np.uint32)
    cl.enqueue_copy(queue, to_block, zeros, dst_offset=part)
    word = np.empty(1, np.uint32)
    cl.enqueue_copy(queue, word, to_block, src_offset=2 * part)
    cl.enqueue_copy(queue, to_block, word ^ np.uint32(1 << 7), dst_offset=2 * part)
    noise = np.random.default_rng(1).integers(2**32, size=part // 4, dtype=np.uint32)
    cl.enqueue_copy(queue, to_block, noise, dst_offset=3 * part)


def proof(card: opencl.OpenCLDevice) -> list[dict[str, int]]:
    sweeps.SMALLEST_LAUNCH = SMALL
    blocks = [card.take(n, n * SMALL // CELL_BYTES, SMALL) for n in range(2)]
    found: list[Swept] = []
    plain = Tagging(nonce=0x0123456789ABCDEF, complemented=False)
    turned = Tagging(nonce=0x0123456789ABCDEF, complemented=True)
    card.sweep("write", blocks, plain, lambda swept: None)
    card.sweep("verify", blocks, plain, found.append)
    spoil(card, blocks[0].handle, blocks[1].handle)
    card.sweep("verify", blocks, plain, found.append)
    card.sweep("turn", blocks, plain, found.append)
    card.sweep("verify", blocks, turned, found.append)
    card.release(blocks)
    names = ("intact", "mirrored", "hollow", "failing", "scrambled")
    return [{name: getattr(s.census, name) for name in names} for s in found]


def rates(card: opencl.OpenCLDevice) -> dict[str, list[int]]:
    results = {}
    for name in ("fp32", "fp64", "fp16", "int32", "transcendental", "local_memory"):
        if card.supports(name) is None:
            burst = card.burst(name, GROUPS)
            results[name] = [burst.checked, burst.wrong]
    for name in ("memory_write", "memory_read", "memory_copy", "link_up", "link_down"):
        burst = card.burst(name, 1)
        results[name] = [burst.checked, burst.wrong]
    return results


def main() -> None:
    (device,) = cl.get_platforms()[0].get_devices()
    facts = Facts(
        identity=CardIdentity(label="simulated", kind="cpu", index=0),
        claims=(),
        memory_bytes=device.global_mem_size,
        free_bytes=None,
        largest_block_bytes=device.max_mem_alloc_size,
        timer="",
    )
    with opencl.OpenCLDevice(device, facts, None) as card:
        print(json.dumps({"proof": proof(card), "rates": rates(card)}))


main()
