/* ICC profiles and PNG gamma to sRGB, through Little CMS 2. The only file that touches it.
 *
 * Intent: relative colorimetric with black point compensation, so that white paper is white and black is black on the
 * screen; what the wall makes of it is not this stage's business. The transform is built without cache, so several
 * threads may use it at once. A profile that is broken, of another kind than the pixels, or that moves no colour by
 * more than one step (sRGB under another name) leaves the pixels as they are. Memory comes from sw_alloc_raw, with a
 * limit, because profiles are input like any other. */
#include "picture/light.h"
#include "picture/raster.h"

#include <lcms2.h>
#include <lcms2_plugin.h>
#include <stdlib.h>
#include <string.h>

#define MAX_BLOCK_BYTES (64u << 20) /* one block of one profile; real ones stay under 4 MB */
#define TRANSFORM_FLAGS (cmsFLAGS_NOCACHE | cmsFLAGS_BLACKPOINTCOMPENSATION)
#define RESERVE_BYTES (64u << 10)   /* enough for the small blocks that follow a failure; the largest is 8 kB */

/* In front of every block; 32 bytes keep any alignment. */
typedef struct block {
    struct block *before, *after; /* all blocks of a profile, in a ring */
    size_t size, unused;
} block;

/* 16-bit pixels of a matrix profile: linear sRGB is a sum of one curve a channel. lcms at 16 bits is either exact and
 * takes 500 ns a pixel or goes through a table of 33^3 colours that is up to 25 steps off in the dark; this takes 15 ns
 * and is within a step. Curves are straight between nodes: for an exponent of 2.2 that is 2e-8 of full light off. */
#define SHAPER_NODES 4096
typedef struct shaper {
    sw_lane node[3][SHAPER_NODES + 1];
    sw_encoder encoder;
} shaper;

struct sw_profile {
    block ring;
    uint8_t *reserve;
    size_t reserve_used;
    bool is_out_of_memory;
    cmsContext context;
    cmsHTRANSFORM transform;
    sw_raw_form form;
    shaper *shaper; /* used instead of the transform if not NULL */
};

/* ---- memory --------------------------------------------------------------------------------------- */

/* lcms 2.14 does not look at every small allocation (a lock's, a stage's) and forgets some blocks when a larger one
 * fails. So a failed block comes from a reserve set aside before, the failure is remembered and told afterwards, and
 * what is still in the ring at the end is freed. */
static block *block_from_reserve(sw_profile *owner, size_t size)
{
    const size_t rounded = (size + sizeof(block) - 1) / sizeof(block) * sizeof(block);
    owner->is_out_of_memory = true;
    if (rounded > RESERVE_BYTES - owner->reserve_used) return NULL;
    block *const made = (block *)(void *)(owner->reserve + owner->reserve_used);
    owner->reserve_used += rounded;
    *made = (block){ .size = size };
    return made;
}

static void *block_make(cmsContext context, cmsUInt32Number n)
{
    sw_profile *const owner = cmsGetContextUserData(context);
    if (n == 0 || n > MAX_BLOCK_BYTES) return NULL;
    const size_t size = sizeof(block) + n;
    block *made = sw_alloc_raw(size, 1);
    if (made != NULL) {
        *made = (block){ .before = &owner->ring, .after = owner->ring.after, .size = size };
        made->before->after = made->after->before = made;
    } else {
        made = block_from_reserve(owner, size);
    }
    return made == NULL ? NULL : made + 1;
}

static void block_free(cmsContext context, void *data)
{
    (void)context;
    if (data == NULL) return;
    block *const old = (block *)data - 1;
    if (old->before == NULL) return; /* of the reserve */
    old->before->after = old->after;
    old->after->before = old->before;
    sw_free(old);
}

static void *block_resize(cmsContext context, void *data, cmsUInt32Number n)
{
    void *const moved = block_make(context, n);
    if (moved == NULL || data == NULL) return moved;
    memcpy(moved, data, sw_min_size(((block *)data - 1)->size - sizeof(block), n));
    block_free(context, data);
    return moved;
}

