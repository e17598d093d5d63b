/* Key windows: places where the painter sees a corner of earlier paint through a later sheet and lays the sheet by it.
 *
 * A corner of the wall as painted so far is distinctive when within a few millimetres two colours meet at an angle, near
 * and farther out, and differ enough to be seen. It is seen without doing harm
 *  - through an opening that this pass paints anyway, with the opening's edge near enough to compare: nothing is cut, or
 *  - through a window of its own, cut where later passes paint over all of it and a web stays all round.
 * In a panel the clearest is taken first, then those that are far from what is taken: the farther apart, the less a
 * sheet can turn. The angle measure is the share of a disc that the rarer colour takes (Smith and Brady 1997): a half at
 * a straight edge, a quarter at a right angle. */
#include "layout/layout.h"

#include <math.h>
#include <string.h>

#define NEAR_MM 4.0         /* disc in which two colours must meet; what an eye takes in from an arm's length; taste */
#define FAR_MM 8.0          /* the same angle must still be there */
#define LEAST_SHARE 0.12    /* sharper, and it is a hair that spray blurs */
#define MOST_SHARE 0.36     /* blunter, and it is nearly a straight edge */
#define MOST_FAR_SHARE 0.42
#define LEAST_CONTRAST 0.08 /* OKLab distance; the same step that guide slots ask for */
#define RIM_MM 35.0         /* an edge farther away than this is of no use to the eye */
#define TICK_ROOM_MM 9.5    /* material at that edge, for the tick that points at the corner */
#define WINDOW_MM 8.0       /* radius of a window of its own */
#define COVER_MM 1.5        /* later paint reaches farther than the window by this */
#define APART_RATIO 0.2     /* of a panel's diagonal, between keys */
#define STEP_PX 1u          /* places are looked at this far apart: two pixels off, a corner already looks like an edge */
#define COVERED 0x80u       /* beside the paint's number: a later pass paints here */

typedef struct candidate {
    size_t x, y;
    double score;
    bool is_cut;
    uint8_t inner, outer; /* paints: the rarer one, the other */
} candidate;

typedef struct field {
    const sw_grid *grid;
    const sw_key_opts *opts;
    const sw_mask *own;
    uint8_t *paint; /* what shows before this pass: 0 the ground, else the pass; COVERED */
    float contrast[SW_MAX_PASSES + 1][SW_MAX_PASSES + 1];
} field;

/* Visit the disc's pixels; false if it leaves the mask or visit says so. */
typedef bool (*visit_fn)(const field *f, size_t at, void *ctx);
static bool visit_disc(const field *f, size_t x, size_t y, double radius_px, visit_fn visit, void *ctx)
{
    const size_t r = (size_t)ceil(radius_px), width = f->own->width_px;
    if (x < r || y < r || x + r >= width || y + r >= f->own->height_px) return false;
    for (size_t v = y - r; v <= y + r; v++) {
        const double dy = (double)v - (double)y, reach = radius_px * radius_px - dy * dy;
        if (reach < 0.0) continue;
        const size_t half = (size_t)sqrt(reach);
        for (size_t u = x - half; u <= x + half; u++) {
            if (!visit(f, v * width + u, ctx)) return false;
        }
    }
    return true;
}

static bool count_paint(const field *f, size_t at, void *ctx)
{
    size_t *const n = ctx;
    n[f->paint[at] & (COVERED - 1u)]++;
    return true;
}

static bool is_own(const field *f, size_t at, void *ctx) { return (void)ctx, f->own->at[at] != 0; }
static bool is_material(const field *f, size_t at, void *ctx) { return (void)ctx, f->own->at[at] == 0; }
static bool is_covered(const field *f, size_t at, void *ctx) { return (void)ctx, (f->paint[at] & COVERED) != 0; }

