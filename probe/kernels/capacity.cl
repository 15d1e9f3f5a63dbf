/* The capacity proof on the device: write tags, verify and classify, turn.

   OpenCL C 1.1, no extensions. The tag function is the one of probe/tags.py; a test
   holds the two against each other.

   Built with
     GROUP  work-items a group
     TILE   cells a work-item, a multiple of BATCH
     BATCH  cells a work-item loads before it uses the first: independent loads in
            flight are what memory speed is made of

   A group owns GROUP * TILE neighbouring cells, its work-items take turns, so that
   each access of a group is one contiguous stretch. `first` is the index within the
   block where a launch begins; a launch covers whole tiles only.

   `found + row * 18` receives sums over all launches of a block:
     0 intact  1 mirrored  2 hollow  3 failing  4 scrambled
     5 first wrong cell (index in the block)  6 last wrong cell
     7..10  OR of the flips of failing cells   11..14  AND of them
     15 index of one mirrored cell, all ones while there is none
     16, 17  low and high half of the number it names

   One batch a work-item (TILE equal to BATCH) matters to `turn`: where a work-item goes
   on to read after it wrote, its reads wait for its writes and the memory changes
   direction all the time. On an H100 that is 1.4 TB/s against 3.0. */

#define INTACT 0
#define MIRRORED 1
#define HOLLOW 2
#define FAILING 3
#define SCRAMBLED 4
#define FIRST 5
#define LAST 6
#define ANY 7
#define ALL 11
#define SEEN_AT 15
#define NAMED 16
#define FOUND 18

#define MIX_X 0x9E3779B1u
#define MIX_Y 0x85EBCA77u
#define HIGH_LIMIT 256u /* cell numbers stay below 2^40: 16 TiB */
#define FEW_FLIPS 16u   /* of 128; unrelated data differs in 64 +- 6 */

uint spread(uint x)
{
    uint product = x * MIX_X;
    return product ^ (product >> 15);
}

uint keyed(uint x, uint y, uint third)
{
    uint z = (y ^ third) * MIX_Y + x;
    return z ^ (z >> 16);
}

/* `high` is the high half of the cell's number, already under the nonce. */
uint4 tag(uint low, uint high, uint first, uint third, uint polarity)
{
    uint x = low ^ first;
    uint y = spread(x) ^ high;
    uint z = keyed(x, y, third);
    return (uint4)(x ^ polarity, y ^ polarity, z ^ polarity, ~z ^ polarity);
}

uint bits4(uint4 v)
{
    v = v - ((v >> 1) & 0x55555555u);
    v = (v & 0x33333333u) + ((v >> 2) & 0x33333333u);
    uint2 w = v.xy + v.zw; /* at most 8 in each half byte */
    w = (w & 0x0F0F0F0Fu) + ((w >> 4) & 0x0F0F0F0Fu);
    return ((w.x + w.y) * 0x01010101u) >> 24;
}

typedef struct {
    uint mirrored, hollow, failing, scrambled;
    uint first, last;
    uint seen_at, named_low, named_high; /* one mirrored cell */
    uint4 any, all;
} Tally;

void judge_cell(uint4 value, uint4 expected, uint index, Tally *tally,
                uint key1, uint key2, uint key3)
{
    tally->first = min(tally->first, index);
    tally->last = max(tally->last, index);
    if (value.x == value.z && value.y == value.w) { /* a bus of 64 bits or fewer */
        tally->hollow += 1;
        return;
    }
    if (value.z == ~value.w) {
        /* Read in the wrong polarity no tag names a cell below the limit: the hash's
           top bits differ between x and ~x. So one look at `high` picks the polarity. */
        uint4 plain = value;
        uint high = spread(plain.x) ^ plain.y ^ key2;
        if (high >= HIGH_LIMIT) {
            plain = ~value;
            high = spread(plain.x) ^ plain.y ^ key2;
        }
        if (high < HIGH_LIMIT && keyed(plain.x, plain.y, key3) == plain.z
            && any(plain != expected) && any(plain != ~expected)) {
            tally->mirrored += 1;
            tally->seen_at = index;
            tally->named_low = plain.x ^ key1;
            tally->named_high = high;
            return;
        }
    }
    uint4 flips = value ^ expected;
    if (bits4(flips) <= FEW_FLIPS) {
        tally->failing += 1;
        tally->any |= flips;
        tally->all &= flips;
    } else {
        tally->scrambled += 1;
    }
}

