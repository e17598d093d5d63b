/* From a mask to the outlines of its openings. The tracer (Selinger 2003, the potrace library) follows the pixel edges.
 *
 * Its bitmap is bottom up, most significant bit first, and openings are its black. Black turns at corner touches
 * keep openings joined over corners and material over sides only, as everywhere else. The mask is traced with its
 * border pixels repeated outward and the polygon cut back to the artwork, so that an outline meets the border at the
 * angle it comes with and edges along the border lie on it exactly. */
#include <limits.h>
#include <potracelib.h>
#include <stdatomic.h>
#include <stdlib.h>

#include "contour/shared.h"

#define WORD_BITS (CHAR_BIT * sizeof(potrace_word))
#define PAD_X_PX ((size_t)WORD_BITS) /* border repeated left and right: a word, so that no pixel has to be shifted */
#define PAD_Y_PX 16u
#define SAME_PX 1e-4  /* vertices nearer than that are one */
#define LEAST_PX2 0.3 /* a polygon smaller than that has lost its pixel */

typedef struct packing {
    const sw_mask *mask;
    potrace_bitmap_t bitmap;
} packing;

/* Eight pixels to eight bits, the first on top: each product bit that counts is reached by one byte alone. Written out,
 * the eight bytes are one load to the compiler; as a loop they are not. */
static potrace_word pack_eight(const uint8_t *p)
{
    const uint64_t bytes = (uint64_t)p[0] | (uint64_t)p[1] << 8 | (uint64_t)p[2] << 16 | (uint64_t)p[3] << 24 |
                           (uint64_t)p[4] << 32 | (uint64_t)p[5] << 40 | (uint64_t)p[6] << 48 | (uint64_t)p[7] << 56;
    return (potrace_word)(((bytes & 0x0101010101010101u) * 0x8040201008040201u) >> 56);
}

static potrace_word pack_word(const uint8_t *row, size_t n)
{
    potrace_word word = 0;
    size_t x = 0;
    for (; x + 8 <= n; x += 8) word |= pack_eight(row + x) << (WORD_BITS - 8 - x);
    for (; x < n; x++) word |= (potrace_word)(row[x] & 1u) << (WORD_BITS - 1 - x);
    return word;
}

static void pack_rows(size_t begin, size_t end, void *ctx)
{
    const packing *const p = ctx;
    const size_t width = p->mask->width_px, height = p->mask->height_px, n_words = (size_t)p->bitmap.dy;
    const size_t n_full = width / WORD_BITS, n_rest = width % WORD_BITS;
    for (size_t y = begin; y < end; y++) {
        const size_t from = y < PAD_Y_PX ? 0 : sw_min_size(y - PAD_Y_PX, height - 1);
        const uint8_t *const row = p->mask->at + from * width;
        potrace_word *const words = p->bitmap.map + ((size_t)p->bitmap.h - 1 - y) * n_words;
        words[0] = (row[0] & 1u) != 0 ? ~(potrace_word)0 : 0;
        for (size_t w = 0; w < n_full; w++) words[1 + w] = pack_word(row + w * WORD_BITS, WORD_BITS);
        const potrace_word fill = (row[width - 1] & 1u) != 0 ? ~(potrace_word)0 : 0;
        for (size_t w = 1 + n_full; w < n_words; w++) words[w] = fill;
        if (n_rest > 0) words[1 + n_full] = pack_word(row + n_full * WORD_BITS, n_rest) | (fill >> n_rest);
    }
}

/* The mask's paths, or NULL. 1/8 byte a pixel here and as much again inside the tracer. */
static potrace_state_t *trace_mask(const sw_mask *mask, const potrace_param_t *param)
{
    const size_t n_words = (mask->width_px + WORD_BITS - 1) / WORD_BITS + 2;
    const size_t n_rows = mask->height_px + 2 * PAD_Y_PX;
    size_t n;
    if (!sw_mul_size(n_words, n_rows, &n)) return NULL;
    packing p = { .mask = mask,
                  .bitmap = { .w = (int)(n_words * WORD_BITS), .h = (int)n_rows, .dy = (int)n_words,
                              .map = sw_alloc_raw(n, sizeof(potrace_word)) } };
    if (p.bitmap.map == NULL) return NULL;
    sw_parallel_rows(n_rows, pack_rows, &p);
    potrace_state_t *state = potrace_trace(param, &p.bitmap);
    sw_free(p.bitmap.map);
    if (state != NULL && state->status != POTRACE_STATUS_OK) {
        potrace_state_free(state);
        state = NULL;
    }
    return state;
}

