/* Rows in parallel. Bands are cut by the number of rows alone and handed out by one counter; which thread takes which
 * band is left to chance and cannot show in the result.
 *
 * Calls wait in one list, the oldest first. Helpers are started when there is a call for them, take bands of the first call
 * that has some left, then of the next, and end when nothing came for a while: loops follow each other in microseconds,
 * and starting a thread takes tens of them, but there is no pool to be shut down. A call from inside a band is in the list
 * like any other, so the last large task is not left to one thread. */
#include <errno.h>
#include <pthread.h>
#include <stdatomic.h>
#include <time.h>

#include "base/base.h"

#define N_BANDS 64 /* enough that two to eight threads end together, few enough that a band amortises its scratch */
#define MAX_THREADS 64
#define LINGER_NS 20000000 /* a helper without work sleeps this long before it ends */
#define N_SPINS 1000       /* looks before it sleeps, tens of microseconds: waking up takes as long */

typedef struct work {
    size_t n_rows, band_rows;
    sw_rows_fn fn;
    void *ctx;
    atomic_size_t next_row;
    atomic_size_t n_helping;
    struct work *next; /* in the list */
} work;

static atomic_int n_threads_wanted;
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER; /* of the list and of the helpers' number */
static pthread_cond_t has_come = PTHREAD_COND_INITIALIZER, has_left = PTHREAD_COND_INITIALIZER;
static work *works;
static size_t n_helpers, n_idle;
static atomic_size_t n_posted; /* calls so far: what a helper looks at before it sleeps */
static pthread_once_t is_fork_told = PTHREAD_ONCE_INIT;

void sw_threads_set(int n_threads) { atomic_store(&n_threads_wanted, n_threads); }

int sw_threads(void)
{
    const int n = atomic_load(&n_threads_wanted);
    return n <= 0 ? 2 : n > MAX_THREADS ? MAX_THREADS : n;
}

static void take_bands(work *w)
{
    for (;;) {
        const size_t begin = atomic_fetch_add(&w->next_row, w->band_rows);
        if (begin >= w->n_rows) return;
        w->fn(begin, sw_min_size(begin + w->band_rows, w->n_rows), w->ctx);
    }
}

/* ---- helpers; the lock is held where they touch the list ------------------------------------------------- */

static void pause_a_moment(void)
{
#if defined(__x86_64__) || defined(__i386__)
    __builtin_ia32_pause();
#endif
}

static work *first_with_bands(void)
{
    work *w = works;
    while (w != NULL && atomic_load(&w->next_row) >= w->n_rows) w = w->next;
    return w;
}

static void help(work *w)
{
    atomic_fetch_add(&w->n_helping, 1);
    pthread_mutex_unlock(&lock);
    take_bands(w);
    pthread_mutex_lock(&lock);
    if (atomic_fetch_sub(&w->n_helping, 1) == 1) pthread_cond_broadcast(&has_left);
}

/* Until a call comes; false if none did. */
static bool wait_for_work(void)
{
    const size_t seen = atomic_load(&n_posted);
    struct timespec until;
    n_idle++;
    pthread_mutex_unlock(&lock);
    for (int i = 0; i < N_SPINS && atomic_load(&n_posted) == seen; i++) pause_a_moment();
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_nsec += LINGER_NS;
    until.tv_sec += until.tv_nsec / 1000000000;
    until.tv_nsec %= 1000000000;
    pthread_mutex_lock(&lock);
    while (atomic_load(&n_posted) == seen && pthread_cond_timedwait(&has_come, &lock, &until) != ETIMEDOUT) continue;
    n_idle--;
    return atomic_load(&n_posted) != seen;
}

static void *helper_main(void *unused)
{
    pthread_mutex_lock(&lock);
    do {
        work *w;
        while (n_helpers < (size_t)sw_threads() && (w = first_with_bands()) != NULL) help(w);
    } while (n_helpers < (size_t)sw_threads() && wait_for_work());
    n_helpers--;
    pthread_mutex_unlock(&lock);
    return unused;
}

static bool start_helper(void)
{
    pthread_attr_t detached;
    pthread_t thread;
    if (pthread_attr_init(&detached) != 0) return false;
    pthread_attr_setdetachstate(&detached, PTHREAD_CREATE_DETACHED);
    const bool is_started = pthread_create(&thread, &detached, helper_main, NULL) == 0;
    pthread_attr_destroy(&detached);
    return is_started;
}

/* A process that splits has one thread on the other side. */
static void before_fork(void) { pthread_mutex_lock(&lock); }
static void in_parent(void) { pthread_mutex_unlock(&lock); }

static void in_child(void)
{
    works = NULL;
    n_helpers = n_idle = 0;
    pthread_mutex_unlock(&lock);
}

static void tell_fork(void) { pthread_atfork(before_fork, in_parent, in_child); }

/* ---- calls ------------------------------------------------------------------------------------------------ */

/* Into the list, and as many helpers awake as may be of use. */
static void post(work *w, size_t n_useful)
{
    work **end = &works;
    const size_t most = (size_t)sw_threads() - 1;
    pthread_once(&is_fork_told, tell_fork);
    pthread_mutex_lock(&lock);
    while (*end != NULL) end = &(*end)->next;
    *end = w;
    for (size_t n = n_idle; n < n_useful && n_helpers < most && start_helper(); n++) n_helpers++;
    atomic_fetch_add(&n_posted, 1);
    if (n_idle > 0) pthread_cond_broadcast(&has_come);
    pthread_mutex_unlock(&lock);
}

/* Out of the list, and wait for those who are still at a band. */
static void withdraw(work *w)
{
    work **at = &works;
    pthread_mutex_lock(&lock);
    while (*at != NULL && *at != w) at = &(*at)->next;
    if (*at == w) *at = w->next;
    pthread_mutex_unlock(&lock);
    for (int i = 0; i < N_SPINS && atomic_load(&w->n_helping) > 0; i++) pause_a_moment();
    pthread_mutex_lock(&lock);
    while (atomic_load(&w->n_helping) > 0) pthread_cond_wait(&has_left, &lock);
    pthread_mutex_unlock(&lock);
}

void sw_parallel_bands(size_t n_rows, size_t band_rows, sw_rows_fn fn, void *ctx)
{
    work w = { .n_rows = n_rows, .band_rows = band_rows == 0 ? 1 : band_rows, .fn = fn, .ctx = ctx };
    const size_t n_wanted = sw_min_size((size_t)sw_threads(), (n_rows + w.band_rows - 1) / w.band_rows);
    atomic_init(&w.next_row, 0);
    atomic_init(&w.n_helping, 0);
    if (n_wanted > 1) post(&w, n_wanted - 1);
    take_bands(&w);
    if (n_wanted > 1) withdraw(&w);
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
