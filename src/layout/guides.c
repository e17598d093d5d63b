/* Guide slots: dashes along edges of the picture that lie inside one colour of the separation and so get no paint.
 *
 * Lightness is averaged down to one pixel a millimetre, smoothed, and its gradient's ridges are followed (Canny 1986:
 * maxima across the gradient, kept where strong or joined to something strong). Ridges near a boundary between labels
 * are passed over, for a sheet paints them. Along the rest a dash is cut at even distances wherever the sheet has enough
 * material around. */
#include "layout/layout.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#define USUAL_DASH_MM 15.0
#define USUAL_GAP_MM 25.0
#define USUAL_CONTRAST 0.08   /* of OKLab lightness; taste: a cheek against a white wall is about that */
#define WEAK_RATIO 0.5        /* of the strong threshold: Canny's advice is a half to a third */
#define BLUR_PX 2             /* radius of the box, three times: about a Gaussian of 2.4 px */
#define BLUR_SIGMA 2.45
#define LEAST_CHAIN_MM 50.0   /* shorter edges are found without help. Taste. */
#define SMOOTH 4u             /* places of a chain averaged on either side */
#define WIDTH_RATIO 1.2       /* of min-opening: curves are fitted within a tenth on either side */

/* Everything at the reduced resolution: width x height cells of cell_px grid pixels. */
typedef struct plane {
    size_t width, height, cell_px;
    double mm; /* side of a cell */
    float *light, *scratch;
    float *slope;      /* size of the gradient, per mm */
    uint8_t *ridge;    /* 0 none, 1 weak, 2 strong, 3 part of a chain already */
    uint8_t *painted;  /* near a boundary between labels */
} plane;

typedef struct chain {
    sw_pt_mm *at;
    size_t n, cap;
} chain;

/* ---- lightness and its slope ---------------------------------------------------------------------- */

typedef struct rows_job {
    const sw_picture *art;
    const sw_separation *separation;
    plane *p;
    float strong, weak;
    bool is_everywhere;
} rows_job;

/* Mean colour of a block and its lightness. */
static float block_light(const sw_picture *art, size_t x0, size_t y0, size_t cell_px)
{
    const size_t x1 = sw_min_size(x0 + cell_px, art->width_px), y1 = sw_min_size(y0 + cell_px, art->height_px);
    size_t r = 0, g = 0, b = 0;
    const size_t n = (x1 - x0) * (y1 - y0);
    assert(n > 0);
    for (size_t y = y0; y < y1; y++) {
        for (size_t x = x0; x < x1; x++) {
            const sw_rgb8 c = art->at[y * art->width_px + x];
            r += c.r;
            g += c.g;
            b += c.b;
        }
    }
    return sw_oklab_from_rgb8((sw_rgb8){ (uint8_t)(r / n), (uint8_t)(g / n), (uint8_t)(b / n) }).L;
}

static void reduce_rows(size_t begin, size_t end, void *ctx)
{
    const rows_job *const job = ctx;
    const plane *const p = job->p;
    for (size_t y = begin; y < end; y++) {
        for (size_t x = 0; x < p->width; x++)
            p->light[y * p->width + x] = block_light(job->art, x * p->cell_px, y * p->cell_px, p->cell_px);
    }
}

static float at(const plane *p, const float *values, long x, long y)
{
    const long w = (long)p->width - 1, h = (long)p->height - 1;
    return values[(size_t)(y < 0 ? 0 : y > h ? h : y) * p->width + (size_t)(x < 0 ? 0 : x > w ? w : x)];
}

/* Mean over 2 BLUR_PX + 1 cells across, from light to scratch; the ends are repeated. */
static void blur_across(size_t begin, size_t end, void *ctx)
{
    const plane *const p = ((const rows_job *)ctx)->p;
    for (long y = (long)begin; y < (long)end; y++) {
        for (long x = 0; x < (long)p->width; x++) {
            float sum = 0.0f;
            for (long k = -BLUR_PX; k <= BLUR_PX; k++) sum += at(p, p->light, x + k, y);
            p->scratch[(size_t)y * p->width + (size_t)x] = sum / (float)(2 * BLUR_PX + 1);
        }
    }
}

/* The same down, from scratch to light. */
static void blur_down(size_t begin, size_t end, void *ctx)
{
    const plane *const p = ((const rows_job *)ctx)->p;
    for (long y = (long)begin; y < (long)end; y++) {
        for (long x = 0; x < (long)p->width; x++) {
            float sum = 0.0f;
            for (long k = -BLUR_PX; k <= BLUR_PX; k++) sum += at(p, p->scratch, x, y + k);
            p->light[(size_t)y * p->width + (size_t)x] = sum / (float)(2 * BLUR_PX + 1);
        }
    }
}

