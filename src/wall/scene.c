/* The photograph and the artwork painted onto it.
 *
 * The map from wall to photo comes from the wall file's points. Going back from every pixel to the artwork and taking
 * several samples of it, spaced no wider than its pixels, is an average over the pixel's footprint: the artwork is made
 * about as fine as the photograph where it is nearest, so farther away several of its pixels fall into one. */
#include "wall/scene.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MOST_SIDE_PX 2400u    /* of wall.png: 205 pixels an inch on A4, and small enough to mail */
#define MOST_SAMPLES 16.0     /* a side of a pixel; reached only at a very flat angle */
#define FEWEST_SAMPLES 2.0    /* softens the artwork's outer edge */
#define LIT_RATIO 0.85        /* share of the bare wall that is darker than "lit"; taste: half the wall may lie in shade */
#define DEEPEST_SHADE 0.05    /* darker than this nothing is seen of the paint */
#define BRIGHTEST 1.6         /* relief that faces the light */
#define DRAWN_SIDE_PX 1800.0  /* longer side of a drawn wall */

bool sw_scene_at(const sw_wall_scene *scene, double x_mm, double y_mm, sw_pt_px *out)
{
    return sw_homography_map(&scene->to_photo, x_mm, y_mm, &out->x_px, &out->y_px);
}

void sw_wall_scene_free(sw_wall_scene *scene)
{
    sw_picture_free(&scene->photo);
    sw_free(scene->front);
    *scene = (sw_wall_scene){ 0 };
}

/* ---- reading ---------------------------------------------------------------------------------------- */

static sw_status read_small(const char *wall_path, const char *name, sw_picture *out, sw_note *note)
{
    sw_picture full = { 0 };
    sw_text path = { 0 };
    sw_text_add_beside(&path, wall_path, name);
    sw_picture_info info = { 0 };
    const sw_picture_opts probe = { .ground = { 255, 255, 255 } };
    sw_status st = path.is_broken ? sw_fail_memory(note, "a path") : sw_picture_probe(path.data, &probe, &info, note);
    if (st != SW_OK) goto cleanup;
    const double scale = sw_min(1.0, MOST_SIDE_PX / (double)sw_max_size(info.width_px, info.height_px));
    const size_t width = sw_max_size(1, (size_t)((double)info.width_px * scale + 0.5));
    const size_t height = sw_max_size(1, (size_t)((double)info.height_px * scale + 0.5));
    const sw_picture_opts opts = { .ground = { 255, 255, 255 }, .enough_width_px = width, .enough_height_px = height };
    st = sw_picture_read(path.data, &opts, &full, note);
    if (st != SW_OK) goto cleanup;
    st = sw_picture_resample(&full, width, height, out, note);
    if (st != SW_OK) goto cleanup;
    out->source_width_px = info.width_px;
    out->source_height_px = info.height_px;
cleanup:
    sw_picture_free(&full);
    sw_text_free(&path);
    return st;
}

static sw_status read_front(const sw_wall *wall, const char *wall_path, sw_wall_scene *scene, sw_note *note)
{
    sw_picture mask = { 0 }, fitted = { 0 };
    const sw_picture *const photo = &scene->photo;
    sw_status st = read_small(wall_path, wall->mask, &mask, note);
    if (st != SW_OK) goto cleanup;
    const double shape = (double)mask.width_px * (double)photo->height_px / ((double)mask.height_px * (double)photo->width_px);
    if (!(shape > 0.98 && shape < 1.02)) {
        st = sw_fail(note, SW_BAD_FILE, "'%s' has another shape than the photograph; draw it over the photograph", wall->mask);
        goto cleanup;
    }
    st = sw_picture_resample(&mask, photo->width_px, photo->height_px, &fitted, note);
    if (st != SW_OK) goto cleanup;
    scene->front = sw_alloc_raw(photo->width_px * photo->height_px, 1);
    st = scene->front != NULL ? SW_OK : sw_fail_memory(note, "what stands in front");
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < photo->width_px * photo->height_px; i++) scene->front[i] = fitted.at[i].g;
cleanup:
    sw_picture_free(&mask);
    sw_picture_free(&fitted);
    return st;
}

