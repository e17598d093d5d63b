/* The artwork as light and cover: what the photograph gets painted with.
 *
 * A job's passes are scan-converted from their curves: 4 x 4 samples a pixel, each taking the paint that lies on top
 * there, so that two passes that meet leave no seam of wall. Even-odd, as layers.svg is drawn. A picture is separated as
 * cut does it, or shown as it is: averaged in linear light; what is transparent in it stays wall. 8 bytes a pixel. */
#include "wall/wall.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#define SAMPLES 4u         /* a side of a pixel */
#define SPRAY_FINER 2.0    /* a sprayed picture has hard edges: finer than the photograph, so that they come out smooth */
#define MOST_PX 40000000.0 /* a wall picture needs no more */
#define BARE 255u          /* label of a sample that no pass paints */

typedef struct edge {
    float x0, y0, x1, y1; /* y0 < y1; in samples */
} edge;

typedef struct edges {
    edge *at;
    size_t n, cap;
    sw_pt_mm first, last;
    bool is_begun, is_broken;
    double samples_per_mm;
} edges;

typedef struct raster {
    edges passes[SW_MAX_PASSES];
    size_t n_passes;
    float light[SW_MAX_PASSES][3];
    sw_wall_art *art;
    atomic_bool is_broken;
} raster;

/* ---- curves to edges ------------------------------------------------------------------------------- */

static void add_edge(edges *e, sw_pt_mm a, sw_pt_mm b)
{
    void *data = e->at;
    const sw_pt_mm up = a.y_mm < b.y_mm ? a : b, down = a.y_mm < b.y_mm ? b : a;
    if (up.y_mm == down.y_mm || e->is_broken) return;
    if (!sw_grow(&data, &e->cap, e->n + 1, sizeof *e->at)) {
        e->is_broken = true;
        return;
    }
    e->at = data;
    const double s = e->samples_per_mm;
    e->at[e->n++] = (edge){ (float)(up.x_mm * s), (float)(up.y_mm * s), (float)(down.x_mm * s), (float)(down.y_mm * s) };
}

static bool take_point(void *ctx, sw_pt_mm p)
{
    edges *const e = ctx;
    if (e->is_begun) add_edge(e, e->last, p);
    else e->first = p;
    e->is_begun = true;
    e->last = p;
    return !e->is_broken;
}

static bool collect(const sw_contours *contours, edges *e)
{
    for (size_t i = 0; i < contours->n; i++) {
        e->is_begun = false;
        if (!sw_contour_flatten(&contours->at[i], 0.5 / e->samples_per_mm, take_point, e)) return false;
        if (e->is_begun) add_edge(e, e->last, e->first);
    }
    return !e->is_broken;
}

/* ---- rows ------------------------------------------------------------------------------------------- */

static int by_value(const void *one, const void *two)
{
    const float a = *(const float *)one, b = *(const float *)two;
    return (a > b) - (a < b);
}

/* Label the samples of one line that the pass paints. crossing: room for n floats. */
static void paint_line(const edge *at, size_t n, double y, uint8_t label, uint8_t *line, size_t n_samples, float *crossing)
{
    size_t k = 0;
    for (size_t i = 0; i < n; i++) {
        if ((double)at[i].y0 > y || (double)at[i].y1 <= y) continue;
        const double t = (y - (double)at[i].y0) / ((double)at[i].y1 - (double)at[i].y0);
        crossing[k++] = (float)((double)at[i].x0 + t * ((double)at[i].x1 - (double)at[i].x0));
    }
    qsort(crossing, k, sizeof *crossing, by_value);
    for (size_t i = 0; i + 1 < k; i += 2) {
        const double from = ceil(sw_clamp((double)crossing[i] - 0.5, 0.0, (double)n_samples));
        const double to = ceil(sw_clamp((double)crossing[i + 1] - 0.5, 0.0, (double)n_samples));
        for (size_t x = (size_t)from; x < (size_t)to; x++) line[x] = label;
    }
}

static void add_line(const raster *r, const uint8_t *line, float *sum, size_t width)
{
    for (size_t x = 0; x < width; x++) {
        for (size_t s = 0; s < SAMPLES; s++) {
            const uint8_t label = line[x * SAMPLES + s];
            if (label == BARE) continue;
            for (size_t c = 0; c < 3; c++) sum[4 * x + c] += r->light[label][c];
            sum[4 * x + 3] += 1.0f;
        }
    }
}

/* Keep the edges of a pass that reach into samples lo..hi. */
static size_t edges_between(const edges *all, double lo, double hi, edge *out)
{
    size_t n = 0;
    for (size_t i = 0; i < all->n; i++) {
        if ((double)all->at[i].y0 < hi && (double)all->at[i].y1 > lo) out[n++] = all->at[i];
    }
    return n;
}

