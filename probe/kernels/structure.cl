/* What the chip is built of, told by time alone.

   OpenCL C 1.1, no extensions. Built with GROUP, the largest work-group, and FEW, the
   work-items of a small one.

   staircase   every group is one equal piece of arithmetic that fills a unit: the time
               is flat while each unit has at most one group, then steps
   chain       one work-item, one dependent multiply-add after another: the core clock,
               without asking anyone
   divergence  work-items take one of two long paths by turns of `width`: both are
               waited for while a warp has to take both
   residency   few work-items that wait for their own results, and much local memory:
               flat while all groups fit onto the units at once, then a step
   chase       one work-item follows a random cycle through memory: a hop takes the
               latency of whatever holds that much
   scatter     lays the cycle down, one entry a line of STRIDE words

   No result is compared here: chains that compute wrong are found by arithmetic.cl.
   The conditions at the ends never hold, but no compiler can know that. */

#define STRIDE 32u /* 128 bytes: no cache line is longer */

#define REPEAT4(s) s s s s
#define REPEAT16(s) REPEAT4(REPEAT4(s))
#define REPEAT64(s) REPEAT16(REPEAT4(s))

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void staircase(uint rounds, float seed, __global float *out)
{
    float4 x = (float4)(0.1f, 0.2f, 0.3f, 0.4f) * seed + (float)get_local_id(0) * 1e-4f;
    float4 r = (float4)(0.999f), c = (float4)(0.0001f);
    uint k;
    for (k = 0; k < rounds; k++) { REPEAT64({ x = mad(x, r, c); }) }
    if (x.x + x.y + x.z + x.w == 1e30f) out[0] = x.x;
}

__kernel void chain(uint rounds, float seed, __global float *out)
{
    float x = seed, r = 0.999f, c = 0.0001f;
    uint k;
    for (k = 0; k < rounds; k++) {
        REPEAT64({ x = mad(x, r, c); })
        REPEAT64({ x = mad(x, r, c); })
    }
    out[0] = x;
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void divergence(uint rounds, float seed, __global float *out, uint width)
{
    float x = seed + (float)get_local_id(0) * 1e-4f;
    uint k;
    if ((get_local_id(0) / width) & 1u) {
        for (k = 0; k < rounds; k++) { REPEAT64({ x = mad(x, 0.999f, 0.0001f); }) }
    } else {
        for (k = 0; k < rounds; k++) { REPEAT64({ x = mad(x, 0.998f, 0.0002f); }) }
    }
    if (x == 1e30f) out[0] = x;
}

__kernel __attribute__((reqd_work_group_size(FEW, 1, 1)))
void residency(uint rounds, float seed, __global float *out, __local float *shelf)
{
    uint item = get_local_id(0);
    uint k;
    shelf[item] = seed;
    barrier(CLK_LOCAL_MEM_FENCE);
    float x = shelf[(item + 1) % FEW] + (float)item * 1e-4f;
    for (k = 0; k < rounds; k++) { REPEAT64({ x = mad(x, 0.999f, 0.0001f); }) }
    if (x == 1e30f) out[0] = x;
}

__kernel void chase(uint rounds, __global const uint *lines, __global uint *at)
{
    uint place = at[0];
    uint k;
    for (k = 0; k < rounds; k += 16) { REPEAT16({ place = lines[place]; }) }
    at[0] = place;
}

__kernel void scatter(__global uint *lines, __global const uint *next, uint count)
{
    uint k = get_global_id(0);
    if (k < count) lines[k * STRIDE] = next[k] * STRIDE;
}
