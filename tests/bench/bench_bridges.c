/* Time and memory of bridging: a 64 megapixel sheet with 5000 islands, two threads.
 * The mask: rings of many sizes about islands, in a lattice with jitter, half of them partly painted over later. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "sheet/bridge.h"

#define SIDE 8000u
#define N_ROWS 71u /* 71 x 71 = 5041 islands */

static uint64_t random_state = 1;

static double uniform(void)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (double)(random_state >> 11) * 0x1p-53;
}

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double resident_mb(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return (double)usage.ru_maxrss / 1024.0;
}

static void draw(sw_mask *mask, sw_separation *sep)
{
    const double pitch = (double)SIDE / N_ROWS;
    for (size_t k = 0; k < N_ROWS * N_ROWS; k++) {
        const double cx = pitch * ((double)(k % N_ROWS) + 0.5), cy = pitch * ((double)(k / N_ROWS) + 0.5);
        const double inner = 8.0 + 20.0 * uniform(), outer = inner + 6.0 + 18.0 * uniform(), hidden = uniform();
        for (size_t y = (size_t)(cy - outer); y < (size_t)(cy + outer) + 2; y++)
            for (size_t x = (size_t)(cx - outer); x < (size_t)(cx + outer) + 2; x++) {
                const double r = hypot((double)x + 0.5 - cx, (double)y + 0.5 - cy);
                if (r < inner || r >= outer || x >= SIDE || y >= SIDE) continue;
                mask->at[y * SIDE + x] = 1;
                sep->label[y * SIDE + x] = hidden > 0.5 && (double)x > cx ? 2 : 1;
            }
    }
}

int main(int argc, char **argv)
{
    sw_memory_keep(); /* as the program does */
    sw_threads_set(argc > 1 ? atoi(argv[1]) : 2);
    const size_t n = (size_t)SIDE * SIDE;
    sw_separation sep = { .grid = { SIDE, SIDE, 2.0 }, .n_passes = 2,
                          .colour = { { 255, 255, 255 }, { 120, 120, 120 }, { 20, 20, 20 } } };
    sw_sheet sheet = { .pass = 1, .paint = sep.colour[1] };
    sw_note note = { 0 };
    uint8_t *below = sw_alloc_array(n, 1);
    sep.label = sw_alloc_array(n, 1);
    sep.salience = sw_alloc_array(n, 1);
    if (below == NULL || sep.label == NULL || sep.salience == NULL) return 3;
    if (sw_mask_make(SIDE, SIDE, &sheet.openings, &note) != SW_OK) return 3;
    draw(&sheet.openings, &sep);
    memset(below, 0, n); /* pages touched: what is measured is bridging alone */
    memset(sep.salience, 0, n);
    const sw_bridge_job job = { .separation = &sep, .below = below, .window = { 0, 0, SIDE, SIDE }, .width_mm = 5.25,
                                .min_opening_mm = 3.0, .droop_mm = argc > 2 ? atof(argv[2]) : 0.0 };
    const double before_mb = resident_mb(), begin_s = now_s();
    const sw_status st = sw_bridges_plan(&sheet, &job, &note);
    const double took_s = now_s() - begin_s, bytes = (resident_mb() - before_mb) * 1048576.0 / (double)n;
    printf("bridges: %u x %u, %zu islands, %zu bridges: %.2f s, %.1f bytes a pixel, %d threads\n", SIDE, SIDE,
           sheet.n_islands, sheet.n_bridges, took_s, bytes, sw_threads());
    sw_sheet_free(&sheet);
    sw_separation_free(&sep);
    sw_free(below);
    return st == SW_OK ? 0 : 1;
}