static void gradient(const plane *p, long x, long y, float *gx, float *gy)
{
    *gx = (at(p, p->light, x + 1, y) - at(p, p->light, x - 1, y)) * 0.5f;
    *gy = (at(p, p->light, x, y + 1) - at(p, p->light, x, y - 1)) * 0.5f;
}

static void slope_rows(size_t begin, size_t end, void *ctx)
{
    const plane *const p = ((const rows_job *)ctx)->p;
    for (long y = (long)begin; y < (long)end; y++) {
        for (long x = 0; x < (long)p->width; x++) {
            float gx, gy;
            gradient(p, x, y, &gx, &gy);
            p->slope[(size_t)y * p->width + (size_t)x] = sqrtf(gx * gx + gy * gy);
        }
    }
}

/* Is the cell's paint, or bare wall, one that guides are wanted in? */
static bool is_wanted(const rows_job *job, size_t x, size_t y)
{
    const sw_separation *const s = job->separation;
    if (job->is_everywhere) return true;
    return s->label[y * job->p->cell_px * s->grid.width_px + x * job->p->cell_px] == 0;
}

/* Ridges of the slope: not less than both neighbours across; a tie goes to one side only, so ridges are one wide. */
static void ridge_rows(size_t begin, size_t end, void *ctx)
{
    const rows_job *const job = ctx;
    const plane *const p = job->p;
    for (long y = (long)begin; y < (long)end; y++) {
        for (long x = 0; x < (long)p->width; x++) {
            const size_t i = (size_t)y * p->width + (size_t)x;
            const float here = p->slope[i];
            float gx, gy;
            if (here < job->weak || p->painted[i] || !is_wanted(job, (size_t)x, (size_t)y)) continue;
            gradient(p, x, y, &gx, &gy);
            /* the nearest of eight directions: 0.4142 is the tangent of 22.5 degrees */
            const long dx = fabsf(gx) > 0.4142f * fabsf(gy) ? (gx > 0.0f ? 1 : -1) : 0;
            const long dy = fabsf(gy) > 0.4142f * fabsf(gx) ? (gy > 0.0f ? 1 : -1) : 0;
            if (here <= at(p, p->slope, x + dx, y + dy) || here < at(p, p->slope, x - dx, y - dy)) continue;
            p->ridge[i] = here >= job->strong ? 2 : 1;
        }
    }
}

/* ---- what a sheet paints --------------------------------------------------------------------------- */

static bool has_boundary(const sw_separation *s, size_t x0, size_t y0, size_t x1, size_t y1)
{
    const size_t w = s->grid.width_px;
    const uint8_t first = s->label[y0 * w + x0];
    for (size_t y = y0; y < y1; y++) {
        for (size_t x = x0; x < x1; x++) {
            if (s->label[y * w + x] != first) return true;
        }
    }
    return false;
}

/* Marks cells whose block (one pixel beyond, so that a boundary between cells counts) has two labels. */
static void boundary_rows(size_t begin, size_t end, void *ctx)
{
    const plane *const p = ((const rows_job *)ctx)->p;
    const sw_separation *const s = ((const rows_job *)ctx)->separation;
    for (size_t y = begin; y < end; y++) {
        for (size_t x = 0; x < p->width; x++) {
            const size_t x1 = sw_min_size((x + 1) * p->cell_px + 1, s->grid.width_px);
            const size_t y1 = sw_min_size((y + 1) * p->cell_px + 1, s->grid.height_px);
            p->painted[y * p->width + x] = has_boundary(s, x * p->cell_px, y * p->cell_px, x1, y1);
        }
    }
}

/* Spreads marks along lines: 1 wherever a mark is at most reach cells away. */
static void spread_line(uint8_t *line, size_t n, size_t stride, size_t reach)
{
    size_t since = reach + 1;
    for (size_t i = 0; i < n; i++) { /* forwards: 2 for what was not a mark itself */
        uint8_t *const v = &line[i * stride];
        if (*v == 1) since = 0;
        else if (++since <= reach) *v = 2;
    }
    since = reach + 1;
    for (size_t i = n; i-- > 0;) {
        uint8_t *const v = &line[i * stride];
        if (*v == 1) since = 0;
        else if (++since <= reach) *v = 2;
    }
    for (size_t i = 0; i < n; i++) line[i * stride] = line[i * stride] != 0;
}

