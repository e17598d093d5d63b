/* Reads SVG files and prints a line each: shapes, contours, findings. For the check over a large set of drawings. */
#include <stdio.h>

#include "vector/vector.h"

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        uint8_t *bytes = NULL;
        size_t n = 0, n_contours = 0;
        sw_vector v = { 0 };
        sw_note note = { 0 };
        sw_status st = sw_file_read(argv[i], 100000000u, &bytes, &n, &note);
        if (st == SW_OK) st = sw_vector_read(bytes, n, argv[i], &v, &note);
        for (size_t s = 0; s < v.n_shapes; s++) n_contours += v.shapes[s].contours.n;
        printf("%d\t%zu\t%zu\t%zu\t%s\n", (int)st, v.n_shapes, n_contours, v.n_findings, st == SW_OK ? argv[i] : note.text);
        sw_vector_free(&v);
        sw_free(bytes);
    }
    return 0;
}
