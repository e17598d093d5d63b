/* PNG out, by libpng: 8-bit sRGB with the density in pHYs, no time stamp, so the same picture gives the same bytes.
 *
 * The only file that writes through libpng. Its error path jumps: the function that holds the jump owns nothing, all
 * it makes sits in a struct of the caller. */
#include "write/write.h"

#include <math.h>
#include <png.h>
#include <setjmp.h>

/* Previews are flat areas with sharp edges: without a row filter they pack as small as with one, in a third of the
 * time, and above level 3 nothing is gained that is worth waiting for. */
#define PACK_LEVEL 3
/* Photographs are not: filtered row by row, each as suits it best, they take a quarter less than without. Level 6 takes
 * three times the time of 3 for 4 % less. */
#define FLAT_RATIO 0.5  /* of the pixels of a preview, or more, are as their left neighbour */
#define LOOK_EVERY 8u   /* rows */

typedef struct png_job {
    png_structp png;
    png_infop info;
    sw_text text;
    jmp_buf on_error;
} png_job;

static void take_bytes(png_structp png, png_bytep data, png_size_t n)
{
    png_job *const job = png_get_io_ptr(png);
    sw_text_add_bytes(&job->text, data, n);
    if (job->text.is_broken) png_error(png, "memory");
}

static void flush_nothing(png_structp png) { (void)png; }

static void jump_out(png_structp png, png_const_charp message)
{
    (void)message;
    png_job *const job = png_get_error_ptr(png);
    longjmp(job->on_error, 1);
}

static void ignore_warning(png_structp png, png_const_charp message)
{
    (void)png;
    (void)message;
}

static bool is_photograph(const sw_picture *picture)
{
    size_t n = 0, n_same = 0;
    for (size_t y = 0; y < picture->height_px; y += LOOK_EVERY) {
        const sw_rgb8 *const row = picture->at + y * picture->width_px;
        for (size_t x = 1; x < picture->width_px; x++) n_same += row[x].r == row[x - 1].r && row[x].g == row[x - 1].g && row[x].b == row[x - 1].b;
        n += picture->width_px - 1;
    }
    return (double)n_same < FLAT_RATIO * (double)n;
}

/* False when libpng gave up; everything made is in job. */
static bool encode(png_job *job, const sw_picture *picture, bool is_photo, double px_per_mm)
{
    if (setjmp(job->on_error) != 0) return false;
    job->png = png_create_write_struct(PNG_LIBPNG_VER_STRING, job, jump_out, ignore_warning);
    if (job->png == NULL) return false;
    job->info = png_create_info_struct(job->png);
    if (job->info == NULL) return false;
    png_set_write_fn(job->png, job, take_bytes, flush_nothing);
    png_set_user_limits(job->png, SW_MAX_SIDE_PX, SW_MAX_SIDE_PX);
    png_set_compression_level(job->png, PACK_LEVEL);
    png_set_filter(job->png, PNG_FILTER_TYPE_BASE, is_photo ? PNG_ALL_FILTERS : PNG_FILTER_NONE);
    png_set_IHDR(job->png, job->info, (png_uint_32)picture->width_px, (png_uint_32)picture->height_px, 8,
                 PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_BASE, PNG_FILTER_TYPE_BASE);
    png_set_sRGB(job->png, job->info, PNG_sRGB_INTENT_PERCEPTUAL);
    if (px_per_mm > 0.0 && px_per_mm < 1e6) {
        const png_uint_32 per_metre = (png_uint_32)nearbyint(px_per_mm * 1000.0);
        png_set_pHYs(job->png, job->info, per_metre, per_metre, PNG_RESOLUTION_METER);
    }
    png_write_info(job->png, job->info);
    for (size_t y = 0; y < picture->height_px; y++)
        png_write_row(job->png, (png_const_bytep)&picture->at[y * picture->width_px]);
    png_write_end(job->png, job->info);
    return true;
}

sw_status sw_write_png(const sw_picture *picture, double px_per_mm, sw_text *out, sw_note *note)
{
    _Static_assert(sizeof(sw_rgb8) == 3, "a row of sw_rgb8 is a row of PNG");
    png_job job = { 0 };
    if (picture->width_px == 0 || picture->height_px == 0 || picture->width_px > SW_MAX_SIDE_PX ||
        picture->height_px > SW_MAX_SIDE_PX)
        return sw_fail(note, SW_TOO_LARGE, "a picture of %zu x %zu pixels cannot be written", picture->width_px,
                       picture->height_px);
    const bool is_done = encode(&job, picture, is_photograph(picture), px_per_mm);
    png_destroy_write_struct(&job.png, &job.info);
    if (is_done) {
        *out = job.text;
        return SW_OK;
    }
    sw_text_free(&job.text);
    return sw_fail_memory(note, "a PNG file");
}