static void spread(plane *p, size_t reach)
{
    for (size_t y = 0; y < p->height; y++) spread_line(p->painted + y * p->width, p->width, 1, reach);
    for (size_t x = 0; x < p->width; x++) spread_line(p->painted + x, p->height, p->width, reach);
}

/* From the picture to ridges, a step of rows after the other. */
static void find_ridges(plane *p, const sw_picture *art, const sw_separation *separation, const sw_guide_opts *opts)
{
    const double contrast = opts->least_contrast_ratio > 0.0 ? opts->least_contrast_ratio : USUAL_CONTRAST;
    /* a step smoothed by a Gaussian is steepest by step / (sigma sqrt(2 pi)) */
    const float strong = (float)(contrast / (BLUR_SIGMA * 2.5066));
    rows_job job = { art, separation, p, strong, strong * (float)WEAK_RATIO, opts->is_everywhere };
    sw_parallel_rows(p->height, reduce_rows, &job);
    for (int pass = 0; pass < 3; pass++) {
        sw_parallel_rows(p->height, blur_across, &job);
        sw_parallel_rows(p->height, blur_down, &job);
    }
    sw_parallel_rows(p->height, slope_rows, &job);
    sw_parallel_rows(p->height, boundary_rows, &job);
    spread(p, (size_t)ceil((opts->min_opening_mm + opts->min_web_mm) / p->mm) + BLUR_PX);
    sw_parallel_rows(p->height, ridge_rows, &job);
}

/* ---- chains and dashes ------------------------------------------------------------------------------ */

static bool add_place(chain *c, const plane *p, size_t i)
{
    void *data = c->at;
    if (!sw_grow(&data, &c->cap, c->n + 1, sizeof *c->at)) return false;
    c->at = data;
    c->at[c->n++] = (sw_pt_mm){ ((double)(i % p->width) + 0.5) * p->mm, ((double)(i / p->width) + 0.5) * p->mm };
    return true;
}

/* The next ridge cell beside i, sides before corners; SIZE_MAX at the end of the ridge. */
static size_t next_cell(const plane *p, size_t i)
{
    static const int step[8][2] = { { 1, 0 }, { 0, 1 }, { -1, 0 }, { 0, -1 }, { 1, 1 }, { -1, 1 }, { -1, -1 }, { 1, -1 } };
    const long x = (long)(i % p->width), y = (long)(i / p->width);
    for (int k = 0; k < 8; k++) {
        const long nx = x + step[k][0], ny = y + step[k][1];
        if (nx < 0 || ny < 0 || nx >= (long)p->width || ny >= (long)p->height) continue;
        const size_t n = (size_t)ny * p->width + (size_t)nx;
        if (p->ridge[n] == 1 || p->ridge[n] == 2) return n;
    }
    return SIZE_MAX;
}

/* Follows the ridge from a strong cell both ways. False when memory is out. */
static bool follow(plane *p, size_t first, chain *c)
{
    c->n = 0;
    for (int way = 0; way < 2; way++) {
        size_t i = first;
        if (way == 0) p->ridge[i] = 3;
        while ((i = next_cell(p, i)) != SIZE_MAX) {
            if (!add_place(c, p, i)) return false;
            p->ridge[i] = 3;
        }
        if (way == 1) break;
        for (size_t a = 0, b = c->n; a + 1 < b; a++, b--) { /* turn it, so that the second way goes on from here */
            const sw_pt_mm held = c->at[a];
            c->at[a] = c->at[b - 1];
            c->at[b - 1] = held;
        }
        if (!add_place(c, p, first)) return false;
    }
    return true;
}

/* Mean of up to SMOOTH places either way, fewer at the ends: takes the stairs of the cells out of a chain. */
static void smooth(chain *c)
{
    sw_pt_mm before[SMOOTH]; /* as they were; what follows is still as it was */
    for (size_t i = 0; i < c->n; i++) {
        const size_t reach = sw_min_size(SMOOTH, sw_min_size(i, c->n - 1 - i));
        sw_pt_mm sum = c->at[i];
        for (size_t k = 1; k <= reach; k++) {
            sum.x_mm += before[(i - k) % SMOOTH].x_mm + c->at[i + k].x_mm;
            sum.y_mm += before[(i - k) % SMOOTH].y_mm + c->at[i + k].y_mm;
        }
        before[i % SMOOTH] = c->at[i];
        c->at[i] = (sw_pt_mm){ sum.x_mm / (double)(2 * reach + 1), sum.y_mm / (double)(2 * reach + 1) };
    }
}