static cmsContext make_context(sw_profile *owner)
{
    cmsPluginMemHandler handler = { .base = { .Magic = cmsPluginMagicNumber,
                                              .ExpectedVersion = 2000,
                                              .Type = cmsPluginMemHandlerSig },
                                    .MallocPtr = block_make,
                                    .FreePtr = block_free,
                                    .ReallocPtr = block_resize };
    return cmsCreateContext(&handler, owner);
}

/* ---- profiles ------------------------------------------------------------------------------------- */

static cmsUInt32Number input_format(const sw_raw_form *form)
{
    static const cmsUInt32Number space[] = { PT_GRAY, PT_RGB, PT_CMYK };
    static const cmsUInt32Number n[] = { 1, 3, 4 };
    return COLORSPACE_SH(space[form->kind]) | CHANNELS_SH(n[form->kind]) | EXTRA_SH(form->has_alpha ? 1u : 0u) |
           BYTES_SH(form->is_16 ? 2u : 1u) | FLAVOR_SH(form->is_inverted ? 1u : 0u);
}

static bool fits_pixels(cmsHPROFILE profile, sw_raw_kind kind)
{
    const cmsColorSpaceSignature space = cmsGetColorSpace(profile);
    return (kind == SW_RAW_GREY && space == cmsSigGrayData) || (kind == SW_RAW_RGB && space == cmsSigRgbData) ||
           (kind == SW_RAW_CMYK && space == cmsSigCmykData);
}

/* PNG gAMA and cHRM as a profile of their own. */
static cmsHPROFILE profile_from_gamma(cmsContext context, const sw_raw_form *form, const sw_raw_space *space)
{
    cmsToneCurve *const curve = cmsBuildGamma(context, space->gamma);
    if (curve == NULL) return NULL;
    cmsToneCurve *const curves[3] = { curve, curve, curve };
    const cmsCIExyY white = { space->white_xy[0], space->white_xy[1], 1.0 };
    const cmsCIExyYTRIPLE primaries = { { space->red_xy[0], space->red_xy[1], 1.0 },
                                        { space->green_xy[0], space->green_xy[1], 1.0 },
                                        { space->blue_xy[0], space->blue_xy[1], 1.0 } };
    const cmsHPROFILE made = form->kind == SW_RAW_GREY ? cmsCreateGrayProfileTHR(context, cmsD50_xyY(), curve)
                                                       : cmsCreateRGBProfileTHR(context, &white, &primaries, curves);
    cmsFreeToneCurve(curve);
    return made;
}

static cmsHPROFILE open_input(cmsContext context, const sw_raw_form *form, const sw_raw_space *space)
{
    if (space->icc == NULL) return space->has_gamma ? profile_from_gamma(context, form, space) : NULL;
    const cmsHPROFILE opened = cmsOpenProfileFromMemTHR(context, space->icc, (cmsUInt32Number)space->n_icc);
    if (opened == NULL || fits_pixels(opened, form->kind)) return opened;
    cmsCloseProfile(opened);
    return NULL;
}

static size_t colour_channels(const sw_raw_form *form) { return form->kind == SW_RAW_GREY ? 1 : 3; }

/* Does the transform move any of a set of probe colours by more than one step? */
static bool changes_colours(cmsHTRANSFORM transform, const sw_raw_form *form)
{
    if (form->kind == SW_RAW_CMYK) return true;
    const size_t n_bytes = form->is_16 ? 2 : 1, n_channels = colour_channels(form);
    for (unsigned i = 0; i < 18 * 18 * 18; i++) { /* every 15th value of each channel; of grey too */
        uint8_t probe[3] = { 0 }, in[8] = { 0 }, out[3] = { 0 };
        unsigned rest = i;
        for (size_t c = 0; c < 3; c++, rest /= 18) probe[n_channels == 1 ? 0 : c] = (uint8_t)(rest % 18 * 15);
        for (size_t c = 0; c < n_channels; c++) memset(in + c * n_bytes, probe[c], n_bytes);
        cmsDoTransform(transform, in, out, 1);
        for (size_t c = 0; c < 3; c++) {
            if (abs((int)out[c] - probe[n_channels == 1 ? 0 : c]) > 1) return true;
        }
    }
    return false;
}

