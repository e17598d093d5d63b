/* How quiet the labels are, and what that costs: boundary length, regions and colour error against plain nearest-colour
 * labelling with the same palette, 2.1 m wide, 4 labels. Prints a line a picture and the geometric means.
 *     bench_separation [-w FILE_PREFIX] [-d DETAIL] PICTURE...
 * DETAIL: 0..1; without it the default of a job. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "separate/separate.h"
#include "stencilwright/stencilwright.h"

#define WIDTH_MM 2100.0
#ifndef PX_PER_MM
#define PX_PER_MM 2.0
#endif
#define N_PASSES 3 /* and the ground: 4 labels */
#define ERROR_STEP 3 /* px between pixels whose colour error is taken */

typedef struct measures {
    double length_px, error;
    size_t n_regions;
} measures;

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Length of all boundaries by counting crossings along rows, columns and both diagonals (Cauchy-Crofton). */
static double boundary_length(const uint8_t *label, size_t width, size_t height)
{
    size_t straight = 0, diagonal = 0;
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width; x++) {
            const uint8_t *const p = label + y * width + x;
            const bool is_right = x + 1 < width, is_low = y + 1 < height;
            if (is_right) straight += p[0] != p[1];
            if (is_low) straight += p[0] != p[width];
            if (is_right && is_low) diagonal += (size_t)(p[0] != p[width + 1]) + (size_t)(p[1] != p[width]);
        }
    }
    return 3.14159265358979 / 8.0 * ((double)straight + (double)diagonal / sqrt(2.0));
}

static size_t root_of(uint32_t *parent, size_t i)
{
    while (parent[i] != i) i = parent[i] = parent[parent[i]];
    return i;
}

/* Connected parts of equal label, over sides. */
static size_t count_regions(const uint8_t *label, size_t width, size_t height)
{
    uint32_t *const parent = sw_alloc_raw(width * height, sizeof *parent);
    size_t n = 0;
    if (parent == NULL) abort();
    for (size_t i = 0; i < width * height; i++) {
        const size_t x = i % width;
        parent[i] = (uint32_t)i;
        n++;
        const size_t before[2] = { x > 0 ? i - 1 : i, i >= width ? i - width : i };
        for (size_t k = 0; k < 2; k++) {
            if (before[k] == i || label[before[k]] != label[i]) continue;
            const size_t one = root_of(parent, before[k]), two = root_of(parent, i);
            if (one == two) continue;
            parent[two > one ? two : one] = (uint32_t)(two > one ? one : two);
            n--;
        }
    }
    sw_free(parent);
    return n;
}

static double mean_error(const sw_picture *art, const uint8_t *label, const sw_rgb8 *colour)
{
    sw_lab lab[SW_MAX_PASSES + 1];
    double sum = 0.0;
    size_t n = 0;
    for (size_t i = 0; i <= SW_MAX_PASSES; i++) lab[i] = sw_lab_from_rgb8(colour[i]);
    for (size_t y = 0; y < art->height_px; y += ERROR_STEP) {
        for (size_t x = 0; x < art->width_px; x += ERROR_STEP, n++) {
            const size_t at = y * art->width_px + x;
            sum += sw_ciede2000(sw_lab_from_rgb8(art->at[at]), lab[label[at]]);
        }
    }
    return sum / (double)n;
}

static measures measure(const sw_picture *art, const uint8_t *label, const sw_rgb8 *colour)
{
    return (measures){ .length_px = boundary_length(label, art->width_px, art->height_px),
                       .n_regions = count_regions(label, art->width_px, art->height_px),
                       .error = mean_error(art, label, colour) };
}

static void label_nearest(const sw_picture *art, const sw_separation *s, uint8_t *label)
{
    sw_oklab colour[SW_MAX_PASSES + 1];
    for (size_t i = 0; i <= s->n_passes; i++) colour[i] = sw_oklab_from_rgb8(s->colour[i]);
    for (size_t at = 0; at < art->width_px * art->height_px; at++) {
        const sw_oklab c = sw_oklab_from_rgb8(art->at[at]);
        float best = INFINITY;
        for (size_t i = 0; i <= s->n_passes; i++) {
            const float l = c.L - colour[i].L, a = c.a - colour[i].a, b = c.b - colour[i].b;
            const float d = l * l + a * a + b * b;
            if (d >= best) continue;
            best = d;
            label[at] = (uint8_t)i;
        }
    }
}

