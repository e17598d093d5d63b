/* A drawing on uneven paper: how much of a line each pixel is.
 *
 * Paper is what a closing leaves of the lightness: strokes are thinner than its square, shadows are not. A line is darker
 * than the paper, by more than half of the darkest nearby, so faint and strong strokes keep their widths. Three things
 * that are dark and no line are told apart: a stain by its colour (shade scales a colour, graphite greys it, coffee and
 * rust redden it); a crease by the bright ridge beside its shadow; shading of the sheet by its width.
 * The threshold follows its surroundings as in Sauvola and Pietikainen 2000, but from least and most, not from mean and
 * deviation: on the sketch sample theirs lost faint strokes and kept the coffee ring.
 * Lengths are parts of the longer side of the picture; values of taste were set on the sketch sample. */
#include <math.h>
#include <string.h>

#include "separate/parts.h"

#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC optimize("O3") /* vectors */
#endif

#define MAX_SIDE 2304u               /* px of the coarse picture looked at */
#define PAPER_RATIO (32.0 / 2100.0)  /* half the widest dark thing on paper */
#define LINE_RATIO (12.0 / 2100.0)   /* half the widest stroke */
#define CREASE_RATIO (4.0 / 2100.0)  /* half a crease's bright ridge */
#define NEAR_RATIO (12.0 / 2100.0)   /* of a crease: there its shadow is ... */
#define THIN_RATIO (4.0 / 2100.0)    /* ... and only strokes thinner than twice this count */
#define SHADE_RATIO (20.0 / 2100.0)  /* hatching is averaged over this radius */
#define GAP_RATIO (6.0 / 2100.0)     /* gaps in a stroke up to this long are closed ... */
#define CREASE_GAP_RATIO (14.0 / 2100.0) /* the same beside a crease, whose ridge cuts through */
#define RUN_PX 7                     /* ... where it goes on for this long on both sides */
#define MIN_DARK 0.06f      /* part of the paper's lightness a line takes away at least; grain takes 0.02 */
#define HALF_DARK 0.4f     /* of the darkest nearby: where a line ends */
#define STAIN_NONE 10.0f    /* colour in plane units over darkness: up to this all counts as line, */
#define STAIN_ALL 15.0f     /* from here on nothing; ink has 3, faint pencil 8, coffee 21 and more */
#define STRONG_DARK 0.2f    /* strokes darker than this tell whether the drawing itself is in colour */
#define RIDGE 0.03f         /* brighter than paper by this: a crease */
#define SHADE_DARK 0.10f    /* mean darkness from which hatching counts as shading */
#define SOLID_DARK 0.6f     /* strokes darker than this go on where they are wider: ink, not pencil */

typedef struct work {
    size_t width, height, shift, n_px;
    sw_planes coarse;             /* of three planes */
    uint8_t *paper_line, *paper_thin, *ridge, *near, *one, *two;
    float *paper, *a, *b, *dark, *stain, *spare;
} work;

static float unit(float v) { return v > 0.0f ? (v < 1.0f ? v : 1.0f) : 0.0f; }

static bool work_alloc(work *w)
{
    uint8_t **const bytes[] = { &w->paper_line, &w->paper_thin, &w->ridge, &w->near, &w->one, &w->two };
    float **const floats[] = { &w->paper, &w->a, &w->b, &w->dark, &w->stain, &w->spare };
    for (size_t i = 0; i < SW_ARRAY_LEN(bytes); i++) {
        *bytes[i] = sw_alloc_raw(w->n_px, 1);
        if (*bytes[i] == NULL) return false;
    }
    for (size_t i = 0; i < SW_ARRAY_LEN(floats); i++) {
        *floats[i] = sw_alloc_raw(w->n_px, sizeof **floats[i]);
        if (*floats[i] == NULL) return false;
    }
    return true;
}

static void work_free(work *w)
{
    void *const all[] = { w->paper_line, w->paper_thin, w->ridge, w->near, w->one, w->two,
                          w->paper,      w->a,          w->b,     w->dark, w->stain, w->spare };
    for (size_t i = 0; i < SW_ARRAY_LEN(all); i++) sw_free(all[i]);
    if (w->shift > 0) sw_planes_free(&w->coarse);
}

static size_t radius_of(const work *w, double ratio)
{
    return sw_min_size(SW_MORPH_RADIUS, sw_max_size(1, (size_t)lrint(ratio * (double)sw_max_size(w->width, w->height))));
}

static void mean_of(const work *w, float *field, size_t radius)
{
    sw_box_mean(field, w->spare, field, w->width, w->height, radius);
}

