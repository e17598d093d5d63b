/* The order of painting that needs the least cutting.
 *
 * A sheet is cut around its own label, but labels painted later may be cut along with it, as they cover it. So pass i
 * before the set T costs the shortest boundary of {i} + S over all S in T, and the best order is a path through the sets
 * of labels (dynamic programming, 2^n sets). Boundaries are those between whole labels: a lower bound of what stacking
 * region by region can do, and enough to tell orders apart. */
#include <math.h>
#include <string.h>

#include "separate/parts.h"

#define N_SETS (1u << SW_MAX_PASSES)
/* Light to dark covers best and is what hands expect: each pair the other way must save this part of all boundaries. */
#define HABIT_RATIO 0.01

typedef struct edges {
    uint64_t n[SW_MAX_LABELS][SW_MAX_LABELS]; /* pixel edges between labels, both ways */
    uint64_t outer[SW_MAX_LABELS];            /* along the edge of the artwork */
} edges;

typedef struct count_task {
    const uint8_t *label;
    size_t width, height;
    uint32_t (*row)[SW_MAX_LABELS][SW_MAX_LABELS];
} count_task;

static void count_rows(size_t begin, size_t end, void *ctx)
{
    const count_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        const uint8_t *const row = t->label + y * t->width, *const low = y + 1 < t->height ? row + t->width : row;
        memset(t->row[y], 0, sizeof t->row[y]);
        for (size_t x = 0; x < t->width; x++) {
            if (row[x] != low[x]) t->row[y][row[x]][low[x]]++;
            if (x > 0 && row[x] != row[x - 1]) t->row[y][row[x]][row[x - 1]]++;
        }
    }
}

static sw_status count_edges(const uint8_t *label, size_t width, size_t height, edges *out, sw_note *note)
{
    count_task task = { label, width, height, sw_alloc_raw(height, sizeof *task.row) };
    if (task.row == NULL) return sw_fail_memory(note, "the order of passes");
    sw_parallel_rows(height, count_rows, &task);
    for (size_t y = 0; y < height; y++) {
        for (size_t a = 0; a < SW_MAX_LABELS; a++) {
            for (size_t b = 0; b < SW_MAX_LABELS; b++) {
                out->n[a][b] += task.row[y][a][b];
                out->n[b][a] += task.row[y][a][b];
            }
        }
        out->outer[label[y * width]]++;
        out->outer[label[y * width + width - 1]]++;
    }
    for (size_t x = 0; x < width; x++) {
        out->outer[label[x]]++;
        out->outer[label[(height - 1) * width + x]]++;
    }
    sw_free(task.row);
    return SW_OK;
}

/* Boundary of the union of a set of labels; bit k stands for label k + 1. */
static double boundary_of(const edges *e, size_t n_passes, unsigned set)
{
    uint64_t sum = 0;
    for (size_t a = 1; a <= n_passes; a++) {
        if ((set >> (a - 1) & 1u) == 0) continue;
        sum += e->outer[a] + e->n[a][0];
        for (size_t b = 1; b <= n_passes; b++) sum += (set >> (b - 1) & 1u) == 0 ? e->n[a][b] : 0;
    }
    return (double)sum;
}

sw_status sw_order_find(const uint8_t *label, size_t width, size_t height, size_t n_passes,
                        uint8_t place[SW_MAX_LABELS], sw_note *note)
{
    edges e = { 0 };
    double boundary[N_SETS] = { 0 }, cost[N_SETS] = { 0 }, total = 0.0;
    uint8_t first[N_SETS] = { 0 };
    const unsigned n_sets = 1u << n_passes;
    SW_TRY(count_edges(label, width, height, &e, note));
    for (unsigned set = 0; set < n_sets; set++) boundary[set] = boundary_of(&e, n_passes, set);
    for (size_t a = 0; a < n_passes; a++) total += boundary[1u << a];
    cost[0] = 0.0;
    for (unsigned set = 1; set < n_sets; set++) { /* the passes of `set` come last; which of them is first? */
        cost[set] = INFINITY;
        for (size_t a = 0; a < n_passes; a++) {
            const unsigned later = set & ~(1u << a);
            if (later == set) continue;
            double sheet = boundary[1u << a], habit = 0.0;
            for (unsigned with = later; with > 0; with = (with - 1) & later)
                sheet = sw_min(sheet, boundary[with | 1u << a]);
            for (size_t b = 0; b < a; b++) habit += (later >> b & 1u) != 0 ? HABIT_RATIO * total : 0.0;
            if (cost[later] + sheet + habit >= cost[set]) continue;
            cost[set] = cost[later] + sheet + habit;
            first[set] = (uint8_t)a;
        }
    }
    place[0] = 0;
    uint8_t at = 1;
    for (unsigned set = n_sets - 1; set > 0; set &= ~(1u << first[set])) place[first[set] + 1] = at++;
    return SW_OK;
}
