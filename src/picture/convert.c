/* Decoded rows to 8-bit sRGB over the ground.
 *
 * Alpha is blended in the encoded sRGB values, not in linear light: that is what drawing programs and browsers do when
 * they show the file, so a soft edge keeps the look its maker saw. (In linear light the same edge over white comes out
 * visibly thinner and paler.) PNG alpha is not premultiplied. */
#include "picture/raster.h"

#include <stdatomic.h>
#include <string.h>

size_t sw_raw_bytes(const sw_raw_form *form)
{
    const size_t n = form->kind == SW_RAW_GREY ? 1 : form->kind == SW_RAW_RGB ? 3 : 4;
    return (n + form->has_alpha) * (form->is_16 ? 2 : 1);
}

typedef struct job {
    const sw_convert *convert;
    const uint8_t *rows;
    size_t stride, width_px;
    sw_rgb8 *out;
    atomic_bool is_any_clear, is_any_visible;
} job;

/* Sample i of a row as 8 bits, rounded to nearest. */
static inline uint8_t sample8(const uint8_t *row, size_t i, bool is_16)
{
    if (!is_16) return row[i];
    uint16_t v;
    memcpy(&v, row + 2 * i, sizeof v);
    return (uint8_t)((v * 255u + 32767u) / 65535u);
}

static inline uint8_t ink_off(unsigned light, unsigned black) { return (uint8_t)((light * black + 127u) / 255u); }

/* CMYK without a profile says nothing about its inks: each is taken to hold back its own third of the light. */
static void ink_row(const sw_raw_form *form, const uint8_t *in, size_t n, sw_rgb8 *out)
{
    const uint8_t flip = form->is_inverted ? 0 : 255;
    for (size_t i = 0; i < n; i++, in += 4) {
        const unsigned k = in[3] ^ flip;
        out[i] = (sw_rgb8){ ink_off(in[0] ^ flip, k), ink_off(in[1] ^ flip, k), ink_off(in[2] ^ flip, k) };
    }
}

static void plain_row(const sw_raw_form *form, const uint8_t *in, size_t n, sw_rgb8 *out)
{
    const size_t step = (form->kind == SW_RAW_GREY ? 1u : 3u) + form->has_alpha;
    for (size_t i = 0; i < n; i++) {
        const uint8_t r = sample8(in, i * step, form->is_16);
        if (step <= 2) out[i] = (sw_rgb8){ r, r, r };
        else out[i] = (sw_rgb8){ r, sample8(in, i * step + 1, form->is_16), sample8(in, i * step + 2, form->is_16) };
    }
}

static inline uint8_t over(uint8_t top, uint8_t ground, uint32_t alpha)
{
    return (uint8_t)((top * alpha + ground * (65535u - alpha) + 32767u) / 65535u);
}

static void blend_row(job *j, const uint8_t *in, sw_rgb8 *out)
{
    const sw_raw_form *const form = &j->convert->form;
    const sw_rgb8 ground = j->convert->ground;
    const size_t step = form->kind == SW_RAW_GREY ? 2 : 4;
    bool is_any_clear = false, is_any_visible = false;
    for (size_t x = 0; x < j->width_px; x++) {
        uint16_t alpha;
        if (form->is_16) memcpy(&alpha, in + 2 * (x * step + step - 1), sizeof alpha);
        else alpha = (uint16_t)(in[x * step + step - 1] * 257u);
        is_any_visible = is_any_visible || alpha != 0;
        if (alpha == 65535u) continue;
        is_any_clear = true;
        out[x] = (sw_rgb8){ over(out[x].r, ground.r, alpha), over(out[x].g, ground.g, alpha),
                            over(out[x].b, ground.b, alpha) };
    }
    if (is_any_clear) atomic_store_explicit(&j->is_any_clear, true, memory_order_relaxed);
    if (is_any_visible) atomic_store_explicit(&j->is_any_visible, true, memory_order_relaxed);
}

static void convert_band(size_t begin, size_t end, void *ctx)
{
    job *const j = ctx;
    const sw_convert *const c = j->convert;
    for (size_t y = begin; y < end; y++) {
        const uint8_t *const in = j->rows + y * j->stride;
        sw_rgb8 *const out = j->out + y * j->width_px;
        if (c->profile != NULL) sw_profile_row(c->profile, in, j->width_px, out);
        else if (c->form.kind == SW_RAW_CMYK) ink_row(&c->form, in, j->width_px, out);
        else plain_row(&c->form, in, j->width_px, out);
        if (c->form.has_alpha) blend_row(j, in, out);
    }
}

bool sw_convert_is_copy(const sw_convert *convert)
{
    return convert->profile == NULL && convert->form.kind == SW_RAW_RGB && !convert->form.has_alpha &&
           !convert->form.is_16;
}

void sw_convert_rows(sw_convert *convert, const uint8_t *rows, size_t stride, size_t width_px, size_t n_rows,
                     sw_rgb8 *out)
{
    job j = { .convert = convert, .rows = rows, .stride = stride, .width_px = width_px, .out = out };
    atomic_init(&j.is_any_clear, false);
    atomic_init(&j.is_any_visible, false);
    sw_parallel_rows(n_rows, convert_band, &j);
    convert->is_any_clear = convert->is_any_clear || atomic_load(&j.is_any_clear);
    convert->is_any_visible = convert->is_any_visible || atomic_load(&j.is_any_visible);
}
