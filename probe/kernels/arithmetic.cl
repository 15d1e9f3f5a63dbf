/* Arithmetic at full speed, every result checked on the device.

   OpenCL C 1.1; fp64 and fp16 only where -D WITH_FP64 / WITH_FP16 says that the
   device has them. Built with
     GROUP   work-items a group
     STEPS   steps of a chain before its result is compared; a multiple of UNROLL
     UNROLL  steps written out

   Each work-item runs four independent chains (a vector of four: what a VLIW unit, a
   CPU's vector unit and a scalar unit with some latency to hide all like). A chain
   starts from one of SEEDS seeds and ends, STEPS steps on, at a value that is known
   beforehand (probe/chains.py computes it); a round is one such walk. The chains
   stretch small differences, so a wrong bit anywhere is still there at the end.

   fp32, fp64, fp16: x <- r (x - x x) + c, the logistic map, as two fused
   multiply-adds. Where fma() is slow (see FUSED) an exact walk stands in: doubling and
   halving whole numbers, which rounds nowhere, fused or not, and gains one in four.
   int32: x <- x y + c, y <- y x + d with c, d even and x, y odd: cannot be folded
   ahead of time, and multiplication by an odd number loses no bit.
   transcendental: x <- |2^x - 2.2|, by native_exp2; the right end is what one group
   gave when asked first (`learn`), compared by every unit.

   `wrong` counts results that differ: one counter, and the first work-item that saw
   one; the third word counts the groups that came to their end, and those that follow
   count what each group saw, so that errors can be placed. Where nothing is wrong the
   latter are not touched. `want` holds SEEDS final values for each chain. */

#define SEEDS 64

#ifdef cl_nv_pragma_unroll
#define FUSED 1 /* NVIDIA: fma() is one instruction since compute capability 2.0 */
#endif
#ifdef FP_FAST_FMAF
#define FUSED 1
#endif
#ifdef PLAIN_WALK
#undef FUSED
#endif

#define REPEAT4(s) s s s s
#define REPEAT16(s) REPEAT4(REPEAT4(s))
#define REPEAT64(s) REPEAT16(REPEAT4(s))

void tell(uint bad, __global uint *wrong)
{
    if (get_local_id(0) == 0)
        atomic_add(wrong + 2, 1u);
    if (bad) {
        atomic_add(wrong, bad);
        atomic_min(wrong + 1, (uint)get_global_id(0));
        atomic_add(wrong + 3 + get_group_id(0), bad);
    }
}

uint differing(uint4 got, uint4 want)
{
    uint4 off = (uint4)(1u) & as_uint4(got != want);
    return off.x + off.y + off.z + off.w;
}

/* Which variant of fp32 was built: the host computes the wanted values to match. */
__kernel void built_fused(__global uint *out)
{
#ifdef FUSED
    out[0] = 1;
#else
    out[0] = 0;
#endif
}

