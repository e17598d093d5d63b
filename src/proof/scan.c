/* Scan conversion without anti-aliasing: where the centre line of every row meets the polygons, sorted. Inside is
 * what an odd number of crossings lies left of. No bitmap is made; a row of a wall-size sheet is a few hundred
 * crossings. */
#include <math.h>

#include "proof/shape.h"

typedef struct chord_px {
    double x0, y0, x1, y1;
    size_t row_begin, row_end;
} chord_px;

/* Row whose centre is the first at or below y; 0..height. */
static size_t row_from(double y, size_t height)
{
    const double row = ceil(y - 0.5);
    return row <= 0.0 ? 0 : row >= (double)height ? height : (size_t)row;
}

size_t sw_proof_column(double x_px, size_t width_px) { return row_from(x_px, width_px); }

static chord_px chord_at(const sw_proof_shape *shape, size_t i, const sw_proof_raster *raster)
{
    const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)];
    chord_px chord = { (a.x_mm - raster->corner.x_mm) * raster->px_per_mm,
                       (a.y_mm - raster->corner.y_mm) * raster->px_per_mm,
                       (b.x_mm - raster->corner.x_mm) * raster->px_per_mm,
                       (b.y_mm - raster->corner.y_mm) * raster->px_per_mm, 0, 0 };
    chord.row_begin = row_from(sw_min(chord.y0, chord.y1), raster->height_px);
    chord.row_end = row_from(sw_max(chord.y0, chord.y1), raster->height_px);
    return chord;
}

static bool is_before(const sw_proof_hit *a, const sw_proof_hit *b)
{
    return a->x_px < b->x_px || (a->x_px == b->x_px && a->chord < b->chord);
}

/* Shell sort: rows are short and nearly sorted more often than not. */
static void sort_hits(sw_proof_hit *at, size_t n)
{
    static const size_t gaps[] = { 701, 301, 132, 57, 23, 10, 4, 1 }; /* Ciura 2001 */
    for (size_t g = 0; g < SW_ARRAY_LEN(gaps); g++) {
        const size_t gap = gaps[g];
        for (size_t i = gap; i < n; i++) {
            const sw_proof_hit hit = at[i];
            size_t k = i;
            for (; k >= gap && is_before(&hit, &at[k - gap]); k -= gap) at[k] = at[k - gap];
            at[k] = hit;
        }
    }
}

static void sort_rows(size_t row_begin, size_t row_end, void *ctx)
{
    sw_proof_rows *const rows = ctx;
    for (size_t y = row_begin; y < row_end; y++) sort_hits(rows->at + rows->first[y], rows->first[y + 1] - rows->first[y]);
}

/* first[y + 1] counts row y, then becomes its end. */
static void count_hits(const sw_proof_shape *shape, size_t begin, size_t end, const sw_proof_raster *raster,
                       sw_proof_rows *rows)
{
    for (size_t i = begin; i < end; i++) {
        const chord_px chord = chord_at(shape, i, raster);
        for (size_t y = chord.row_begin; y < chord.row_end; y++) rows->first[y + 1]++;
    }
    for (size_t y = 0; y < rows->height_px; y++) rows->first[y + 1] += rows->first[y];
}

/* next: where each row's next crossing goes. */
static void place_hits(const sw_proof_shape *shape, size_t begin, size_t end, const sw_proof_raster *raster,
                       sw_proof_rows *rows, size_t *next)
{
    for (size_t i = begin; i < end; i++) {
        const chord_px chord = chord_at(shape, i, raster);
        if (chord.row_begin >= chord.row_end) continue;
        const double slope = (chord.x1 - chord.x0) / (chord.y1 - chord.y0);
        for (size_t y = chord.row_begin; y < chord.row_end; y++) {
            const double x = chord.x0 + ((double)y + 0.5 - chord.y0) * slope;
            rows->at[next[y]++] = (sw_proof_hit){ x, (uint32_t)i };
        }
    }
}

sw_status sw_proof_scan(const sw_proof_shape *shape, size_t ring_begin, size_t ring_end,
                        const sw_proof_raster *raster, sw_proof_rows *out, sw_note *note)
{
    sw_proof_rows made = { .width_px = raster->width_px, .height_px = raster->height_px };
    size_t *next = NULL;
    sw_status st = SW_OK;
    const size_t begin = ring_begin < shape->n_rings ? shape->rings[ring_begin].first : shape->n;
    const size_t end = ring_end < shape->n_rings ? shape->rings[ring_end].first : shape->n;
    made.first = sw_alloc_array(made.height_px + 1, sizeof *made.first);
    next = sw_alloc_raw(made.height_px + 1, sizeof *next);
    if (made.first == NULL || next == NULL) goto no_memory;
    count_hits(shape, begin, end, raster, &made);
    for (size_t y = 0; y <= made.height_px; y++) next[y] = made.first[y];
    made.at = sw_alloc_raw(made.first[made.height_px] + 1, sizeof *made.at); /* + 1: none is not an error */
    if (made.at == NULL) goto no_memory;
    place_hits(shape, begin, end, raster, &made, next);
    sw_parallel_rows(made.height_px, sort_rows, &made);
    *out = made;
    made = (sw_proof_rows){ 0 };
    goto cleanup;
no_memory:
    st = sw_fail_memory(note, "the proof's rows");
cleanup:
    sw_proof_rows_free(&made);
    sw_free(next);
    return st;
}

void sw_proof_rows_free(sw_proof_rows *rows)
{
    if (rows == NULL) return;
    sw_free(rows->first);
    sw_free(rows->at);
    *rows = (sw_proof_rows){ 0 };
}
