/* ICC profiles and PNG gamma to sRGB, through Little CMS 2. The only file that touches it.
 *
 * Intent: relative colorimetric with black point compensation, so that white paper is white and black is black on the
 * screen; what the wall makes of it is not this stage's business. The transform is built without cache, so several
 * threads may use it at once. A profile that is broken, of another kind than the pixels, or that moves no colour by
 * more than one step (sRGB under another name) leaves the pixels as they are. Memory comes from sw_alloc_raw, with a
 * limit, because profiles are input like any other. */
#include "picture/raster.h"

#include <lcms2.h>
#include <lcms2_plugin.h>
#include <stdlib.h>
#include <string.h>

#define MAX_BLOCK_BYTES (64u << 20) /* one block of one profile; real ones stay under 4 MB */
#define RESERVE_BYTES (64u << 10)   /* enough for the small blocks that follow a failure; the largest is 8 kB */

/* In front of every block; 32 bytes keep any alignment. */
typedef struct block {
    struct block *before, *after; /* all blocks of a profile, in a ring */
    size_t size, unused;
} block;

struct sw_profile {
    block ring;
    uint8_t *reserve;
    size_t reserve_used;
    bool is_out_of_memory;
    cmsContext context;
    cmsHTRANSFORM transform;
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

/* Does the transform move any of a set of probe colours by more than one step? */
static bool changes_colours(cmsHTRANSFORM transform, const sw_raw_form *form)
{
    if (form->kind == SW_RAW_CMYK) return true;
    const size_t n_bytes = form->is_16 ? 2 : 1, n_channels = (form->kind == SW_RAW_GREY ? 1u : 3u);
    for (unsigned i = 0; i < 18 * 18 * 18; i++) { /* every 15th value of each channel; of grey too */
        const uint8_t probe[3] = { (uint8_t)(i % 18 * 15), (uint8_t)(i / 18 % 18 * 15), (uint8_t)(i / 324 * 15) };
        uint8_t in[8] = { 0 }, out[3];
        for (size_t c = 0; c < n_channels; c++) memset(in + c * n_bytes, probe[c], n_bytes);
        cmsDoTransform(transform, in, out, 1);
        for (size_t c = 0; c < 3; c++) {
            if (abs((int)out[c] - probe[n_channels == 1 ? 0 : c]) > 1) return true;
        }
    }
    return false;
}

static cmsHTRANSFORM make_transform(cmsContext context, const sw_raw_form *form, const sw_raw_space *space)
{
    cmsHTRANSFORM transform = NULL;
    const cmsHPROFILE from = open_input(context, form, space);
    const cmsHPROFILE to = from == NULL ? NULL : cmsCreate_sRGBProfileTHR(context);
    if (to != NULL)
        transform = cmsCreateTransformTHR(context, from, input_format(form), to, TYPE_RGB_8,
                                          INTENT_RELATIVE_COLORIMETRIC,
                                          cmsFLAGS_NOCACHE | cmsFLAGS_BLACKPOINTCOMPENSATION |
                                              (form->is_16 ? cmsFLAGS_NOOPTIMIZE : 0u));
    if (to != NULL) cmsCloseProfile(to);
    if (from != NULL) cmsCloseProfile(from);
    if (transform != NULL && !changes_colours(transform, form)) {
        cmsDeleteTransform(transform);
        transform = NULL;
    }
    return transform;
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
    made->transform = make_transform(made->context, form, space);
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
    cmsDoTransform(profile->transform, in, out, (cmsUInt32Number)n);
}

void sw_profile_free(sw_profile *profile)
{
    if (profile == NULL) return;
    if (profile->transform != NULL) cmsDeleteTransform(profile->transform);
    if (profile->context != NULL) cmsDeleteContext(profile->context);
    while (profile->ring.after != NULL && profile->ring.after != &profile->ring)
        block_free(NULL, profile->ring.after + 1);
    sw_free(profile->reserve);
    sw_free(profile);
}
