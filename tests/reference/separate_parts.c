/* Parts of the separation for reference checks. All input is text on standard input.
 *     separate_parts tone K        256 counts                          -> the last bin of each class but the last
 *     separate_parts colour K     n, then n lines of L a b weight     -> the k-means cost
 *     separate_parts composite PICTURE GROUND [is_plain]   nothing    -> mean CIEDE2000 of three tones over the ground
 *     separate_parts labels LAMBDA CAP LEVELS   width height, the two colours, width * height bytes of lightness
 *                                                                     -> the labels, a row a line */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "separate/parts.h"

static int tone(size_t k)
{
    uint64_t histogram[256];
    uint8_t cuts[SW_MAX_LABELS];
    for (size_t i = 0; i < 256; i++) {
        unsigned long long n;
        if (scanf("%llu", &n) != 1) return 2;
        histogram[i] = n;
    }
    const size_t n = sw_cluster_tone(histogram, k, cuts);
    for (size_t i = 0; i + 1 < n; i++) printf("%d ", cuts[i]);
    printf("\n");
    return 0;
}

static int colour(size_t k)
{
    sw_colour_cells cells = { 0 };
    sw_plane_colour centre[SW_MAX_LABELS];
    size_t n_found;
    double cost;
    if (scanf("%zu", &cells.n) != 1) return 2;
    cells.at = sw_alloc_array(cells.n, sizeof *cells.at);
    if (cells.at == NULL) return 3;
    for (size_t i = 0; i < cells.n; i++) {
        sw_colour_cell *const c = &cells.at[i];
        if (scanf("%lf %lf %lf %lf", &c->at[0], &c->at[1], &c->at[2], &c->weight) != 4) return 2;
    }
    if (sw_cluster_colour(&cells, k, 0, centre, &n_found, &cost, NULL) != SW_OK) return 3;
    printf("%.17g\n", cost);
    sw_free(cells.at);
    return 0;
}

static int labels(double lambda, double cap, size_t n_levels)
{
    sw_planes planes = { .n = 1 };
    sw_label_task task = { .planes = &planes, .n_labels = 2, .lambda = lambda, .n_levels = n_levels, .mixed_sq = 1e9,
                           .cap_sq = cap };
    if (scanf("%zu %zu %lf %lf", &planes.width_px, &planes.height_px, &task.colour[0].at[0],
              &task.colour[1].at[0]) != 4)
        return 2;
    const size_t n_px = planes.width_px * planes.height_px;
    uint8_t *const label = sw_alloc_array(n_px, 1);
    planes.at[0] = sw_alloc_array(n_px, 1);
    if (label == NULL || planes.at[0] == NULL) return 3;
    for (size_t i = 0; i < n_px; i++) {
        unsigned v;
        if (scanf("%u", &v) != 1) return 2;
        planes.at[0][i] = (uint8_t)v;
    }
    if (sw_labels_make(&task, label, NULL) != SW_OK) return 3;
    for (size_t i = 0; i < n_px; i++) printf("%d%c", label[i], (i + 1) % planes.width_px == 0 ? '\n' : ' ');
    sw_free(label);
    sw_planes_free(&planes);
    return 0;
}

/* 1 m wide at 2 px a mm, default detail; is_plain: cut-offs as clustered. */
static int composite(const char *path, const char *ground, bool is_plain)
{
    sw_picture read = { 0 }, art = { 0 };
    sw_separation s = { 0 };
    sw_separate_opts opts = { .n_passes = 3, .min_opening_mm = 3.0, .min_web_mm = 5.0, .detail_ratio = 0.55,
                              .has_detail = true, .keeps_cuts = is_plain };
    double sum = 0.0;
    if (!sw_rgb8_parse(ground, &opts.ground)) return 2;
    if (sw_picture_read(path, &(sw_picture_opts){ .ground = opts.ground }, &read, NULL) != SW_OK) return 3;
    const sw_grid grid = { 2000, 2000 * read.height_px / read.width_px, 2.0 };
    if (sw_picture_resample(&read, grid.width_px, grid.height_px, &art, NULL) != SW_OK) return 3;
    if (sw_separate(&art, &grid, &opts, NULL, &s, NULL) != SW_OK) return 3;
    size_t n = 0;
    for (size_t i = 0; i < grid.width_px * grid.height_px; i += 7, n++)
        sum += (double)sw_ciede2000(sw_lab_from_rgb8(art.at[i]), sw_lab_from_rgb8(s.colour[s.label[i]]));
    printf("%.4f\n", sum / (double)n);
    sw_picture_free(&read);
    sw_picture_free(&art);
    sw_separation_free(&s);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "tone") == 0) return tone((size_t)atoi(argv[2]));
    if (argc == 3 && strcmp(argv[1], "colour") == 0) return colour((size_t)atoi(argv[2]));
    if (argc >= 4 && strcmp(argv[1], "composite") == 0) return composite(argv[2], argv[3], argc > 4);
    if (argc == 5 && strcmp(argv[1], "labels") == 0)
        return labels(atof(argv[2]), atof(argv[3]), (size_t)atoi(argv[4]));
    return 2;
}