/* Distance of (x, y) from the line a b. */
static double away(sw_pt_mm a, sw_pt_mm b, double x, double y)
{
    const double ux = b.x_mm - a.x_mm, uy = b.y_mm - a.y_mm, size = ux * ux + uy * uy;
    const double t = size > 0.0 ? sw_clamp(((x - a.x_mm) * ux + (y - a.y_mm) * uy) / size, 0.0, 1.0) : 0.0;
    return sw_hypot(x - a.x_mm - t * ux, y - a.y_mm - t * uy);
}

typedef struct cutting {
    const sw_grid *grid;
    const sw_guide_opts *opts;
    sw_mask *mask;
    size_t n_dashes;
} cutting;

/* No seam within reach of the dash; the artwork's own edges are none. */
static bool keeps_off_seams(const cutting *c, sw_pt_mm a, sw_pt_mm b, double reach_mm)
{
    const sw_windows *const windows = c->opts->windows;
    for (size_t i = 0; windows != NULL && i < windows->n; i++) {
        const sw_rect_px *const r = &windows->at[i];
        const double x0 = sw_mm_from_px(c->grid, (double)r->x), x1 = sw_mm_from_px(c->grid, (double)(r->x + r->width));
        const double y0 = sw_mm_from_px(c->grid, (double)r->y), y1 = sw_mm_from_px(c->grid, (double)(r->y + r->height));
        const double lo_x = sw_min(a.x_mm, b.x_mm) - reach_mm, hi_x = sw_max(a.x_mm, b.x_mm) + reach_mm;
        const double lo_y = sw_min(a.y_mm, b.y_mm) - reach_mm, hi_y = sw_max(a.y_mm, b.y_mm) + reach_mm;
        const bool crosses_x = (x0 > 0.0 && lo_x < x0 && hi_x > x0) ||
                               (r->x + r->width < c->grid->width_px && lo_x < x1 && hi_x > x1);
        const bool crosses_y = (y0 > 0.0 && lo_y < y0 && hi_y > y0) ||
                               (r->y + r->height < c->grid->height_px && lo_y < y1 && hi_y > y1);
        if (crosses_x || crosses_y) return false;
    }
    return true;
}

/* Walks the pixels within reach of the dash; value 1 cuts them, 0 asks whether all are material. */
static bool each_pixel(const cutting *c, sw_pt_mm a, sw_pt_mm b, double reach_mm, bool is_cutting)
{
    const double s = c->grid->px_per_mm;
    const double lo_x = (sw_min(a.x_mm, b.x_mm) - reach_mm) * s, hi_x = (sw_max(a.x_mm, b.x_mm) + reach_mm) * s;
    const double lo_y = (sw_min(a.y_mm, b.y_mm) - reach_mm) * s, hi_y = (sw_max(a.y_mm, b.y_mm) + reach_mm) * s;
    const size_t x0 = (size_t)sw_max(lo_x, 0.0), x1 = sw_min_size((size_t)sw_max(hi_x + 1.0, 0.0), c->mask->width_px);
    const size_t y0 = (size_t)sw_max(lo_y, 0.0), y1 = sw_min_size((size_t)sw_max(hi_y + 1.0, 0.0), c->mask->height_px);
    for (size_t y = y0; y < y1; y++) {
        for (size_t x = x0; x < x1; x++) {
            if (away(a, b, ((double)x + 0.5) / s, ((double)y + 0.5) / s) > reach_mm) continue;
            uint8_t *const v = &c->mask->at[y * c->mask->width_px + x];
            if (is_cutting) *v = 1;
            else if (*v != 0) return false;
        }
    }
    return true;
}

static bool lies_inside(const cutting *c, sw_pt_mm p, double reach_mm)
{
    return p.x_mm >= reach_mm && p.y_mm >= reach_mm &&
           p.x_mm <= sw_mm_from_px(c->grid, (double)c->grid->width_px) - reach_mm &&
           p.y_mm <= sw_mm_from_px(c->grid, (double)c->grid->height_px) - reach_mm;
}

static void cut_dash(cutting *c, sw_pt_mm a, sw_pt_mm b)
{
    const double half_mm = 0.5 * WIDTH_RATIO * c->opts->min_opening_mm, reach_mm = half_mm + WIDTH_RATIO * c->opts->min_web_mm;
    if (!lies_inside(c, a, half_mm) || !lies_inside(c, b, half_mm)) return;
    if (!keeps_off_seams(c, a, b, reach_mm) || !each_pixel(c, a, b, reach_mm, false)) return;
    each_pixel(c, a, b, half_mm, true);
    c->n_dashes++;
}