/* The share of the rarer of two paints in a disc; 1 if there are not exactly two, or the disc leaves the mask. */
static double share(const field *f, size_t x, size_t y, double radius_mm, uint8_t *inner, uint8_t *outer)
{
    size_t n[COVERED] = { 0 }, total = 0, n_kinds = 0;
    if (!visit_disc(f, x, y, sw_px_from_mm(f->grid, radius_mm), count_paint, n)) return 1.0;
    *inner = *outer = 0;
    for (uint8_t k = 0; k <= SW_MAX_PASSES; k++) {
        if (n[k] == 0) continue;
        n_kinds++;
        if (total == 0 || n[k] >= n[*outer]) {
            *inner = total == 0 ? k : *outer;
            *outer = k;
        } else {
            *inner = k;
        }
        total += n[k];
    }
    return n_kinds == 2 ? (double)n[*inner] / (double)total : 1.0;
}

/* Does material, wide enough for a tick, begin within reach in this direction? The frame outside the mask is material. */
static bool has_rim_at(const field *f, size_t x, size_t y, int dx, int dy)
{
    const size_t reach = (size_t)sw_px_from_mm(f->grid, RIM_MM), wide = (size_t)sw_px_from_mm(f->grid, TICK_ROOM_MM);
    size_t n_material = 0;
    for (size_t i = 1; i <= reach + wide && n_material < wide; i++) {
        x += (size_t)dx; /* wraps below 0 and is outside then */
        y += (size_t)dy;
        if (x >= f->own->width_px || y >= f->own->height_px) return i <= reach || n_material > 0;
        if (f->own->at[y * f->own->width_px + x] == 0) n_material++;
        else if (n_material > 0) return false;
    }
    return n_material >= wide;
}

static bool has_rims(const field *f, size_t x, size_t y)
{
    return (has_rim_at(f, x, y, 1, 0) || has_rim_at(f, x, y, -1, 0)) && (has_rim_at(f, x, y, 0, 1) || has_rim_at(f, x, y, 0, -1));
}

/* Do paints meet in these STEP_PX x STEP_PX pixels and their neighbours to the right and below? Corners lie there and
 * nowhere else. And could the corner be seen here: through an opening of this pass, or a window that is painted over? */
static bool is_worth_a_look(const field *f, size_t x, size_t y)
{
    const size_t width = f->own->width_px, at = y * width + x;
    const unsigned mine = f->paint[at] & (COVERED - 1u);
    if (f->own->at[at] == 0 && (f->paint[at] & COVERED) == 0) return false;
    for (size_t v = 0; v <= STEP_PX; v++) {
        for (size_t u = 0; u <= STEP_PX; u++) {
            if ((f->paint[at + v * width + u] & (COVERED - 1u)) != mine) return true;
        }
    }
    return false;
}

/* Is it within the window by this much? */
static bool is_within(const field *f, const sw_rect_px *window, size_t x, size_t y, double clear_mm)
{
    const double clear = sw_px_from_mm(f->grid, clear_mm), px = (double)x, py = (double)y;
    return px >= (double)window->x + clear && px + clear <= (double)(window->x + window->width) &&
           py >= (double)window->y + clear && py + clear <= (double)(window->y + window->height);
}

/* From the middle of a window of its own to where other openings may begin. */
static double room_mm(const field *f) { return WINDOW_MM + sw_max(f->opts->min_web_mm, TICK_ROOM_MM); }

