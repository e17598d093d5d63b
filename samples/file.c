/* A canvas as PNG or JPEG, eight bits a channel. */
#include "canvas.h"

#include <stdio.h>
#include <string.h>

#include <jpeglib.h>
#include <png.h>

#include "base/base.h"

static void row_bytes(const canvas *c, int y, uint8_t *out)
{
    const float *p = c->px + (size_t)y * (size_t)c->w * 3;
    for (int i = 0; i < 3 * c->w; i++) out[i] = (uint8_t)(clamp01((double)p[i]) * 255.0 + 0.5);
}

static void write_png(const canvas *c, FILE *f, uint8_t *row)
{
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png ? png_create_info_struct(png) : NULL;
    if (info == NULL || setjmp(png_jmpbuf(png))) die("PNG cannot be written");
    png_init_io(png, f);
    png_set_compression_level(png, 4);
    png_set_filter(png, 0, PNG_FILTER_SUB);
    png_set_IHDR(png, info, (png_uint_32)c->w, (png_uint_32)c->h, 8, PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_write_info(png, info);
    for (int y = 0; y < c->h; y++) {
        row_bytes(c, y, row);
        png_write_row(png, row);
    }
    png_write_end(png, info);
    png_destroy_write_struct(&png, &info);
}

static void write_jpeg(const canvas *c, FILE *f, uint8_t *row)
{
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr err; /* the library's own handler ends the program with a message */
    jpeg.err = jpeg_std_error(&err);
    jpeg_create_compress(&jpeg);
    jpeg_stdio_dest(&jpeg, f);
    jpeg.image_width = (JDIMENSION)c->w;
    jpeg.image_height = (JDIMENSION)c->h;
    jpeg.input_components = 3;
    jpeg.in_color_space = JCS_RGB;
    jpeg_set_defaults(&jpeg);
    jpeg_set_quality(&jpeg, 92, TRUE);
    jpeg_start_compress(&jpeg, TRUE);
    for (int y = 0; y < c->h; y++) {
        row_bytes(c, y, row);
        JSAMPROW rows[1] = { row };
        jpeg_write_scanlines(&jpeg, rows, 1);
    }
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
}

void canvas_write(const canvas *c, const char *name)
{
    const size_t len = strlen(name);
    FILE *f = fopen(name, "wb");
    uint8_t *row = sw_alloc_array((size_t)c->w * 3, 1);
    if (f == NULL || row == NULL) die("the picture cannot be written");
    if (len > 4 && strcmp(name + len - 4, ".jpg") == 0)
        write_jpeg(c, f, row);
    else
        write_png(c, f, row);
    sw_free(row);
    if (fclose(f) != 0) die("the picture cannot be written");
}
