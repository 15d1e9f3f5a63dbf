/* Reads the lies from the environment. A mistake in them ends the process at once: a
 * counterfeit that silently tells the truth would make every test below it worthless.
 *
 *   COUNTERFEIT_KIND     honest (default), wrap, hollow, refuse, create, spill,
 *                        lazy, silicon
 *   COUNTERFEIT_REAL     bytes that are really there: 134217728 or 128MiB
 *   COUNTERFEIT_CLAIM    bytes claimed; default: as many as are there
 *   COUNTERFEIT_FILL     byte that hollow memory reads as: 0 (default) to 255
 *   COUNTERFEIT_WIRING   of silicon: see silicon.c; modulo where nothing is said
 *   COUNTERFEIT_NOTHING  what silicon that is not there reads as: held (what the bus
 *                        carried last), noise, flicker (a constant, another for each
 *                        command), address, or hex digits of 1, 2, 4, 8 or 16 bytes
 *   COUNTERFEIT_CACHE    bytes written last that a cache before the silicon answers for
 *   COUNTERFEIT_LATE     n: writes to silicon take effect n commands later
 *   COUNTERFEIT_DECAY    n: bits of silicon are stuck only from the nth command on
 *   COUNTERFEIT_COUPLE   byte:byte of silicon: each write to the cell of the first
 *                        flips the lowest bit of the second
 *   COUNTERFEIT_SKIP, _TWICE   part of a kernel's name: it does not run; it runs twice
 *   COUNTERFEIT_REFUSED  name:n:code, n launches of kernels of that name go well
 *   COUNTERFEIT_TIMER    what the events' times are multiplied by; -1: they run back
 *   COUNTERFEIT_STUCK    byte:bit:value, several apart by commas; bytes of real memory
 *   COUNTERFEIT_TYPE     gpu, cpu, accelerator; gpu also denies unified memory
 *   COUNTERFEIT_INFO     name=hex, several apart by blanks: clGetDeviceInfo's name
 *                        (a number) and the bytes it gives; @FILE reads a file instead
 *   COUNTERFEIT_PRELUDE  text put before every program's source (wrong arithmetic)
 *   COUNTERFEIT_GARBAGE  n: after every nth launch a word of each buffer is noise
 *   COUNTERFEIT_LOST_AFTER, _HANG_AFTER, _KILL_AFTER   n: once n launches were made,
 *                        device calls fail (COUNTERFEIT_LOST_CODE, default -5), waiting
 *                        never ends, the process is killed
 *   COUNTERFEIT_FAULT    n:what, on the nth call of this process; what is an error
 *                        code, hang, kill or garbage
 *   COUNTERFEIT_STRUCK   file that gets the name of the call that the fault struck
 *   COUNTERFEIT_ONCE     1: the fault strikes only while that file is not there
 *   COUNTERFEIT_TALLY    file that gets a line per process: its number of calls, right
 *                        at any moment
 *   COUNTERFEIT_LEDGER   file that gets a line for each buffer given (+) and given back
 *                        (-): its address on the claimed card and its size
 */

#include "counterfeit.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct lies lies;

void complain(const char *format, ...)
{
    va_list list;
    fputs("counterfeit: ", stderr);
    va_start(list, format);
    vfprintf(stderr, format, list);
    va_end(list);
    fputc('\n', stderr);
}

static void reject(const char *name, const char *value)
{
    complain("%s cannot be %s", name, value);
    _exit(97);
}

static cl_ulong number(const char *name, cl_ulong otherwise)
{
    static const char *const units[] = {"", "KiB", "MiB", "GiB", "TiB"};
    const char *value = getenv(name);
    if (value == NULL)
        return otherwise;
    char *end;
    cl_ulong result = strtoull(value, &end, 0);
    if (end != value)
        for (unsigned i = 0; i < sizeof units / sizeof *units; i++)
            if (strcmp(end, units[i]) == 0)
                return result << 10 * i;
    reject(name, value);
    return 0;
}

static int choice(const char *name, const char *const *words, int count)
{
    const char *value = getenv(name);
    if (value == NULL)
        return 0;
    for (int i = 0; i < count; i++)
        if (strcmp(value, words[i]) == 0)
            return i;
    reject(name, value);
    return 0;
}

