/* Keeps the false memory false while commands run: hollow bytes are filled before each
 * command that may read them, stuck bits are forced after each that may write them,
 * refused buffers fail. Such commands run one at a time; all others are passed on as
 * they are, so that an honest card loses neither speed nor overlap.
 */

#include "counterfeit.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>

struct kernel {
    cl_kernel handle;
    cl_mem arguments[MOST_ARGUMENTS];
    char name[64];
    unsigned references;
    struct kernel *next;
};

/* The buffers of one command. */
struct touched {
    struct buffer *buffers[MOST_ARGUMENTS];
    unsigned count;
};

cl_ulong launches;
static struct kernel *kernels;

/* Kernels and their arguments */

static struct kernel *find_kernel(cl_kernel handle)
{
    struct kernel *k = kernels;
    while (k != NULL && k->handle != handle)
        k = k->next;
    return k;
}

static struct kernel *new_kernel(cl_kernel handle)
{
    struct kernel *k = calloc(1, sizeof *k);
    if (k == NULL)
        abort();
    k->handle = handle;
    k->references = 1;
    real.clGetKernelInfo(handle, CL_KERNEL_FUNCTION_NAME, sizeof k->name, k->name, NULL);
    k->next = kernels;
    return kernels = k;
}

static cl_kernel CL_API_CALL create_kernel(cl_program program, const char *name,
                                           cl_int *code)
{
    cl_kernel handle = real.clCreateKernel(program, name, code);
    lock();
    if (handle != NULL)
        new_kernel(handle);
    unlock();
    return handle;
}

static cl_int CL_API_CALL create_kernels(cl_program program, cl_uint count,
                                         cl_kernel *handles, cl_uint *found)
{
    cl_uint made = 0;
    cl_int code = real.clCreateKernelsInProgram(program, count, handles, &made);
    lock();
    for (cl_uint i = 0; code == CL_SUCCESS && handles != NULL && i < made; i++)
        new_kernel(handles[i]);
    unlock();
    if (found != NULL)
        *found = made;
    return code;
}

static cl_kernel CL_API_CALL clone_kernel(cl_kernel source, cl_int *code)
{
    cl_kernel handle = real.clCloneKernel(source, code);
    lock();
    struct kernel *from = find_kernel(source);
    if (handle != NULL && from != NULL) {
        struct kernel *k = new_kernel(handle);
        for (unsigned i = 0; i < MOST_ARGUMENTS; i++)
            k->arguments[i] = from->arguments[i];
    }
    unlock();
    return handle;
}

static cl_int CL_API_CALL retain_kernel(cl_kernel handle)
{
    cl_int code = real.clRetainKernel(handle);
    lock();
    struct kernel *k = find_kernel(handle);
    if (code == CL_SUCCESS && k != NULL)
        k->references++;
    unlock();
    return code;
}

static cl_int CL_API_CALL release_kernel(cl_kernel handle)
{
    lock();
    struct kernel **link = &kernels;
    while (*link != NULL && (*link)->handle != handle)
        link = &(*link)->next;
    cl_int code = real.clReleaseKernel(handle);
    if (code == CL_SUCCESS && *link != NULL && --(*link)->references == 0) {
        struct kernel *k = *link;
        *link = k->next;
        free(k);
    }
    unlock();
    return code;
}

static cl_int CL_API_CALL set_argument(cl_kernel handle, cl_uint index, size_t size,
                                       const void *value)
{
    cl_int code = real.clSetKernelArg(handle, index, size, value);
    lock();
    struct kernel *k = find_kernel(handle);
    if (code == CL_SUCCESS && k != NULL && index < MOST_ARGUMENTS)
        k->arguments[index] =
            size == sizeof(cl_mem) && value != NULL ? *(const cl_mem *)value : NULL;
    unlock();
    return code;
}

/* What happens around a command */

static void touch(struct touched *touched, cl_mem handle)
{
    struct buffer *b = handle != NULL ? find_buffer(handle) : NULL;
    if (b != NULL)
        touched->buffers[touched->count++] = b;
}

