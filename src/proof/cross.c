/* Crossings: every chord against the chords in the same cells of a uniform grid. Chords are short (shape.c sees to
 * it), so a chord lies in one to four cells and the whole is linear in practice.
 *
 * Touching counts: a corner of one contour on the edge of another is a crossing. Neighbours on a ring share a node,
 * which is none; they count only when the ring turns back along itself. */
#include <math.h>

#include "proof/shape.h"

#define TOUCH_MM 1e-7 /* nearer than this is touching; coordinates are whole multiples of 1e-3 */

static double cross(sw_pt_mm o, sw_pt_mm a, sw_pt_mm b)
{
    return (a.x_mm - o.x_mm) * (b.y_mm - o.y_mm) - (a.y_mm - o.y_mm) * (b.x_mm - o.x_mm);
}

/* -1, 0, 1: on which side of the line through a and b the point lies; 0 within TOUCH_MM of it. */
static int side_of(sw_pt_mm a, sw_pt_mm b, sw_pt_mm p)
{
    const double limit = TOUCH_MM * (fabs(b.x_mm - a.x_mm) + fabs(b.y_mm - a.y_mm));
    const double c = cross(a, b, p);
    return c > limit ? 1 : c < -limit ? -1 : 0;
}

static bool ranges_meet(double a0, double a1, double b0, double b1)
{
    return sw_max(sw_min(a0, a1), sw_min(b0, b1)) <= sw_min(sw_max(a0, a1), sw_max(b0, b1)) + TOUCH_MM;
}

static bool chords_meet(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c, sw_pt_mm d)
{
    if (!ranges_meet(a.x_mm, b.x_mm, c.x_mm, d.x_mm) || !ranges_meet(a.y_mm, b.y_mm, c.y_mm, d.y_mm)) return false;
    return side_of(a, b, c) * side_of(a, b, d) <= 0 && side_of(c, d, a) * side_of(c, d, b) <= 0;
}

/* a-b then b-c: does the ring turn back along itself? */
static bool turns_back(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c)
{
    const double dot = (b.x_mm - a.x_mm) * (c.x_mm - b.x_mm) + (b.y_mm - a.y_mm) * (c.y_mm - b.y_mm);
    return dot < 0.0 && side_of(a, b, c) == 0;
}

static bool pair_meets(const sw_proof_shape *shape, size_t i, size_t k)
{
    const size_t i_end = sw_proof_next(shape, i), k_end = sw_proof_next(shape, k);
    const sw_pt_mm *const at = shape->at;
    if (i_end == k && k_end == i) return true; /* a ring of two chords has no inside */
    if (i_end == k) return turns_back(at[i], at[k], at[k_end]);
    if (k_end == i) return turns_back(at[k], at[i], at[i_end]);
    return chords_meet(at[i], at[i_end], at[k], at[k_end]);
}

/* The chords of each cell: of[first[c]] .. of[first[c + 1] - 1]. */
typedef struct cells {
    double size_mm, x0_mm, y0_mm;
    size_t n_x, n_y;
    size_t *first;
    uint32_t *of;
} cells;

typedef struct cell_box {
    size_t x0, y0, x1, y1; /* inclusive */
} cell_box;

static size_t cell_index(double v_mm, double v0_mm, double size_mm, size_t n)
{
    return (size_t)sw_clamp(floor((v_mm - v0_mm) / size_mm), 0.0, (double)(n - 1));
}

static cell_box box_of(const cells *grid, const sw_proof_shape *shape, size_t i)
{
    const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)];
    const double m = TOUCH_MM;
    return (cell_box){ cell_index(sw_min(a.x_mm, b.x_mm) - m, grid->x0_mm, grid->size_mm, grid->n_x),
                       cell_index(sw_min(a.y_mm, b.y_mm) - m, grid->y0_mm, grid->size_mm, grid->n_y),
                       cell_index(sw_max(a.x_mm, b.x_mm) + m, grid->x0_mm, grid->size_mm, grid->n_x),
                       cell_index(sw_max(a.y_mm, b.y_mm) + m, grid->y0_mm, grid->size_mm, grid->n_y) };
}

