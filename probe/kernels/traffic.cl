/* Memory traffic: plain reads, writes and copies of 16-byte elements, checked.

   OpenCL C 1.1. Built with GROUP, TILE and BATCH as in capacity.cl. The content of
   element i is a cheap function of i and a salt, so that arithmetic is never what a
   launch waits for, and every element read is compared bit for bit. */

#define SEEN 64

uint4 content(uint index, uint salt)
{
    uint x = index ^ salt;
    uint y = index * 0x9E3779B1u;
    return (uint4)(x, y, ~x, ~y);
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void memory_write(__global uint4 *to, uint salt)
{
    uint at = get_group_id(0) * (GROUP * TILE) + get_local_id(0);
    uint k;
#pragma unroll
    for (k = 0; k < TILE; k++)
        to[at + k * GROUP] = content(at + k * GROUP, salt);
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void memory_read(__global const uint4 *from, uint salt, __global uint *wrong)
{
    uint at = get_group_id(0) * (GROUP * TILE) + get_local_id(0);
    uint bad = 0;
    uint k, j;
    for (k = 0; k < TILE; k += BATCH) {
        uint4 value[BATCH];
#pragma unroll
        for (j = 0; j < BATCH; j++)
            value[j] = from[at + (k + j) * GROUP];
#pragma unroll
        for (j = 0; j < BATCH; j++) {
            uint4 off = value[j] ^ content(at + (k + j) * GROUP, salt);
            bad += (off.x | off.y | off.z | off.w) != 0;
        }
    }
    if (get_local_id(0) == 0 && get_group_id(0) % SEEN == 0)
        atomic_add(wrong + 2, 1u); /* it ran: of 64 groups one says so */
    if (bad) {
        atomic_add(wrong, bad);
        atomic_min(wrong + 1, at);
    }
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void memory_copy(__global const uint4 *from, __global uint4 *to)
{
    uint at = get_group_id(0) * (GROUP * TILE) + get_local_id(0);
    uint k, j;
    for (k = 0; k < TILE; k += BATCH) {
        uint4 value[BATCH];
#pragma unroll
        for (j = 0; j < BATCH; j++)
            value[j] = from[at + (k + j) * GROUP];
#pragma unroll
        for (j = 0; j < BATCH; j++)
            to[at + (k + j) * GROUP] = value[j];
    }
}
