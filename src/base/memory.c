/* The one place that calls the C allocator. Sizes are multiplied with a check; builds with SW_FAULTS can make the
 * nth allocation fail, which is how tests walk through every out-of-memory path. */
#include <stdlib.h>
#include <string.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include "base/base.h"

#ifdef SW_FAULTS
#include <stdatomic.h>
static atomic_size_t n_asked, n_live, fail_at;
static void (*watch)(void *ctx);
static void *watch_ctx;

static bool should_fail(void)
{
    if (watch != NULL) watch(watch_ctx);
    return atomic_fetch_add(&n_asked, 1) + 1 == atomic_load(&fail_at);
}

static void count_live(bool is_new)
{
    if (is_new) atomic_fetch_add(&n_live, 1);
    else atomic_fetch_sub(&n_live, 1);
}

size_t sw_alloc_fail_at(size_t nth)
{
    atomic_store(&n_asked, 0);
    atomic_store(&fail_at, nth);
    return atomic_load(&n_live);
}

void sw_alloc_watch(void (*fn)(void *ctx), void *ctx)
{
    watch = fn;
    watch_ctx = ctx;
}

size_t sw_alloc_count(void) { return atomic_load(&n_asked); }
#else
static bool should_fail(void) { return false; }
static void count_live(bool is_new) { (void)is_new; }
#endif

void sw_memory_keep(void)
{
#ifdef __GLIBC__
    mallopt(M_MMAP_THRESHOLD, 1 << 30);
    mallopt(M_TRIM_THRESHOLD, 1 << 30);
    mallopt(M_TOP_PAD, 1 << 24);
    mallopt(M_ARENA_MAX, 1); /* what one thread frees another gets */
#endif
}

bool sw_mul_size(size_t a, size_t b, size_t *out)
{
    if (b != 0 && a > SIZE_MAX / b) return false;
    *out = a * b;
    return true;
}

static bool size_of(size_t n, size_t size, size_t *total)
{
    return n != 0 && size != 0 && sw_mul_size(n, size, total) && *total <= PTRDIFF_MAX;
}

void *sw_alloc_array(size_t n, size_t size)
{
    size_t total;
    if (!size_of(n, size, &total) || should_fail()) return NULL;
    void *const data = calloc(1, total);
    if (data != NULL) count_live(true);
    return data;
}

void *sw_alloc_raw(size_t n, size_t size)
{
    size_t total;
    if (!size_of(n, size, &total) || should_fail()) return NULL;
    void *const data = malloc(total);
    if (data != NULL) count_live(true);
    return data;
}

bool sw_grow(void **data, size_t *cap, size_t need, size_t size)
{
    if (need <= *cap) return true;
    size_t wanted = *cap < 8 ? 8 : *cap;
    while (wanted < need) {
        if (wanted > SIZE_MAX / 2) return false;
        wanted = wanted + wanted / 2;
    }
    size_t total;
    if (!size_of(wanted, size, &total) || should_fail()) return false;
    void *const moved = realloc(*data, total);
    if (moved == NULL) return false;
    if (*data == NULL) count_live(true);
    *data = moved;
    *cap = wanted;
    return true;
}

void sw_free(void *data)
{
    if (data == NULL) return;
    count_live(false);
    free(data);
}
