/* Scan conversion without anti-aliasing: where the centre line of every row meets the polygons, sorted. Inside is
 * what an odd number of crossings lies left of. No bitmap is made; a row of a wall-size sheet is a few hundred
 * crossings. */
#include <math.h>

#include "proof/shape.h"

/* Row whose centre is the first at or below y; 0..height. */
static size_t row_from(double y, size_t height)
{
    const double row = ceil(y - 0.5);
    return row <= 0.0 ? 0 : row >= (double)height ? height : (size_t)row;
}

size_t sw_proof_column(double x_px, size_t width_px) { return row_from(x_px, width_px); }

/* Rings at work: their points are begin .. end - 1. */
typedef struct scan {
    const sw_proof_shape *shape;
    const sw_proof_raster *raster;
    size_t ring_begin, ring_end, begin;
    uint32_t *row; /* of each point, the first at or below it */
} scan;

static sw_pt_px point_px(const scan *s, size_t i)
{
    const sw_pt_mm p = s->shape->at[i];
    return (sw_pt_px){ (p.x_mm - s->raster->corner.x_mm) * s->raster->px_per_mm,
                       (p.y_mm - s->raster->corner.y_mm) * s->raster->px_per_mm };
}

static void find_rows(size_t point_begin, size_t point_end, void *ctx)
{
    const scan *const s = ctx;
    for (size_t i = point_begin; i < point_end; i++)
        s->row[i] = (uint32_t)row_from(point_px(s, s->begin + i).y_px, s->raster->height_px);
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
static void count_hits(const scan *s, sw_proof_rows *rows)
{
    for (size_t r = s->ring_begin; r < s->ring_end; r++) {
        const size_t first = s->shape->rings[r].first - s->begin, n = s->shape->rings[r].n;
        size_t from = s->row[first + n - 1];
        for (size_t i = first; i < first + n; i++) {
            const size_t to = s->row[i];
            for (size_t y = sw_min_size(from, to); y < sw_max_size(from, to); y++) rows->first[y + 1]++;
            from = to;
        }
    }
    for (size_t y = 0; y < rows->height_px; y++) rows->first[y + 1] += rows->first[y];
}

/* Chord i, whose other end is point k. next: where each row's next crossing goes. */
static void place_chord(const scan *s, size_t i, size_t k, sw_proof_rows *rows, size_t *next)
{
    const size_t from = s->row[i - s->begin], to = s->row[k - s->begin];
    if (from == to) return;
    const sw_pt_px a = point_px(s, i), b = point_px(s, k);
    const double slope = (b.x_px - a.x_px) / (b.y_px - a.y_px);
    for (size_t y = sw_min_size(from, to); y < sw_max_size(from, to); y++) {
        const double x = a.x_px + ((double)y + 0.5 - a.y_px) * slope;
        rows->at[next[y]++] = (sw_proof_hit){ x, (uint32_t)i };
    }
}

static void place_hits(const scan *s, sw_proof_rows *rows, size_t *next)
{
    for (size_t r = s->ring_begin; r < s->ring_end; r++) {
        const size_t first = s->shape->rings[r].first, last = first + s->shape->rings[r].n - 1;
        for (size_t i = first; i < last; i++) place_chord(s, i, i + 1, rows, next);
        place_chord(s, last, first, rows, next);
    }
}

sw_status sw_proof_scan(const sw_proof_shape *shape, size_t ring_begin, size_t ring_end,
                        const sw_proof_raster *raster, sw_proof_rows *out, sw_note *note)
{
    sw_proof_rows made = { .width_px = raster->width_px, .height_px = raster->height_px };
    size_t *next = NULL;
    sw_status st = SW_OK;
    scan s = { .shape = shape, .raster = raster, .ring_begin = ring_begin, .ring_end = sw_min_size(ring_end, shape->n_rings) };
    s.begin = ring_begin < shape->n_rings ? shape->rings[ring_begin].first : shape->n;
    const size_t end = ring_end < shape->n_rings ? shape->rings[ring_end].first : shape->n;
    made.first = sw_alloc_array(made.height_px + 1, sizeof *made.first);
    next = sw_alloc_raw(made.height_px + 1, sizeof *next);
    s.row = sw_alloc_raw(end - s.begin + 1, sizeof *s.row); /* + 1: none is not an error */
    if (made.first == NULL || next == NULL || s.row == NULL) goto no_memory;
    sw_parallel_rows(end - s.begin, find_rows, &s);
    count_hits(&s, &made);
    for (size_t y = 0; y <= made.height_px; y++) next[y] = made.first[y];
    made.at = sw_alloc_raw(made.first[made.height_px] + 1, sizeof *made.at);
    if (made.at == NULL) goto no_memory;
    place_hits(&s, &made, next);
    sw_parallel_rows(made.height_px, sort_rows, &made);
    *out = made;
    made = (sw_proof_rows){ 0 };
    goto cleanup;
no_memory:
    st = sw_fail_memory(note, "the proof's rows");
cleanup:
    sw_proof_rows_free(&made);
    sw_free(next);
    sw_free(s.row);
    return st;
}

void sw_proof_rows_free(sw_proof_rows *rows)
{
    if (rows == NULL) return;
    sw_free(rows->first);
    sw_free(rows->at);
    *rows = (sw_proof_rows){ 0 };
}
