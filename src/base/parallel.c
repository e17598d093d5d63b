/* Rows in parallel. Bands are cut by the number of rows alone and handed out by one counter; which thread takes which
 * band is left to chance and cannot show in the result. Threads are started a call: at tens of microseconds each that
 * is nothing beside a pass over a grid, and no pool has to be kept alive, locked or shut down. Calls may be nested: an
 * inner one gets helpers when an outer one has run out of bands, so that the last large task is not left to one thread. */
#include <pthread.h>
#include <stdatomic.h>

#include "base/base.h"

#define N_BANDS 64 /* enough that two to eight threads end together, few enough that a band amortises its scratch */
#define MAX_THREADS 64

static atomic_int n_threads_wanted;
static atomic_int n_at_work;      /* threads inside any call, callers and helpers */
static _Thread_local bool is_at_work; /* this one is counted */

void sw_threads_set(int n_threads) { atomic_store(&n_threads_wanted, n_threads); }

int sw_threads(void)
{
    const int n = atomic_load(&n_threads_wanted);
    return n <= 0 ? 2 : n > MAX_THREADS ? MAX_THREADS : n;
}

typedef struct work {
    size_t n_rows, band_rows;
    sw_rows_fn fn;
    void *ctx;
    atomic_size_t next_row;
} work;

static void take_bands(work *w)
{
    for (;;) {
        const size_t begin = atomic_fetch_add(&w->next_row, w->band_rows);
        if (begin >= w->n_rows) return;
        w->fn(begin, sw_min_size(begin + w->band_rows, w->n_rows), w->ctx);
    }
}

/* Its place is free for others as soon as the bands are out, though its caller may still be at one. */
static void *worker_main(void *arg)
{
    is_at_work = true;
    take_bands(arg);
    atomic_fetch_sub(&n_at_work, 1);
    return NULL;
}

static bool take_place(void)
{
    int n = atomic_load(&n_at_work);
    while (n < sw_threads())
        if (atomic_compare_exchange_weak(&n_at_work, &n, n + 1)) return true;
    return false;
}

static bool start_helper(pthread_t *thread, work *w)
{
    if (!take_place()) return false;
    if (pthread_create(thread, NULL, worker_main, w) == 0) return true;
    atomic_fetch_sub(&n_at_work, 1);
    return false;
}

void sw_parallel_bands(size_t n_rows, size_t band_rows, sw_rows_fn fn, void *ctx)
{
    work w = { .n_rows = n_rows, .band_rows = band_rows == 0 ? 1 : band_rows, .fn = fn, .ctx = ctx };
    atomic_init(&w.next_row, 0);
    pthread_t thread[MAX_THREADS];
    size_t n_started = 0;
    const size_t n_wanted = sw_min_size((size_t)sw_threads(), (n_rows + w.band_rows - 1) / w.band_rows);
    const bool was_at_work = is_at_work;
    if (!was_at_work) atomic_fetch_add(&n_at_work, 1);
    is_at_work = true;
    while (n_started + 1 < n_wanted && start_helper(&thread[n_started], &w)) n_started++;
    take_bands(&w);
    for (size_t i = 0; i < n_started; i++) pthread_join(thread[i], NULL);
    is_at_work = was_at_work;
    if (!was_at_work) atomic_fetch_sub(&n_at_work, 1);
}

void sw_parallel_rows(size_t n_rows, sw_rows_fn fn, void *ctx)
{
    sw_parallel_bands(n_rows, (n_rows + N_BANDS - 1) / N_BANDS, fn, ctx);
}

/* Tasks, and the first in order that failed so far. */
typedef struct tasks {
    sw_task_fn fn;
    void *ctx;
    pthread_mutex_t lock; /* of what follows */
    size_t failed;        /* SIZE_MAX: none */
    sw_status status;
    sw_note note;
} tasks;

static size_t failed_first(tasks *t)
{
    pthread_mutex_lock(&t->lock);
    const size_t failed = t->failed;
    pthread_mutex_unlock(&t->lock);
    return failed;
}

static void keep_failure(tasks *t, size_t task, sw_status status, const sw_note *note)
{
    pthread_mutex_lock(&t->lock);
    if (task < t->failed) {
        t->failed = task;
        t->status = status;
        t->note = *note;
    }
    pthread_mutex_unlock(&t->lock);
}

static void do_tasks(size_t begin, size_t end, void *ctx)
{
    tasks *const t = ctx;
    for (size_t task = begin; task < end && task < failed_first(t); task++) {
        sw_note note = { 0 };
        const sw_status status = t->fn(task, t->ctx, &note);
        if (status != SW_OK) keep_failure(t, task, status, &note);
    }
}

sw_status sw_parallel_tasks(size_t n_tasks, sw_task_fn fn, void *ctx, sw_note *note)
{
    tasks t = { .fn = fn, .ctx = ctx, .failed = SIZE_MAX, .status = SW_OK, .lock = PTHREAD_MUTEX_INITIALIZER };
    sw_parallel_bands(n_tasks, 1, do_tasks, &t);
    pthread_mutex_destroy(&t.lock);
    return t.status == SW_OK ? SW_OK : sw_fail(note, t.status, "%s", t.note.text);
}
