/* Parts of the separation for reference checks. All input is text on standard input.
 *     separate_parts tone K        256 counts                          -> the last bin of each class but the last
 *     separate_parts colour K     n, then n lines of L a b weight     -> the k-means cost
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

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "tone") == 0) return tone((size_t)atoi(argv[2]));
    if (argc == 3 && strcmp(argv[1], "colour") == 0) return colour((size_t)atoi(argv[2]));
    if (argc == 5 && strcmp(argv[1], "labels") == 0)
        return labels(atof(argv[2]), atof(argv[3]), (size_t)atoi(argv[4]));
    return 2;
}