/* The map for the photo as it was averaged down. */
static sw_status find_map(const sw_wall *wall, sw_wall_scene *scene, sw_note *note)
{
    double *const residual = sw_alloc_array(sw_max_size(1, wall->n_points), sizeof *residual);
    if (residual == NULL) return sw_fail_memory(note, "the photograph's points");
    sw_homography h;
    const sw_status st = sw_homography_find(wall->points, wall->n_points, &h, residual, note);
    for (size_t i = 0; st == SW_OK && i < wall->n_points; i++) {
        scene->mean_mm += residual[i] / (double)wall->n_points;
        if (residual[i] > scene->worst_mm) {
            scene->worst_mm = residual[i];
            scene->worst_point = i;
        }
    }
    sw_free(residual);
    if (st != SW_OK) return st;
    const double sx = (double)scene->photo.width_px / (double)scene->photo.source_width_px;
    const double sy = (double)scene->photo.height_px / (double)scene->photo.source_height_px;
    for (int i = 0; i < 3; i++) {
        h.at[i] *= sx;
        h.at[3 + i] *= sy;
    }
    scene->to_photo = h;
    scene->n_points = wall->n_points;
    return sw_homography_invert(&h, &scene->to_wall)
               ? SW_OK
               : sw_fail(note, SW_BAD_LENGTH, "the photograph's points do not fix the wall; spread them out");
}

sw_status sw_wall_scene_flat(double width_mm, double height_mm, double px_per_mm, sw_rgb8 colour, sw_wall_scene *out,
                             sw_note *note)
{
    sw_wall_scene made = { .is_drawn = true };
    const size_t width = (size_t)sw_clamp(width_mm * px_per_mm + 0.5, 1.0, SW_MAX_SIDE_PX);
    const size_t height = (size_t)sw_clamp(height_mm * px_per_mm + 0.5, 1.0, SW_MAX_SIDE_PX);
    SW_TRY(sw_picture_make(width, height, colour, &made.photo, note));
    made.to_photo = (sw_homography){ { px_per_mm, 0, 0, 0, -px_per_mm, height_mm * px_per_mm, 0, 0, 1 } };
    if (!sw_homography_invert(&made.to_photo, &made.to_wall)) {
        sw_picture_free(&made.photo);
        return sw_fail(note, SW_BAD_LENGTH, "the wall is too large to be drawn");
    }
    *out = made;
    return SW_OK;
}

sw_status sw_wall_scene_read(const sw_wall *wall, const char *wall_path, sw_wall_scene *out, sw_note *note)
{
    sw_wall_scene made = { 0 };
    if (wall->photo[0] == '\0') {
        const double scale = DRAWN_SIDE_PX / sw_max(wall->width_mm, wall->height_mm);
        SW_TRY(sw_wall_scene_flat(wall->width_mm, wall->height_mm, scale, (sw_rgb8){ 226, 221, 211 }, &made, note));
        sw_scene_areas(&made, wall);
        *out = made;
        return SW_OK;
    }
    sw_status st = read_small(wall_path, wall->photo, &made.photo, note);
    if (st == SW_OK && wall->mask[0] != '\0') st = read_front(wall, wall_path, &made, note);
    if (st == SW_OK) st = find_map(wall, &made, note);
    if (st == SW_OK) *out = made;
    else sw_wall_scene_free(&made);
    return st;
}

/* ---- painting --------------------------------------------------------------------------------------- */

double sw_wall_scene_scale(const sw_wall_scene *scene, sw_rect_mm place)
{
    const double step = 0.01 * sw_max(place.width_mm, place.height_mm);
    double most = 0.0;
    for (int i = 0; i < 9; i++) {
        const double x = place.x_mm + 0.5 * (i % 3) * place.width_mm, y = place.y_mm + 0.5 * (int)(i / 3) * place.height_mm;
        sw_pt_px at, right, up;
        if (!sw_scene_at(scene, x, y, &at) || !sw_scene_at(scene, x + step, y, &right) || !sw_scene_at(scene, x, y + step, &up))
            continue;
        most = sw_max(most, hypot(right.x_px - at.x_px, right.y_px - at.y_px) / step);
        most = sw_max(most, hypot(up.x_px - at.x_px, up.y_px - at.y_px) / step);
    }
    return most;
}

typedef struct brush {
    sw_wall_scene *scene;
    const sw_wall_art *art;
    sw_homography to_art; /* pixels of the photo -> pixels of the artwork, y down */
    size_t left, right;   /* columns that can be painted */
    size_t top;
    float *shade;         /* luminance of the bare wall, see sw_scene_shade; NULL: no shading */
    size_t shade_left, shade_top, shade_width, shade_height;
    double lit;           /* of the lit bare wall */
} brush;

static double shade_at(const brush *b, size_t x, size_t y)
{
    return (double)b->shade[(y - b->shade_top) * b->shade_width + x - b->shade_left];
}