static bool judge(const field *f, const sw_rect_px *window, size_t x, size_t y, candidate *out)
{
    uint8_t inner, outer, far_inner, far_outer;
    const double clear_mm = room_mm(f);
    const double near_share = share(f, x, y, NEAR_MM, &inner, &outer);
    if (!(near_share >= LEAST_SHARE && near_share <= MOST_SHARE)) return false;
    const double far_share = share(f, x, y, FAR_MM, &far_inner, &far_outer);
    if (!(far_share >= LEAST_SHARE * 0.7 && far_share <= MOST_FAR_SHARE) || far_inner != inner || far_outer != outer) return false;
    const double contrast = (double)f->contrast[inner][outer];
    if (contrast < LEAST_CONTRAST || !is_within(f, window, x, y, NEAR_MM)) return false;
    *out = (candidate){ .x = x, .y = y, .inner = inner, .outer = outer,
                        .score = contrast * (1.0 - 2.0 * fabs(near_share - 0.25)) };
    if (visit_disc(f, x, y, sw_px_from_mm(f->grid, NEAR_MM), is_own, NULL)) return has_rims(f, x, y);
    out->is_cut = true;
    out->score *= 0.5; /* a shape of the drawing itself is better than another opening */
    return is_within(f, window, x, y, clear_mm) &&
           visit_disc(f, x, y, sw_px_from_mm(f->grid, clear_mm), is_material, NULL) &&
           visit_disc(f, x, y, sw_px_from_mm(f->grid, WINDOW_MM + COVER_MM), is_covered, NULL);
}

static void cut_window(const field *f, size_t x, size_t y, sw_mask *mask)
{
    const double r = sw_px_from_mm(f->grid, WINDOW_MM);
    const size_t reach = (size_t)r;
    for (size_t v = y - reach; v <= y + reach; v++) {
        for (size_t u = x - reach; u <= x + reach; u++) {
            const double dx = (double)u - (double)x, dy = (double)v - (double)y;
            if (dx * dx + dy * dy <= r * r) mask->at[v * mask->width_px + u] = 1;
        }
    }
}

typedef struct list {
    candidate *at;
    size_t n, cap;
} list;

static sw_status find_candidates(const field *f, const sw_rect_px *window, list *out, sw_note *note)
{
    const size_t right = sw_min_size(window->x + window->width, f->own->width_px - STEP_PX);
    const size_t low = sw_min_size(window->y + window->height, f->own->height_px - STEP_PX);
    out->n = 0;
    for (size_t y = window->y; y < low; y += STEP_PX) {
        if (sw_is_interrupted()) return SW_INTERRUPTED;
        for (size_t x = window->x; x < right; x += STEP_PX) {
            candidate found;
            if (!is_worth_a_look(f, x, y) || !judge(f, window, x, y, &found)) continue;
            void *data = out->at;
            if (!sw_grow(&data, &out->cap, out->n + 1, sizeof *out->at)) return sw_fail_memory(note, "the key windows");
            out->at = data;
            out->at[out->n++] = found;
        }
    }
    return SW_OK;
}

/* How far it is from the nearest key of this panel, in px; more than the panel's diagonal if there is none yet. */
static double room_of(const field *f, const candidate *c, const sw_keys *keys, size_t first, double diagonal)
{
    double room = diagonal + sw_px_from_mm(f->grid, 4.0 * room_mm(f)); /* the first has room anywhere */
    for (size_t k = first; k < keys->n; k++) {
        const sw_pt_mm at = keys->at[k].at;
        room = sw_min(room, sw_hypot((double)c->x + 0.5 - sw_px_from_mm(f->grid, at.x_mm), (double)c->y + 0.5 - sw_px_from_mm(f->grid, at.y_mm)));
    }
    return room;
}

static sw_status add_key(const field *f, const candidate *c, size_t pass, sw_keys *keys, sw_note *note)
{
    void *data = keys->at;
    if (!sw_grow(&data, &keys->cap, keys->n + 1, sizeof *keys->at)) return sw_fail_memory(note, "the key windows");
    keys->at = data;
    keys->at[keys->n] = (sw_key){ .pass = pass,
                                  .at = { sw_mm_from_px(f->grid, (double)c->x + 0.5), sw_mm_from_px(f->grid, (double)c->y + 0.5) },
                                  .number = keys->n + 1,
                                  .is_cut = c->is_cut,
                                  .inner = c->inner,
                                  .outer = c->outer };
    keys->n++;
    return SW_OK;
}

