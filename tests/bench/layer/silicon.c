/* Memory kept by the PC, wired to the claimed addresses in whatever way a lie asks for:
 * what a modulo cannot say. Before a command its buffers get what the wiring shows at
 * their addresses; after it, whatever the command changed is taken into the silicon.
 * For sizes that are copied in a blink; memory.c's lies are the ones for real cards.
 *
 * Wirings (COUNTERFEIT_WIRING, numbers after colons; the silicon has `real` bytes):
 *   modulo       address modulo the real size
 *   pairs:G      of two neighbouring pages of G bytes the second is the first
 *   upper:F      as it is below F bytes, above wraps within what is left
 *   drop:N       address line N is not connected
 *   swap:N:M     two address lines exchanged (a healthy card)
 *   cross:N:M    line N is N xor M (a healthy card)
 *   end          nothing behind the real size
 *   holes:G:N:M  in each N pages of G bytes the last M are not there
 *   both:F       wraps below F bytes, nothing is there above
 */

#include "counterfeit.h"

#include <stdlib.h>
#include <string.h>

#define LINE 4096
#define NOWHERE (~(cl_ulong)0)

struct late {
    struct late *next;
    cl_ulong at, due;
    size_t size;
    unsigned char bytes[];
};

static unsigned char *cells;  /* the silicon */
static unsigned char *cached; /* what was written last to each claimed address */
static cl_ulong *stamps, lines_written; /* of LINE bytes; 0: never */
static unsigned char held[16];          /* what the bus carried last */
static cl_ulong commands;
static struct late *pending, **pending_end = &pending;

static cl_ulong line(cl_ulong address, unsigned n) { return address >> n & 1; }

static cl_ulong without(cl_ulong address, unsigned n)
{
    cl_ulong low = ((cl_ulong)1 << n) - 1;
    return (address >> 1 & ~low) | (address & low);
}

static cl_ulong wired(cl_ulong a)
{
    const struct wiring *w = &lies.wiring;
    cl_ulong page = w->n[0] != 0 ? a / w->n[0] : 0;
    switch (w->kind) {
    case MODULO:
        return a % lies.real;
    case PAIRS:
        return page / 2 * w->n[0] + a % w->n[0];
    case UPPER:
        return a < w->n[0] ? a : w->n[0] + (a - w->n[0]) % (lies.real - w->n[0]);
    case DROP:
        return without(a, (unsigned)w->n[0]);
    case SWAP:
        if (line(a, (unsigned)w->n[0]) != line(a, (unsigned)w->n[1]))
            a ^= (cl_ulong)1 << w->n[0] | (cl_ulong)1 << w->n[1];
        return a;
    case CROSS:
        return a ^ line(a, (unsigned)w->n[1]) << w->n[0];
    case HOLES:
        if (page % w->n[1] >= w->n[1] - w->n[2])
            return NOWHERE;
        return (page / w->n[1] * (w->n[1] - w->n[2]) + page % w->n[1]) * w->n[0] +
               a % w->n[0];
    case BOTH:
        return a < w->n[0] ? a % lies.real : NOWHERE;
    default:
        return a < lies.real ? a : NOWHERE;
    }
}

/* What nothing reads as: 16 bytes. */
static void nothing(cl_ulong address, unsigned char *to)
{
    cl_ulong words[2] = {address, address + 8};
    switch (lies.nothing) {
    case HELD:
        memcpy(to, held, 16);
        break;
    case NOISE:
        noise(to, 16);
        break;
    case FLICKER:
        memset(to, (int)(commands * 37), 16);
        break;
    case ADDRESS:
        memcpy(to, words, 16);
        break;
    default:
        for (unsigned i = 0; i < 16; i++)
            to[i] = lies.pattern[i % lies.pattern_size];
    }
}

static void start(void)
{
    if (cells != NULL)
        return;
    cells = calloc(1, lies.real);
    if (lies.cache != 0) {
        cached = malloc(lies.claim);
        stamps = calloc(lies.claim / LINE + 1, sizeof *stamps);
    }
    if (cells == NULL || (lies.cache != 0 && (cached == NULL || stamps == NULL)))
        abort();
}

static int in_cache(cl_ulong address)
{
    cl_ulong stamp = cached != NULL ? stamps[address / LINE] : 0;
    return stamp != 0 && lines_written - stamp < lies.cache / LINE;
}

static int bad(const struct stuck *stuck)
{
    return (cells[stuck->at] & stuck->mask) != stuck->value;
}

/* Cells that cannot keep what they were given. */
static void ail(void)
{
    for (unsigned i = 0; i < lies.stucks; i++)
        if (bad(&lies.stuck[i]))
            cells[lies.stuck[i].at] ^= lies.stuck[i].mask;
}

static void store(cl_ulong address, const unsigned char *from)
{
    cl_ulong at = wired(address);
    memcpy(held, from, 16);
    if (cached != NULL) {
        cl_ulong *stamp = &stamps[address / LINE];
        if (!in_cache(address))
            *stamp = ++lines_written;
        memcpy(cached + address, from, 16);
    }
    if (at == NOWHERE)
        return;
    memcpy(cells + at, from, 16);
    if (lies.couple != NULL && lies.couple[0] / 16 == at / 16)
        cells[lies.couple[1]] ^= 1;
}

static void take_in(cl_ulong address, size_t size, const unsigned char *from)
{
    for (size_t i = 0; i < size; i += 16)
        store(address + i, from + i);
}

/* Gives the buffer's bytes as the wiring shows them. */
void show_silicon(struct buffer *b, unsigned char *to)
{
    start();
    commands++;
    while (pending != NULL && pending->due <= commands) {
        struct late *l = pending;
        take_in(l->at, l->size, l->bytes);
        if ((pending = l->next) == NULL)
            pending_end = &pending;
        free(l);
    }
    for (unsigned i = 0; lies.decay != 0 && i < lies.stucks; i++)
        if (commands >= lies.decay)
            ail();
    if (lies.decay == 0)
        ail();
    for (size_t i = 0; i < b->size; i += 16) {
        cl_ulong address = b->address + i, at = wired(address);
        if (in_cache(address))
            memcpy(to + i, cached + address, 16);
        else if (at == NOWHERE)
            nothing(address, to + i);
        else
            memcpy(to + i, cells + at, 16);
    }
}

/* Takes in what a command changed. */
void keep_silicon(struct buffer *b, const unsigned char *before,
                  const unsigned char *after)
{
    for (size_t i = 0; i < b->size; i += 16) {
        size_t end = i;
        while (end < b->size && memcmp(before + end, after + end, 16) != 0)
            end += 16;
        if (end == i)
            continue;
        if (lies.late == 0) {
            take_in(b->address + i, end - i, after + i);
        } else {
            struct late *l = malloc(sizeof *l + (end - i));
            if (l == NULL)
                abort();
            *l = (struct late){.at = b->address + i,
                               .due = commands + lies.late,
                               .size = end - i};
            memcpy(l->bytes, after + i, end - i);
            *pending_end = l;
            pending_end = &l->next;
        }
        i = end - 16;
    }
}
