/* The order of painting that needs the least cutting and shows the fewest bridges.
 *
 * A sheet is cut around its own label, but labels painted later may be cut along with it, as they cover it. So pass i
 * before the set T costs the shortest boundary of {i} + S over all S in T, and the best order is a path through the sets
 * of labels (dynamic programming, 2^n sets). Boundaries are those between whole labels: a lower bound of what stacking
 * region by region can do, and enough to tell orders apart. A bridge that shows costs as well: an island of pass i is a
 * closed area around which i is painted, and it needs one unless all of it is painted later (islands.c). */
#include <math.h>
#include <string.h>

#include "separate/parts.h"

#define N_SETS (1u << SW_MAX_PASSES)
/* Light to dark covers best and is what hands expect: each pair the other way must save this part of all boundaries. */
#define HABIT_RATIO 0.01

/* Cut length that a bridge is worth, a pixel of its length and CIEDE2000: in a 5 mm web, 20 mm that differ by 30 are worth
 * 0.6 m of cut. Taste: at 2 the figurehead had a third less of bridges to islands, but nearly half as many again that only hold,
 * and 8 % more cut. */
#define CUT_PER_ERROR 1.0

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

/* Islands of every pass, and what its paint differs from each label. */
typedef struct bridging {
    const sw_order_task *task;
    sw_islands islands[SW_MAX_LABELS];
    double error[SW_MAX_LABELS][SW_MAX_LABELS];
    sw_status status[SW_MAX_LABELS];
} bridging;

static void find_islands(size_t begin, size_t end, void *ctx)
{
    bridging *const b = ctx;
    for (size_t i = begin; i < end; i++) b->status[i] = sw_islands_find(b->task, i + 1, &b->islands[i + 1], NULL);
}

static sw_status bridging_make(const sw_order_task *task, bridging *b, sw_note *note)
{
    *b = (bridging){ .task = task };
    if (task->colour == NULL) return SW_OK;
    for (size_t i = 0; i <= task->n_passes; i++)
        for (size_t k = 0; k <= task->n_passes; k++)
            b->error[i][k] = sw_ciede2000(sw_lab_from_rgb8(task->colour[i]), sw_lab_from_rgb8(task->colour[k]));
    sw_parallel_bands(task->n_passes, 1, find_islands, b);
    for (size_t i = 0; i < task->n_passes; i++)
        if (b->status[i] != SW_OK) return sw_fail_memory(note, "the order of passes");
    return SW_OK;
}

/* Of a pass before the set `later`. Bridges may show any earlier paint: openings are put under them. */
static double bridges_of(const bridging *b, size_t pass, unsigned later)
{
    const double *const error = b->error[pass];
    double least = error[0], sum = 0.0;
    for (size_t k = 1; k <= b->task->n_passes; k++)
        if (k != pass && (later >> (k - 1) & 1u) == 0) least = sw_min(least, error[k]);
    for (size_t i = 0; i < b->islands[pass].n; i++)
        sum += sw_island_cost(&b->islands[pass].at[i], b->task, later, error, least);
    return b->task->colour == NULL ? 0.0 : CUT_PER_ERROR / b->task->web_px * sum;
}

/* Which of a set of passes that come last is best painted first: of every set. */
static void choose(const edges *e, const bridging *b, size_t n_passes, uint8_t first[N_SETS])
{
    double boundary[N_SETS] = { 0 }, cost[N_SETS] = { 0 }, total = 0.0;
    for (unsigned set = 0; set < 1u << n_passes; set++) boundary[set] = boundary_of(e, n_passes, set);
    for (size_t a = 0; a < n_passes; a++) total += boundary[1u << a];
    for (unsigned set = 1; set < 1u << n_passes; set++) {
        cost[set] = INFINITY;
        for (size_t a = 0; a < n_passes; a++) {
            const unsigned later = set & ~(1u << a);
            if (later == set) continue;
            double sheet = boundary[1u << a], habit = 0.0;
            for (unsigned with = later; with > 0; with = (with - 1) & later)
                sheet = sw_min(sheet, boundary[with | 1u << a]);
            for (size_t k = 0; k < a; k++) habit += (later >> k & 1u) != 0 ? HABIT_RATIO * total : 0.0;
            const double all = cost[later] + sheet + habit + bridges_of(b, a + 1, later);
            if (all >= cost[set]) continue;
            cost[set] = all;
            first[set] = (uint8_t)a;
        }
    }
}

sw_status sw_order_find(const sw_order_task *task, uint8_t place[SW_MAX_LABELS], sw_note *note)
{
    edges e = { 0 };
    bridging b = { 0 };
    uint8_t first[N_SETS] = { 0 };
    sw_status st = bridging_make(task, &b, note);
    if (st == SW_OK) st = count_edges(task->label, task->width, task->height, &e, note);
    if (st == SW_OK) {
        choose(&e, &b, task->n_passes, first);
        place[0] = 0;
        uint8_t at = 1;
        for (unsigned set = (1u << task->n_passes) - 1; set > 0; set &= ~(1u << first[set])) place[first[set] + 1] = at++;
    }
    for (size_t i = 0; i < SW_MAX_LABELS; i++) sw_islands_free(&b.islands[i]);
    return st;
}