/* The clearest first, then what is clear and far from the others. */
static sw_status choose(const field *f, const sw_rect_px *window, const list *found, size_t pass, sw_mask *mask, sw_keys *keys,
                        sw_note *note)
{
    const size_t first = keys->n;
    const double diagonal = sw_hypot((double)window->width, (double)window->height);
    const double least_room = sw_max(APART_RATIO * diagonal, sw_px_from_mm(f->grid, 2.0 * room_mm(f)));
    while (keys->n - first < f->opts->n_wanted) {
        const candidate *best = NULL;
        double best_score = 0.0;
        for (size_t i = 0; i < found->n; i++) {
            const double room = room_of(f, &found->at[i], keys, first, diagonal);
            const double score = found->at[i].score * room;
            if (room < least_room || score <= best_score) continue;
            best = &found->at[i];
            best_score = score;
        }
        if (best == NULL) break;
        SW_TRY(add_key(f, best, pass, keys, note));
        if (best->is_cut) cut_window(f, best->x, best->y, mask);
    }
    return SW_OK;
}

/* What shows before this pass, and where later passes paint. */
static void fill_paint(const sw_mask *const *masks, size_t n_masks, size_t pass, uint8_t *paint)
{
    const size_t n = masks[0]->width_px * masks[0]->height_px;
    memset(paint, 0, n);
    for (size_t k = 0; k < n_masks; k++) {
        if (k + 1 == pass) continue;
        const uint8_t *const mask = masks[k]->at;
        for (size_t i = 0; i < n; i++) {
            if (mask[i] == 0) continue;
            if (k + 1 < pass) paint[i] = (uint8_t)(k + 1);
            else paint[i] |= COVERED;
        }
    }
}

static void fill_contrast(const sw_separation *separation, field *f)
{
    for (size_t a = 0; a <= separation->n_passes; a++) {
        for (size_t b = 0; b <= separation->n_passes; b++) {
            const sw_oklab p = sw_oklab_from_rgb8(separation->colour[a]), q = sw_oklab_from_rgb8(separation->colour[b]);
            f->contrast[a][b] = (float)sqrt((double)((p.L - q.L) * (p.L - q.L) + (p.a - q.a) * (p.a - q.a) + (p.b - q.b) * (p.b - q.b)));
        }
    }
}

sw_status sw_keys_find(sw_mask *const *masks, size_t n_masks, size_t pass, const sw_separation *separation, const sw_grid *grid,
                       const sw_key_opts *opts, sw_keys *keys, sw_note *note)
{
    list found = { 0 };
    sw_mask *const own = masks[pass - 1];
    const sw_rect_px whole = { 0, 0, own->width_px, own->height_px };
    field f = { .grid = grid, .opts = opts, .own = own };
    sw_status st = SW_OK;
    if (own->width_px <= STEP_PX || own->height_px <= STEP_PX) return SW_OK;
    f.paint = sw_alloc_raw(own->width_px, own->height_px);
    if (f.paint == NULL) return sw_fail_memory(note, "the key windows");
    fill_paint((const sw_mask *const *)masks, n_masks, pass, f.paint);
    fill_contrast(separation, &f);
    const size_t n_windows = opts->windows != NULL ? sw_max_size(1, opts->windows->n) : 1;
    for (size_t w = 0; st == SW_OK && w < n_windows; w++) {
        const sw_rect_px *const window = opts->windows != NULL && opts->windows->n > 0 ? &opts->windows->at[w] : &whole;
        st = find_candidates(&f, window, &found, note);
        if (st == SW_OK) st = choose(&f, window, &found, pass, own, keys, note);
    }
    sw_free(found.at);
    sw_free(f.paint);
    return st;
}

void sw_keys_free(sw_keys *keys)
{
    if (keys == NULL) return;
    sw_free(keys->at);
    *keys = (sw_keys){ 0 };
}