#define LOGISTIC(T, r, c) { T u = fma(-x, x, x); x = fma(u, r, c); }
#define WALK { x = mad(x, 2.0f, 6.0f); x = mad(x, 0.5f, -5.0f); \
               x = mad(x, 2.0f, 10.0f); x = mad(x, 0.5f, -2.0f); }

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void fp32(uint rounds, __global const float4 *seeds, __global const uint4 *want,
          __global uint *wrong)
{
    uint seed = get_global_id(0) % SEEDS;
    uint bad = 0;
    uint n, k;
    for (n = 0; n < rounds; n++) {
        float4 x = seeds[seed];
#ifdef FUSED
        float4 r = (float4)(3.9f), c = (float4)(0.0001f);
        for (k = 0; k < STEPS; k += 64) { REPEAT64(LOGISTIC(float4, r, c)) }
#else
        for (k = 0; k < STEPS; k += 32) { REPEAT16(WALK) }
#endif
        bad += differing(as_uint4(x), want[seed]);
        seed = (seed + 1) % SEEDS;
    }
    tell(bad, wrong);
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void int32(uint rounds, __global const uint4 *seeds, __global const uint4 *want,
           __global uint *wrong)
{
    uint seed = get_global_id(0) % SEEDS;
    uint bad = 0;
    uint n, k;
    for (n = 0; n < rounds; n++) {
        uint4 x = seeds[seed];
        uint4 y = ~x | 1u;
        uint4 c = x & 0x7FFFFFFEu;
        for (k = 0; k < STEPS; k += 64) {
            REPEAT64({ x = x * y + c; y = y * x + 0x9E3779B0u; })
        }
        bad += differing(x ^ (y >> 1), want[seed]);
        seed = (seed + 1) % SEEDS;
    }
    tell(bad, wrong);
}

#define FOLD { x = fabs(native_exp2(x) - 2.2f); }

float4 transcendental_walk(float4 x)
{
    uint k;
    for (k = 0; k < STEPS; k += 64) { REPEAT64(FOLD) }
    return x;
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void transcendental(uint rounds, __global const float4 *seeds,
                    __global const uint4 *want, __global uint *wrong)
{
    uint seed = get_global_id(0) % SEEDS;
    uint bad = 0;
    uint n;
    for (n = 0; n < rounds; n++) {
        bad += differing(as_uint4(transcendental_walk(seeds[seed])), want[seed]);
        seed = (seed + 1) % SEEDS;
    }
    tell(bad, wrong);
}

/* One group: the ends of all SEEDS walks, and one plain step to hold against a
   mathematical library. */
__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void learn(__global const float4 *seeds, __global uint4 *ends, __global float4 *once)
{
    uint seed = get_global_id(0) % SEEDS;
    float4 x = seeds[seed];
    float4 end = transcendental_walk(x);
    if (get_global_id(0) < SEEDS) {
        once[seed] = native_exp2(x);
        ends[seed] = as_uint4(end);
    }
}

#ifdef WITH_FP64
#pragma OPENCL EXTENSION cl_khr_fp64 : enable
__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void fp64(uint rounds, __global const double4 *seeds, __global const ulong4 *want,
          __global uint *wrong)
{
    uint seed = get_global_id(0) % SEEDS;
    uint bad = 0;
    uint n, k;
    for (n = 0; n < rounds; n++) {
        double4 x = seeds[seed];
        double4 r = (double4)(3.9), c = (double4)(0.0001);
        for (k = 0; k < STEPS; k += 64) { REPEAT64(LOGISTIC(double4, r, c)) }
        ulong4 got = as_ulong4(x), goal = want[seed];
        bad += (got.x != goal.x) + (got.y != goal.y) + (got.z != goal.z)
             + (got.w != goal.w);
        seed = (seed + 1) % SEEDS;
    }
    tell(bad, wrong);
}
#endif

#ifdef WITH_FP16
#pragma OPENCL EXTENSION cl_khr_fp16 : enable
__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void fp16(uint rounds, __global const half4 *seeds, __global const ushort4 *want,
          __global uint *wrong)
{
    uint seed = get_global_id(0) % SEEDS;
    uint bad = 0;
    uint n, k;
    for (n = 0; n < rounds; n++) {
        half4 x = seeds[seed];
        half4 r = (half4)(3.9f), c = (half4)(0.0001f);
        for (k = 0; k < STEPS; k += 64) { REPEAT64(LOGISTIC(half4, r, c)) }
        ushort4 got = as_ushort4(x), goal = want[seed];
        bad += (got.x != goal.x) + (got.y != goal.y) + (got.z != goal.z)
             + (got.w != goal.w);
        seed = (seed + 1) % SEEDS;
    }
    tell(bad, wrong);
}
#endif

/* Local memory: each work-item follows its own line through a table of 512 entries of
   16 bytes. The next place comes out of the entry read, so no compiler can know it;
   all entries hold the same stride, so no two work-items of a group meet in a bank. */
#define TABLE 512

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void local_memory(uint rounds, __global const uint4 *table, __global const uint4 *want,
                  __global uint *wrong)
{
    __local uint4 shelf[TABLE];
    uint item = get_local_id(0);
    uint n, k;
    for (k = item; k < TABLE; k += GROUP)
        shelf[k] = table[k];
    barrier(CLK_LOCAL_MEM_FENCE);
    uint bad = 0;
    uint place = item % TABLE;
    for (n = 0; n < rounds; n++) {
        uint4 sum = (uint4)(0);
        uint start = place;
        for (k = 0; k < STEPS; k += 16) {
            REPEAT16({ uint4 v = shelf[place]; sum += v; place = (place + v.x) % TABLE; })
        }
        bad += differing(sum, want[start]);
    }
    tell(bad, wrong);
}