/* Other queues must be running before this one can be waited for. */
static cl_int settle(cl_command_queue queue, cl_uint count, const cl_event *events)
{
    for (cl_uint i = 0; i < count; i++) {
        cl_command_queue other = NULL;
        real.clGetEventInfo(events[i], CL_EVENT_COMMAND_QUEUE, sizeof other, &other,
                            NULL);
        if (other != NULL)
            real.clFlush(other);
    }
    if (count != 0)
        real.clWaitForEvents(count, events);
    return real.clFinish(queue);
}

static int is_small; /* whether the launch under way takes no more than a MiB */

static cl_int before(cl_command_queue queue, const struct touched *touched,
                     cl_uint count, const cl_event *events)
{
    cl_int code = CL_SUCCESS;
    for (unsigned i = 0; i < touched->count && code == CL_SUCCESS; i++) {
        struct buffer *b = touched->buffers[i];
        if (b->refused && !(lies.kind == LAZY && is_small))
            return CL_MEM_OBJECT_ALLOCATION_FAILURE;
        if (b->in_silicon) {
            code = settle(queue, count, events);
            if (b->image == NULL && (b->image = malloc(b->size)) == NULL)
                abort();
            show_silicon(b, b->image);
            if (code == CL_SUCCESS)
                code = real.clEnqueueWriteBuffer(queue, b->root, CL_TRUE, 0, b->size,
                                                 b->image, 0, NULL, NULL);
            continue;
        }
        if (b->hollow_from == b->size)
            continue;
        code = settle(queue, count, events);
        if (code == CL_SUCCESS)
            code = real.clEnqueueFillBuffer(
                queue, b->root, &lies.fill, 1, b->origin + b->hollow_from,
                b->size - b->hollow_from, 0, NULL, NULL);
        if (code == CL_SUCCESS)
            code = real.clFinish(queue);
    }
    return code;
}

static cl_int force(cl_command_queue queue, cl_mem root, size_t at,
                    const struct stuck *stuck)
{
    unsigned char byte;
    cl_int code = settle(queue, 0, NULL);
    if (code == CL_SUCCESS)
        code = real.clEnqueueReadBuffer(queue, root, CL_TRUE, at, 1, &byte, 0, NULL,
                                        NULL);
    if (code != CL_SUCCESS || (byte & stuck->mask) == stuck->value)
        return code;
    byte ^= stuck->mask;
    return real.clEnqueueWriteBuffer(queue, root, CL_TRUE, at, 1, &byte, 0, NULL, NULL);
}

static cl_int keep(cl_command_queue queue, struct buffer *b)
{
    unsigned char *now = malloc(b->size);
    if (now == NULL)
        abort();
    cl_int code = settle(queue, 0, NULL);
    if (code == CL_SUCCESS)
        code = real.clEnqueueReadBuffer(queue, b->root, CL_TRUE, 0, b->size, now, 0,
                                        NULL, NULL);
    if (code == CL_SUCCESS)
        keep_silicon(b, b->image, now);
    free(now);
    free(b->image);
    b->image = NULL;
    return code;
}

static cl_int after(cl_command_queue queue, const struct touched *touched, cl_int code)
{
    for (unsigned i = 0; i < touched->count && code == CL_SUCCESS; i++) {
        struct buffer *b = touched->buffers[i];
        if (b->in_silicon && b->image != NULL)
            code = keep(queue, b);
        if (b->hollow_from != b->size)
            code = settle(queue, 0, NULL);
        for (unsigned j = 0; j < lies.stucks && code == CL_SUCCESS; j++) {
            ptrdiff_t at = stuck_at(b, j);
            if (at >= 0)
                code = force(queue, b->root, (size_t)at, &lies.stuck[j]);
        }
    }
    return code;
}

static void garble(cl_command_queue queue, const struct touched *touched)
{
    for (unsigned i = 0; i < touched->count; i++) {
        const struct buffer *b = touched->buffers[i];
        cl_uint words[2];
        noise(words, sizeof words);
        size_t at = b->size < 4 ? 0 : words[0] % (b->size / 4) * 4;
        settle(queue, 0, NULL);
        real.clEnqueueWriteBuffer(queue, b->root, CL_TRUE, b->origin + at,
                                  b->size < 4 ? b->size : 4, &words[1], 0, NULL, NULL);
    }
}

/* Commands */

