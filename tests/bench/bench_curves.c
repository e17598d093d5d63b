/* Nodes against tolerance, and against the tracer's own curve optimisation, on the masks of real jobs.
 *
 * usage: bench_curves [WIDTH_MM] PICTURE...
 * Each picture is separated and made into sheets at that width (2100) with the program's own stages; a PGM (P5) is
 * taken as a finished mask at 2 px/mm. Per mask and in all: segments of the tracer (alphamax 1, opttolerance 0.2),
 * ours at each tolerance (segments/pixels), and how far either is from the mask's pixel edges: largest distance both ways
 * (Hausdorff) and the 99.9 % quantile. The last lines give the ratios where the distances are equal: the largest mask by
 * mask, the largest of all masks, the quantile. */
#include <math.h>
#include <potracelib.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "contour/contour.h"

#define STEP_PX 0.25
#define LOOK_PX 6
#define N_BINS 4096
#define BIN_PX 0.002

static const double tolerances_mm[] = { 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.75, 1.0, 2.0 };
#define N_TOLERANCES SW_ARRAY_LEN(tolerances_mm)

/* Distances of many points: their largest, and a histogram for quantiles. */
typedef struct spread {
    double worst;
    size_t n, bins[N_BINS];
} spread;

static void count(spread *s, double d)
{
    s->worst = sw_max(s->worst, d);
    s->n++;
    s->bins[(size_t)sw_clamp(d / BIN_PX, 0.0, N_BINS - 1.0)]++;
}

static void join(spread *all, const spread *one)
{
    all->worst = sw_max(all->worst, one->worst);
    all->n += one->n;
    for (size_t k = 0; k < N_BINS; k++) all->bins[k] += one->bins[k];
}

static double quantile(const spread *s, double share)
{
    size_t sum = 0;
    for (size_t k = 0; k < N_BINS; k++) {
        sum += s->bins[k];
        if ((double)sum >= share * (double)s->n) return BIN_PX * (double)(k + 1);
    }
    return s->worst;
}

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

typedef struct ruler {
    const sw_mask *mask;
    double px_per_mm;
    float *nearest;  /* per horizontal and vertical pixel edge: distance to the curve */
    spread *out;
    sw_pt_mm last;
    bool has_last;
} ruler;

static int open_at(const sw_mask *m, ptrdiff_t x, ptrdiff_t y)
{
    if (x < 0 || y < 0 || x >= (ptrdiff_t)m->width_px || y >= (ptrdiff_t)m->height_px) return 0;
    return m->at[(size_t)y * m->width_px + (size_t)x];
}

/* A point of the curve: its distance to the pixel edges around, and theirs to it. */
static void measure_point(ruler *r, double x, double y)
{
    const ptrdiff_t cx = (ptrdiff_t)floor(x), cy = (ptrdiff_t)floor(y);
    const size_t width = r->mask->width_px + 1;
    double least = LOOK_PX;
    for (ptrdiff_t j = cy - 3; j <= cy + 3; j++) {
        for (ptrdiff_t i = cx - 3; i <= cx + 3; i++) {
            if (i < 0 || j < 0 || i > (ptrdiff_t)r->mask->width_px || j > (ptrdiff_t)r->mask->height_px) continue;
            const int here = open_at(r->mask, i, j);
            for (int is_left = 0; is_left < 2; is_left++) {
                if (here == (is_left ? open_at(r->mask, i - 1, j) : open_at(r->mask, i, j - 1))) continue;
                const double u = is_left ? y - (double)j : x - (double)i, v = is_left ? x - (double)i : y - (double)j;
                const double past = u < 0.0 ? u : u > 1.0 ? u - 1.0 : 0.0;
                least = sw_min(least, hypot(past, v));
                float *const d = &r->nearest[2 * ((size_t)j * width + (size_t)i) + (size_t)is_left];
                *d = fminf(*d, (float)hypot(u - 0.5, v));
            }
        }
    }
    count(r->out, least);
}

static bool measure_to(void *ctx, sw_pt_mm p)
{
    ruler *const r = ctx;
    p.x_mm *= r->px_per_mm;
    p.y_mm *= r->px_per_mm;
    if (r->has_last) {
        const double len = hypot(p.x_mm - r->last.x_mm, p.y_mm - r->last.y_mm);
        const int n = (int)ceil(len / STEP_PX);
        for (int k = 0; k < n; k++)
            measure_point(r, r->last.x_mm + (p.x_mm - r->last.x_mm) * k / n, r->last.y_mm + (p.y_mm - r->last.y_mm) * k / n);
    }
    r->has_last = true;
    r->last = p;
    return true;
}