static void paint_rows(size_t begin, size_t end, void *ctx)
{
    raster *const r = ctx;
    const size_t width = r->art->width_px, n_samples = width * SAMPLES;
    size_t most = 1, n[SW_MAX_PASSES];
    for (size_t p = 0; p < r->n_passes; p++) most += r->passes[p].n;
    edge *const near = sw_alloc_raw(most, sizeof *near), *of[SW_MAX_PASSES];
    float *const crossing = sw_alloc_raw(most, sizeof *crossing), *const sum = sw_alloc_raw(width, 4 * sizeof *sum);
    uint8_t *const line = sw_alloc_raw(n_samples, 1);
    const bool is_made = near != NULL && crossing != NULL && sum != NULL && line != NULL;
    if (!is_made) atomic_store(&r->is_broken, true);
    size_t used = 0;
    for (size_t p = 0; p < r->n_passes && is_made; p++) {
        of[p] = near + used;
        n[p] = edges_between(&r->passes[p], (double)(begin * SAMPLES), (double)(end * SAMPLES), of[p]);
        used += n[p];
    }
    for (size_t row = begin; row < end && is_made && !sw_is_interrupted(); row++) {
        for (size_t i = 0; i < 4 * width; i++) sum[i] = 0.0f;
        for (size_t s = 0; s < SAMPLES; s++) {
            for (size_t i = 0; i < n_samples; i++) line[i] = BARE;
            for (size_t p = 0; p < r->n_passes; p++)
                paint_line(of[p], n[p], (double)(row * SAMPLES + s) + 0.5, (uint8_t)p, line, n_samples, crossing);
            add_line(r, line, sum, width);
        }
        uint16_t *const out = &r->art->at[row * width * 4];
        for (size_t i = 0; i < 4 * width; i++) out[i] = (uint16_t)(sum[i] * (65535.0f / (SAMPLES * SAMPLES)) + 0.5f);
    }
    sw_free(near);
    sw_free(crossing);
    sw_free(sum);
    sw_free(line);
}

/* ---- the two kinds ---------------------------------------------------------------------------------- */

static sw_status make_art(double width_mm, double height_mm, double px_per_mm, sw_wall_art *out, sw_note *note)
{
    const double most = sqrt(MOST_PX / (width_mm * height_mm)), scale = sw_min(px_per_mm, most);
    sw_wall_art art = { .width_mm = width_mm, .height_mm = height_mm };
    art.width_px = (size_t)sw_clamp(ceil(width_mm * scale), 1.0, SW_MAX_SIDE_PX);
    art.height_px = (size_t)sw_clamp(ceil(height_mm * scale), 1.0, SW_MAX_SIDE_PX);
    art.at = sw_alloc_raw(art.width_px * art.height_px, 4 * sizeof *art.at);
    if (art.at == NULL) return sw_fail_memory(note, "the artwork");
    *out = art;
    return SW_OK;
}

sw_status sw_wall_art_from_job(const sw_wall_job *job, double px_per_mm, sw_wall_art *out, sw_note *note)
{
    sw_wall_art art = { 0 };
    raster *r = NULL;
    sw_status st = make_art(job->width_mm, job->height_mm, px_per_mm, &art, note);
    if (st != SW_OK) goto cleanup;
    r = sw_alloc_array(1, sizeof *r);
    bool is_good = r != NULL;
    if (is_good) {
        r->art = &art;
        r->n_passes = job->n_passes;
        atomic_init(&r->is_broken, false);
    }
    for (size_t p = 0; is_good && p < job->n_passes; p++) {
        const sw_rgb8 c = job->paint[p];
        r->light[p][0] = sw_linear_from_srgb8(c.r);
        r->light[p][1] = sw_linear_from_srgb8(c.g);
        r->light[p][2] = sw_linear_from_srgb8(c.b);
        r->passes[p].samples_per_mm = (double)(art.width_px * SAMPLES) / art.width_mm;
        is_good = collect(&job->openings[p], &r->passes[p]);
    }
    if (is_good) sw_parallel_rows(art.height_px, paint_rows, r);
    st = is_good && !atomic_load(&r->is_broken) ? SW_OK : sw_fail_memory(note, "the artwork");
    if (st == SW_OK && sw_is_interrupted()) st = sw_fail(note, SW_INTERRUPTED, "interrupted");
    if (st != SW_OK) goto cleanup;
    *out = art;
    art = (sw_wall_art){ 0 };
cleanup:
    if (r != NULL) {
        for (size_t p = 0; p < SW_MAX_PASSES; p++) sw_free(r->passes[p].at);
    }
    sw_free(r);
    sw_wall_art_free(&art);
    return st;
}