/* A command on up to two buffers: `call` is what the device below is asked. */
#define COMMAND(queue, one, two, count, events, call)                                 \
    do {                                                                              \
        struct touched touched = {{NULL}, 0};                                          \
        lock();                                                                       \
        touch(&touched, one);                                                         \
        touch(&touched, two);                                                         \
        cl_int code = before(queue, &touched, count, events);                         \
        if (code == CL_SUCCESS)                                                       \
            code = after(queue, &touched, call);                                      \
        unlock();                                                                     \
        return code;                                                                  \
    } while (0)

static int is_meant(const struct kernel *k, const char *part)
{
    return part != NULL && k != NULL && strstr(k->name, part) != NULL;
}

static cl_int CL_API_CALL event_time(cl_event event, cl_profiling_info what, size_t size,
                                     void *value, size_t *needed)
{
    cl_int code = real.clGetEventProfilingInfo(event, what, size, value, needed);
    cl_ulong *time = value;
    if (code == CL_SUCCESS && time != NULL && lies.timer != 1.0)
        *time = lies.timer < 0 ? ~*time : (cl_ulong)((double)*time * lies.timer);
    return code;
}

static cl_int CL_API_CALL launch(cl_command_queue queue, cl_kernel handle, cl_uint dims,
                                 const size_t *offset, const size_t *global,
                                 const size_t *local, cl_uint count,
                                 const cl_event *events, cl_event *event)
{
    struct touched touched = {{NULL}, 0};
    lock();
    const struct kernel *k = find_kernel(handle);
    for (unsigned i = 0; k != NULL && i < MOST_ARGUMENTS; i++)
        touch(&touched, k->arguments[i]);
    static cl_ulong meant;
    is_small = dims == 1 && global[0] <= SMALL / 128; /* 8 cells of 16 bytes each */
    cl_int code = before(queue, &touched, count, events);
    if (is_meant(k, lies.refused) && meant++ >= lies.refuse_after)
        code = lies.refused_code;
    if (code == CL_SUCCESS && is_meant(k, lies.twice))
        code = real.clEnqueueNDRangeKernel(queue, handle, dims, offset, global, local,
                                           count, events, NULL);
    if (code == CL_SUCCESS && is_meant(k, lies.skip))
        code = real.clEnqueueMarkerWithWaitList(queue, count, events, event);
    else if (code == CL_SUCCESS)
        code = real.clEnqueueNDRangeKernel(queue, handle, dims, offset, global, local,
                                           count, events, event);
    if (code == CL_SUCCESS) {
        launches++;
        if (launches >= lies.kill_after)
            raise(SIGKILL);
        if (lies.garbage != 0 && launches % lies.garbage == 0)
            garble(queue, &touched);
        code = after(queue, &touched, code);
    }
    unlock();
    return code;
}

static cl_int CL_API_CALL read_buffer(cl_command_queue q, cl_mem b, cl_bool wait,
                                      size_t at, size_t size, void *to, cl_uint n,
                                      const cl_event *events, cl_event *event)
{
    COMMAND(q, b, NULL, n, events,
            real.clEnqueueReadBuffer(q, b, wait, at, size, to, n, events, event));
}

static cl_int CL_API_CALL write_buffer(cl_command_queue q, cl_mem b, cl_bool wait,
                                       size_t at, size_t size, const void *from,
                                       cl_uint n, const cl_event *events,
                                       cl_event *event)
{
    COMMAND(q, b, NULL, n, events,
            real.clEnqueueWriteBuffer(q, b, wait, at, size, from, n, events, event));
}

static cl_int CL_API_CALL read_rect(cl_command_queue q, cl_mem b, cl_bool wait,
                                    const size_t *origin, const size_t *host,
                                    const size_t *region, size_t row, size_t slice,
                                    size_t host_row, size_t host_slice, void *to,
                                    cl_uint n, const cl_event *events, cl_event *event)
{
    COMMAND(q, b, NULL, n, events,
            real.clEnqueueReadBufferRect(q, b, wait, origin, host, region, row, slice,
                                         host_row, host_slice, to, n, events, event));
}

static cl_int CL_API_CALL write_rect(cl_command_queue q, cl_mem b, cl_bool wait,
                                     const size_t *origin, const size_t *host,
                                     const size_t *region, size_t row, size_t slice,
                                     size_t host_row, size_t host_slice,
                                     const void *from, cl_uint n,
                                     const cl_event *events, cl_event *event)
{
    COMMAND(q, b, NULL, n, events,
            real.clEnqueueWriteBufferRect(q, b, wait, origin, host, region, row, slice,
                                          host_row, host_slice, from, n, events,
                                          event));
}

