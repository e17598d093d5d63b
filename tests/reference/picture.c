/* Driver for the reference checks of src/picture/: what the library makes of a file or of numbers, as raw bytes.
 *
 *     picture read FILE R G B [ENOUGH_W ENOUGH_H]   one line "width height alpha clear xdensity ydensity", pixels;
 *                                                   densities in 1e-6 px/mm
 *     picture resample FILE W H THREADS             one line "width height", pixels
 *     picture lab < rgb bytes                       3 doubles a colour
 *     picture oklab < rgb bytes                     3 floats a colour
 *     picture ciede2000 < 6 doubles a pair          1 double a pair
 */
#include "picture/picture.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int fail(const sw_note *note)
{
    fprintf(stderr, "%s\n", note->text);
    return 1;
}

static int put_pixels(sw_picture *picture)
{
    const size_t n = picture->width_px * picture->height_px;
    const bool is_written = fwrite(picture->at, sizeof *picture->at, n, stdout) == n;
    sw_picture_free(picture);
    return is_written && fflush(stdout) == 0 ? 0 : 3;
}

static int read_file(int argc, char **argv)
{
    sw_note note = { { 0 } };
    sw_picture picture = { 0 };
    sw_picture_opts opts = { .ground = { (uint8_t)atoi(argv[3]), (uint8_t)atoi(argv[4]), (uint8_t)atoi(argv[5]) } };
    if (argc > 7) {
        opts.enough_width_px = (size_t)atoi(argv[6]);
        opts.enough_height_px = (size_t)atoi(argv[7]);
    }
    if (sw_picture_read(argv[2], &opts, &picture, &note) != SW_OK) return fail(&note);
    printf("%zu %zu %d %d %.0f %.0f\n", picture.width_px, picture.height_px, picture.has_alpha, picture.is_all_clear,
           picture.x_px_per_mm * 1e6, picture.y_px_per_mm * 1e6);
    return put_pixels(&picture);
}

static int resample_file(char **argv)
{
    sw_note note = { { 0 } };
    sw_picture picture = { 0 }, made = { 0 };
    const sw_picture_opts opts = { .ground = { 255, 255, 255 } };
    sw_threads_set(atoi(argv[5]));
    if (sw_picture_read(argv[2], &opts, &picture, &note) != SW_OK) return fail(&note);
    const sw_status st = sw_picture_resample(&picture, (size_t)atoi(argv[3]), (size_t)atoi(argv[4]), &made, &note);
    sw_picture_free(&picture);
    if (st != SW_OK) return fail(&note);
    printf("%zu %zu\n", made.width_px, made.height_px);
    return put_pixels(&made);
}

static int convert_colours(bool is_ok)
{
    sw_rgb8 in;
    while (fread(&in, sizeof in, 1, stdin) == 1) {
        const sw_oklab ok = sw_oklab_from_rgb8(in);
        const sw_lab lab = sw_lab_from_rgb8(in);
        if (is_ok) fwrite(&ok, sizeof ok, 1, stdout);
        else fwrite(&lab, sizeof lab, 1, stdout);
    }
    return fflush(stdout) == 0 ? 0 : 3;
}

static int compare_colours(void)
{
    sw_lab pair[2];
    while (fread(pair, sizeof pair, 1, stdin) == 1) {
        const double difference = sw_ciede2000(pair[0], pair[1]);
        fwrite(&difference, sizeof difference, 1, stdout);
    }
    return fflush(stdout) == 0 ? 0 : 3;
}

int main(int argc, char **argv)
{
    const char *const what = argc > 1 ? argv[1] : "";
    if (strcmp(what, "read") == 0 && argc >= 6) return read_file(argc, argv);
    if (strcmp(what, "resample") == 0 && argc >= 6) return resample_file(argv);
    if (strcmp(what, "lab") == 0 || strcmp(what, "oklab") == 0) return convert_colours(what[0] == 'o');
    if (strcmp(what, "ciede2000") == 0) return compare_colours();
    fprintf(stderr, "usage: picture read|resample|lab|oklab|ciede2000 ...\n");
    return 2;
}
