/*
 * Local thickness, corner to stroke.
 *
 * The largest disc that covers a pixel is found by painting: centres sorted by radius, small ones first, each writes its
 * index over its disc. Only ridge pixels need to paint: one whose disc lies inside that of a neighbour up the slope
 * adds nothing. A row of a disc is one run of equal numbers, so painting costs about one run a pixel of the set.
 *
 * Corners: the ridge runs into a corner of angle a with its radius falling by sin(a / 2) a pixel. A pixel covered by a
 * ridge pixel m looks at the largest disc q that covers m: if the radius grows towards q by at least a third of the way
 * (a of 39 degrees and more: the same corners that sheet.h calls none), m is on its way into a corner and has the
 * thickness that q has. A line that runs into something thick does not grow like that, and stays as thin as it is.
 */
#include "check/parts.h"

#include <math.h>
#include <string.h>

#define CAP_SQ (SW_GRANULE_CAP_PX * SW_GRANULE_CAP_PX)
#define CORNER_RATE (1.0 / 3.0)
#define BEYOND_RATIO 0.6 /* of the cap: beside what is capped the rate on the way there cannot be told from here on */
#define BESIDE_PX 10     /* there the slope beside the pixel stands for it */
#define MOST_STEP 4      /* px up the slope */
#define SLACK_PX 0.15f /* a disc that reaches this little beyond its neighbour's is taken as inside it */

typedef struct room {
    const sw_mask *set;
    const sw_edge_field *edge;
    bool is_closed;
    uint32_t *distance_sq; /* capped at CAP_SQ */
    float *radius;         /* its root */
    uint32_t *centre;      /* of the largest disc that covers a pixel */
    uint16_t *found;       /* thickness at a centre; 0: not known yet */
    uint32_t *ridge;       /* centres by radius */
    size_t n_ridge, cap_ridge;
    float level[256];      /* of a byte of the picture */
    float step_px[MOST_STEP + 1][MOST_STEP + 1]; /* length of a step of so many rows and columns */
    uint8_t root[CAP_SQ + 1]; /* largest whole number whose square is at most the index */
} room;

static double radius_at(const room *r, size_t at) { return (double)r->radius[at]; }

static bool is_in(const room *r, int64_t x, int64_t y)
{
    if (x < 0 || y < 0 || x >= (int64_t)r->set->width_px || y >= (int64_t)r->set->height_px) return !r->is_closed;
    return r->set->at[(size_t)y * r->set->width_px + (size_t)x] != 0;
}

static int nearest_int(float v) { return (int)(v < 0.0f ? v - 0.5f : v + 0.5f); }

/* ---- ridge --------------------------------------------------------------------------------------------- */

/* Does the disc of a pixel up the slope hold this pixel's disc? */
static bool is_slope(const room *r, size_t x, size_t y)
{
    const size_t w = r->set->width_px, h = r->set->height_px;
    const float *const at = r->radius + y * w + x;
    const float gx = at[x + 1 < w] - *(at - (x > 0)), gy = at[y + 1 < h ? w : 0] - *(at - (y > 0 ? w : 0));
    const float g_sq = gx * gx + gy * gy;
    if (!(g_sq > 0.0f)) return false;
    const float per_step = 1.0f / sqrtf(g_sq);
    const bool is_inner = x >= MOST_STEP && y >= MOST_STEP && x + MOST_STEP < w && y + MOST_STEP < h;
    for (int step = MOST_STEP; step >= 1; step /= 2) { /* the longest step finds most: its direction is the finest */
        const int dx = nearest_int(gx * per_step * (float)step), dy = nearest_int(gy * per_step * (float)step);
        if (!is_inner) {
            const int64_t to_x = (int64_t)x + dx, to_y = (int64_t)y + dy;
            if (to_x < 0 || to_y < 0 || to_x >= (int64_t)w || to_y >= (int64_t)h) continue;
        }
        if (at[dy * (int64_t)w + dx] >= at[0] + r->step_px[dy < 0 ? -dy : dy][dx < 0 ? -dx : dx] - SLACK_PX) return true;
    }
    return false;
}

/* As thick as can be told, and beside something thinner: its disc is the rim of all such. */
static bool is_rim(const room *r, size_t x, size_t y)
{
    const size_t w = r->set->width_px, h = r->set->height_px, at = y * w + x;
    return (x > 0 && r->distance_sq[at - 1] < CAP_SQ) || (x + 1 < w && r->distance_sq[at + 1] < CAP_SQ) ||
           (y > 0 && r->distance_sq[at - w] < CAP_SQ) || (y + 1 < h && r->distance_sq[at + w] < CAP_SQ);
}

