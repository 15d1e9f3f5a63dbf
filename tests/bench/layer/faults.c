/* Counts the calls and breaks them: one by its number (COUNTERFEIT_FAULT), or all that
 * need the device once it is lost or hangs.
 */

#include "counterfeit.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { QUERY = 0, DEVICE = 1, WAITS = 2 }; /* what a call needs */

static pthread_mutex_t mutex = PTHREAD_MUTEX_INITIALIZER;
static cl_ulong calls;

/* xorshift64: Marsaglia, Xorshift RNGs, Journal of Statistical Software 8 (2003) */
static cl_ulong state = 0x9E3779B97F4A7C15u;

void noise(void *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        ((unsigned char *)bytes)[i] = (unsigned char)(state >> 32);
    }
}

static cl_int wrong_code(void)
{
    cl_int code;
    noise(&code, sizeof code);
    return code | 1; /* anything but CL_SUCCESS */
}

/* A size that nobody can hold, or a small one: none that costs the PC its memory. */
static void wrong_size(void *to, size_t size)
{
    unsigned char words[8];
    noise(words, sizeof words);
    if (words[0] & 1) {
        memset(to, 0, size);
        noise(to, size < 2 ? size : 2);
    } else {
        noise(to, size);
        ((unsigned char *)to)[size - 1] |= 0xf0; /* the topmost of little endian */
    }
}

static void __attribute__((noreturn)) hang(void)
{
    complain("hangs");
    for (;;)
        pause();
}

/* The number of calls, kept as it goes: a process need not end in order. Each has a line
 * of its own in the file, as wide as any. */
static void keep_tally(void)
{
    enum { WIDE = 20 };
    static int file = -1;
    static off_t place;
    char line[WIDE + 2];
    if (lies.tally == NULL)
        return;
    if (file < 0) {
        file = open(lies.tally, O_RDWR | O_CREAT | O_CLOEXEC, 0644);
        if (file < 0)
            return;
        if (lockf(file, F_LOCK, 0) != 0)
            return;
        place = lseek(file, 0, SEEK_END);
    }
    snprintf(line, sizeof line, "%*llu\n", WIDE, (unsigned long long)calls);
    if (pwrite(file, line, WIDE + 1, place) < 0)
        return;
    if (calls == 1) {
        lseek(file, 0, SEEK_SET);
        if (lockf(file, F_ULOCK, 0) != 0)
            return;
    }
}

/* Note which call was struck; false where the fault strikes only once, and has. */
static int strike(const char *name)
{
    if (lies.struck == NULL)
        return 1;
    int how = O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC;
    int file = open(lies.struck, lies.once ? how | O_EXCL : how, 0644);
    if (file < 0)
        return !(lies.once && errno == EEXIST);
    dprintf(file, "%s\n", name);
    close(file);
    return 1;
}

/* What becomes of a call: an error code, CL_SUCCESS, or 1 where its result is to be
 * garbled. Never returns where the process is to hang or to die. */
static cl_int fate(const char *name, int needs)
{
    pthread_mutex_lock(&mutex);
    int struck = ++calls == lies.fault_at;
    keep_tally();
    pthread_mutex_unlock(&mutex);
    if (struck && strike(name)) {
        state ^= calls; /* other garbage at each call, the same at each repetition */
        if (lies.fault == HANG)
            hang();
        if (lies.fault == KILL)
            raise(SIGKILL);
        return lies.fault == GARBLE ? 1 : lies.fault_code;
    }
    if (needs & WAITS && launches >= lies.hang_after)
        hang();
    if (needs & (DEVICE | WAITS) && launches >= lies.lost_after)
        return lies.lost_code;
    return CL_SUCCESS;
}

/* CALL: returns a code. MAKE: returns an object, the code through its last argument.
 * GIVE: returns a code, and `size` bytes at `bytes`; FIND: a number as well. Garbled is
 * what a call returns: a code that nobody knows, a handle that leads nowhere, any bytes.
 */
