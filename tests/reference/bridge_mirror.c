/* Driver of bridge_mirror.py: a line "WIDTH HEIGHT" and a mask of 0 and 1 bytes in; out, of each opening a line with its
 * area, middle, second and third moments, and its axes of symmetry in degrees. */
#include <stdio.h>
#include <stdlib.h>

#include "sheet/bridge_form.h"

int main(void)
{
    size_t width = 0, height = 0;
    if (scanf("%zu %zu", &width, &height) != 2 || getchar() != '\n') return 2;
    const size_t n = width * height;
    sw_separation sep = { .grid = { width, height, 1.0 }, .n_passes = 1, .colour = { { 255, 255, 255 }, { 0, 0, 0 } } };
    sw_mask mask = { 0 };
    uint8_t *const zero = calloc(n, 1);
    if (zero == NULL || sw_mask_make(width, height, &mask, NULL) != SW_OK || fread(mask.at, 1, n, stdin) != n) return 2;
    sep.label = mask.at;
    sep.salience = zero;
    const sw_bridge_job job = { .separation = &sep, .below = zero, .window = { 0, 0, width, height }, .width_mm = 5, .min_opening_mm = 3 };
    bridge_ground g = { 0 };
    bridge_strips none = { 0 };
    bridge_order o = { 0 };
    if (bridge_ground_make(&mask, &job, 1, sep.colour[1], &g, NULL) != SW_OK || bridge_order_make(&g, &none, &o, NULL) != SW_OK) return 3;
    for (uint32_t k = 1; k <= o.runs.n_components; k++) {
        bridge_turn axes[BRIDGE_AXES];
        const bridge_form f = bridge_form_of(&o, k);
        const size_t n_axes = bridge_form_axes(&o, &f, axes);
        printf("%.0f %.9f %.9f %.15g %.15g %.15g %.15g %.15g", f.area_px, f.mid.x_px - 1.0, f.mid.y_px - 1.0, f.xx, f.xy, f.yy, f.cx, f.cy);
        for (size_t i = 0; i < n_axes; i++) printf(" %.3f", axes[i].angle * 57.29577951308232);
        printf("\n");
    }
    bridge_order_free(&o);
    bridge_ground_free(&g);
    sw_mask_free(&mask);
    free(zero);
    return 0;
}