/* most, then least: dark things thinner than the square are filled (flip 255), bright ones taken off (flip 0) */
static void close_of(const work *w, const uint8_t *in, uint8_t *out, size_t radius, uint8_t flip)
{
    sw_morph(in, w->two, w->width, w->height, radius, flip);
    sw_morph(w->two, out, w->width, w->height, radius, flip ^ 255);
}

/* ---- paper ------------------------------------------------------------------------------------------------------- */

static void find_paper(work *w)
{
    const uint8_t *const light = w->coarse.at[0];
    const size_t wide = radius_of(w, PAPER_RATIO);
    close_of(w, light, w->ridge, wide, 255);
    close_of(w, w->ridge, w->one, (wide + 1) / 2, 0); /* creases have bright ridges */
    for (size_t i = 0; i < w->n_px; i++) {
        w->paper[i] = w->one[i] > 1 ? w->one[i] : 1.0f;
        w->a[i] = (float)w->coarse.at[1][i] - 128.0f;
        w->b[i] = (float)w->coarse.at[2][i] - 128.0f;
    }
    mean_of(w, w->paper, (wide + 1) / 2);
    mean_of(w, w->a, 2 * wide);
    mean_of(w, w->b, 2 * wide);
    close_of(w, light, w->paper_line, radius_of(w, LINE_RATIO), 255);
    close_of(w, light, w->paper_thin, radius_of(w, THIN_RATIO), 255);
    for (size_t i = 0; i < w->n_px; i++) w->dark[i] = 255.0f * unit(light[i] / w->paper[i] - 1.02f);
    mean_of(w, w->dark, 1);
    for (size_t i = 0; i < w->n_px; i++) w->one[i] = (uint8_t)w->dark[i];
    sw_morph(w->one, w->ridge, w->width, w->height, radius_of(w, CREASE_RATIO), 255);
    sw_morph(w->ridge, w->near, w->width, w->height, radius_of(w, NEAR_RATIO), 255);
}

/* ---- stains ------------------------------------------------------------------------------------------------------ */

/* How far a colour is from the paper's in shade, away from grey, over how dark it is; in w->stain. */
static void find_stains(work *w)
{
    size_t n_coloured = 0, n_strong = 0;
    for (size_t i = 0; i < w->n_px; i++) {
        const float shade = (float)w->coarse.at[0][i] / w->paper[i];
        const float a = (float)w->coarse.at[1][i] - 128.0f - shade * w->a[i];
        const float b = (float)w->coarse.at[2][i] - 128.0f - shade * w->b[i];
        const float chroma = sqrtf(w->a[i] * w->a[i] + w->b[i] * w->b[i]) + 1e-3f;
        const float along = (a * w->a[i] + b * w->b[i]) / chroma, across = fabsf(a * w->b[i] - b * w->a[i]) / chroma;
        w->stain[i] = (along > 0.0f ? along : 0.0f) + across;
        w->dark[i] = unit(1.0f - shade);
    }
    mean_of(w, w->stain, 3);
    for (size_t i = 0; i < w->n_px; i++) w->a[i] = w->dark[i];
    mean_of(w, w->a, 3);
    for (size_t i = 0; i < w->n_px; i++) {
        const float thin = (float)(w->paper_line[i] - w->coarse.at[0][i]) / w->paper[i];
        w->stain[i] /= w->a[i] + 0.05f;
        if (thin < STRONG_DARK) continue;
        n_coloured += w->stain[i] > (STAIN_NONE + STAIN_ALL) / 2.0f;
        n_strong++;
    }
    const bool is_all_kept = 2 * n_coloured > n_strong; /* most of it would be a stain */
    for (size_t i = 0; i < w->n_px; i++) /* what is left of a line here */
        w->stain[i] = is_all_kept ? 1.0f : unit((STAIN_ALL - w->stain[i]) / (STAIN_ALL - STAIN_NONE));
}

/* ---- lines and shading -------------------------------------------------------------------------------------------- */

/* Threshold of lightness into w->a and how far below it full line is into w->b. */
static void find_lines(work *w)
{
    const uint8_t *const light = w->coarse.at[0];
    for (size_t i = 0; i < w->n_px; i++) {
        const float ridge = (float)w->ridge[i] / 255.0f, near = unit((float)w->near[i] / 255.0f / RIDGE);
        const float local = (float)w->paper_line[i] * (1.0f - near) + (float)w->paper_thin[i] * near;
        w->b[i] = local < w->paper[i] ? local : w->paper[i];
        w->stain[i] *= unit(1.6f - ridge / RIDGE);
        w->dark[i] = unit((w->b[i] - (float)light[i]) / w->paper[i]) * w->stain[i];
        w->a[i] = w->dark[i];
    }
    mean_of(w, w->a, 1);
    for (size_t i = 0; i < w->n_px; i++) w->one[i] = (uint8_t)(255.0f * w->a[i]);
    sw_morph(w->one, w->two, w->width, w->height, radius_of(w, THIN_RATIO), 255);
    for (size_t i = 0; i < w->n_px; i++) {
        const float half = HALF_DARK * (float)w->two[i] / 255.0f, least = half > MIN_DARK ? half : MIN_DARK;
        const float spread = least * w->paper[i] / (w->stain[i] > 0.01f ? w->stain[i] : 0.01f);
        w->a[i] = w->b[i] - spread;
        w->b[i] = spread;
    }
}

