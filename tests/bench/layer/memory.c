/* The false memory. The program's buffers get addresses on the claimed card, first fit;
 * here those addresses are turned into real buffers, or parts of them. What happens to
 * the bytes while commands run is in commands.c.
 *
 * Real memory is held in chunks of a power of two, made when first needed, since a
 * driver's largest buffer may be smaller than the real memory. Nothing is copied to the
 * PC, so that a card of 20 GiB can claim 160.
 */

#include "counterfeit.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>

enum { MOST_CHUNKS = 4096, SIZES = 64 };

struct store {
    cl_context context;
    cl_command_queue queue; /* our own, for filling at creation */
    size_t chunk;           /* bytes, a power of two */
    cl_mem chunks[MOST_CHUNKS];
    cl_mem holes[SIZES]; /* one for each power of two: where hollow buffers are */
    struct buffer *first; /* by address; parts follow the whole */
    struct store *next;
};

static struct store *stores;
static struct buffer *passed; /* buffers that are not card memory */
static pthread_mutex_t mutex = PTHREAD_MUTEX_INITIALIZER;

void lock(void) { pthread_mutex_lock(&mutex); }
void unlock(void) { pthread_mutex_unlock(&mutex); }

static unsigned exponent(cl_ulong size)
{
    unsigned result = 0;
    while (((cl_ulong)1 << result) < size)
        result++;
    return result;
}

struct buffer *find_buffer(cl_mem handle)
{
    for (struct store *store = stores; store != NULL; store = store->next)
        for (struct buffer *b = store->first; b != NULL; b = b->next)
            if (b->handle == handle)
                return b;
    for (struct buffer *b = passed; b != NULL; b = b->next)
        if (b->handle == handle)
            return b;
    return NULL;
}

static struct store *find_store(cl_context context)
{
    struct store *store = stores;
    while (store != NULL && store->context != context)
        store = store->next;
    if (store != NULL)
        return store;

    cl_device_id devices[16];
    cl_ulong largest = 0;
    if (real.clGetContextInfo(context, CL_CONTEXT_DEVICES, sizeof devices, devices,
                              NULL) != CL_SUCCESS ||
        real.clGetDeviceInfo(devices[0], CL_DEVICE_MAX_MEM_ALLOC_SIZE, sizeof largest,
                             &largest, NULL) != CL_SUCCESS)
        return NULL;
    store = calloc(1, sizeof *store);
    if (store == NULL)
        return NULL;
    if (largest > lies.real)
        largest = lies.real;
    store->chunk = (size_t)1 << exponent(largest);
    if (store->chunk > largest)
        store->chunk >>= 1;
    store->context = context;
    store->queue = real.clCreateCommandQueue(context, devices[0], 0, NULL);
    store->next = stores;
    return stores = store;
}

static void drop_store(struct store *store)
{
    for (unsigned i = 0; i < MOST_CHUNKS; i++)
        if (store->chunks[i] != NULL)
            real.clReleaseMemObject(store->chunks[i]);
    for (unsigned i = 0; i < SIZES; i++)
        if (store->holes[i] != NULL)
            real.clReleaseMemObject(store->holes[i]);
    if (store->queue != NULL)
        real.clReleaseCommandQueue(store->queue);
    struct store **link = &stores;
    while (*link != store)
        link = &(*link)->next;
    *link = store->next;
    free(store);
}

/* Whether the buffer at this address would lie in real memory, wholly. */
static int is_real(cl_ulong address, size_t size)
{
    return lies.kind == WRAP || lies.kind == SILICON || address + size <= lies.real;
}

static int fits(const struct store *store, cl_ulong address, size_t size)
{
    if (lies.kind == SILICON || !is_real(address, size))
        return 1;
    address %= lies.real;
    return address + size <= lies.real &&
           address / store->chunk == (address + size - 1) / store->chunk;
}