static void read_stuck(void)
{
    const char *value = getenv("COUNTERFEIT_STUCK");
    for (const char *at = value; at != NULL; at = *at ? at + 1 : NULL) {
        unsigned long long byte;
        unsigned bit, state;
        int length = 0;
        if (lies.stucks == MOST_STUCK ||
            sscanf(at, "%llu:%u:%u%n", &byte, &bit, &state, &length) != 3 ||
            bit > 7 || state > 1 || byte >= lies.real)
            reject("COUNTERFEIT_STUCK", value);
        at += length;
        if (*at != ',' && *at != '\0')
            reject("COUNTERFEIT_STUCK", value);
        struct stuck *stuck = &lies.stuck[lies.stucks++];
        stuck->at = byte;
        stuck->mask = (unsigned char)(1u << bit);
        stuck->value = (unsigned char)(state << bit);
    }
}

static void read_wiring(void)
{
    static const char *const words[] = {"modulo", "pairs", "upper", "drop", "swap",
                                        "cross",  "end",   "holes", "both"};
    static const char numbers[] = {0, 1, 1, 1, 2, 2, 0, 3, 1};
    const char *value = getenv("COUNTERFEIT_WIRING");
    if (value == NULL)
        return;
    size_t length = strcspn(value, ":");
    for (unsigned i = 0; i < sizeof words / sizeof *words; i++) {
        if (strlen(words[i]) != length || strncmp(words[i], value, length) != 0)
            continue;
        const char *at = value + length;
        lies.wiring.kind = (enum wiring_kind)i;
        for (int n = 0; n < numbers[i]; n++) {
            char *end;
            if (*at != ':')
                reject("COUNTERFEIT_WIRING", value);
            lies.wiring.n[n] = strtoull(at + 1, &end, 0);
            at = end;
        }
        if (*at == '\0')
            return;
    }
    reject("COUNTERFEIT_WIRING", value);
}

static int digit(char c)
{
    const char *all = "0123456789abcdef", *at = strchr(all, c);
    return c != '\0' && at != NULL ? (int)(at - all) : -1;
}

/* Hex digits to bytes; 0 where they are none. (sscanf measures all that follows.) */
static int from_hex(const char *text, size_t size, unsigned char *bytes)
{
    for (size_t i = 0; i < size; i++) {
        int high = digit(text[2 * i]), low = high < 0 ? -1 : digit(text[2 * i + 1]);
        if (low < 0)
            return 0;
        bytes[i] = (unsigned char)(high << 4 | low);
    }
    return 1;
}

static void read_nothing(void)
{
    static const char *const words[] = {"", "held", "noise", "flicker", "address"};
    const char *value = getenv("COUNTERFEIT_NOTHING");
    lies.pattern_size = 1;
    lies.pattern[0] = lies.fill;
    for (unsigned i = 1; value != NULL && i < sizeof words / sizeof *words; i++)
        if (strcmp(words[i], value) == 0) {
            lies.nothing = (enum nothing)i;
            return;
        }
    if (value == NULL)
        return;
    lies.pattern_size = (unsigned)strlen(value) / 2;
    if (lies.pattern_size == 0 || 16 % lies.pattern_size != 0 ||
        !from_hex(value, lies.pattern_size, lies.pattern))
        reject("COUNTERFEIT_NOTHING", value);
}

static void read_couple(void)
{
    static cl_ulong two[2];
    const char *value = getenv("COUNTERFEIT_COUPLE");
    unsigned long long one, other;
    if (value == NULL)
        return;
    if (sscanf(value, "%llu:%llu", &one, &other) != 2 || one >= lies.real ||
        other >= lies.real)
        reject("COUNTERFEIT_COUPLE", value);
    two[0] = one;
    two[1] = other;
    lies.couple = two;
}

static void read_refused(void)
{
    static char name[64];
    const char *value = getenv("COUNTERFEIT_REFUSED");
    unsigned long long many;
    if (value == NULL)
        return;
    if (sscanf(value, "%63[^:]:%llu:%d", name, &many, &lies.refused_code) != 3)
        reject("COUNTERFEIT_REFUSED", value);
    lies.refused = name;
    lies.refuse_after = many;
}

static char *content(const char *path)
{
    FILE *file = fopen(path, "rb");
    char *text = NULL;
    if (file != NULL && fseek(file, 0, SEEK_END) == 0) {
        long size = ftell(file);
        rewind(file);
        text = calloc(1, (size_t)size + 1);
        if (text == NULL || fread(text, 1, (size_t)size, file) != (size_t)size)
            reject("COUNTERFEIT_INFO", path);
        fclose(file);
    }
    if (text == NULL)
        reject("COUNTERFEIT_INFO", path);
    return text;
}