/* ---- 16 bits -------------------------------------------------------------------------------------- */

static void shaper_row(const shaper *s, size_t n_channels, bool has_alpha, const uint16_t *in, size_t n, sw_rgb8 *out)
{
    const size_t step = n_channels + has_alpha;
    for (size_t x = 0; x < n; x++, in += step) {
        sw_lane sum = { 0.0f, 0.0f, 0.0f, 0.0f };
        for (size_t c = 0; c < n_channels; c++) {
            const float at = (float)in[c] * (SHAPER_NODES / 65535.0f);
            const size_t below = sw_min_size((size_t)at, SHAPER_NODES - 1);
            const sw_lane *const node = &s->node[c][below];
            sum += node[0] + (node[1] - node[0]) * (at - (float)below);
        }
        out[x] = sw_encode_lane(&s->encoder, sum);
    }
}

/* Every node from lcms in floats: channel c alone, less what black gives (which channel 0 keeps). */
static void shaper_fill(shaper *s, cmsHTRANSFORM to_light, size_t n_channels)
{
    float black[3] = { 0 };
    const float none[3] = { 0 };
    sw_encoder_fill(&s->encoder);
    cmsDoTransform(to_light, none, black, 1);
    for (size_t c = 0; c < n_channels; c++) {
        for (size_t i = 0; i <= SHAPER_NODES; i++) {
            float in[3] = { 0 }, out[3] = { 0 };
            in[c] = (float)i / SHAPER_NODES;
            cmsDoTransform(to_light, in, out, 1);
            s->node[c][i] = (sw_lane){ out[0], out[1], out[2], 0.0f };
            if (c > 0) s->node[c][i] -= (sw_lane){ black[0], black[1], black[2], 0.0f };
        }
    }
}

/* Is the sum of curves what the exact transform gives, within one step, over a lattice of 16-bit colours? */
static bool shaper_agrees(const shaper *s, cmsHTRANSFORM exact, const sw_raw_form *form)
{
    const size_t n_channels = colour_channels(form);
    for (unsigned i = 0; i < 13 * 13 * 13; i++) {
        uint16_t in[4] = { 0 };
        sw_rgb8 one = { 0, 0, 0 }, two = { 0, 0, 0 };
        unsigned rest = i;
        for (size_t c = 0; c < n_channels; c++, rest /= 13) {
            const unsigned v = rest % 13;
            in[c] = (uint16_t)(v * v * v * 37u); /* the dark is dense */
        }
        cmsDoTransform(exact, in, &one, 1);
        shaper_row(s, n_channels, form->has_alpha, in, 1, &two);
        if (abs(one.r - two.r) > 1 || abs(one.g - two.g) > 1 || abs(one.b - two.b) > 1) return false;
    }
    return true;
}

