/* Walking through failing allocations by the way that leads to each: a job asks thousands of times, but in a few hundred
 * places. A first run notes the calls that lead to every allocation; then the first one of each way fails. */
#ifndef SW_TEST_FAULTS_H
#define SW_TEST_FAULTS_H

#include <execinfo.h>

#include "support.h"

#define FAULT_FRAMES 6  /* calls above an allocation that tell two ways apart */
#define FAULT_MOST 400000u

typedef struct fault_ways {
    uint64_t *way;   /* of the nth allocation, from 0 */
    size_t n;
} fault_ways;

/* Not sw_alloc_...: these would count. */
static inline void fault_note(void *ctx)
{
    fault_ways *const ways = ctx;
    void *frames[FAULT_FRAMES + 3];
    const int n = backtrace(frames, FAULT_FRAMES + 3);
    uint64_t hash = 0xcbf29ce484222325u;
    for (int i = 2; i < n; i++) hash = (hash ^ (uint64_t)(uintptr_t)frames[i]) * 0x100000001b3u;
    if (ways->n < FAULT_MOST) ways->way[ways->n++] = hash;
}

static inline bool fault_is_first(const fault_ways *ways, size_t i)
{
    bool is_first = true;
    for (size_t k = 0; k < i && is_first; k++) is_first = ways->way[k] != ways->way[i];
    return is_first;
}

/** What is walked: frees everything it makes, whatever happens. It may end well though an allocation failed, where what
 *  was to be stored could be done without. */
typedef sw_status (*fault_fn)(void *ctx, sw_note *note);

/** Run fn well once, then once for every way with the first allocation on it failing; one thread. Asserts the
 *  status, a note, and that as many blocks live after as before. Returns how many allocations failed. */
static inline size_t fault_walk(fault_fn fn, void *ctx)
{
    fault_ways ways = { .way = calloc(FAULT_MOST, sizeof *ways.way) };
    size_t n_failed = 0;
    sw_note note = { { 0 } };
    assert_non_null(ways.way);
    sw_threads_set(1);
    assert_ok(fn(ctx, &note), note); /* what is kept for the life of the process is made here */
    sw_alloc_watch(fault_note, &ways);
    assert_ok(fn(ctx, &note), note);
    sw_alloc_watch(NULL, NULL);
    assert_true(ways.n < FAULT_MOST);
    const size_t live = sw_alloc_fail_at(0);
    for (size_t i = 0; i < ways.n; i++) {
        if (!fault_is_first(&ways, i)) continue;
        note = (sw_note){ { 0 } };
        sw_alloc_fail_at(i + 1);
        const sw_status st = fn(ctx, &note);
        const size_t left = sw_alloc_fail_at(0);
        n_failed++;
        if ((st != SW_OK && st != SW_NO_MEMORY) || left != live || (st != SW_OK && note.text[0] == '\0'))
            print_error("allocation %zu of %zu: status %d, '%s', %zu blocks live, %zu before\n", i + 1, ways.n, (int)st, note.text,
                        left, live);
        assert_true(st == SW_OK || st == SW_NO_MEMORY);
        assert_true(st == SW_OK || note.text[0] != '\0');
        assert_int_equal(left, live);
    }
    sw_threads_set(0);
    free(ways.way);
    return n_failed;
}

#endif