static bool is_ridge(const room *r, size_t x, size_t y)
{
    const uint32_t d2 = r->distance_sq[y * r->set->width_px + x];
    if (d2 == 0) return false;
    return d2 >= CAP_SQ ? is_rim(r, x, y) : !is_slope(r, x, y);
}

/* Ridge pixels sorted by radius, then place: counted first, then put in. found notes which they are until all are painted. */
static sw_status collect_ridge(room *r, sw_note *note)
{
    const size_t w = r->set->width_px, h = r->set->height_px;
    size_t *const place = sw_alloc_array(CAP_SQ + 2, sizeof *place);
    if (place == NULL) return sw_fail_memory(note, "the thickness of strokes");
    for (size_t y = 0; y < h; y++) {
        for (size_t x = 0; x < w; x++) {
            const size_t at = y * w + x;
            r->found[at] = is_ridge(r, x, y);
            if (r->found[at] != 0) place[r->distance_sq[at] + 1]++;
        }
    }
    for (size_t i = 1; i < CAP_SQ + 2; i++) place[i] += place[i - 1];
    r->n_ridge = place[CAP_SQ + 1];
    r->ridge = sw_alloc_raw(r->n_ridge + 1, sizeof *r->ridge);
    for (size_t at = 0; r->ridge != NULL && at < w * h; at++) {
        if (r->found[at] != 0) r->ridge[place[r->distance_sq[at]]++] = (uint32_t)at;
    }
    sw_free(place);
    return r->ridge == NULL ? sw_fail_memory(note, "the thickness of strokes") : SW_OK;
}

/* ---- painting ------------------------------------------------------------------------------------------ */

enum { BLOCK = 16 };

/* n equal numbers, from a block of them: copies of known size become wide stores; the last one overlaps. */
static void fill(uint32_t *out, size_t n, const uint32_t block[BLOCK])
{
    if (n >= BLOCK) {
        for (size_t i = 0; i + BLOCK <= n; i += BLOCK) memcpy(out + i, block, BLOCK * sizeof *out);
        memcpy(out + n - BLOCK, block, BLOCK * sizeof *out);
    } else if (n >= 4) {
        for (size_t i = 0; i + 4 <= n; i += 4) memcpy(out + i, block, 4 * sizeof *out);
        memcpy(out + n - 4, block, 4 * sizeof *out);
    } else {
        for (size_t i = 0; i < n; i++) out[i] = block[0];
    }
}

/* A neighbour on the ridge whose disc is painted later, over most of this one; false if there is none. */
static bool find_later(const room *r, uint32_t centre, int64_t *dx, int64_t *dy)
{
    static const int around[8][2] = { { 1, 0 }, { -1, 0 }, { 0, 1 }, { 0, -1 }, { 1, 1 }, { -1, 1 }, { 1, -1 }, { -1, -1 } };
    const int64_t w = (int64_t)r->set->width_px, h = (int64_t)r->set->height_px, x = centre % w, y = centre / w;
    for (size_t i = 0; i < SW_ARRAY_LEN(around); i++) {
        const int64_t to_x = x + around[i][0], to_y = y + around[i][1], to = to_y * w + to_x;
        if (to_x < 0 || to_y < 0 || to_x >= w || to_y >= h || r->found[to] == 0) continue;
        const uint32_t there = r->distance_sq[to], here = r->distance_sq[centre];
        if (there < here || (there == here && to < (int64_t)centre)) continue;
        *dx = around[i][0];
        *dy = around[i][1];
        return true;
    }
    return false;
}

/* Write a disc, but for what the disc of a later neighbour writes over anyway: along a stroke that is all but its rim. */
static void paint(room *r, uint32_t centre)
{
    const int64_t w = (int64_t)r->set->width_px, h = (int64_t)r->set->height_px;
    const int64_t x = centre % w, y = centre / w;
    const uint32_t d2 = r->distance_sq[centre];
    const int64_t reach = r->root[d2 - 1];
    uint32_t block[BLOCK];
    int64_t dx = 0, dy = 0;
    const bool has_later = find_later(r, centre, &dx, &dy);
    const uint32_t later_d2 = has_later ? r->distance_sq[centre + dy * w + dx] : 0;
    for (size_t i = 0; i < BLOCK; i++) block[i] = centre;
    const int64_t y_end = y + reach < h ? y + reach : h - 1;
    for (int64_t row = y > reach ? y - reach : 0; row <= y_end; row++) {
        const int64_t half = r->root[d2 - 1 - (uint32_t)((row - y) * (row - y))];
        const int64_t begin = x > half ? x - half : 0, end = x + half < w ? x + half + 1 : w;
        uint32_t *const out = r->centre + row * w;
        const uint32_t away_sq = (uint32_t)((row - y - dy) * (row - y - dy));
        if (!has_later || away_sq >= later_d2) {
            fill(out + begin, (size_t)(end - begin), block);
            continue;
        }
        const int64_t later = r->root[later_d2 - 1 - away_sq];
        for (int64_t i = begin; i < end && i < x + dx - later; i++) out[i] = centre;
        for (int64_t i = end; i-- > begin && i > x + dx + later;) out[i] = centre;
    }
}

