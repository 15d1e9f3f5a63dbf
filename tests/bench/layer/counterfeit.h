/* A counterfeit card for the tests: an OpenCL layer (cl_khr_icd's layer interface) that
 * lies about the device below it.
 *
 * What lies belongs here, what judges lies never does. lies.c reads the environment,
 * memory.c keeps the false memory, silicon.c another kind of it, commands.c keeps it false while commands run,
 * layer.c gives false words and the dispatch table, faults.c breaks calls.
 * The lies are set by environment variables, explained in lies.c.
 */

#ifndef COUNTERFEIT_H
#define COUNTERFEIT_H

#define CL_TARGET_OPENCL_VERSION 300
#define CL_USE_DEPRECATED_OPENCL_1_0_APIS
#define CL_USE_DEPRECATED_OPENCL_1_1_APIS
#define CL_USE_DEPRECATED_OPENCL_1_2_APIS
#define CL_USE_DEPRECATED_OPENCL_2_0_APIS
#define CL_USE_DEPRECATED_OPENCL_2_1_APIS
#define CL_USE_DEPRECATED_OPENCL_2_2_APIS
#include <CL/cl_layer.h>
#include <stddef.h>

enum { MOST_INFOS = 64, MOST_STUCK = 16, MOST_ARGUMENTS = 64 };

#define SMALL ((size_t)1 << 20)
/* Buffers smaller than this are the driver's own affair, not card memory. */

enum kind {
    HONEST, /* as much memory as is claimed */
    WRAP,   /* address a is address a modulo `real` */
    HOLLOW, /* beyond `real`, writes vanish and reads give `fill` */
    REFUSE, /* beyond `real`, a buffer is given but no command may use it */
    CREATE, /* beyond `real`, no buffer is given */
    SPILL,  /* beyond `real`, memory of the PC is given */
    LAZY,   /* as REFUSE, but a launch of up to a MiB goes well */
    SILICON /* as `wiring` says: silicon.c */
};

enum wiring_kind { MODULO, PAIRS, UPPER, DROP, SWAP, CROSS, END, HOLES, BOTH };

struct wiring {
    enum wiring_kind kind;
    cl_ulong n[3];
};

/* What nothing reads as: a pattern, what the bus carried last, noise, a constant that
 * changes with each command, the address. */
enum nothing { PATTERN, HELD, NOISE, FLICKER, ADDRESS };

struct info {
    cl_uint name;
    size_t size;
    unsigned char *bytes;
};

struct stuck {
    cl_ulong at; /* byte of the real memory */
    unsigned char mask;
    unsigned char value; /* 0 or mask */
};

struct lies {
    enum kind kind;
    cl_ulong real;  /* bytes; 0: buffers are not touched */
    cl_ulong claim; /* bytes; 0: the device's own word */
    cl_device_type type; /* 0: the device's own word */
    unsigned char fill;
    unsigned infos, stucks;
    struct info info[MOST_INFOS];
    struct stuck stuck[MOST_STUCK];
    struct wiring wiring;
    enum nothing nothing;
    unsigned char pattern[16];
    unsigned pattern_size;
    cl_ulong cache;         /* bytes written last that are right whatever the wiring */
    cl_ulong late;          /* commands until a write takes effect */
    cl_ulong decay;         /* commands from which on bits are stuck; 0: always */
    const cl_ulong *couple; /* two bytes: writing the first's cell flips the second */
    const char *skip, *twice; /* part of the names of kernels that do not run, or run
                                 twice; or NULL */
    const char *refused;      /* the same, whose launches fail */
    cl_ulong refuse_after;    /* of their launches, how many do not */
    cl_int refused_code;
    double timer; /* what a nanosecond is taken for; 0: stands still, -1: backwards */
    const char *prelude; /* put before each program's source, or NULL */
    cl_ulong garbage;    /* every so many launches; 0: never */
    cl_ulong lost_after, hang_after, kill_after; /* launches; NEVER: not at all */
    cl_int lost_code;
    cl_ulong fault_at; /* call number, from 1; 0: none */
    enum { FAIL, HANG, KILL, GARBLE } fault;
    cl_int fault_code;
    const char *struck; /* file that gets the name of the call that was, or NULL */
    int once;           /* strike in the first process alone: where there is no such file */
    const char *tally;  /* file that gets the number of calls, or NULL */
    const char *ledger; /* file that gets each buffer's place, or NULL */
};

#define NEVER (~(cl_ulong)0)

/* A buffer that the program holds. */
struct buffer {
    cl_mem handle;
    struct store *store; /* NULL: passed through */
    struct buffer *parent, *next;
    cl_ulong address; /* on the claimed card */
    size_t size;
    cl_mem root;   /* the real buffer that the bytes are in */
    size_t origin; /* where in it */
    size_t hollow_from; /* bytes from here on are hollow; `size` where none are */
    int refused;
    int in_silicon;
    unsigned char *image; /* what silicon showed before the command that runs */
    unsigned references;
};

extern struct lies lies;
extern cl_icd_dispatch real; /* the device below */
extern cl_icd_dispatch told; /* with the lies, before the faults */

void read_lies(void);
void complain(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* memory.c: all with the lock held */
void lock(void);
void unlock(void);
struct buffer *find_buffer(cl_mem handle);
cl_mem create_buffer(cl_context context, cl_mem_flags flags, size_t size,
                     void *host, cl_int *code);
cl_mem create_part(struct buffer *whole, cl_mem_flags flags,
                   const cl_buffer_region *region, cl_int *code);
cl_int retain_buffer(cl_mem handle);
cl_int release_buffer(cl_mem handle);
/* Where stuck bit `which` lies within the buffer's root, or -1 where it is outside. */
ptrdiff_t stuck_at(const struct buffer *buffer, unsigned which);

/* silicon.c: buffers of this kind; with the lock held */
void show_silicon(struct buffer *buffer, unsigned char *to);
void keep_silicon(struct buffer *buffer, const unsigned char *before,
                  const unsigned char *after);

/* commands.c */
void lie_in_commands(cl_icd_dispatch *table);
extern cl_ulong launches;

/* faults.c */
void fault_calls(cl_icd_dispatch *table);
void noise(void *bytes, size_t size);

#endif