/* Where ink is wider than a stroke (joints, brush strokes, solid black) the closing took it for paper. What is dark on the
 * paper found with the wide one is ink, stains are not, and so is all about as dark that hangs together with it or a stroke;
 * but not what reaches the picture's border: that is what the sheet lies on. */
typedef struct solids {
    work *w;
    uint32_t *queue; /* pixels of the area at hand */
    size_t n;
    bool is_at_border;
} solids;

/* Takes a neighbour into the area if it is no ink yet and at most so light. */
static void take(solids *s, size_t at, float most)
{
    work *const w = s->w;
    if (w->two[at] != 0 || (float)w->coarse.at[0][at] > most) return;
    w->two[at] = 1;
    w->spare[at] = most;
    s->queue[s->n++] = (uint32_t)at;
}

static void take_around(solids *s, size_t at, float most)
{
    const work *const w = s->w;
    const size_t x = at % w->width, y = at / w->width;
    const bool has[4] = { x > 0, x + 1 < w->width, y > 0, y + 1 < w->height };
    if (has[0]) take(s, at - 1, most);
    if (has[1]) take(s, at + 1, most);
    if (has[2]) take(s, at - w->width, most);
    if (has[3]) take(s, at + w->width, most);
    s->is_at_border = s->is_at_border || !(has[0] && has[1] && has[2] && has[3]);
}

static bool fill_solids(work *w)
{
    const uint8_t *const light = w->coarse.at[0];
    solids s = { .w = w, .queue = sw_alloc_raw(w->n_px, sizeof *s.queue) };
    if (s.queue == NULL) return false;
    for (size_t i = 0; i < w->n_px; i++) w->two[i] = (float)light[i] < w->a[i];
    for (size_t i = 0; i < w->n_px; i++) {
        if ((float)light[i] > (1.0f - SOLID_DARK) * w->paper[i]) continue;
        if (!((float)light[i] < w->a[i]) && w->stain[i] < 0.5f) continue;
        s.n = 0;
        s.is_at_border = false;
        const float most = 1.2f * (float)light[i] + 10.0f;
        if ((float)light[i] < w->a[i]) take_around(&s, i, most);
        else take(&s, i, most);
        s.is_at_border = false; /* a stroke may end there */
        for (size_t k = 0; k < s.n; k++) take_around(&s, s.queue[k], w->spare[s.queue[k]]);
        for (size_t k = 0; k < s.n && !s.is_at_border; k++) w->a[s.queue[k]] = 255.0f + w->b[s.queue[k]];
    }
    sw_free(s.queue);
    return true;
}

#define N_DIRECTIONS 8
#define MAX_GAP_PX 16

typedef struct gap_task {
    const work *w;
    size_t gap_px, crease_px;
    int dx[N_DIRECTIONS][MAX_GAP_PX + RUN_PX + 1], dy[N_DIRECTIONS][MAX_GAP_PX + RUN_PX + 1];
} gap_task;

static bool is_ink(const gap_task *t, size_t x, size_t y, int dx, int dy)
{
    const size_t at_x = x + (size_t)dx, at_y = y + (size_t)dy; /* below 0 wraps to far beyond */
    return at_x < t->w->width && at_y < t->w->height && t->w->one[at_y * t->w->width + at_x] != 0;
}

/* Steps along a direction (sign 1 or -1) to a stroke that runs on along it; 0 if there is none within the gap. */
static size_t steps_to_stroke(const gap_task *t, size_t x, size_t y, size_t direction, int sign, size_t gap_px)
{
    const int *const dx = t->dx[direction], *const dy = t->dy[direction];
    size_t k = 1;
    while (k < gap_px && !is_ink(t, x, y, sign * dx[k], sign * dy[k])) k++;
    for (size_t run = 0; run < RUN_PX; run++) {
        if (!is_ink(t, x, y, sign * dx[k + run], sign * dy[k + run])) return 0;
    }
    return k;
}