/* Light and cover between four pixels; nothing outside. */
static void sample(const sw_wall_art *art, double x, double y, double sum[4])
{
    if (!(x > -1.0 && y > -1.0 && x < (double)art->width_px + 1.0 && y < (double)art->height_px + 1.0)) return;
    const double fx = floor(x - 0.5), fy = floor(y - 0.5), u = x - 0.5 - fx, v = y - 0.5 - fy;
    for (int k = 0; k < 4; k++) {
        const double px = fx + (k & 1), py = fy + (k >> 1);
        if (px < 0.0 || py < 0.0 || px >= (double)art->width_px || py >= (double)art->height_px) continue;
        const double weight = ((k & 1) != 0 ? u : 1.0 - u) * (k >> 1 != 0 ? v : 1.0 - v);
        const uint16_t *const at = &art->at[4 * ((size_t)py * art->width_px + (size_t)px)];
        for (int c = 0; c < 4; c++) sum[c] += weight * at[c];
    }
}

/* Mean light and cover of the artwork over one pixel of the photo; false where there is nothing. */
static bool average(const brush *b, double x, double y, double mean[4])
{
    double ax, ay, bx, by, cx, cy;
    if (!sw_homography_map(&b->to_art, x + 0.5, y + 0.5, &ax, &ay) || !sw_homography_map(&b->to_art, x + 1.5, y + 0.5, &bx, &by) ||
        !sw_homography_map(&b->to_art, x + 0.5, y + 1.5, &cx, &cy))
        return false;
    const double reach = sw_max(sw_max(fabs(bx - ax), fabs(by - ay)), sw_max(fabs(cx - ax), fabs(cy - ay)));
    if (ax < -reach - 1.0 || ay < -reach - 1.0 || ax > (double)b->art->width_px + reach + 1.0 ||
        ay > (double)b->art->height_px + reach + 1.0)
        return false;
    const double n = sw_clamp(ceil(reach), FEWEST_SAMPLES, MOST_SAMPLES);
    for (int c = 0; c < 4; c++) mean[c] = 0.0;
    for (double j = 0.5; j < n; j += 1.0) {
        for (double i = 0.5; i < n; i += 1.0) {
            if (sw_homography_map(&b->to_art, x + i / n, y + j / n, &ax, &ay)) sample(b->art, ax, ay, mean);
        }
    }
    for (int c = 0; c < 4; c++) mean[c] /= n * n * 65535.0;
    return mean[3] > 0.0;
}

static void paint_rows(size_t begin, size_t end, void *ctx)
{
    const brush *const b = ctx;
    sw_picture *const photo = &b->scene->photo;
    for (size_t row = begin + b->top; row < end + b->top; row++) {
        for (size_t x = b->left; x < b->right; x++) {
            const size_t i = row * photo->width_px + x;
            const double free_ratio = b->scene->front == NULL ? 1.0 : 1.0 - b->scene->front[i] / 255.0;
            double mean[4];
            if (free_ratio <= 0.0 || !average(b, (double)x, (double)row, mean)) continue;
            const sw_rgb8 wall = photo->at[i];
            const double shade = b->lit > 0.0 ? sw_clamp(shade_at(b, x, row) / b->lit, DEEPEST_SHADE, BRIGHTEST) : 1.0;
            const double bare = 1.0 - free_ratio * mean[3], light = free_ratio * shade;
            photo->at[i] = (sw_rgb8){ sw_srgb8_from_linear((float)(bare * (double)sw_linear_from_srgb8(wall.r) + light * mean[0])),
                                      sw_srgb8_from_linear((float)(bare * (double)sw_linear_from_srgb8(wall.g) + light * mean[1])),
                                      sw_srgb8_from_linear((float)(bare * (double)sw_linear_from_srgb8(wall.b) + light * mean[2])) };
        }
    }
}

static bool is_in_area(const sw_wall *wall, double x, double y)
{
    for (size_t a = 0; a < wall->n_areas; a++) {
        if (sw_wall_gap(&wall->areas[a], x, y, 1.0, 1.0) <= 0.0) return true;
    }
    return false;
}