/* out: both ways. worst_back: from the pixel edges to the curve alone, which a corner put back sharp does not lengthen. */
static void measure(const sw_mask *mask, double px_per_mm, const sw_contours *list, spread *out, double *worst_back)
{
    const size_t width = mask->width_px + 1, n = 2 * width * (mask->height_px + 1);
    ruler r = { .mask = mask, .px_per_mm = px_per_mm, .nearest = sw_alloc_raw(n, sizeof(float)), .out = out };
    if (r.nearest == NULL) exit(3);
    for (size_t k = 0; k < n; k++) r.nearest[k] = LOOK_PX;
    for (size_t i = 0; i < list->n; i++) {
        r.has_last = false;
        (void)sw_contour_flatten(&list->at[i], 0.01 / px_per_mm, measure_to, &r);
        (void)measure_to(&r, list->at[i].start);
    }
    for (size_t y = 0; y <= mask->height_px; y++) {
        for (size_t x = 0; x <= mask->width_px; x++) {
            const ptrdiff_t i = (ptrdiff_t)x, j = (ptrdiff_t)y;
            const float *const d = &r.nearest[2 * (y * width + x)];
            for (int k = 0; k < 2; k++) {
                if (open_at(mask, i, j) == (k ? open_at(mask, i - 1, j) : open_at(mask, i, j - 1))) continue;
                count(out, (double)d[k]);
                *worst_back = sw_max(*worst_back, (double)d[k]);
            }
        }
    }
    sw_free(r.nearest);
}

/* ---- the tracer by itself ------------------------------------------------------------------------------------------ */

static potrace_state_t *trace_plain(const sw_mask *m, double *best_ms)
{
    const size_t bits = 8 * sizeof(potrace_word), n_words = (m->width_px + bits - 1) / bits;
    potrace_bitmap_t b = { (int)m->width_px, (int)m->height_px, (int)n_words,
                           sw_alloc_array(n_words * m->height_px, sizeof(potrace_word)) };
    potrace_param_t *const param = potrace_param_default();
    if (b.map == NULL || param == NULL) exit(3);
    for (size_t y = 0; y < m->height_px; y++) {
        for (size_t x = 0; x < m->width_px; x++) {
            if (m->at[y * m->width_px + x] != 0)
                b.map[(m->height_px - 1 - y) * n_words + x / bits] |= (potrace_word)1 << (bits - 1 - x % bits);
        }
    }
    param->turdsize = 0;
    param->turnpolicy = POTRACE_TURNPOLICY_BLACK;
    potrace_state_t *state = NULL;
    for (int k = 0; k < 3; k++) {
        if (state != NULL) potrace_state_free(state);
        const double start = now_ms();
        state = potrace_trace(param, &b);
        *best_ms = sw_min(*best_ms, now_ms() - start);
        if (state == NULL) exit(3);
    }
    potrace_param_free(param);
    sw_free(b.map);
    return state;
}

static sw_pt_mm to_mm(potrace_dpoint_t p, double height, double px_per_mm)
{
    return (sw_pt_mm){ p.x / px_per_mm, (height - p.y) / px_per_mm };
}

static void take_plain(const potrace_state_t *state, double height, double px_per_mm, sw_contours *out)
{
    for (const potrace_path_t *path = state->plist; path != NULL; path = path->next) {
        const potrace_curve_t *const c = &path->curve;
        sw_contour made = { .start = to_mm(c->c[c->n - 1][2], height, px_per_mm) };
        bool is_ok = true;
        for (int i = 0; i < c->n; i++) {
            const sw_pt_mm a = to_mm(c->c[i][0], height, px_per_mm), b = to_mm(c->c[i][1], height, px_per_mm);
            const sw_pt_mm end = to_mm(c->c[i][2], height, px_per_mm);
            is_ok = is_ok && (c->tag[i] == POTRACE_CORNER
                                  ? sw_contour_add_line(&made, b) && sw_contour_add_line(&made, end)
                                  : sw_contour_add_cubic(&made, a, b, end));
        }
        if (!is_ok || sw_contours_take(out, &made, NULL) != SW_OK) exit(3);
    }
}

/* ---- sums ---------------------------------------------------------------------------------------------------------- */

typedef struct totals {
    size_t n_plain, n_ours[N_TOLERANCES], n_masks;
    double plain_ms, ours_ms, plain_back, ours_back[N_TOLERANCES];
    spread plain, ours[N_TOLERANCES];
    double n_equal;    /* segments of ours, mask by mask at the tracer's largest distance on it */
    size_t n_unequal;  /* masks where no tolerance is that near; the finest counts then */
} totals;

static size_t count_segments(const sw_contours *list)
{
    size_t n = 0;
    for (size_t i = 0; i < list->n; i++) n += list->at[i].n_segs;
    return n;
}

