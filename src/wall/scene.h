/* Inside src/wall/ only: drawing on a scene. */
#ifndef SW_WALL_SCENE_H
#define SW_WALL_SCENE_H

#include "wall/wall.h"

/** Fill a polygon (even-odd) given in pixels; cover 0..1 of the colour. */
void sw_scene_fill(sw_wall_scene *scene, const sw_pt_px *at, size_t n, sw_rgb8 colour, double cover);
/** A line of round ends between two points in pixels. */
void sw_scene_line(sw_wall_scene *scene, sw_pt_px a, sw_pt_px b, double width_px, sw_rgb8 colour, double cover);
/** A text whose capitals are height_px high, its base line beginning at `at`, with a pale rim so that it can be read
 *  on anything. */
void sw_scene_text(sw_wall_scene *scene, const char *text, sw_pt_px at, double height_px);
/** Outline and name of each keep-clear area, for a drawn wall. */
void sw_scene_areas(sw_wall_scene *scene, const sw_wall *wall);
/** A wall point in pixels; false when it is behind the camera. */
bool sw_scene_at(const sw_wall_scene *scene, double x_mm, double y_mm, sw_pt_px *out);

/**
 * Luminance that the bare wall would show in a rectangle of the photograph if it had one colour all over: shadows and
 * relief stay, stains go. width, height: above 0, inside the photograph.
 * out: width * height, row-major; caller frees with sw_free. Returns SW_OK, SW_NO_MEMORY. 28 bytes a pixel while it works.
 * Same bytes for any thread count.
 */
SW_MUST_USE sw_status sw_scene_shade(const sw_wall_scene *scene, size_t left, size_t top, size_t width, size_t height,
                                     float **out, sw_note *note);

#endif