static void read_infos(void)
{
    const char *value = getenv("COUNTERFEIT_INFO");
    if (value != NULL && *value == '@')
        value = content(value + 1);
    while (value != NULL && *value != '\0') {
        char *end;
        struct info *info = &lies.info[lies.infos];
        info->name = (cl_uint)strtoul(value, &end, 0);
        if (end == value || *end != '=' || ++lies.infos == MOST_INFOS)
            reject("COUNTERFEIT_INFO", value);
        value = end + 1;
        size_t digits = strcspn(value, " \n");
        info->size = digits / 2;
        info->bytes = malloc(info->size + 1);
        if (digits % 2 != 0 || !from_hex(value, info->size, info->bytes))
            reject("COUNTERFEIT_INFO", value);
        value += digits;
        value += strspn(value, " \n");
    }
}

static void read_fault(void)
{
    const char *value = getenv("COUNTERFEIT_FAULT");
    if (value == NULL)
        return;
    char *end;
    lies.fault_at = strtoull(value, &end, 10);
    if (lies.fault_at == 0 || *end++ != ':')
        reject("COUNTERFEIT_FAULT", value);
    if (strcmp(end, "hang") == 0)
        lies.fault = HANG;
    else if (strcmp(end, "kill") == 0)
        lies.fault = KILL;
    else if (strcmp(end, "garbage") == 0)
        lies.fault = GARBLE;
    else if ((lies.fault_code = atoi(end)) < 0)
        lies.fault = FAIL;
    else
        reject("COUNTERFEIT_FAULT", value);
}

void read_lies(void)
{
    static const char *const kinds[] = {"honest", "wrap",   "hollow",
                                        "refuse", "create", "spill", "lazy", "silicon"};
    static const char *const types[] = {"", "gpu", "cpu", "accelerator"};
    static const cl_device_type type[] = {0, CL_DEVICE_TYPE_GPU, CL_DEVICE_TYPE_CPU,
                                          CL_DEVICE_TYPE_ACCELERATOR};
    const char *code = getenv("COUNTERFEIT_LOST_CODE");

    lies.kind = (enum kind)choice("COUNTERFEIT_KIND", kinds, 8);
    lies.real = number("COUNTERFEIT_REAL", 0);
    lies.claim = number("COUNTERFEIT_CLAIM", lies.real);
    lies.type = type[choice("COUNTERFEIT_TYPE", types, 4)];
    lies.fill = (unsigned char)number("COUNTERFEIT_FILL", 0);
    lies.cache = number("COUNTERFEIT_CACHE", 0);
    lies.late = number("COUNTERFEIT_LATE", 0);
    lies.decay = number("COUNTERFEIT_DECAY", 0);
    lies.skip = getenv("COUNTERFEIT_SKIP");
    lies.twice = getenv("COUNTERFEIT_TWICE");
    lies.timer = getenv("COUNTERFEIT_TIMER") ? atof(getenv("COUNTERFEIT_TIMER")) : 1.0;
    lies.prelude = getenv("COUNTERFEIT_PRELUDE");
    lies.garbage = number("COUNTERFEIT_GARBAGE", 0);
    lies.lost_after = number("COUNTERFEIT_LOST_AFTER", NEVER);
    lies.hang_after = number("COUNTERFEIT_HANG_AFTER", NEVER);
    lies.kill_after = number("COUNTERFEIT_KILL_AFTER", NEVER);
    lies.lost_code = code != NULL ? atoi(code) : CL_OUT_OF_RESOURCES;
    lies.struck = getenv("COUNTERFEIT_STRUCK");
    lies.once = number("COUNTERFEIT_ONCE", 0) != 0;
    lies.tally = getenv("COUNTERFEIT_TALLY");
    lies.ledger = getenv("COUNTERFEIT_LEDGER");
    read_stuck();
    read_wiring();
    read_nothing();
    read_couple();
    read_refused();
    read_infos();
    read_fault();
    if (lies.lost_code >= 0)
        reject("COUNTERFEIT_LOST_CODE", code);
    if (lies.kind == HONEST && lies.real != lies.claim && lies.real != 0)
        reject("COUNTERFEIT_CLAIM", "other than the real size of an honest card");
    if (lies.kind != HONEST && (lies.real < SMALL || lies.real > lies.claim))
        reject("COUNTERFEIT_REAL", "under 1 MiB or more than is claimed");
}