/* The tracer on one mask, a few rounds. */
static size_t bench_plain(const sw_mask *mask, double px_per_mm, spread *out, double *ms, totals *sum)
{
    sw_contours plain = { 0 };
    potrace_state_t *const state = trace_plain(mask, ms);
    take_plain(state, (double)mask->height_px, px_per_mm, &plain);
    potrace_state_free(state);
    measure(mask, px_per_mm, &plain, out, &sum->plain_back);
    const size_t n = count_segments(&plain);
    printf("%5zu contours, tracer %5zu segments within %.2f px %6.1f ms; ours", plain.n, n, out->worst, *ms);
    sw_contours_free(&plain);
    return n;
}

/* Ours at one tolerance. */
static size_t bench_ours(const sw_mask *mask, double px_per_mm, size_t k, spread *out, double *ms, totals *sum)
{
    const sw_grid grid = { mask->width_px, mask->height_px, px_per_mm };
    sw_contours ours = { 0 };
    for (int round = 0; round < 3; round++) {
        sw_contours_free(&ours);
        const double start = now_ms();
        if (sw_contours_trace(mask, &grid, &(sw_trace_opts){ .tolerance_mm = tolerances_mm[k] }, &ours, NULL) != SW_OK)
            exit(3);
        *ms = sw_min(*ms, now_ms() - start);
        if (tolerances_mm[k] != 0.5) break;
    }
    measure(mask, px_per_mm, &ours, out, &sum->ours_back[k]);
    const size_t n = count_segments(&ours);
    printf(" %zu/%.2f", n, out->worst);
    sw_contours_free(&ours);
    return n;
}

/* Segments where our distance is the tracer's, between the tolerances on either side; below 0 if none is that near. */
static double segments_at(double want, const double here[N_TOLERANCES], const size_t n_ours[N_TOLERANCES])
{
    for (size_t k = N_TOLERANCES; k-- > 0;) {
        if (here[k] > want) continue;
        if (k + 1 == N_TOLERANCES) return (double)n_ours[k];
        const double share = (want - here[k]) / (here[k + 1] - here[k]);
        return (double)n_ours[k] + share * ((double)n_ours[k + 1] - (double)n_ours[k]);
    }
    return -1.0;
}

static void bench_mask(const char *name, const sw_mask *mask, double px_per_mm, totals *sum)
{
    spread *const one = sw_alloc_array(1, sizeof *one);
    if (one == NULL) exit(3);
    double plain_ms = 1e9, here[N_TOLERANCES], half_ms = 1e9;
    size_t n_ours[N_TOLERANCES];
    printf("%-22s ", name);
    const size_t n_plain = bench_plain(mask, px_per_mm, one, &plain_ms, sum);
    const double want = one->worst;
    join(&sum->plain, one);
    for (size_t k = 0; k < N_TOLERANCES; k++) {
        double ms = 1e9;
        *one = (spread){ 0 };
        n_ours[k] = bench_ours(mask, px_per_mm, k, one, &ms, sum);
        here[k] = one->worst;
        if (tolerances_mm[k] == 0.5) half_ms = ms;
        join(&sum->ours[k], one);
        sum->n_ours[k] += n_ours[k];
    }
    const double n_equal = segments_at(want, here, n_ours);
    if (n_equal < 0.0) printf(", %.1f ms; nowhere at the tracer's distance\n", half_ms);
    else printf(", %.1f ms; at the tracer's distance %.0f\n", half_ms, n_equal);
    sum->n_equal += n_equal < 0.0 ? (double)n_ours[0] : n_equal;
    sum->n_unequal += n_equal < 0.0;
    sum->n_plain += n_plain;
    sum->plain_ms += plain_ms;
    sum->ours_ms += half_ms;
    sum->n_masks++;
    sw_free(one);
}

static void bench_pgm(const char *path, totals *sum)
{
    FILE *const f = fopen(path, "rb");
    size_t width, height;
    sw_mask mask = { 0 };
    if (f == NULL || fscanf(f, "P5 %zu %zu 255", &width, &height) != 2 || fgetc(f) == EOF ||
        sw_mask_make(width, height, &mask, NULL) != SW_OK || fread(mask.at, 1, width * height, f) != width * height) {
        fprintf(stderr, "bench_curves: '%s' is not a mask\n", path);
        exit(2);
    }
    fclose(f);
    for (size_t i = 0; i < width * height; i++) mask.at[i] = mask.at[i] != 0;
    const char *const slash = strrchr(path, '/');
    bench_mask(slash != NULL ? slash + 1 : path, &mask, 2.0, sum);
    sw_mask_free(&mask);
}

