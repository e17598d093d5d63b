/* Into how many pieces the material falls. Two independent counts, the worse one stands:
 *
 * by raster: runs of material of each row joined to those of the row above (union-find over runs, no bitmap), which
 * also sees a hair of material that is there on paper only;
 *
 * by nesting: every contour that has an opening around it holds material that hangs on nothing. That is exact however
 * small the island, as long as contours do not cross, which is counted elsewhere. */
#include "proof/shape.h"

/* A spike of material thinner than a pixel falls apart in the raster though it hangs together: bits up to this size
 * are left to the nesting count. */
#define LEAST_PIECE_PX 8u

typedef struct run {
    size_t begin, end;  /* columns */
    size_t parent;      /* a root is its own parent and the smallest of its piece */
    uint64_t n_px;
} run;

typedef struct run_list {
    run *at;
    size_t n, cap;
} run_list;

static size_t find_root(run_list *list, size_t i)
{
    while (list->at[i].parent != i) {
        list->at[i].parent = list->at[list->at[i].parent].parent;
        i = list->at[i].parent;
    }
    return i;
}

static void join(run_list *list, size_t i, size_t k)
{
    const size_t a = find_root(list, i), b = find_root(list, k);
    if (a < b) list->at[b].parent = a;
    else list->at[a].parent = b;
}

static bool add_run(run_list *list, size_t begin, size_t end, size_t row_first)
{
    if (begin >= end) return true;
    if (list->n > row_first && list->at[list->n - 1].end == begin) { /* what divided them is no pixel */
        list->at[list->n - 1].end = end;
        list->at[list->n - 1].n_px += end - begin;
        return true;
    }
    void *data = list->at;
    if (!sw_grow(&data, &list->cap, list->n + 1, sizeof *list->at)) return false;
    list->at = data;
    list->at[list->n] = (run){ begin, end, list->n, end - begin };
    list->n++;
    return true;
}

/* The first, leftmost meeting of a ring: what lies around it is known here, and with it on which side the opening is. */
static void note_side(sw_proof_shape *shape, size_t chord, bool is_opening_left)
{
    const double dy = shape->at[sw_proof_next(shape, chord)].y_mm - shape->at[chord].y_mm;
    shape->rings[shape->ring_of[chord]].side = (dy < 0.0) != is_opening_left ? 1 : -1;
}

/* The material of one row: inside the outline and in no opening. Counts rings that begin inside an opening. */
static bool add_row(sw_proof_shape *shape, const sw_proof_rows *rows, size_t y, run_list *list, size_t *n_islands)
{
    const size_t row_first = list->n;
    bool in_outline = false, in_opening = false;
    size_t begin = 0;
    for (size_t i = rows->first[y]; i < rows->first[y + 1]; i++) {
        const sw_proof_hit hit = rows->at[i];
        const size_t x = sw_proof_column(hit.x_px, rows->width_px), ring = shape->ring_of[hit.chord];
        if (in_outline && !in_opening && !add_run(list, begin, x, row_first)) return false;
        begin = x;
        if (ring == 0) {
            if (shape->rings[0].side == 0) note_side(shape, hit.chord, true); /* as if all around were cut away */
            in_outline = !in_outline;
            continue;
        }
        if (shape->rings[ring].side == 0) {
            note_side(shape, hit.chord, in_opening);
            *n_islands += in_opening;
        }
        in_opening = !in_opening;
    }
    return true;
}

static void join_rows(run_list *list, size_t above, size_t here, size_t end)
{
    for (size_t i = above, k = here; i < here && k < end;) {
        if (list->at[i].begin < list->at[k].end && list->at[k].begin < list->at[i].end) join(list, i, k);
        if (list->at[i].end < list->at[k].end) i++;
        else k++;
    }
}

static size_t count_pieces(run_list *list)
{
    size_t n = 0;
    for (size_t i = list->n; i-- > 0;) { /* children come after their parents, so sums run upward */
        const run *const r = &list->at[i];
        if (r->parent != i) list->at[r->parent].n_px += r->n_px;
        else n += r->n_px > LEAST_PIECE_PX;
    }
    return n;
}

sw_status sw_proof_pieces(sw_proof_shape *shape, const sw_proof_raster *raster, size_t *n_pieces, sw_note *note)
{
    sw_proof_rows rows = { 0 };
    run_list list = { 0 };
    size_t n_islands = 0, above = 0, here = 0;
    sw_status st = sw_proof_scan(shape, 0, shape->n_rings, raster, &rows, note);
    if (st != SW_OK) goto cleanup;
    for (size_t y = 0; y < rows.height_px; y++) {
        if (!add_row(shape, &rows, y, &list, &n_islands)) goto no_memory;
        join_rows(&list, above, here, list.n);
        above = here;
        here = list.n;
    }
    const size_t n_raster = count_pieces(&list);
    *n_pieces = n_raster == 0 ? 0 : sw_max_size(n_raster, 1 + n_islands);
    goto cleanup;
no_memory:
    st = sw_fail_memory(note, "the proof's pieces");
cleanup:
    sw_proof_rows_free(&rows);
    sw_free(list.at);
    return st;
}
