"""What a program without any of our code sees of the OpenCL device, as JSON.

Run as a process of its own: `layer_probe.py BLOCK_BYTES [STEP ...]`. Takes blocks until
refused, writes each word of each with its number, reads all, and says what was read.
"""

import json
import sys

import numpy as np
import pyopencl as cl

SOURCE = """
__kernel void write(__global uint *block, uint first)
{
    block[get_global_id(0)] = first + (uint)get_global_id(0);
}
__kernel void count(__global const uint *block, uint first, __global uint *counts)
{
    uint word = block[get_global_id(0)], want = first + (uint)get_global_id(0);
    atomic_inc(&counts[word == want ? 0 : word == 0u ? 1 : word == ~0u ? 2 : 3]);
    if (word != want) {
        counts[4] = word - want;
        counts[5] = word ^ want;
        counts[6] = (uint)get_global_id(0);
    }
}
"""


def words(device: cl.Device) -> dict[str, object]:
    return {
        "name": device.name,
        "vendor": device.vendor,
        "memory": device.global_mem_size,
        "largest": device.max_mem_alloc_size,
        "units": device.max_compute_units,
        "type": cl.device_type.to_string(device.type),
        "unified": bool(device.host_unified_memory),
    }


def take(
    context: cl.Context, queue: cl.CommandQueue, kernels: cl.Program, size: int
) -> tuple[list[cl.Buffer], str]:
    """Hold blocks until the driver refuses; give them and its word."""
    blocks: list[cl.Buffer] = []
    touch = cl.Kernel(kernels, "write")
    while len(blocks) < 64:
        try:
            block = cl.Buffer(context, cl.mem_flags.READ_WRITE, size)
            touch(queue, (1,), (1,), block, np.uint32(0))
            queue.finish()
        except cl.Error as error:
            return blocks, str(error)
        blocks.append(block)
    return blocks, "no refusal"


def main() -> None:
    size = int(sys.argv[1])
    (device,) = cl.get_platforms()[0].get_devices()
    context = cl.Context([device])
    # two queues: what one writes the other reads
    writing, reading = (cl.CommandQueue(context) for _ in range(2))
    kernels = cl.Program(context, SOURCE).build()
    blocks, refusal = take(context, writing, kernels, size)
    write, count = (cl.Kernel(kernels, name) for name in ("write", "count"))
    length = size // 4
    for number, block in enumerate(blocks):
        write(writing, (length,), (64,), block, np.uint32(number * length))
    writing.finish()
    found = []
    for number, block in enumerate(blocks):
        counts = np.zeros(7, np.uint32)
        room = cl.Buffer(
            context,
            cl.mem_flags.READ_WRITE | cl.mem_flags.COPY_HOST_PTR,
            hostbuf=counts,
        )
        count(reading, (length,), (64,), block, np.uint32(number * length), room)
        cl.enqueue_copy(reading, counts, room)
        host = np.empty(4, np.uint32)
        cl.enqueue_copy(reading, host, block)
        right, zeros, ones, others, apart, flips, at = (int(c) for c in counts)
        found.append(
            {
                "right": right,
                "zeros": zeros,
                "ones": ones,
                "others": others,
                "apart": apart,
                "flips": flips,
                "at": at,
                "read": host.tolist(),
            }
        )
    for block in blocks:
        block.release()
    again = cl.Buffer(context, cl.mem_flags.READ_WRITE, size)
    again.release()
    print(
        json.dumps(
            {"words": words(device), "blocks": found, "refusal": refusal}, indent=1
        )
    )


main()