static void bench_picture(const char *path, double width_mm, totals *sum)
{
    sw_picture full = { 0 }, art = { 0 };
    sw_separation separation = { 0 };
    sw_sheets sheets = { 0 };
    sw_note note = { 0 };
    const sw_rgb8 white = { 255, 255, 255 };
    sw_grid grid = { 0 };
    sw_status st = sw_picture_read(path, &(sw_picture_opts){ .ground = white }, &full, &note);
    if (st == SW_OK) {
        grid.width_px = (size_t)(2.0 * width_mm);
        grid.height_px = (size_t)(2.0 * width_mm * (double)full.height_px / (double)full.width_px);
        grid.px_per_mm = 2.0;
        st = sw_picture_resample(&full, grid.width_px, grid.height_px, &art, &note);
    }
    if (st == SW_OK)
        st = sw_separate(&art, &grid, &(sw_separate_opts){ .n_passes = 3, .ground = white, .min_opening_mm = 3.0,
                                                           .min_web_mm = 5.0 }, NULL, &separation, &note);
    if (st == SW_OK)
        st = sw_sheets_make(&separation, &art, &(sw_sheet_opts){ .min_opening_mm = 3.0, .min_web_mm = 5.0,
                                                                 .slack_mm = 0.3, .trap_mm = 1.5 }, NULL, &sheets, &note);
    if (st != SW_OK) {
        fprintf(stderr, "bench_curves: '%s': %s\n", path, note.text);
        exit(sw_status_exit(st));
    }
    const char *const slash = strrchr(path, '/');
    for (size_t i = 0; i < sheets.n; i++) {
        char name[64];
        snprintf(name, sizeof name, "%.16s pass %zu", slash != NULL ? slash + 1 : path, i + 1);
        bench_mask(name, &sheets.at[i].openings, grid.px_per_mm, sum);
    }
    sw_sheets_free(&sheets);
    sw_separation_free(&separation);
    sw_picture_free(&art);
    sw_picture_free(&full);
}

static void print_equal(const totals *t)
{
    double most[N_TOLERANCES], worst[N_TOLERANCES];
    for (size_t k = 0; k < N_TOLERANCES; k++) {
        most[k] = quantile(&t->ours[k], 0.999);
        worst[k] = t->ours[k].worst;
    }
    printf("at the tracer's largest distance both ways on each mask: ratio %.3f (target 0.7); %zu masks are farther off even at "
           "%g mm\n", t->n_equal / (double)t->n_plain, t->n_unequal, tolerances_mm[0]);
    const double n_largest = segments_at(t->plain.worst, worst, t->n_ours);
    if (n_largest < 0.0) printf("its largest distance of all is not reached\n");
    else printf("at its largest distance of all: ratio %.3f (target 0.7)\n", n_largest / (double)t->n_plain);
    printf("at its 99.9 %% distance: ratio %.3f (target 0.7)\n",
           segments_at(quantile(&t->plain, 0.999), most, t->n_ours) / (double)t->n_plain);
}

int main(int argc, char **argv)
{
    double width_mm = 2100.0;
    int first = 1;
    if (argc > 1 && sw_number_parse(argv[1], &width_mm)) first = 2;
    if (first >= argc) {
        fprintf(stderr, "usage: bench_curves [WIDTH_MM] PICTURE...\n");
        return 2;
    }
    totals *const t = sw_alloc_array(1, sizeof *t);
    if (t == NULL) return 3;
    printf("tolerances in mm:");
    for (size_t k = 0; k < N_TOLERANCES; k++) printf(" %g", tolerances_mm[k]);
    printf("\n");
    for (int i = first; i < argc; i++) {
        const size_t len = strlen(argv[i]);
        if (len > 4 && strcmp(argv[i] + len - 4, ".pgm") == 0) bench_pgm(argv[i], t);
        else bench_picture(argv[i], width_mm, t);
    }
    printf("\n%zu masks; distances in pixels of 0.5 mm from the pixel edges\n", t->n_masks);
    printf("  tracer, optimised      %6zu segments, largest %.2f, edges to curve %.2f, 99.9 %% within %.3f\n", t->n_plain,
           t->plain.worst, t->plain_back, quantile(&t->plain, 0.999));
    for (size_t k = 0; k < N_TOLERANCES; k++)
        printf("  ours at %4.2f mm        %6zu segments, largest %.2f, edges to curve %.2f, 99.9 %% within %.3f; ratio %.3f\n",
               tolerances_mm[k], t->n_ours[k], t->ours[k].worst, t->ours_back[k], quantile(&t->ours[k], 0.999),
               (double)t->n_ours[k] / (double)t->n_plain);
    print_equal(t);
    printf("time at 0.5 mm, tracing included: %.1f ms against %.1f ms of the tracer: %.2f times (target 4)\n", t->ours_ms,
           t->plain_ms, t->ours_ms / t->plain_ms);
    sw_free(t);
    return 0;
}
