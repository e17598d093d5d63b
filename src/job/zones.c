/* Zones: a drawing split by subject. A picture of zones gives each named group its area; every group is separated by
 * itself, with the rest of the picture taken as bare wall, and its passes follow those of the groups before it. */
#include "job/job.h"

#include <string.h>

#define SHAPE_RATIO 0.02      /* the picture of zones may differ from the artwork's shape by this much */
#define COLOUR_TOLERANCE 48   /* a channel: soft edges and JPEG noise of a zone's colour */

static int channel_off(uint8_t one, uint8_t two) { return one > two ? one - two : two - one; }

bool sw_job_is_zone_colour(sw_rgb8 pixel, sw_rgb8 zone)
{
    return channel_off(pixel.r, zone.r) <= COLOUR_TOLERANCE && channel_off(pixel.g, zone.g) <= COLOUR_TOLERANCE &&
           channel_off(pixel.b, zone.b) <= COLOUR_TOLERANCE;
}

size_t sw_job_n_passes(const sw_cut_opts *opts)
{
    size_t n = 0;
    for (size_t z = 0; z < opts->n_zones; z++) n += opts->zone[z].n_passes;
    return opts->n_zones > 0 ? n : opts->n_passes;
}

sw_rgb8 sw_job_rgb8(uint32_t rgb)
{
    return (sw_rgb8){ (uint8_t)(rgb >> 16 & 0xff), (uint8_t)(rgb >> 8 & 0xff), (uint8_t)(rgb & 0xff) };
}

/* Whether place x, y of a picture of that size lies in the zone: the nearest pixel of the picture of zones says so. */
static bool is_in_zone(const sw_picture *zones, sw_rgb8 zone, size_t width_px, size_t height_px, size_t x, size_t y)
{
    const size_t from_x = (2 * x + 1) * zones->width_px / (2 * width_px), from_y = (2 * y + 1) * zones->height_px / (2 * height_px);
    return sw_job_is_zone_colour(zones->at[from_y * zones->width_px + from_x], zone);
}

/* A copy of the artwork in which everything outside the zone is bare wall; *n is how many pixels are inside. */
static sw_status mask_art(const sw_picture *art, const sw_picture *zones, sw_rgb8 zone, sw_rgb8 ground, sw_picture *out,
                          size_t *n, sw_note *note)
{
    SW_TRY(sw_picture_make(art->width_px, art->height_px, ground, out, note));
    *n = 0;
    for (size_t y = 0; y < art->height_px; y++) {
        for (size_t x = 0; x < art->width_px; x++) {
            if (!is_in_zone(zones, zone, art->width_px, art->height_px, x, y)) continue;
            out->at[y * art->width_px + x] = art->at[y * art->width_px + x];
            ++*n;
        }
    }
    return SW_OK;
}

/* Add a zone's passes after those that are there. Inside the zone all of its labels count, outside none: a pixel's colour
 * does not tell which it is, a drawing may be as bare as the wall and be painted all the same. */
static void append(sw_separation *all, const sw_separation *zone, const sw_picture *zones, sw_rgb8 rgb)
{
    const size_t width_px = all->grid.width_px, height_px = all->grid.height_px;
    for (size_t k = 1; k <= zone->n_passes; k++) {
        all->colour[all->n_passes + k] = zone->colour[k];
        all->paint_index[all->n_passes + k] = zone->paint_index[k];
    }
    for (size_t i = 0; i < width_px * height_px; i++) {
        if (!is_in_zone(zones, rgb, width_px, height_px, i % width_px, i / width_px)) continue;
        if (zone->label[i] != 0) all->label[i] = (uint8_t)(all->n_passes + zone->label[i]);
        all->salience[i] = zone->salience[i];
    }
    all->n_passes += zone->n_passes;
}

static sw_status add_zone(sw_job *job, const sw_picture *art, const sw_picture *zones, size_t z,
                          const sw_separate_opts *opts, sw_note *note)
{
    const sw_cut_zone *const zone = &job->opts.zone[z];
    sw_picture masked = { 0 };
    sw_separation made = { 0 };
    size_t n_inside = 0;
    sw_separate_opts zone_opts = *opts;
    zone_opts.n_passes = zone->n_passes;
    sw_status st = mask_art(art, zones, sw_job_rgb8(zone->rgb), opts->ground, &masked, &n_inside, note);
    if (st != SW_OK) goto cleanup;
    if (n_inside == 0) {
        st = sw_fail(note, SW_BAD_FILE, "'%s' has no area in the colour #%06x of zone '%s'", job->opts.zones,
                     (unsigned)zone->rgb, zone->name);
        goto cleanup;
    }
    st = sw_separate(&masked, &job->grid, &zone_opts, NULL, &made, note);
    if (st != SW_OK) goto cleanup;
    for (size_t k = 1; k <= made.n_passes; k++) job->zone_of_pass[job->separation.n_passes + k] = z;
    append(&job->separation, &made, zones, sw_job_rgb8(zone->rgb));
cleanup:
    sw_picture_free(&masked);
    sw_separation_free(&made);
    return st;
}

static sw_status read_zones(const sw_job *job, sw_picture *zones, sw_note *note)
{
    const sw_picture_opts opts = { .ground = { 255, 255, 255 } };
    SW_TRY(sw_picture_read(job->opts.zones, &opts, zones, note));
    const double stretch = (double)zones->width_px * (double)job->grid.height_px /
                           ((double)zones->height_px * (double)job->grid.width_px);
    if (stretch > 1.0 - SHAPE_RATIO && stretch < 1.0 + SHAPE_RATIO) return SW_OK;
    return sw_fail(note, SW_BAD_FILE, "'%s' has another shape than the picture; paint zones over a copy of it",
                   job->opts.zones);
}

sw_status sw_job_separate_zones(sw_job *job, const sw_picture *art, const sw_separate_opts *opts, sw_note *note)
{
    sw_picture zones = { 0 };
    const size_t n_px = job->grid.width_px * job->grid.height_px;
    sw_status st = read_zones(job, &zones, note);
    if (st != SW_OK) goto cleanup;
    job->separation = (sw_separation){ .grid = job->grid, .colour = { opts->ground } };
    for (size_t k = 0; k <= SW_MAX_PASSES; k++) job->separation.paint_index[k] = SIZE_MAX;
    job->separation.label = sw_alloc_array(n_px, 1);
    job->separation.salience = sw_alloc_array(n_px, 1);
    if (job->separation.label == NULL || job->separation.salience == NULL) {
        st = sw_fail_memory(note, "the zones");
        goto cleanup;
    }
    for (size_t z = 0; z < job->opts.n_zones && st == SW_OK; z++) st = add_zone(job, art, &zones, z, opts, note);
cleanup:
    sw_picture_free(&zones);
    return st;
}