/* Dashes along a chain: half a gap, a dash, a gap, ... */
static void cut_along(cutting *c, const chain *way)
{
    const double dash_mm = c->opts->dash_mm > 0.0 ? c->opts->dash_mm : USUAL_DASH_MM;
    const double gap_mm = c->opts->gap_mm > 0.0 ? c->opts->gap_mm : USUAL_GAP_MM;
    double length = 0.0, passed = 0.0, next = gap_mm * 0.5;
    sw_pt_mm begin = { 0 };
    bool is_down = false;
    for (size_t i = 1; i < way->n; i++) length += sw_hypot(way->at[i].x_mm - way->at[i - 1].x_mm, way->at[i].y_mm - way->at[i - 1].y_mm);
    if (length < LEAST_CHAIN_MM) return;
    for (size_t i = 1; i < way->n; i++) {
        passed += sw_hypot(way->at[i].x_mm - way->at[i - 1].x_mm, way->at[i].y_mm - way->at[i - 1].y_mm);
        if (passed < next) continue;
        if (is_down) cut_dash(c, begin, way->at[i]);
        begin = way->at[i];
        next += is_down ? gap_mm : dash_mm;
        is_down = !is_down;
    }
}

/* ---- all together ----------------------------------------------------------------------------------- */

static bool make_plane(const sw_grid *grid, plane *p)
{
    p->cell_px = sw_max_size(1, (size_t)nearbyint(grid->px_per_mm));
    p->mm = (double)p->cell_px / grid->px_per_mm;
    p->width = (grid->width_px + p->cell_px - 1) / p->cell_px;
    p->height = (grid->height_px + p->cell_px - 1) / p->cell_px;
    const size_t n = p->width * p->height;
    p->light = sw_alloc_array(n, sizeof *p->light);
    p->scratch = sw_alloc_array(n, sizeof *p->scratch);
    p->slope = sw_alloc_array(n, sizeof *p->slope);
    p->ridge = sw_alloc_array(n, 1);
    p->painted = sw_alloc_array(n, 1);
    return p->light != NULL && p->scratch != NULL && p->slope != NULL && p->ridge != NULL && p->painted != NULL;
}

static void free_plane(plane *p)
{
    sw_free(p->light);
    sw_free(p->scratch);
    sw_free(p->slope);
    sw_free(p->ridge);
    sw_free(p->painted);
}

static sw_status check_guides(const sw_picture *art, const sw_separation *separation, const sw_guide_opts *opts,
                              const sw_mask *mask, sw_note *note)
{
    const sw_grid *const g = &separation->grid;
    if (!sw_length_ok(opts->min_opening_mm, false) || !sw_length_ok(opts->min_web_mm, false) ||
        !sw_length_ok(opts->dash_mm, true) || !sw_length_ok(opts->gap_mm, true) ||
        !(opts->least_contrast_ratio >= 0.0 && opts->least_contrast_ratio <= 1.0))
        return sw_fail(note, SW_BAD_LENGTH, "guides need min-opening, min-web, dash and gap as lengths, contrast as 0 to 1");
    if (art->width_px != g->width_px || art->height_px != g->height_px || mask->width_px != g->width_px ||
        mask->height_px != g->height_px)
        return sw_fail(note, SW_BAD_LENGTH, "guides need picture, labels and sheet of the same size");
    return SW_OK;
}

sw_status sw_guides_add(const sw_picture *art, const sw_separation *separation, const sw_guide_opts *opts, sw_mask *mask,
                        size_t *n_dashes, sw_note *note)
{
    plane p = { 0 };
    chain way = { 0 };
    sw_mask cut = { 0 };
    bool is_fine = true;
    cutting c = { .grid = &separation->grid, .opts = opts, .mask = &cut };
    sw_status st = check_guides(art, separation, opts, mask, note);
    if (st == SW_OK) st = sw_mask_copy(mask, &cut, note);
    if (st == SW_OK && !make_plane(c.grid, &p)) st = sw_fail_memory(note, "the guides");
    if (st != SW_OK) goto cleanup;
    find_ridges(&p, art, separation, opts);
    for (size_t i = 0; is_fine && i < p.width * p.height; i++) {
        if (p.ridge[i] != 2) continue;
        is_fine = follow(&p, i, &way);
        if (!is_fine) break;
        smooth(&way);
        cut_along(&c, &way);
    }
    if (!is_fine) {
        st = sw_fail_memory(note, "the guides");
        goto cleanup;
    }
    memcpy(mask->at, cut.at, cut.width_px * cut.height_px);
    if (n_dashes != NULL) *n_dashes = c.n_dashes;
cleanup:
    free_plane(&p);
    sw_free(way.at);
    sw_mask_free(&cut);
    return st;
}
