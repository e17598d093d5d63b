/* Reads cases from standard input: n, then n lines of wall x, wall y, photo x, photo y. Prints a line a case: the nine
 * entries of the map and the residuals in mm, or "refused". */
#include <stdio.h>

#include "wall/wall.h"

int main(void)
{
    size_t n;
    while (scanf("%zu", &n) == 1 && n < 10000) {
        sw_photo_point points[10000];
        double residual_mm[10000];
        sw_homography h;
        for (size_t i = 0; i < n; i++) {
            if (scanf("%lf %lf %lf %lf", &points[i].wall.x_mm, &points[i].wall.y_mm, &points[i].photo.x_px, &points[i].photo.y_px) != 4)
                return 2;
        }
        if (sw_homography_find(points, n, &h, residual_mm, NULL) != SW_OK) {
            printf("refused\n");
            continue;
        }
        for (int i = 0; i < 9; i++) printf("%.17g ", h.at[i]);
        for (size_t i = 0; i < n; i++) printf("%.17g ", residual_mm[i]);
        printf("\n");
    }
    return 0;
}