/* The picture over one colour, averaged to the artwork's size. */
static sw_status read_over(const char *path, sw_rgb8 ground, const sw_wall_art *art, sw_picture *out, sw_note *note)
{
    const sw_picture_opts opts = { .ground = ground, .enough_width_px = art->width_px, .enough_height_px = art->height_px };
    sw_picture full = { 0 };
    SW_TRY(sw_picture_read(path, &opts, &full, note));
    const bool has_alpha = full.has_alpha;
    const sw_status st = sw_picture_resample(&full, art->width_px, art->height_px, out, note);
    if (st == SW_OK) out->has_alpha = has_alpha;
    sw_picture_free(&full);
    return st;
}

sw_status sw_wall_art_from_picture(const char *path, double width_mm, double height_mm, double px_per_mm, sw_wall_art *out,
                                   sw_note *note)
{
    sw_wall_art art = { 0 };
    sw_picture dark = { 0 }, light = { 0 };
    sw_status st = make_art(width_mm, height_mm, px_per_mm, &art, note);
    if (st != SW_OK) goto cleanup;
    st = read_over(path, (sw_rgb8){ 0, 0, 0 }, &art, &dark, note);
    if (st == SW_OK && dark.has_alpha) st = read_over(path, (sw_rgb8){ 255, 255, 255 }, &art, &light, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < art.width_px * art.height_px; i++) {
        /* over black lies colour times cover; what white adds is what does not cover */
        const float rgb[3] = { sw_linear_from_srgb8(dark.at[i].r), sw_linear_from_srgb8(dark.at[i].g), sw_linear_from_srgb8(dark.at[i].b) };
        const float bare = light.at == NULL ? 0.0f : sw_linear_from_srgb8(light.at[i].g) - rgb[1];
        for (size_t c = 0; c < 3; c++) art.at[4 * i + c] = (uint16_t)(rgb[c] * 65535.0f + 0.5f);
        art.at[4 * i + 3] = (uint16_t)((float)sw_clamp((double)(1.0f - bare), 0.0, 1.0) * 65535.0f + 0.5f);
    }
    *out = art;
    art = (sw_wall_art){ 0 };
cleanup:
    sw_picture_free(&dark);
    sw_picture_free(&light);
    sw_wall_art_free(&art);
    return st;
}

/* Every pixel in the paint of its label; the ground stays wall. */
static void fill_labels(const sw_separation *separation, sw_wall_art *art)
{
    uint16_t light[SW_MAX_PASSES + 1][4] = { { 0 } };
    for (size_t p = 1; p <= separation->n_passes; p++) {
        const sw_rgb8 c = separation->colour[p];
        light[p][0] = (uint16_t)(sw_linear_from_srgb8(c.r) * 65535.0f + 0.5f);
        light[p][1] = (uint16_t)(sw_linear_from_srgb8(c.g) * 65535.0f + 0.5f);
        light[p][2] = (uint16_t)(sw_linear_from_srgb8(c.b) * 65535.0f + 0.5f);
        light[p][3] = 65535;
    }
    for (size_t i = 0; i < art->width_px * art->height_px; i++) memcpy(&art->at[4 * i], light[separation->label[i]], sizeof light[0]);
}

sw_status sw_wall_art_sprayed(const char *path, const sw_cut_opts *cut, double px_per_mm, sw_wall_art *out, sw_note *note)
{
    sw_cut_opts used = *cut;
    sw_wall_art art = { 0 };
    sw_picture picture = { 0 };
    sw_separation separation = { 0 };
    sw_cut_complete(&used);
    sw_status st = make_art(used.width_mm, used.height_mm, SPRAY_FINER * px_per_mm, &art, note);
    if (st != SW_OK) goto cleanup;
    const sw_rgb8 ground = sw_job_rgb8(used.ground_rgb);
    st = read_over(path, ground, &art, &picture, note);
    if (st != SW_OK) goto cleanup;
    const sw_grid grid = { art.width_px, art.height_px, (double)art.width_px / used.width_mm };
    const sw_separate_opts opts = { .kind = (sw_separate_kind)used.kind, .n_passes = used.n_passes, .ground = ground,
                                    .min_opening_mm = used.min_opening_mm, .min_web_mm = used.min_web_mm,
                                    .detail_ratio = used.detail_ratio, .has_detail = true };
    st = sw_separate(&picture, &grid, &opts, NULL, &separation, note);
    if (st != SW_OK) goto cleanup;
    fill_labels(&separation, &art);
    *out = art;
    art = (sw_wall_art){ 0 };
cleanup:
    sw_separation_free(&separation);
    sw_picture_free(&picture);
    sw_wall_art_free(&art);
    return st;
}

void sw_wall_art_free(sw_wall_art *art)
{
    sw_free(art->at);
    *art = (sw_wall_art){ 0 };
}