/* Paths are worked on each on its own; which thread takes which cannot show. */
typedef struct tracing {
    const potrace_path_t **paths;
    shape *made;  /* one a path */
    pt size;      /* of the mask, pixels */
    double tolerance_px;
    const sw_mask *mask;
    atomic_bool is_out_of_memory;
} tracing;

/* The path's polygon in pixels of the mask. Edges of openings and of islands are walked the same way round, so that
 * an island of one pass and the opening of another that has its shape get the same curve. */
static bool take_polygon(const tracing *t, const potrace_path_t *path, sw_contours *out)
{
    const int n = path->curve.n;
    const bool is_outer = path->sign == '+';
    sw_contour polygon = { 0 };
    bool is_ok = true;
    for (int i = 0; i < n && is_ok; i++) {
        const potrace_dpoint_t p = path->curve.c[is_outer ? n - 1 - i : i][1];
        is_ok = sw_contour_add_line(&polygon, (sw_pt_mm){ p.x - (double)PAD_X_PX, t->size.y + PAD_Y_PX - p.y });
    }
    if (is_ok && n > 0) polygon.start = polygon.segs[n - 1].end;
    is_ok = is_ok && sw_contours_take(out, &polygon, NULL) == SW_OK;
    sw_contour_free(&polygon);
    return is_ok;
}

/* Cut what was traced outside the artwork; a path inside it is left alone. */
static bool clip_polygon(const tracing *t, sw_contours *polygons, bool *is_clipped)
{
    const sw_contour_measure m = sw_contours_extent(polygons);
    if (m.min.x_mm >= 0.0 && m.min.y_mm >= 0.0 && m.max.x_mm <= t->size.x && m.max.y_mm <= t->size.y) return true;
    *is_clipped = true;
    sw_contours clipped = { 0 };
    if (sw_contours_clip(polygons, (sw_rect_mm){ 0.0, 0.0, t->size.x, t->size.y }, &clipped, NULL) != SW_OK)
        return false;
    sw_contours_free(polygons);
    *polygons = clipped;
    return true;
}

/* The shape's outline from its polygon. False: out of memory. */
static bool fill_shape(const tracing *t, const sw_contour *polygon, shape *s)
{
    s->polygon = sw_alloc_array(polygon->n_segs, sizeof *s->polygon);
    if (s->polygon == NULL) return false;
    pt last = { polygon->start.x_mm, polygon->start.y_mm };
    for (size_t i = 0; i < polygon->n_segs; i++) {
        const pt p = { polygon->segs[i].end.x_mm, polygon->segs[i].end.y_mm };
        if (pt_len(pt_sub(p, last)) < SAME_PX) continue;
        s->polygon[s->n_polygon++] = p;
        last = p;
    }
    s->is_pixels = s->n_polygon < 3;
    if (s->is_pixels) return true;
    return find_pixel_path(t->mask, s->is_outer, s->polygon, s->n_polygon, &s->path) &&
           outline_make(s->polygon, s->n_polygon, &(mask_edge){ t->mask, s->is_outer, &s->path }, t->tolerance_px, false, &s->o);
}

static pt clamp_to(pt size, sw_pt_mm p)
{
    return (pt){ sw_clamp(p.x_mm, 0.0, size.x), sw_clamp(p.y_mm, 0.0, size.y) };
}

static void free_shape(shape *s)
{
    outline_free(&s->o);
    if (s->borrowed != NULL) borrowing_free(s->borrowed);
    sw_free(s->borrowed);
    sw_contour_free(&s->fitted);
    sw_free(s->from);
    sw_free(s->polygon);
    sw_free(s->path.steps);
    *s = (shape){ 0 };
}