/* The shaper of a profile, or NULL if it is no sum of curves (or memory is out: profile->is_out_of_memory). */
static shaper *shaper_make(sw_profile *profile, cmsHPROFILE from, const sw_raw_form *form)
{
    static const cmsCIExyY white = { 0.3127, 0.3290, 1.0 };
    static const cmsCIExyYTRIPLE primaries = { { 0.64, 0.33, 1.0 }, { 0.30, 0.60, 1.0 }, { 0.15, 0.06, 1.0 } };
    if (!form->is_16 || form->kind == SW_RAW_CMYK) return NULL;
    shaper *made = sw_alloc_array(1, sizeof *made);
    cmsToneCurve *const straight = cmsBuildGamma(profile->context, 1.0);
    cmsToneCurve *const curves[3] = { straight, straight, straight };
    const cmsHPROFILE light = straight == NULL ? NULL
                                               : cmsCreateRGBProfileTHR(profile->context, &white, &primaries, curves);
    const cmsHTRANSFORM to_light =
        light == NULL ? NULL
                      : cmsCreateTransformTHR(profile->context, from,
                                              form->kind == SW_RAW_GREY ? TYPE_GRAY_FLT : TYPE_RGB_FLT, light,
                                              TYPE_RGB_FLT, INTENT_RELATIVE_COLORIMETRIC, TRANSFORM_FLAGS);
    if (made == NULL) profile->is_out_of_memory = true;
    bool is_good = made != NULL && to_light != NULL;
    if (is_good) {
        shaper_fill(made, to_light, colour_channels(form));
        is_good = shaper_agrees(made, profile->transform, form);
    }
    if (to_light != NULL) cmsDeleteTransform(to_light);
    if (light != NULL) cmsCloseProfile(light);
    if (straight != NULL) cmsFreeToneCurve(straight);
    if (is_good) return made;
    sw_free(made);
    return NULL;
}

/* ---- the whole ------------------------------------------------------------------------------------ */

static void make_transform(sw_profile *profile, const sw_raw_form *form, const sw_raw_space *space)
{
    const cmsHPROFILE from = open_input(profile->context, form, space);
    const cmsHPROFILE to = from == NULL ? NULL : cmsCreate_sRGBProfileTHR(profile->context);
    if (to != NULL)
        profile->transform = cmsCreateTransformTHR(profile->context, from, input_format(form), to, TYPE_RGB_8,
                                                   INTENT_RELATIVE_COLORIMETRIC,
                                                   TRANSFORM_FLAGS | (form->is_16 ? cmsFLAGS_NOOPTIMIZE : 0u));
    if (profile->transform != NULL && !changes_colours(profile->transform, form)) {
        cmsDeleteTransform(profile->transform);
        profile->transform = NULL;
    }
    if (profile->transform != NULL) profile->shaper = shaper_make(profile, from, form);
    if (to != NULL) cmsCloseProfile(to);
    if (from != NULL) cmsCloseProfile(from);
}

sw_status sw_profile_make(const sw_raw_form *form, const sw_raw_space *space, sw_profile **out, sw_note *note)
{
    sw_status st = SW_NO_MEMORY;
    sw_profile *made = NULL;
    *out = NULL;
    if (space->icc == NULL && !space->has_gamma) {
        st = SW_OK;
        goto cleanup;
    }
    made = sw_alloc_array(1, sizeof *made);
    if (made == NULL) goto cleanup;
    made->ring.before = made->ring.after = &made->ring;
    made->reserve = sw_alloc_raw(RESERVE_BYTES, 1);
    if (made->reserve == NULL) goto cleanup;
    made->context = make_context(made);
    if (made->context == NULL) goto cleanup;
    made->form = *form;
    make_transform(made, form, space);
    if (made->is_out_of_memory) goto cleanup;
    st = SW_OK;
    if (made->transform == NULL) goto cleanup;
    *out = made;
    made = NULL;
cleanup:
    if (st != SW_OK) sw_fail_memory(note, "the colour profile");
    sw_profile_free(made);
    return st;
}

void sw_profile_row(const sw_profile *profile, const void *in, size_t n, sw_rgb8 *out)
{
    if (profile->shaper != NULL)
        shaper_row(profile->shaper, colour_channels(&profile->form), profile->form.has_alpha, in, n, out);
    else cmsDoTransform(profile->transform, in, out, (cmsUInt32Number)n);
}

void sw_profile_free(sw_profile *profile)
{
    if (profile == NULL) return;
    if (profile->transform != NULL) cmsDeleteTransform(profile->transform);
    if (profile->context != NULL) cmsDeleteContext(profile->context);
    while (profile->ring.after != NULL && profile->ring.after != &profile->ring)
        block_free(NULL, profile->ring.after + 1);
    sw_free(profile->reserve);
    sw_free(profile->shaper);
    sw_free(profile);
}
