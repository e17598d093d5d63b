/*
 * Pixels as linear light: three floats in one vector, and the exact way back to 8-bit sRGB. Internal to src/picture/.
 */
#ifndef SW_PICTURE_LIGHT_H
#define SW_PICTURE_LIGHT_H

#include "picture/picture.h"
#include "picture/srgb_table.h"

/** r, g, b and one unused. Memory from sw_alloc_* is aligned for it. */
typedef float sw_lane __attribute__((vector_size(16)));

/* finer than the steps of dark 8-bit values in linear light (1 / 3295): at most one change of value lies in a step */
#define SW_ENCODE_STEPS 4096

/** 8-bit value at i / SW_ENCODE_STEPS of linear light. 4 kB, made where it is used: no globals. */
typedef struct sw_encoder {
    uint8_t code[SW_ENCODE_STEPS + 1];
} sw_encoder;

static inline void sw_encoder_fill(sw_encoder *encoder)
{
    unsigned code = 0;
    for (size_t i = 0; i <= SW_ENCODE_STEPS; i++) {
        while (code < 255 && (float)i / SW_ENCODE_STEPS >= SW_SRGB_NEXT[code]) code++;
        encoder->code[i] = (uint8_t)code;
    }
}

/** The same value as sw_srgb8_from_linear, by one look-up and one comparison. */
static inline uint8_t sw_encode(const sw_encoder *encoder, float v)
{
    if (!(v > 0.0f)) return 0; /* NaN too */
    if (v >= 1.0f) return 255;
    const unsigned code = encoder->code[(size_t)(v * SW_ENCODE_STEPS)];
    return (uint8_t)(code + (v >= SW_SRGB_NEXT[code]));
}

static inline sw_rgb8 sw_encode_lane(const sw_encoder *encoder, sw_lane v)
{
    return (sw_rgb8){ sw_encode(encoder, v[0]), sw_encode(encoder, v[1]), sw_encode(encoder, v[2]) };
}

#endif