static void paint_all(room *r)
{
    const size_t n_px = r->set->width_px * r->set->height_px;
    for (size_t i = 0; i < n_px; i++) r->centre[i] = (uint32_t)i;
    for (size_t i = 0; i < r->n_ridge; i++) paint(r, r->ridge[i]);
    for (size_t i = 0; i < r->n_ridge; i++) r->found[r->ridge[i]] = 0;
    for (size_t i = 0; i < n_px; i++) {
        if (r->distance_sq[i] >= CAP_SQ) r->centre[i] = (uint32_t)i;
    }
}

/* ---- across -------------------------------------------------------------------------------------------- */

/* How much of the place (x, y) is inside: 1 in the inner colour, 0 in the outer one; between pixels in between. */
typedef struct cover {
    const room *r;
    double from[3], to[3], length_sq;
} cover;

static double cover_of(const cover *c, size_t x, size_t y)
{
    const sw_rgb8 colour = c->r->edge->art->at[y * c->r->edge->art->width_px + x];
    const float *const level = c->r->level;
    const double along = (level[colour.r] - c->from[0]) * c->to[0] + (level[colour.g] - c->from[1]) * c->to[1] +
                         (level[colour.b] - c->from[2]) * c->to[2];
    return sw_clamp(along / c->length_sq, 0.0, 1.0);
}

static double cover_at(const cover *c, double x, double y)
{
    const size_t w = c->r->edge->art->width_px, h = c->r->edge->art->height_px;
    const double art_per_px = (double)w / (double)c->r->set->width_px;
    x = (x + 0.5) * art_per_px - 0.5;
    y = (y + 0.5) * art_per_px - 0.5;
    x = sw_clamp(x, 0.0, (double)w - 1.0);
    y = sw_clamp(y, 0.0, (double)h - 1.0);
    const size_t x0 = (size_t)x, y0 = (size_t)y, x1 = x0 + (x0 + 1 < w), y1 = y0 + (y0 + 1 < h);
    const double fx = x - (double)x0, fy = y - (double)y0;
    const double top = (1.0 - fx) * cover_of(c, x0, y0) + fx * cover_of(c, x1, y0);
    return (1.0 - fy) * top + fy * ((1.0 - fx) * cover_of(c, x0, y1) + fx * cover_of(c, x1, y1));
}

static cover cover_make(const room *r, sw_rgb8 in, sw_rgb8 out)
{
    cover c = { .r = r, .from = { r->level[out.r], r->level[out.g], r->level[out.b] } };
    const uint8_t to[3] = { in.r, in.g, in.b };
    for (size_t i = 0; i < 3; i++) {
        c.to[i] = r->level[to[i]] - c.from[i];
        c.length_sq += c.to[i] * c.to[i];
    }
    return c;
}

static size_t label_at(const room *r, double x, double y)
{
    const size_t px = (size_t)sw_clamp(x + 0.5, 0.0, (double)r->set->width_px - 1.0);
    const size_t py = (size_t)sw_clamp(y + 0.5, 0.0, (double)r->set->height_px - 1.0);
    return r->edge->label[py * r->set->width_px + px];
}

/* From pixel (x, y) along the unit step (ux, uy) to the edge. The edge is where the pixels around it, taken as covered
 * as their colours say, add up to; that holds however soft the edge is. */