/* About one cell a chord, none smaller than the longest chord. */
static void choose_cells(const sw_proof_shape *shape, cells *grid)
{
    sw_pt_mm lo = shape->at[0], hi = shape->at[0];
    for (size_t i = 1; i < shape->n; i++) {
        const sw_pt_mm p = shape->at[i];
        lo = (sw_pt_mm){ sw_min(lo.x_mm, p.x_mm), sw_min(lo.y_mm, p.y_mm) };
        hi = (sw_pt_mm){ sw_max(hi.x_mm, p.x_mm), sw_max(hi.y_mm, p.y_mm) };
    }
    const double width_mm = hi.x_mm - lo.x_mm, height_mm = hi.y_mm - lo.y_mm;
    const double even_mm = sqrt(width_mm * height_mm / (double)shape->n);
    const double thin_mm = sw_max(width_mm, height_mm) / (double)shape->n; /* for shapes without height */
    grid->size_mm = sw_max(SW_PROOF_LONGEST_MM, sw_max(even_mm, thin_mm));
    grid->x0_mm = lo.x_mm;
    grid->y0_mm = lo.y_mm;
    grid->n_x = (size_t)(width_mm / grid->size_mm) + 1;
    grid->n_y = (size_t)(height_mm / grid->size_mm) + 1;
}

static sw_status make_cells(const sw_proof_shape *shape, cells *grid, sw_note *note)
{
    choose_cells(shape, grid);
    const size_t n_cells = grid->n_x * grid->n_y;
    grid->first = sw_alloc_array(n_cells + 2, sizeof *grid->first);
    if (grid->first == NULL) return sw_fail_memory(note, "the proof's cells");
    for (size_t i = 0; i < shape->n; i++) { /* first[c + 2] counts cell c */
        const cell_box box = box_of(grid, shape, i);
        for (size_t y = box.y0; y <= box.y1; y++) {
            for (size_t x = box.x0; x <= box.x1; x++) grid->first[y * grid->n_x + x + 2]++;
        }
    }
    for (size_t c = 2; c < n_cells + 2; c++) grid->first[c] += grid->first[c - 1];
    grid->of = sw_alloc_raw(grid->first[n_cells + 1], sizeof *grid->of);
    if (grid->of == NULL) return sw_fail_memory(note, "the proof's cells");
    for (size_t i = 0; i < shape->n; i++) { /* first[c + 1] moves from cell c's begin to its end */
        const cell_box box = box_of(grid, shape, i);
        for (size_t y = box.y0; y <= box.y1; y++) {
            for (size_t x = box.x0; x <= box.x1; x++) grid->of[grid->first[y * grid->n_x + x + 1]++] = (uint32_t)i;
        }
    }
    return SW_OK;
}

typedef struct cross_work {
    const sw_proof_shape *shape;
    const cells *grid;
    size_t *found; /* one a row of cells */
} cross_work;

static size_t count_cell(const cross_work *work, size_t x, size_t y)
{
    const cells *const grid = work->grid;
    const size_t c = y * grid->n_x + x;
    size_t n = 0;
    for (size_t i = grid->first[c]; i < grid->first[c + 1]; i++) {
        const cell_box one = box_of(grid, work->shape, grid->of[i]);
        for (size_t k = i + 1; k < grid->first[c + 1]; k++) {
            if (!pair_meets(work->shape, grid->of[i], grid->of[k])) continue;
            /* a pair that shares several cells counts in the first of them */
            const cell_box two = box_of(grid, work->shape, grid->of[k]);
            n += sw_max_size(one.x0, two.x0) == x && sw_max_size(one.y0, two.y0) == y;
        }
    }
    return n;
}

static void count_rows(size_t row_begin, size_t row_end, void *ctx)
{
    const cross_work *const work = ctx;
    for (size_t y = row_begin; y < row_end; y++) {
        for (size_t x = 0; x < work->grid->n_x; x++) work->found[y] += count_cell(work, x, y);
    }
}

sw_status sw_proof_crossings(const sw_proof_shape *shape, size_t *n, sw_note *note)
{
    cells grid = { 0 };
    cross_work work = { .shape = shape, .grid = &grid };
    size_t total = 0;
    sw_status st = make_cells(shape, &grid, note);
    if (st != SW_OK) goto cleanup;
    work.found = sw_alloc_array(grid.n_y, sizeof *work.found);
    if (work.found == NULL) {
        st = sw_fail_memory(note, "the proof's crossings");
        goto cleanup;
    }
    sw_parallel_rows(grid.n_y, count_rows, &work);
    for (size_t y = 0; y < grid.n_y; y++) total += work.found[y];
    *n = total;
cleanup:
    sw_free(grid.first);
    sw_free(grid.of);
    sw_free(work.found);
    return st;
}