/* Luminance of the lit bare wall under the artwork, on a lattice of points of the wall. */
static double find_lit(const brush *b, const sw_wall *wall, sw_rect_mm place)
{
    const sw_wall_scene *const scene = b->scene;
    enum { STEPS = 256, N = 200 };
    size_t count[STEPS] = { 0 }, n = 0, seen = 0;
    for (int j = 0; j < N; j++) {
        for (int i = 0; i < N; i++) {
            const double x = place.x_mm + (i + 0.5) / N * place.width_mm, y = place.y_mm + (j + 0.5) / N * place.height_mm;
            sw_pt_px p;
            if (!sw_scene_at(scene, x, y, &p) || p.x_px < (double)b->shade_left || p.y_px < (double)b->shade_top ||
                p.x_px >= (double)(b->shade_left + b->shade_width) || p.y_px >= (double)(b->shade_top + b->shade_height) ||
                is_in_area(wall, x, y))
                continue;
            const size_t px = (size_t)p.x_px, py = (size_t)p.y_px;
            if (scene->front != NULL && scene->front[py * scene->photo.width_px + px] > 127) continue;
            count[(size_t)(sw_srgb_from_linear(sw_clamp(shade_at(b, px, py), 0.0, 1.0)) * (STEPS - 1) + 0.5)]++;
            n++;
        }
    }
    for (size_t step = 0; step < STEPS; step++) {
        seen += count[step];
        if (n > 0 && (double)seen >= LIT_RATIO * (double)n) return sw_linear_from_srgb(sw_max(1.0, (double)step) / (STEPS - 1));
    }
    return 0.0;
}

/* Columns and rows of the photo that the place can reach. False: none. */
static bool find_box(const sw_wall_scene *scene, sw_rect_mm place, brush *b, size_t *bottom)
{
    double lo_x = INFINITY, lo_y = INFINITY, hi_x = -INFINITY, hi_y = -INFINITY;
    for (int k = 0; k < 4; k++) {
        sw_pt_px p;
        if (!sw_scene_at(scene, place.x_mm + (k & 1) * place.width_mm, place.y_mm + (k >> 1) * place.height_mm, &p)) {
            lo_x = lo_y = 0.0; /* it reaches behind the camera: look everywhere */
            hi_x = hi_y = INFINITY;
            continue;
        }
        lo_x = sw_min(lo_x, p.x_px);
        hi_x = sw_max(hi_x, p.x_px);
        lo_y = sw_min(lo_y, p.y_px);
        hi_y = sw_max(hi_y, p.y_px);
    }
    b->left = (size_t)sw_clamp(lo_x - 2.0, 0.0, (double)scene->photo.width_px);
    b->right = (size_t)sw_clamp(hi_x + 2.0, 0.0, (double)scene->photo.width_px);
    b->top = (size_t)sw_clamp(lo_y - 2.0, 0.0, (double)scene->photo.height_px);
    *bottom = (size_t)sw_clamp(hi_y + 2.0, 0.0, (double)scene->photo.height_px);
    return b->left < b->right && b->top < *bottom;
}

/* The light where the brush paints, seen with some of the wall around it. */
static sw_status find_shade(brush *b, size_t bottom, sw_note *note)
{
    const size_t margin_x = (b->right - b->left) / 4, margin_y = (bottom - b->top) / 4;
    b->shade_left = b->left > margin_x ? b->left - margin_x : 0;
    b->shade_top = b->top > margin_y ? b->top - margin_y : 0;
    b->shade_width = sw_min_size(b->right + margin_x, b->scene->photo.width_px) - b->shade_left;
    b->shade_height = sw_min_size(bottom + margin_y, b->scene->photo.height_px) - b->shade_top;
    return sw_scene_shade(b->scene, b->shade_left, b->shade_top, b->shade_width, b->shade_height, &b->shade, note);
}

sw_status sw_wall_scene_paint(sw_wall_scene *scene, const sw_wall *wall, const sw_wall_art *art, sw_rect_mm place,
                              sw_note *note)
{
    brush b = { .scene = scene, .art = art };
    size_t bottom = 0;
    if (!find_box(scene, place, &b, &bottom))
        return sw_fail(note, SW_BAD_LENGTH, "the artwork's place is not in the photograph; see its points and the place");
    const double kx = (double)art->width_px / place.width_mm, ky = (double)art->height_px / place.height_mm;
    const double *const m = scene->to_wall.at;
    for (int i = 0; i < 3; i++) { /* wall mm, y up from the place's corner -> artwork pixels, y down from its top */
        b.to_art.at[i] = kx * (m[i] - place.x_mm * m[6 + i]);
        b.to_art.at[3 + i] = ky * ((place.y_mm + place.height_mm) * m[6 + i] - m[3 + i]);
        b.to_art.at[6 + i] = m[6 + i];
    }
    if (!scene->is_drawn) {
        SW_TRY(find_shade(&b, bottom, note));
        b.lit = find_lit(&b, wall, place);
    }
    sw_parallel_rows(bottom - b.top, paint_rows, &b);
    sw_free(b.shade);
    return SW_OK;
}