/* First fit. Returns the link where the buffer belongs, or NULL. */
static struct buffer **place(struct store *store, size_t size, cl_ulong *address)
{
    cl_ulong step = (cl_ulong)1 << exponent(size), at = 0;
    struct buffer **link = &store->first;
    if (step > store->chunk && lies.kind != SILICON)
        step = store->chunk;
    for (;; link = &(*link)->next) {
        cl_ulong end = *link != NULL ? (*link)->address : lies.claim;
        for (; at + size <= end; at += step)
            if (fits(store, at, size)) {
                *address = at;
                return link;
            }
        if (*link == NULL)
            return NULL;
        end = (*link)->address + (*link)->size;
        if (end > at)
            at = (end + step - 1) / step * step;
    }
}

static cl_mem lazily(struct store *store, cl_mem *slot, size_t size, cl_int *code)
{
    if (*slot == NULL)
        *slot =
            real.clCreateBuffer(store->context, CL_MEM_READ_WRITE, size, NULL, code);
    return *slot;
}

static cl_mem part_of(cl_mem root, cl_mem_flags flags, size_t origin, size_t size,
                      cl_int *code)
{
    const cl_buffer_region region = {origin, size};
    flags &= ~(cl_mem_flags)(CL_MEM_COPY_HOST_PTR | CL_MEM_USE_HOST_PTR |
                             CL_MEM_ALLOC_HOST_PTR);
    return real.clCreateSubBuffer(root, flags, CL_BUFFER_CREATE_TYPE_REGION, &region,
                                  code);
}

/* Gives the buffer real memory, or what passes for it. */
static void back(struct buffer *b, cl_mem_flags flags, cl_int *code)
{
    struct store *store = b->store;
    b->hollow_from = b->size;
    if (lies.kind == SILICON) {
        b->root = b->handle = real.clCreateBuffer(store->context, flags, b->size, NULL,
                                                  code);
        b->in_silicon = 1;
        return;
    }
    if (is_real(b->address, b->size)) {
        cl_ulong at = b->address % lies.real, index = at / store->chunk;
        cl_ulong rest = lies.real - index * store->chunk;
        if (index >= MOST_CHUNKS) {
            complain("more than %d chunks of real memory", MOST_CHUNKS);
            *code = CL_INVALID_BUFFER_SIZE;
            return;
        }
        b->root = lazily(store, &store->chunks[index],
                         rest < store->chunk ? (size_t)rest : store->chunk, code);
        b->origin = at % store->chunk;
    } else if (lies.kind == SPILL) {
        b->root = b->handle = real.clCreateBuffer(
            store->context, flags | CL_MEM_ALLOC_HOST_PTR, b->size, NULL, code);
        return;
    } else if (lies.kind == HOLLOW && b->address < lies.real) {
        b->hollow_from = lies.real - b->address;
        b->root = b->handle =
            real.clCreateBuffer(store->context, flags, b->size, NULL, code);
        return;
    } else {
        unsigned power = exponent(b->size);
        b->root = lazily(store, &store->holes[power], (size_t)1 << power, code);
        if (lies.kind == HOLLOW)
            b->hollow_from = 0;
        else
            b->refused = 1;
    }
    if (b->root != NULL)
        b->handle = part_of(b->root, flags, b->origin, b->size, code);
}

static struct buffer *new_buffer(struct buffer **link)
{
    struct buffer *b = calloc(1, sizeof *b);
    if (b == NULL)
        abort();
    b->references = 1;
    b->next = *link;
    *link = b;
    return b;
}

static void note(char sign, const struct buffer *b)
{
    FILE *file = lies.ledger != NULL ? fopen(lies.ledger, "a") : NULL;
    if (file == NULL)
        return;
    fprintf(file, "%c %llu %zu\n", sign, (unsigned long long)b->address, b->size);
    fclose(file);
}

static void forget(struct buffer *b)
{
    if (b->store != NULL && b->parent == NULL && b->handle != NULL)
        note('-', b);
    struct buffer **link = b->store != NULL ? &b->store->first : &passed;
    while (*link != b)
        link = &(*link)->next;
    *link = b->next;
    if (b->store != NULL && b->store->first == NULL)
        drop_store(b->store);
    free(b);
}

static cl_mem pass(cl_context context, cl_mem_flags flags, size_t size, void *host,
                   cl_int *code)
{
    cl_mem handle = real.clCreateBuffer(context, flags, size, host, code);
    if (handle != NULL) {
        struct buffer *b = new_buffer(&passed);
        b->handle = b->root = handle;
        b->size = b->hollow_from = size;
    }
    return handle;
}