static void write_labels(const char *prefix, const char *name, const char *kind, const sw_separation *s)
{
    char path[512];
    snprintf(path, sizeof path, "%s%s-%s.ppm", prefix, name, kind);
    FILE *const file = fopen(path, "wb");
    if (file == NULL) return;
    fprintf(file, "P6 %zu %zu 255\n", s->grid.width_px, s->grid.height_px);
    for (size_t i = 0; i < s->grid.width_px * s->grid.height_px; i++) fwrite(&s->colour[s->label[i]], 1, 3, file);
    fclose(file);
}

static bool run(const char *path, sw_separate_kind kind, double detail, const char *prefix, double sums[3])
{
    sw_note note = { 0 };
    sw_picture read = { 0 }, art = { 0 };
    sw_separation quiet = { 0 }, plain = { 0 };
    const char *const name = strrchr(path, '/') != NULL ? strrchr(path, '/') + 1 : path;
    const char *const kind_name = kind == SW_SEPARATE_TONE ? "tone" : "colour";
    sw_separate_opts opts = { .kind = kind, .n_passes = N_PASSES, .ground = { 255, 255, 255 }, .min_opening_mm = 3.0,
                              .min_web_mm = 5.0, .detail_ratio = detail, .has_detail = true };
    bool is_done = false;
    if (sw_picture_read(path, &(sw_picture_opts){ .ground = opts.ground }, &read, &note) != SW_OK) goto cleanup;
    const size_t width = (size_t)(WIDTH_MM * PX_PER_MM);
    const size_t height = (size_t)lrint((double)width * (double)read.height_px / (double)read.width_px);
    if (sw_picture_resample(&read, width, height, &art, &note) != SW_OK) goto cleanup;
    const sw_grid grid = { width, height, PX_PER_MM };
    const double begin = seconds();
    if (sw_separate(&art, &grid, &opts, NULL, &quiet, &note) != SW_OK) goto cleanup;
    const double taken = seconds() - begin;
    opts.detail_ratio = 1.0; /* all detail: nearest tone */
    if (sw_separate(&art, &grid, &opts, NULL, &plain, &note) != SW_OK) goto cleanup;
    if (kind == SW_SEPARATE_COLOUR) label_nearest(&art, &quiet, plain.label);
    const measures q = measure(&art, quiet.label, quiet.colour);
    const measures p = measure(&art, plain.label, kind == SW_SEPARATE_COLOUR ? quiet.colour : plain.colour);
    const double ratio[3] = { q.length_px / p.length_px, (double)q.n_regions / (double)p.n_regions,
                              q.error / p.error };
    printf("%-24.24s %-6s %6.1f m %6.1f m %5.3f  %6zu %6zu %5.3f  %5.2f %5.2f %5.3f  %5.2f s\n", name, kind_name,
           p.length_px / PX_PER_MM / 1000.0, q.length_px / PX_PER_MM / 1000.0, ratio[0], p.n_regions, q.n_regions,
           ratio[1], p.error, q.error, ratio[2], taken);
    for (size_t i = 0; i < 3; i++) sums[i] += log(ratio[i]);
    if (prefix != NULL) write_labels(prefix, name, kind_name, &quiet);
    is_done = true;
cleanup:
    if (!is_done) fprintf(stderr, "%s %s: %s\n", name, kind_name, note.text);
    sw_picture_free(&read);
    sw_picture_free(&art);
    sw_separation_free(&quiet);
    sw_separation_free(&plain);
    return is_done;
}

int main(int argc, char **argv)
{
    const char *prefix = NULL;
    double detail = sw_cut_defaults().detail_ratio;
    int first = 1;
    for (; first + 1 < argc && argv[first][0] == '-'; first += 2) {
        if (strcmp(argv[first], "-w") == 0) prefix = argv[first + 1];
        else if (strcmp(argv[first], "-d") == 0 && !sw_number_parse(argv[first + 1], &detail)) return 2;
    }
    printf("%-31s %-24s %-20s %-18s %s\n", "picture, 2.1 m, 4 labels", "cut: plain quiet ratio", "regions",
           "CIEDE2000", "time");
    for (int kind = SW_SEPARATE_TONE; kind <= SW_SEPARATE_COLOUR; kind++) {
        double sums[3] = { 0.0 }, n = 0.0;
        for (int i = first; i < argc; i++) n += run(argv[i], (sw_separate_kind)kind, detail, prefix, sums);
        if (n > 0.0)
            printf("geometric means %-6s cut %.3f regions %.3f CIEDE2000 %.3f\n\n",
                   kind == SW_SEPARATE_TONE ? "tone" : "colour", exp(sums[0] / n), exp(sums[1] / n),
                   exp(sums[2] / n));
    }
    return 0;
}