static double to_edge(const room *r, double x, double y, double ux, double uy, double about)
{
    double i = sw_max(1.0, floor(about) - 2.0);
    while (i < about + 2.5 && is_in(r, (int64_t)floor(x + ux * i + 0.5), (int64_t)floor(y + uy * i + 0.5))) i += 1.0;
    const double past_x = x + ux * i, past_y = y + uy * i;
    if (r->edge == NULL || !(past_x >= 0.0 && past_y >= 0.0 && past_x <= (double)r->set->width_px - 1.0 &&
                             past_y <= (double)r->set->height_px - 1.0))
        return i - 0.5;
    const bool is_out_next = !is_in(r, (int64_t)floor(past_x + ux + 0.5), (int64_t)floor(past_y + uy + 0.5));
    const double far = is_out_next ? i + 1.0 : i;
    const cover c = cover_make(r, r->edge->colour[label_at(r, x, y)], r->edge->colour[label_at(r, x + ux * far, y + uy * far)]);
    if (!(c.length_sq > 0.0)) return i - 0.5;
    const double from = sw_max(1.0, i - 2.0);
    double sum = from - 0.5;
    for (double k = from; k <= far; k += 1.0) sum += cover_at(&c, x + ux * k, y + uy * k);
    return sum;
}

/* An offset of this squared length that leads out of the set. */
static bool way_out(const room *r, int64_t x, int64_t y, uint32_t d2, double *dx, double *dy)
{
    for (int64_t a = 0; (uint32_t)(a * a) <= d2; a++) {
        const int64_t b = r->root[d2 - (uint32_t)(a * a)];
        if ((uint32_t)(a * a + b * b) != d2) continue;
        for (int sign = 0; sign < 4; sign++) {
            const int64_t sx = (sign & 1) != 0 ? a : -a, sy = (sign & 2) != 0 ? b : -b;
            if (is_in(r, x + sx, y + sy)) continue;
            *dx = (double)sx;
            *dy = (double)sy;
            return true;
        }
    }
    return false;
}

/* On the edge of the raster: an open set goes on beyond, as far as one likes. */
static bool is_border(const room *r, size_t at)
{
    const size_t w = r->set->width_px, x = at % w, y = at / w;
    return x == 0 || y == 0 || x + 1 == w || y + 1 == r->set->height_px;
}

/* Width of the stroke at a centre, in steps. */
static uint16_t width_at(const room *r, size_t at)
{
    const uint32_t d2 = r->distance_sq[at];
    if (d2 >= CAP_SQ || (!r->is_closed && is_border(r, at))) return SW_GRANULE_MOST;
    const double d = sqrt((double)d2);
    double width = 2.0 * d - 0.5, dx, dy; /* labels split a soft edge where the eye does: up to 0.4 px inside the dark part */
    const int64_t x = (int64_t)(at % r->set->width_px), y = (int64_t)(at / r->set->width_px);
    if (way_out(r, x, y, d2, &dx, &dy)) {
        const double there = to_edge(r, (double)x, (double)y, dx / d, dy / d, d);
        const double back = to_edge(r, (double)x, (double)y, -dx / d, -dy / d, d);
        width = sw_clamp(there + back, 2.0 * d - 1.7, 2.0 * d + 1.6);
    }
    return (uint16_t)sw_clamp(nearbyint(width * SW_GRANULE_STEP), 1.0, SW_GRANULE_MOST - 1.0);
}

static double radius_near(const room *r, size_t at, int64_t dx, int64_t dy)
{
    const int64_t w = (int64_t)r->set->width_px, h = (int64_t)r->set->height_px;
    const int64_t x = (int64_t)at % w + dx, y = (int64_t)at / w + dy;
    return x >= 0 && y >= 0 && x < w && y < h ? radius_at(r, (size_t)(y * w + x)) : 0.0;
}

/* How fast the radius grows along the ridge: up the steepest way, or where that meets the cap, from below. */
static double slope_at(const room *r, size_t at)
{
    static const int8_t ways[16][2] = { { 10, 0 }, { 9, 4 }, { 7, 7 }, { 4, 9 }, { 0, 10 }, { -4, 9 }, { -7, 7 }, { -9, 4 }, { -10, 0 },
                                        { -9, -4 }, { -7, -7 }, { -4, -9 }, { 0, -10 }, { 4, -9 }, { 7, -7 }, { 9, -4 } };
    double most = 0.0, sum_x = 0.0, sum_y = 0.0;
    for (size_t i = 0; i < SW_ARRAY_LEN(ways); i++) { /* BESIDE_PX away */
        const double radius = radius_near(r, at, ways[i][0], ways[i][1]);
        if (radius < most) continue;
        if (radius > most) sum_x = sum_y = 0.0;
        most = radius;
        sum_x += ways[i][0];
        sum_y += ways[i][1];
    }
    const double length = hypot(sum_x, sum_y);
    const double up = (most - radius_at(r, at)) / BESIDE_PX;
    if (most < SW_GRANULE_CAP_PX || !(length > 0.0)) return up;
    const int64_t back_x = (int64_t)nearbyint(-BESIDE_PX * sum_x / length), back_y = (int64_t)nearbyint(-BESIDE_PX * sum_y / length);
    return sw_max(up, (radius_at(r, at) - radius_near(r, at, back_x, back_y)) / BESIDE_PX);
}

