/* JPEG out, by libjpeg: for pictures inside a page, where a photograph as PNG would be ten times as large.
 *
 * The only file that writes through libjpeg. Its error path jumps: the function that holds the jump owns nothing, all
 * it makes sits in a struct of the caller. */
#include <stdio.h> /* jpeglib.h wants FILE */

#include "write/write.h"

#include <jpeglib.h>
#include <setjmp.h>

#define CHUNK 16384u

typedef struct jpeg_job {
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr errors;
    struct jpeg_destination_mgr to;
    sw_text text;
    JOCTET chunk[CHUNK];
    jmp_buf on_error;
} jpeg_job;

static void jump_out(j_common_ptr jpeg)
{
    jpeg_job *const job = jpeg->client_data;
    longjmp(job->on_error, 1);
}

static void say_nothing(j_common_ptr jpeg) { (void)jpeg; }

static void begin_chunk(j_compress_ptr jpeg)
{
    jpeg_job *const job = jpeg->client_data;
    job->to.next_output_byte = job->chunk;
    job->to.free_in_buffer = CHUNK;
}

static boolean flush_chunk(j_compress_ptr jpeg)
{
    jpeg_job *const job = jpeg->client_data;
    sw_text_add_bytes(&job->text, job->chunk, CHUNK);
    begin_chunk(jpeg);
    return TRUE;
}

static void end_chunk(j_compress_ptr jpeg)
{
    jpeg_job *const job = jpeg->client_data;
    sw_text_add_bytes(&job->text, job->chunk, CHUNK - job->to.free_in_buffer);
}

/* False when libjpeg gave up; everything made is in job. */
static bool encode(jpeg_job *job, const sw_picture *picture, int quality)
{
    job->jpeg.err = jpeg_std_error(&job->errors);
    job->errors.error_exit = jump_out;
    job->errors.output_message = say_nothing;
    job->jpeg.client_data = job;
    if (setjmp(job->on_error) != 0) return false;
    jpeg_create_compress(&job->jpeg);
    job->jpeg.client_data = job;
    job->to.init_destination = begin_chunk;
    job->to.empty_output_buffer = flush_chunk;
    job->to.term_destination = end_chunk;
    job->jpeg.dest = &job->to;
    job->jpeg.image_width = (JDIMENSION)picture->width_px;
    job->jpeg.image_height = (JDIMENSION)picture->height_px;
    job->jpeg.input_components = 3;
    job->jpeg.in_color_space = JCS_RGB;
    jpeg_set_defaults(&job->jpeg);
    jpeg_set_quality(&job->jpeg, quality, TRUE);
    job->jpeg.dct_method = JDCT_ISLOW; /* the same on every processor */
    jpeg_start_compress(&job->jpeg, TRUE);
    while (job->jpeg.next_scanline < job->jpeg.image_height) {
        /* libjpeg asks for a row it may write to and only reads it */
        JSAMPROW row = (JSAMPROW)(uintptr_t)&picture->at[(size_t)job->jpeg.next_scanline * picture->width_px];
        (void)jpeg_write_scanlines(&job->jpeg, &row, 1);
    }
    jpeg_finish_compress(&job->jpeg);
    return true;
}

sw_status sw_write_jpeg(const sw_picture *picture, int quality, sw_text *out, sw_note *note)
{
    if (picture->width_px == 0 || picture->height_px == 0 || picture->width_px > JPEG_MAX_DIMENSION ||
        picture->height_px > JPEG_MAX_DIMENSION)
        return sw_fail(note, SW_TOO_LARGE, "a picture of %zu x %zu pixels cannot be written as JPEG", picture->width_px,
                       picture->height_px);
    jpeg_job *const job = sw_alloc_array(1, sizeof *job);
    if (job == NULL) return sw_fail_memory(note, "a JPEG file");
    const bool is_done = encode(job, picture, quality) && !job->text.is_broken;
    jpeg_destroy_compress(&job->jpeg);
    if (is_done) *out = job->text;
    else sw_text_free(&job->text);
    sw_free(job);
    return is_done ? SW_OK : sw_fail_memory(note, "a JPEG file");
}