static void close_gaps_in_rows(size_t begin, size_t end, void *ctx)
{
    const gap_task *const t = ctx;
    for (size_t y = begin; y < end; y++) {
        for (size_t x = 0; x < t->w->width; x++) {
            const size_t at = y * t->w->width + x;
            bool is_gap = false;
            if (t->w->one[at] != 0 || t->w->two[at] == 0) continue; /* ink, or none near */
            const size_t gap_px = t->w->near[at] > 0 ? t->crease_px : t->gap_px;
            for (size_t d = 0; d < N_DIRECTIONS && !is_gap; d++) {
                const size_t there = steps_to_stroke(t, x, y, d, 1, gap_px);
                const size_t back = there == 0 ? 0 : steps_to_stroke(t, x, y, d, -1, gap_px);
                is_gap = back != 0 && there + back <= gap_px + 1;
            }
            if (is_gap) t->w->a[at] = 255.0f + t->w->b[at]; /* everything is darker than this */
        }
    }
}

/* Pencil skips over the grain, and creases cut through: strokes that go on straight are joined. Across hatching nothing
 * is, since a stroke is not RUN_PX wide. */
static void close_gaps(work *w)
{
    gap_task task = { .w = w, .gap_px = sw_min_size(radius_of(w, GAP_RATIO), MAX_GAP_PX),
                      .crease_px = sw_min_size(radius_of(w, CREASE_GAP_RATIO), MAX_GAP_PX) };
    for (size_t d = 0; d < N_DIRECTIONS; d++) {
        const double angle = 3.14159265358979 * (double)d / N_DIRECTIONS;
        for (size_t k = 0; k < SW_ARRAY_LEN(task.dx[d]); k++) {
            task.dx[d][k] = (int)lrint((double)k * cos(angle));
            task.dy[d][k] = (int)lrint((double)k * sin(angle));
        }
    }
    for (size_t i = 0; i < w->n_px; i++) w->one[i] = (float)w->coarse.at[0][i] < w->a[i];
    sw_morph(w->one, w->two, w->width, w->height, task.crease_px, 255);
    sw_parallel_rows(w->height, close_gaps_in_rows, &task);
}

static void find_shading(work *w)
{
    mean_of(w, w->dark, radius_of(w, SHADE_RATIO));
    mean_of(w, w->dark, radius_of(w, SHADE_RATIO));
    for (size_t i = 0; i < w->n_px; i++)
        w->one[i] = (uint8_t)(255.0f * unit(0.5f + 0.5f * (w->dark[i] - SHADE_DARK) / SHADE_DARK));
}

typedef struct write_task {
    const work *w;
    sw_planes *planes;
    bool has_shading;
} write_task;

static void write_rows(size_t begin, size_t end, void *ctx)
{
    const write_task *const t = ctx;
    const work *const w = t->w;
    for (size_t y = begin; y < end; y++) {
        uint8_t *const row = t->planes->at[0] + y * t->planes->width_px;
        uint8_t *const shade = t->planes->at[1] + y * t->planes->width_px;
        const size_t at = (y >> w->shift) * w->width;
        for (size_t x = 0; x < t->planes->width_px; x++) {
            const size_t i = at + (x >> w->shift);
            const float v = 128.0f + 127.0f * (w->a[i] - (float)row[x]) / w->b[i];
            row[x] = (uint8_t)(v > 0.0f ? (v < 255.0f ? v : 255.0f) : 0.0f);
            if (t->has_shading) shade[x] = w->one[i];
        }
    }
}

sw_status sw_line_find(sw_planes *planes, bool has_shading, sw_note *note)
{
    work w = { .coarse = *planes };
    sw_status st = SW_OK;
    while (sw_max_size(w.coarse.width_px, w.coarse.height_px) > MAX_SIDE) {
        sw_planes half = { 0 };
        st = sw_planes_half(&w.coarse, &half, note);
        if (w.shift > 0) sw_planes_free(&w.coarse);
        w.coarse = half;
        w.shift++;
        if (st != SW_OK) goto cleanup;
    }
    w.width = w.coarse.width_px;
    w.height = w.coarse.height_px;
    w.n_px = w.width * w.height;
    st = SW_NO_MEMORY;
    if (!work_alloc(&w)) goto cleanup;
    find_paper(&w);
    find_stains(&w);
    find_lines(&w);
    if (!fill_solids(&w)) goto cleanup;
    close_gaps(&w);
    if (has_shading) find_shading(&w);
    sw_parallel_rows(planes->height_px, write_rows, &(write_task){ &w, planes, has_shading });
    st = SW_OK;
cleanup:
    if (st == SW_NO_MEMORY) sw_fail_memory(note, "the lines");
    work_free(&w);
    return st;
}