void report(const Tally *tally, uint intact, __local uint *sums, __global uint *found)
{
    uint item = get_local_id(0);
    uint slot;
    for (slot = item; slot < FOUND; slot += GROUP)
        sums[slot] = (slot == FIRST || (slot >= ALL && slot <= SEEN_AT)) ? ~0u : 0u;
    barrier(CLK_LOCAL_MEM_FENCE);
    atomic_add(sums + INTACT, intact);
    if (tally->first != ~0u) {
        atomic_add(sums + MIRRORED, tally->mirrored);
        atomic_add(sums + HOLLOW, tally->hollow);
        atomic_add(sums + FAILING, tally->failing);
        atomic_add(sums + SCRAMBLED, tally->scrambled);
        atomic_min(sums + FIRST, tally->first);
        atomic_max(sums + LAST, tally->last);
        if (tally->mirrored) atomic_min(sums + SEEN_AT, tally->seen_at);
        if (tally->failing) {
            atomic_or(sums + ANY, tally->any.x);
            atomic_or(sums + ANY + 1, tally->any.y);
            atomic_or(sums + ANY + 2, tally->any.z);
            atomic_or(sums + ANY + 3, tally->any.w);
            atomic_and(sums + ALL, tally->all.x);
            atomic_and(sums + ALL + 1, tally->all.y);
            atomic_and(sums + ALL + 2, tally->all.z);
            atomic_and(sums + ALL + 3, tally->all.w);
        }
    }
    barrier(CLK_LOCAL_MEM_FENCE);
    /* The first group to set SEEN_AT, and in it the one work-item that saw the cell,
       writes what the cell named: the three words belong together. */
    if (tally->mirrored && sums[SEEN_AT] == tally->seen_at
        && atomic_cmpxchg(found + SEEN_AT, ~0u, tally->seen_at) == ~0u) {
        found[NAMED] = tally->named_low;
        found[NAMED + 1] = tally->named_high;
    }
    for (slot = item; slot < SEEN_AT; slot += GROUP) {
        uint sum = sums[slot];
        if (slot == FIRST) {
            if (sum != ~0u) atomic_min(found + slot, sum);
        } else if (slot >= ALL) {
            if (sum != ~0u) atomic_and(found + slot, sum);
        } else if (sum != 0) {
            if (slot == LAST) atomic_max(found + slot, sum);
            else if (slot >= ANY) atomic_or(found + slot, sum);
            else atomic_add(found + slot, sum);
        }
    }
}

Tally nothing_yet(void)
{
    Tally tally;
    tally.mirrored = tally.hollow = tally.failing = tally.scrambled = 0;
    tally.first = ~0u;
    tally.last = 0;
    tally.seen_at = tally.named_low = tally.named_high = 0;
    tally.any = (uint4)(0);
    tally.all = (uint4)(~0u);
    return tally;
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void tag_write(__global uint4 *cells, uint first, uint base_low, uint base_high,
           uint key1, uint key2, uint key3, uint polarity)
{
    uint at = first + get_group_id(0) * (GROUP * TILE) + get_local_id(0);
    uint high = base_high ^ key2;
    uint k;
#pragma unroll
    for (k = 0; k < TILE; k++) {
        uint index = at + k * GROUP;
        cells[index] = tag(base_low + index, high, key1, key3, polarity);
    }
}

__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void tag_verify(__global const uint4 *cells, uint first, uint base_low, uint base_high,
            uint key1, uint key2, uint key3, uint polarity, __global uint *found,
              uint row)
{
    __local uint sums[FOUND];
    Tally tally = nothing_yet();
    uint at = first + get_group_id(0) * (GROUP * TILE) + get_local_id(0);
    uint high = base_high ^ key2;
    uint intact = 0;
    uint k, j;
    for (k = 0; k < TILE; k += BATCH) {
        uint4 value[BATCH];
#pragma unroll
        for (j = 0; j < BATCH; j++)
            value[j] = cells[at + (k + j) * GROUP];
#pragma unroll
        for (j = 0; j < BATCH; j++) {
            uint index = at + (k + j) * GROUP;
            uint4 expected = tag(base_low + index, high, key1, key3, polarity);
            uint4 flips = value[j] ^ expected;
            if ((flips.x | flips.y | flips.z | flips.w) == 0)
                intact += 1;
            else
                judge_cell(value[j], expected, index, &tally, key1, key2, key3);
        }
    }
    report(&tally, intact, sums, found + row * FOUND);
}

/* Verify, then rewrite with the complement, in place; groups walk down. */
__kernel __attribute__((reqd_work_group_size(GROUP, 1, 1)))
void tag_turn(__global uint4 *cells, uint first, uint base_low, uint base_high,
          uint key1, uint key2, uint key3, uint polarity, __global uint *found,
              uint row)
{
    __local uint sums[FOUND];
    Tally tally = nothing_yet();
    uint group = get_num_groups(0) - 1 - get_group_id(0);
    uint at = first + group * (GROUP * TILE) + get_local_id(0);
    uint high = base_high ^ key2;
    uint intact = 0;
    uint k, j;
    for (k = 0; k < TILE; k += BATCH) {
        uint from = at + (TILE - BATCH - k) * GROUP;
        uint4 value[BATCH];
#pragma unroll
        for (j = 0; j < BATCH; j++)
            value[j] = cells[from + j * GROUP];
#pragma unroll
        for (j = 0; j < BATCH; j++) {
            uint index = from + j * GROUP;
            uint4 expected = tag(base_low + index, high, key1, key3, polarity);
            uint4 flips = value[j] ^ expected;
            cells[index] = ~expected;
            if ((flips.x | flips.y | flips.z | flips.w) == 0)
                intact += 1;
            else
                judge_cell(value[j], expected, index, &tally, key1, key2, key3);
        }
    }
    report(&tally, intact, sums, found + row * FOUND);
}