#define CALL(name, needs, parameters, arguments)                                      \
    static cl_int CL_API_CALL faulty_##name parameters                                \
    {                                                                                 \
        cl_int code = fate(#name, needs);                                             \
        if (code < 0)                                                                 \
            return code;                                                              \
        cl_int said = told.name arguments;                                            \
        return code > 0 ? wrong_code() : said;                                        \
    }
#define MAKE(type, name, needs, parameters, arguments)                                \
    static type CL_API_CALL faulty_##name parameters                                  \
    {                                                                                 \
        cl_int fault = fate(#name, needs);                                            \
        type made = fault < 0 ? NULL : told.name arguments;                           \
        if (fault < 0 && code != NULL)                                                \
            *code = fault;                                                            \
        if (fault > 0)                                                                \
            noise(&made, sizeof made);                                                \
        return made;                                                                  \
    }
#define GIVE(name, needs, bytes, size, parameters, arguments)                         \
    static cl_int CL_API_CALL faulty_##name parameters                                \
    {                                                                                 \
        cl_int fault = fate(#name, needs);                                            \
        cl_int code = fault < 0 ? fault : told.name arguments;                        \
        if (fault > 0 && code == CL_SUCCESS && (bytes) != NULL)                       \
            noise(bytes, size);                                                       \
        return code;                                                                  \
    }
#define FIND(name, needs, bytes, size, number, parameters, arguments)                 \
    static cl_int CL_API_CALL faulty_##name parameters                                \
    {                                                                                 \
        cl_int fault = fate(#name, needs);                                            \
        cl_int code = fault < 0 ? fault : told.name arguments;                        \
        if (fault > 0 && code == CL_SUCCESS && (bytes) != NULL)                       \
            noise(bytes, size);                                                       \
        if (fault > 0 && code == CL_SUCCESS && (number) != NULL)                      \
            wrong_size(number, sizeof *(number));                                     \
        return code;                                                                  \
    }
#define INFO(name, type, kind)                                                        \
    FIND(name, QUERY, value, size, needed,                                            \
         (type object, kind what, size_t size, void *value, size_t *needed),          \
         (object, what, size, value, needed))
#define HOLD(name, type) CALL(name, QUERY, (type object), (object))
#define LIST cl_uint n, const cl_event *events, cl_event *event
#define DATA                                                                          \
    cl_command_queue q, cl_mem b, cl_bool wait, size_t at, size_t size

FIND(clGetPlatformIDs, QUERY, ids, n * sizeof *ids, found,
     (cl_uint n, cl_platform_id *ids, cl_uint *found), (n, ids, found))
INFO(clGetPlatformInfo, cl_platform_id, cl_platform_info)
FIND(clGetDeviceIDs, QUERY, ids, n * sizeof *ids, found,
     (cl_platform_id platform, cl_device_type type, cl_uint n, cl_device_id *ids,
      cl_uint *found),
     (platform, type, n, ids, found))
INFO(clGetDeviceInfo, cl_device_id, cl_device_info)
INFO(clGetContextInfo, cl_context, cl_context_info)
INFO(clGetCommandQueueInfo, cl_command_queue, cl_command_queue_info)
INFO(clGetMemObjectInfo, cl_mem, cl_mem_info)
INFO(clGetProgramInfo, cl_program, cl_program_info)
INFO(clGetKernelInfo, cl_kernel, cl_kernel_info)
INFO(clGetEventInfo, cl_event, cl_event_info)
INFO(clGetEventProfilingInfo, cl_event, cl_profiling_info)
FIND(clGetProgramBuildInfo, QUERY, value, size, needed,
     (cl_program program, cl_device_id device, cl_program_build_info what, size_t size,
      void *value, size_t *needed),
     (program, device, what, size, value, needed))
FIND(clGetKernelWorkGroupInfo, QUERY, value, size, needed,
     (cl_kernel kernel, cl_device_id device, cl_kernel_work_group_info what,
      size_t size, void *value, size_t *needed),
     (kernel, device, what, size, value, needed))
FIND(clGetKernelArgInfo, QUERY, value, size, needed,
     (cl_kernel kernel, cl_uint index, cl_kernel_arg_info what, size_t size,
      void *value, size_t *needed),
     (kernel, index, what, size, value, needed))
MAKE(cl_context, clCreateContext, DEVICE,
     (const cl_context_properties *properties, cl_uint n, const cl_device_id *devices,
      void(CL_CALLBACK *notify)(const char *, const void *, size_t, void *), void *data,
      cl_int *code),
     (properties, n, devices, notify, data, code))
MAKE(cl_command_queue, clCreateCommandQueue, DEVICE,
     (cl_context context, cl_device_id device, cl_command_queue_properties properties,
      cl_int *code),
     (context, device, properties, code))
MAKE(cl_command_queue, clCreateCommandQueueWithProperties, DEVICE,
     (cl_context context, cl_device_id device, const cl_queue_properties *properties,
      cl_int *code),
     (context, device, properties, code))
MAKE(cl_mem, clCreateBuffer, DEVICE,
     (cl_context context, cl_mem_flags flags, size_t size, void *host, cl_int *code),
     (context, flags, size, host, code))
MAKE(cl_mem, clCreateSubBuffer, DEVICE,
     (cl_mem whole, cl_mem_flags flags, cl_buffer_create_type type, const void *what,
      cl_int *code),
     (whole, flags, type, what, code))
MAKE(cl_program, clCreateProgramWithSource, DEVICE,
     (cl_context context, cl_uint n, const char **texts, const size_t *lengths,
      cl_int *code),
     (context, n, texts, lengths, code))
CALL(clBuildProgram, DEVICE,
     (cl_program program, cl_uint n, const cl_device_id *devices, const char *options,
      void(CL_CALLBACK *notify)(cl_program, void *), void *data),
     (program, n, devices, options, notify, data))
MAKE(cl_kernel, clCreateKernel, DEVICE,
     (cl_program program, const char *name, cl_int *code), (program, name, code))
FIND(clCreateKernelsInProgram, DEVICE, kernels, n * sizeof *kernels, found,
     (cl_program program, cl_uint n, cl_kernel *kernels, cl_uint *found),
     (program, n, kernels, found))
CALL(clSetKernelArg, QUERY,
     (cl_kernel kernel, cl_uint index, size_t size, const void *value),
     (kernel, index, size, value))
CALL(clEnqueueNDRangeKernel, DEVICE,
     (cl_command_queue q, cl_kernel kernel, cl_uint dims, const size_t *offset,
      const size_t *global, const size_t *local, LIST),
     (q, kernel, dims, offset, global, local, n, events, event))
GIVE(clEnqueueReadBuffer, wait ? WAITS : DEVICE, to, size, (DATA, void *to, LIST),
     (q, b, fault > 0 ? CL_TRUE : wait, at, size, to, n, events, event))
CALL(clEnqueueWriteBuffer, wait ? WAITS : DEVICE, (DATA, const void *from, LIST),
     (q, b, wait, at, size, from, n, events, event))
CALL(clEnqueueCopyBuffer, DEVICE,
     (cl_command_queue q, cl_mem from, cl_mem to, size_t from_at, size_t to_at,
      size_t size, LIST),
     (q, from, to, from_at, to_at, size, n, events, event))
CALL(clEnqueueFillBuffer, DEVICE,
     (cl_command_queue q, cl_mem b, const void *pattern, size_t length, size_t at,
      size_t size, LIST),
     (q, b, pattern, length, at, size, n, events, event))
MAKE(void *, clEnqueueMapBuffer, wait ? WAITS : DEVICE,
     (cl_command_queue q, cl_mem b, cl_bool wait, cl_map_flags flags, size_t at,
      size_t size, LIST, cl_int *code),
     (q, b, wait, flags, at, size, n, events, event, code))
CALL(clEnqueueUnmapMemObject, DEVICE,
     (cl_command_queue q, cl_mem b, void *memory, LIST),
     (q, b, memory, n, events, event))
CALL(clEnqueueMarker, DEVICE, (cl_command_queue q, cl_event *event), (q, event))
CALL(clEnqueueMarkerWithWaitList, DEVICE, (cl_command_queue q, LIST),
     (q, n, events, event))
CALL(clEnqueueBarrier, DEVICE, (cl_command_queue q), (q))
CALL(clEnqueueBarrierWithWaitList, DEVICE, (cl_command_queue q, LIST),
     (q, n, events, event))
CALL(clFlush, DEVICE, (cl_command_queue q), (q))
CALL(clFinish, WAITS, (cl_command_queue q), (q))
CALL(clWaitForEvents, WAITS, (cl_uint n, const cl_event *events), (n, events))
CALL(clSetEventCallback, DEVICE,
     (cl_event event, cl_int type,
      void(CL_CALLBACK *notify)(cl_event, cl_int, void *), void *data),
     (event, type, notify, data))
HOLD(clRetainContext, cl_context)
HOLD(clReleaseContext, cl_context)
HOLD(clRetainCommandQueue, cl_command_queue)
HOLD(clReleaseCommandQueue, cl_command_queue)
HOLD(clRetainMemObject, cl_mem)
HOLD(clReleaseMemObject, cl_mem)
HOLD(clRetainProgram, cl_program)
HOLD(clReleaseProgram, cl_program)
HOLD(clRetainKernel, cl_kernel)
HOLD(clReleaseKernel, cl_kernel)
HOLD(clRetainEvent, cl_event)
HOLD(clReleaseEvent, cl_event)

#define SET(name) table->name = faulty_##name;

void fault_calls(cl_icd_dispatch *table)
{
    SET(clGetPlatformIDs) SET(clGetPlatformInfo) SET(clGetDeviceIDs)
    SET(clGetDeviceInfo) SET(clGetContextInfo) SET(clGetCommandQueueInfo)
    SET(clGetMemObjectInfo) SET(clGetProgramInfo) SET(clGetKernelInfo)
    SET(clGetEventInfo) SET(clGetEventProfilingInfo) SET(clGetProgramBuildInfo)
    SET(clGetKernelWorkGroupInfo) SET(clGetKernelArgInfo) SET(clCreateContext)
    SET(clCreateCommandQueue) SET(clCreateCommandQueueWithProperties)
    SET(clCreateBuffer) SET(clCreateSubBuffer) SET(clCreateProgramWithSource)
    SET(clBuildProgram) SET(clCreateKernel) SET(clCreateKernelsInProgram)
    SET(clSetKernelArg) SET(clEnqueueNDRangeKernel) SET(clEnqueueReadBuffer)
    SET(clEnqueueWriteBuffer) SET(clEnqueueCopyBuffer) SET(clEnqueueFillBuffer)
    SET(clEnqueueMapBuffer) SET(clEnqueueUnmapMemObject) SET(clEnqueueMarker)
    SET(clEnqueueMarkerWithWaitList) SET(clEnqueueBarrier)
    SET(clEnqueueBarrierWithWaitList) SET(clFlush) SET(clFinish) SET(clWaitForEvents)
    SET(clSetEventCallback) SET(clRetainContext) SET(clReleaseContext)
    SET(clRetainCommandQueue) SET(clReleaseCommandQueue) SET(clRetainMemObject)
    SET(clReleaseMemObject) SET(clRetainProgram) SET(clReleaseProgram)
    SET(clRetainKernel) SET(clReleaseKernel) SET(clRetainEvent) SET(clReleaseEvent)
}