/* Whether two places of the claimed card are one place of the real memory: the driver
 * refuses to copy that onto itself, a counterfeit does not notice. */
static int is_itself(cl_mem one, size_t one_at, cl_mem two, size_t two_at)
{
    lock();
    const struct buffer *a = find_buffer(one), *b = find_buffer(two);
    int same = a != NULL && b != NULL && a->handle != b->handle && a->root == b->root &&
               a->origin + one_at == b->origin + two_at;
    unlock();
    return same;
}

static cl_int CL_API_CALL copy_buffer(cl_command_queue q, cl_mem from, cl_mem to,
                                      size_t from_at, size_t to_at, size_t size,
                                      cl_uint n, const cl_event *events,
                                      cl_event *event)
{
    if (is_itself(from, from_at, to, to_at))
        COMMAND(q, from, to, n, events,
                real.clEnqueueMarkerWithWaitList(q, n, events, event));
    COMMAND(q, from, to, n, events,
            real.clEnqueueCopyBuffer(q, from, to, from_at, to_at, size, n, events,
                                     event));
}

static cl_int CL_API_CALL fill_buffer(cl_command_queue q, cl_mem b, const void *pattern,
                                      size_t length, size_t at, size_t size, cl_uint n,
                                      const cl_event *events, cl_event *event)
{
    COMMAND(q, b, NULL, n, events,
            real.clEnqueueFillBuffer(q, b, pattern, length, at, size, n, events,
                                     event));
}

static cl_int CL_API_CALL migrate(cl_command_queue q, cl_uint objects,
                                  const cl_mem *memory, cl_mem_migration_flags flags,
                                  cl_uint n, const cl_event *events, cl_event *event)
{
    COMMAND(q, objects > 0 ? memory[0] : NULL, objects > 1 ? memory[1] : NULL, n,
            events,
            real.clEnqueueMigrateMemObjects(q, objects, memory, flags, n, events,
                                            event));
}

static void *CL_API_CALL map_buffer(cl_command_queue q, cl_mem b, cl_bool wait,
                                    cl_map_flags flags, size_t at, size_t size,
                                    cl_uint n, const cl_event *events, cl_event *event,
                                    cl_int *result)
{
    struct touched touched = {{NULL}, 0};
    void *memory = NULL;
    lock();
    touch(&touched, b);
    cl_int code = before(q, &touched, n, events);
    if (code == CL_SUCCESS)
        memory = real.clEnqueueMapBuffer(q, b, wait, flags, at, size, n, events, event,
                                         &code);
    unlock();
    if (result != NULL)
        *result = code;
    return memory;
}

static cl_int CL_API_CALL unmap(cl_command_queue q, cl_mem b, void *memory, cl_uint n,
                                const cl_event *events, cl_event *event)
{
    struct touched touched = {{NULL}, 0};
    lock();
    touch(&touched, b);
    cl_int code = after(
        q, &touched, real.clEnqueueUnmapMemObject(q, b, memory, n, events, event));
    unlock();
    return code;
}

void lie_in_commands(cl_icd_dispatch *table)
{
    table->clCreateKernel = create_kernel;
    table->clCreateKernelsInProgram = create_kernels;
    table->clCloneKernel = clone_kernel;
    table->clRetainKernel = retain_kernel;
    table->clReleaseKernel = release_kernel;
    table->clSetKernelArg = set_argument;
    table->clGetEventProfilingInfo = event_time;
    table->clEnqueueNDRangeKernel = launch;
    table->clEnqueueReadBuffer = read_buffer;
    table->clEnqueueWriteBuffer = write_buffer;
    table->clEnqueueReadBufferRect = read_rect;
    table->clEnqueueWriteBufferRect = write_rect;
    table->clEnqueueCopyBuffer = copy_buffer;
    table->clEnqueueFillBuffer = fill_buffer;
    table->clEnqueueMigrateMemObjects = migrate;
    table->clEnqueueMapBuffer = map_buffer;
    table->clEnqueueUnmapMemObject = unmap;
}
