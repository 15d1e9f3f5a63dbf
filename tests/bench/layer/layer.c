/* The layer itself: the loader's two entry points, the dispatch table, and the words
 * that lie (device type, memory size, and whatever COUNTERFEIT_INFO says).
 */

#include "counterfeit.h"

#include <stdlib.h>
#include <string.h>

#define SEEN __attribute__((visibility("default")))

cl_icd_dispatch real;
cl_icd_dispatch told;
static cl_icd_dispatch shown; /* `told` with the faults: what the loader gets */

static cl_int answer(const void *bytes, size_t length, size_t size, void *value,
                     size_t *needed)
{
    if (needed != NULL)
        *needed = length;
    if (value == NULL)
        return CL_SUCCESS;
    if (size < length)
        return CL_INVALID_VALUE;
    memcpy(value, bytes, length);
    return CL_SUCCESS;
}

static cl_int CL_API_CALL device_info(cl_device_id device, cl_device_info name,
                                      size_t size, void *value, size_t *needed)
{
    cl_ulong largest = lies.claim / 4 > SMALL ? lies.claim / 4 : SMALL;
    cl_bool no = CL_FALSE;
    for (unsigned i = 0; i < lies.infos; i++)
        if (lies.info[i].name == name)
            return answer(lies.info[i].bytes, lies.info[i].size, size, value, needed);
    if (name == CL_DEVICE_TYPE && lies.type != 0)
        return answer(&lies.type, sizeof lies.type, size, value, needed);
    if (name == CL_DEVICE_HOST_UNIFIED_MEMORY && lies.type == CL_DEVICE_TYPE_GPU)
        return answer(&no, sizeof no, size, value, needed);
    if (name == CL_DEVICE_GLOBAL_MEM_SIZE && lies.claim != 0)
        return answer(&lies.claim, sizeof lies.claim, size, value, needed);
    if (name == CL_DEVICE_MAX_MEM_ALLOC_SIZE && lies.claim != 0)
        return answer(&largest, sizeof largest, size, value, needed);
    return real.clGetDeviceInfo(device, name, size, value, needed);
}

static cl_int CL_API_CALL device_ids(cl_platform_id platform, cl_device_type type,
                                     cl_uint entries, cl_device_id *devices,
                                     cl_uint *found)
{
    if (lies.type != 0 && type != CL_DEVICE_TYPE_ALL) {
        if (!(type & (lies.type | CL_DEVICE_TYPE_DEFAULT)))
            return CL_DEVICE_NOT_FOUND;
        type = CL_DEVICE_TYPE_ALL;
    }
    return real.clGetDeviceIDs(platform, type, entries, devices, found);
}

static cl_program CL_API_CALL create_program(cl_context context, cl_uint count,
                                             const char **texts, const size_t *lengths,
                                             cl_int *code)
{
    if (lies.prelude == NULL || texts == NULL)
        return real.clCreateProgramWithSource(context, count, texts, lengths, code);
    const char **all = malloc((count + 2) * sizeof *all);
    size_t *sizes = calloc(count + 2, sizeof *sizes);
    if (all == NULL || sizes == NULL)
        abort();
    all[0] = lies.prelude;
    all[1] = "\n#line 1\n";
    memcpy(all + 2, texts, count * sizeof *all);
    if (lengths != NULL)
        memcpy(sizes + 2, lengths, count * sizeof *sizes);
    cl_program program =
        real.clCreateProgramWithSource(context, count + 2, all, sizes, code);
    free(all);
    free(sizes);
    return program;
}

static cl_mem CL_API_CALL create(cl_context context, cl_mem_flags flags, size_t size,
                                 void *host, cl_int *result)
{
    cl_int code;
    lock();
    cl_mem handle = create_buffer(context, flags, size, host, &code);
    unlock();
    if (result != NULL)
        *result = code;
    return handle;
}

static cl_mem CL_API_CALL create_with(cl_context context,
                                      const cl_mem_properties *properties,
                                      cl_mem_flags flags, size_t size, void *host,
                                      cl_int *result)
{
    if (properties != NULL && *properties != 0)
        return real.clCreateBufferWithProperties(context, properties, flags, size, host,
                                                 result);
    return create(context, flags, size, host, result);
}

static cl_mem CL_API_CALL create_sub(cl_mem whole, cl_mem_flags flags,
                                     cl_buffer_create_type type, const void *what,
                                     cl_int *result)
{
    cl_int code = CL_SUCCESS;
    cl_mem handle;
    lock();
    struct buffer *b = find_buffer(whole);
    if (b == NULL || b->parent != NULL || type != CL_BUFFER_CREATE_TYPE_REGION)
        handle = real.clCreateSubBuffer(whole, flags, type, what, &code);
    else
        handle = create_part(b, flags, what, &code);
    unlock();
    if (result != NULL)
        *result = code;
    return handle;
}

static cl_int CL_API_CALL retain(cl_mem handle)
{
    lock();
    cl_int code = retain_buffer(handle);
    unlock();
    return code;
}

static cl_int CL_API_CALL release(cl_mem handle)
{
    lock();
    cl_int code = release_buffer(handle);
    unlock();
    return code;
}

SEEN cl_int CL_API_CALL clGetLayerInfo(cl_layer_info name, size_t size, void *value,
                                       size_t *needed)
{
    static const cl_layer_api_version version = CL_LAYER_API_VERSION_100;
    static const char label[] = "counterfeit card";
    if (name == CL_LAYER_API_VERSION)
        return answer(&version, sizeof version, size, value, needed);
    if (name == CL_LAYER_NAME)
        return answer(label, sizeof label, size, value, needed);
    return CL_INVALID_VALUE;
}

SEEN cl_int CL_API_CALL clInitLayer(cl_uint entries, const cl_icd_dispatch *target,
                                    cl_uint *given, const cl_icd_dispatch **table)
{
    if (entries < sizeof real / sizeof(void *)) {
        complain("the loader knows only %u calls", entries);
        return CL_INVALID_VALUE;
    }
    read_lies();
    memcpy(&real, target, sizeof real);
    memcpy(&told, target, sizeof told);
    told.clGetDeviceInfo = device_info;
    told.clGetDeviceIDs = device_ids;
    told.clCreateProgramWithSource = create_program;
    told.clCreateBuffer = create;
    told.clCreateBufferWithProperties = create_with;
    told.clCreateSubBuffer = create_sub;
    told.clRetainMemObject = retain;
    told.clReleaseMemObject = release;
    lie_in_commands(&told);
    memcpy(&shown, &told, sizeof shown);
    fault_calls(&shown);
    *given = sizeof shown / sizeof(void *);
    *table = &shown;
    return CL_SUCCESS;
}