/* Thickness that a centre stands for. Larger ones are known already. */
static uint16_t thickness_at(const room *r, size_t at)
{
    const size_t up = r->centre[at], w = r->set->width_px;
    if (up != at && r->found[up] != 0) {
        const double dx = (double)(up % w) - (double)(at % w), dy = (double)(up / w) - (double)(at / w);
        if (r->distance_sq[up] >= CAP_SQ && radius_at(r, at) >= BEYOND_RATIO * SW_GRANULE_CAP_PX)
            return slope_at(r, at) >= CORNER_RATE ? r->found[up] : width_at(r, at);
        if (radius_at(r, up) - radius_at(r, at) >= CORNER_RATE * hypot(dx, dy)) return r->found[up];
    }
    return width_at(r, at);
}

static void read_off(room *r, uint16_t *thick, uint32_t *opened_sq)
{
    const size_t n_px = r->set->width_px * r->set->height_px;
    for (size_t i = 0; i < n_px; i++) {
        if (r->distance_sq[i] >= CAP_SQ) r->found[i] = SW_GRANULE_MOST;
    }
    for (size_t i = r->n_ridge; i-- > 0;) r->found[r->ridge[i]] = thickness_at(r, r->ridge[i]);
    for (size_t i = 0; i < n_px; i++) {
        const size_t centre = r->centre[i];
        if (r->distance_sq[i] == 0) thick[i] = 0;
        else thick[i] = r->found[centre] != 0 ? r->found[centre] : thickness_at(r, centre);
        if (opened_sq != NULL) opened_sq[i] = r->distance_sq[i] == 0 ? 0 : r->distance_sq[centre];
    }
}

static void fill_tables(room *r)
{
    for (size_t i = 0, root = 0; i <= CAP_SQ; i++) {
        if ((root + 1) * (root + 1) <= i) root++;
        r->root[i] = (uint8_t)root;
    }
    for (size_t y = 0; y <= MOST_STEP; y++) {
        for (size_t x = 0; x <= MOST_STEP; x++) r->step_px[y][x] = sqrtf((float)(x * x + y * y));
    }
    for (size_t v = 0; v < 256; v++) {
        const bool is_linear = r->edge != NULL && r->edge->is_linear;
        r->level[v] = is_linear ? sw_linear_from_srgb8((uint8_t)v) : (float)v / 255.0f;
    }
}

sw_status sw_granules_measure(const sw_mask *set, bool is_closed, const sw_edge_field *edge, uint16_t *thick,
                              uint32_t *opened_sq, sw_note *note)
{
    const size_t n_px = set->width_px * set->height_px;
    room *const r = sw_alloc_array(1, sizeof *r);
    sw_status st = SW_NO_MEMORY;
    if (r == NULL) goto cleanup;
    r->set = set;
    r->edge = edge != NULL && edge->art != NULL ? edge : NULL;
    r->is_closed = is_closed;
    r->distance_sq = sw_alloc_raw(n_px, sizeof *r->distance_sq);
    r->radius = sw_alloc_raw(n_px, sizeof *r->radius);
    r->centre = sw_alloc_raw(n_px, sizeof *r->centre);
    r->found = sw_alloc_raw(n_px, sizeof *r->found);
    if (r->distance_sq == NULL || r->radius == NULL || r->centre == NULL || r->found == NULL) goto cleanup;
    fill_tables(r);
    st = sw_distance_sq(set, 0, is_closed, r->distance_sq, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < n_px; i++) {
        if (r->distance_sq[i] > CAP_SQ) r->distance_sq[i] = CAP_SQ;
        r->radius[i] = sqrtf((float)r->distance_sq[i]);
    }
    st = collect_ridge(r, note);
    if (st != SW_OK) goto cleanup;
    paint_all(r);
    read_off(r, thick, opened_sq);
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the thickness of strokes");
    if (r != NULL) {
        sw_free(r->distance_sq);
        sw_free(r->radius);
        sw_free(r->centre);
        sw_free(r->found);
        sw_free(r->ridge);
    }
    sw_free(r);
    return st;
}