/* A path is one shape, even where clipping its polygon left none or several: then the shape is its pixels. */
static bool trace_path(const tracing *t, size_t index, shape *out)
{
    const potrace_path_t *const path = t->paths[index];
    shape made = { .is_outer = path->sign == '+', .area_px = (double)path->area };
    sw_contours polygons = { 0 };
    bool is_ok = take_polygon(t, path, &polygons);
    if (is_ok) {
        const sw_contour_measure m = sw_contours_extent(&polygons);
        made.low = clamp_to(t->size, m.min);
        made.high = clamp_to(t->size, m.max);
        is_ok = clip_polygon(t, &polygons, &made.is_clipped);
    }
    if (is_ok && polygons.n == 1 && polygons.at[0].n_segs >= 3 && sw_contours_extent(&polygons).area_mm2 > LEAST_PX2)
        is_ok = fill_shape(t, &polygons.at[0], &made);
    else made.is_pixels = true;
    sw_contours_free(&polygons);
    if (is_ok) *out = made;
    else free_shape(&made);
    return is_ok;
}

static void trace_some(size_t begin, size_t end, void *ctx)
{
    tracing *const t = ctx;
    for (size_t i = begin; i < end; i++) {
        if (!trace_path(t, i, &t->made[i])) atomic_store(&t->is_out_of_memory, true);
    }
}

void shapes_free(shapes *list)
{
    for (size_t i = 0; i < list->n; i++) free_shape(&list->at[i]);
    sw_free(list->at);
    *list = (shapes){ 0 };
}

static int compare_shapes(const void *pa, const void *pb)
{
    const shape *const a = pa, *const b = pb;
    if (a->low.y != b->low.y) return a->low.y < b->low.y ? -1 : 1;
    if (a->low.x != b->low.x) return a->low.x < b->low.x ? -1 : 1;
    if (a->high.y != b->high.y) return a->high.y < b->high.y ? -1 : 1;
    if (a->high.x != b->high.x) return a->high.x < b->high.x ? -1 : 1;
    if (a->area_px != b->area_px) return a->area_px < b->area_px ? -1 : 1;
    return (int)b->is_outer - (int)a->is_outer;
}

static bool trace_all(const potrace_state_t *state, tracing *t, shapes *out)
{
    size_t n = 0;
    for (const potrace_path_t *path = state->plist; path != NULL; path = path->next) n++;
    if (n == 0) return true;
    t->paths = sw_alloc_array(n, sizeof *t->paths); /* NOLINT(bugprone-sizeof-expression): a list of pointers */
    shapes made = { .at = sw_alloc_array(n, sizeof *made.at), .n = n, .cap = n };
    bool is_ok = t->paths != NULL && made.at != NULL;
    if (is_ok) {
        t->made = made.at;
        n = 0;
        for (const potrace_path_t *path = state->plist; path != NULL; path = path->next) t->paths[n++] = path;
        sw_parallel_bands(n, 1, trace_some, t);
        is_ok = !atomic_load(&t->is_out_of_memory);
        qsort(made.at, n, sizeof *made.at, compare_shapes);
    } else if (made.at == NULL) {
        made.n = 0;
    }
    sw_free(t->paths);
    if (is_ok) *out = made;
    else shapes_free(&made);
    return is_ok;
}

bool trace_outlines(const sw_mask *mask, double tolerance_px, shapes *out)
{
    shapes made = { 0 };
    potrace_state_t *state = NULL;
    bool is_ok = false;
    potrace_param_t *const param = potrace_param_default();
    if (param == NULL) goto cleanup;
    param->turdsize = 0;
    param->turnpolicy = POTRACE_TURNPOLICY_BLACK;
    param->alphamax = 0.0; /* the polygon is all we take */
    param->opticurve = 0;
    state = trace_mask(mask, param);
    if (state == NULL) goto cleanup;
    tracing t = { .mask = mask, .size = { (double)mask->width_px, (double)mask->height_px }, .tolerance_px = tolerance_px };
    if (!trace_all(state, &t, &made)) goto cleanup;
    *out = made;
    made = (shapes){ 0 };
    is_ok = true;
cleanup:
    shapes_free(&made);
    if (state != NULL) potrace_state_free(state);
    if (param != NULL) potrace_param_free(param);
    return is_ok;
}
