/* Weights of errors. A stick across a calm cheek is a fault, the same stick among stripes is one stripe more. So an error
 * weighs more the farther its place is from all edges of the picture as it will be painted: a short strip from edge to
 * edge has no place far from both, the middle of a long one has. Distances are found on small squares, which is near
 * enough. */
#include "sheet/notice.h"

#include <math.h>
#include <string.h>

/* An error at full salience counts this many times one at none. Taste: at 10 four photographs showed a tenth more error
 * in all to spare places that were noticed little; at 6 no bridge lies on their faces. */
#define SALIENCE_MOST 6.0
/* The same for one in the calm, and how far from an edge, in widths of a bridge, it begins and is complete. Taste, set on
 * portraits in tone and colour, a heron, a cat, a cup and a harbour: at 2 a stick of 22 widths from teeth to collar stayed,
 * at 3 it was a near thing. */
#define CALM_MOST 4.0
#define CALM_FROM_WIDTHS 1.5
#define CALM_ALL_WIDTHS 5.0
/* Widths a square may have at most: at a half the heron got other bridges than with exact distances. */
#define SQUARE_WIDTHS 0.4
#define SHIFT_MOST 6u

typedef struct notice_job {
    const sw_separation *separation;
    sw_notice *made;
    double width_px;
    sw_mask edges;        /* a pixel for each square: 1 where there is an edge */
    uint32_t *distance;   /* of the squares, squared, in their sides */
} notice_job;

static uint64_t eight_of(const uint8_t *at)
{
    uint64_t eight;
    memcpy(&eight, at, 8);
    return eight;
}

/* Squares of one row of pixels in which a pixel differs from the one right of it or below. */
static void mark_edges(const uint8_t *row, const uint8_t *below, size_t width, unsigned shift, uint8_t *edge)
{
    size_t x = 0;
    for (; x + 9 <= width; x += 8) { /* eight pixels: most are all alike */
        const uint64_t eight = eight_of(row + x);
        if (((eight ^ eight_of(row + x + 1)) | (eight ^ eight_of(below + x))) == 0) continue;
        for (size_t k = x; k < x + 8; k++)
            if (row[k] != row[k + 1] || row[k] != below[k]) edge[k >> shift] = 1;
    }
    for (; x < width; x++)
        if ((x + 1 < width && row[x] != row[x + 1]) || row[x] != below[x]) edge[x >> shift] = 1;
}

static void find_edges(size_t begin, size_t end, void *ctx)
{
    const notice_job *const job = ctx;
    const unsigned shift = job->made->shift;
    const size_t width = job->separation->grid.width_px, height = job->separation->grid.height_px;
    for (size_t square = begin; square < end; square++)
        for (size_t y = square << shift; y < sw_min_size((square + 1) << shift, height); y++) {
            const uint8_t *const row = job->separation->label + y * width;
            mark_edges(row, y + 1 < height ? row + width : row, width, shift, job->edges.at + square * job->made->wide);
        }
}

/* How calm a square is, so far from the nearest with an edge. */
static uint8_t level_of(const notice_job *job, uint32_t distance_sq)
{
    if (distance_sq >= UINT32_MAX - 1) return SW_NOTICE_LEVELS - 1; /* no edge at all, or far away */
    const double widths = sqrt((double)distance_sq) * (double)(1u << job->made->shift) / job->width_px;
    const double calm = (widths - CALM_FROM_WIDTHS) / (CALM_ALL_WIDTHS - CALM_FROM_WIDTHS);
    return (uint8_t)(sw_clamp(calm, 0.0, 1.0) * (SW_NOTICE_LEVELS - 1.0) + 0.5);
}

static void fill_levels(size_t begin, size_t end, void *ctx)
{
    const notice_job *const job = ctx;
    for (size_t i = begin * job->made->wide; i < end * job->made->wide; i++)
        job->made->calm[i] = level_of(job, job->distance[i]);
}

static void fill_table(sw_notice *made)
{
    for (size_t level = 0; level < SW_NOTICE_LEVELS; level++)
        for (size_t i = 0; i < 256; i++) {
            const double ratio = (double)i / 255.0, calm = (double)level / (SW_NOTICE_LEVELS - 1.0);
            const double weight = (1.0 + (SALIENCE_MOST - 1.0) * ratio * ratio) * (1.0 + (CALM_MOST - 1.0) * calm);
            made->weight_of[level][i] = (uint8_t)sw_min(SW_NOTICE_ONE * weight + 0.5, 255.0);
        }
}

sw_status sw_notice_make(const sw_separation *separation, double width_px, sw_notice *out, sw_note *note)
{
    const sw_grid *const grid = &separation->grid;
    sw_notice made = { .salience = separation->salience, .width_px = grid->width_px };
    notice_job job = { .separation = separation, .made = &made, .width_px = width_px };
    while (made.shift < SHIFT_MOST && (double)(2u << made.shift) <= SQUARE_WIDTHS * width_px) made.shift++;
    made.wide = ((grid->width_px - 1) >> made.shift) + 1;
    const size_t high = ((grid->height_px - 1) >> made.shift) + 1;
    sw_status st = sw_mask_make(made.wide, high, &job.edges, note);
    if (st != SW_OK) goto cleanup;
    job.distance = sw_alloc_raw(made.wide * high, sizeof *job.distance);
    made.calm = sw_alloc_raw(made.wide * high, 1);
    st = job.distance != NULL && made.calm != NULL ? SW_OK : sw_fail_memory(note, "what is noticed");
    if (st != SW_OK) goto cleanup;
    sw_parallel_rows(high, find_edges, &job);
    st = sw_distance_sq(&job.edges, 1, false, job.distance, note);
    if (st != SW_OK) goto cleanup;
    sw_parallel_rows(high, fill_levels, &job);
    fill_table(&made);
    *out = made;
    made = (sw_notice){ 0 };
cleanup:
    sw_mask_free(&job.edges);
    sw_free(job.distance);
    sw_notice_free(&made);
    return st;
}

void sw_notice_free(sw_notice *notice)
{
    if (notice == NULL) return;
    sw_free(notice->calm);
    *notice = (sw_notice){ 0 };
}