cl_mem create_buffer(cl_context context, cl_mem_flags flags, size_t size, void *host,
                     cl_int *code)
{
    struct store *store;
    struct buffer **link;
    cl_ulong address;

    *code = CL_SUCCESS;
    if (lies.real == 0 || size < SMALL ||
        flags & (CL_MEM_USE_HOST_PTR | CL_MEM_ALLOC_HOST_PTR))
        return pass(context, flags, size, host, code);
    if ((store = find_store(context)) == NULL) {
        *code = CL_INVALID_CONTEXT;
        return NULL;
    }
    link = place(store, size, &address);
    if (link == NULL || (lies.kind == CREATE && !is_real(address, size))) {
        *code = CL_MEM_OBJECT_ALLOCATION_FAILURE;
        if (link == NULL && size > store->chunk) {
            complain("a buffer of %zu bytes is more than one chunk of %zu holds", size,
                     store->chunk);
            *code = CL_INVALID_BUFFER_SIZE;
        }
        if (store->first == NULL)
            drop_store(store);
        return NULL;
    }
    struct buffer *b = new_buffer(link);
    b->store = store;
    b->address = address;
    b->size = size;
    back(b, flags & ~(cl_mem_flags)CL_MEM_COPY_HOST_PTR, code);
    if (b->handle != NULL && flags & CL_MEM_COPY_HOST_PTR)
        *code = real.clEnqueueWriteBuffer(store->queue, b->root, CL_TRUE, b->origin,
                                          size, host, 0, NULL, NULL);
    cl_mem handle = b->handle;
    if (handle == NULL)
        forget(b);
    else
        note('+', b);
    return handle;
}

cl_mem create_part(struct buffer *whole, cl_mem_flags flags,
                   const cl_buffer_region *region, cl_int *code)
{
    if (whole->in_silicon) {
        complain("parts of buffers in silicon are not played");
        *code = CL_INVALID_VALUE;
        return NULL;
    }
    if (region->size == 0 || region->origin > whole->size ||
        region->size > whole->size - region->origin) {
        *code = CL_INVALID_VALUE;
        return NULL;
    }
    cl_mem handle = part_of(whole->root, flags, whole->origin + region->origin,
                            region->size, code);
    if (handle == NULL)
        return NULL;
    struct buffer *b = new_buffer(&whole->next);
    *b = (struct buffer){
        .handle = handle,
        .store = whole->store,
        .parent = whole,
        .next = b->next,
        .address = whole->address + region->origin,
        .size = region->size,
        .root = whole->root,
        .origin = whole->origin + region->origin,
        .refused = whole->refused,
        .references = 1,
    };
    size_t hollow = whole->hollow_from;
    hollow = hollow > region->origin ? hollow - region->origin : 0;
    b->hollow_from = hollow < b->size ? hollow : b->size;
    whole->references++;
    return handle;
}

cl_int retain_buffer(cl_mem handle)
{
    struct buffer *b = find_buffer(handle);
    cl_int code = real.clRetainMemObject(handle);
    if (code == CL_SUCCESS && b != NULL)
        b->references++;
    return code;
}

static void unreference(struct buffer *b)
{
    while (b != NULL && --b->references == 0) {
        struct buffer *parent = b->parent;
        forget(b);
        b = parent;
    }
}

cl_int release_buffer(cl_mem handle)
{
    struct buffer *b = find_buffer(handle);
    cl_int code = real.clReleaseMemObject(handle);
    if (code == CL_SUCCESS)
        unreference(b);
    return code;
}

ptrdiff_t stuck_at(const struct buffer *b, unsigned which)
{
    if (b->store == NULL || b->in_silicon)
        return -1;
    size_t chunk = b->store->chunk, at = lies.stuck[which].at % chunk;
    cl_ulong index = lies.stuck[which].at / chunk;
    if (index >= MOST_CHUNKS || b->root != b->store->chunks[index] ||
        at < b->origin || at - b->origin >= b->size)
        return -1;
    return (ptrdiff_t)at;
}
