/* Where the artwork fits.
 *
 * A rectangle of fixed size collides with a polygon when its corner lies in the polygon grown by the mirrored rectangle.
 * The free places are bounded by contact lines: a side of the rectangle on a corner of an area, a corner of the
 * rectangle on an edge of an area, a side on the wall's edge. The place nearest to a wish lies on the wish itself, on its
 * foot on a contact line, or where two contact lines meet; so those places are tried, and nothing else has to be. */
#include "wall/wall.h"

#include <math.h>

#define MAX_CORNERS 300u    /* of all areas; pairs of contacts are tried, so the work grows with the square */
#define TOLERANCE_MM 1e-6 /* touching is clear: closer than this counts as touching */

/* a x + b y = c with a^2 + b^2 = 1, in places of the rectangle's lower left corner */
typedef struct contact {
    double a, b, c;
} contact;

static double cross_of(sw_pt_mm o, sw_pt_mm p, sw_pt_mm q)
{
    return (p.x_mm - o.x_mm) * (q.y_mm - o.y_mm) - (p.y_mm - o.y_mm) * (q.x_mm - o.x_mm);
}

static bool is_within(const sw_wall_area *area, double x, double y)
{
    bool is_in = false;
    for (size_t i = 0, j = area->n - 1; i < area->n; j = i++) {
        const sw_pt_mm p = area->at[i], q = area->at[j];
        if ((p.y_mm > y) != (q.y_mm > y) && x < (q.x_mm - p.x_mm) * (y - p.y_mm) / (q.y_mm - p.y_mm) + p.x_mm) is_in = !is_in;
    }
    return is_in;
}

static double point_segment_mm(sw_pt_mm p, sw_pt_mm a, sw_pt_mm b)
{
    const double dx = b.x_mm - a.x_mm, dy = b.y_mm - a.y_mm, length2 = dx * dx + dy * dy;
    const double t = length2 > 0.0 ? sw_clamp(((p.x_mm - a.x_mm) * dx + (p.y_mm - a.y_mm) * dy) / length2, 0.0, 1.0) : 0.0;
    return hypot(p.x_mm - a.x_mm - t * dx, p.y_mm - a.y_mm - t * dy);
}

static bool do_segments_cross(sw_pt_mm a, sw_pt_mm b, sw_pt_mm c, sw_pt_mm d)
{
    return (cross_of(a, b, c) > 0.0) != (cross_of(a, b, d) > 0.0) && (cross_of(c, d, a) > 0.0) != (cross_of(c, d, b) > 0.0);
}

static void corners_of(double left, double floor, double width, double height, sw_pt_mm out[4])
{
    out[0] = (sw_pt_mm){ left, floor };
    out[1] = (sw_pt_mm){ left + width, floor };
    out[2] = (sw_pt_mm){ left + width, floor + height };
    out[3] = (sw_pt_mm){ left, floor + height };
}

/* Distance of rectangle and area, 0 when they overlap or touch. */
static double distance_mm(const sw_wall_area *area, double left, double floor, double width, double height)
{
    sw_pt_mm corner[4];
    corners_of(left, floor, width, height, corner);
    double nearest = INFINITY;
    for (size_t i = 0, j = area->n - 1; i < area->n; j = i++) {
        const sw_pt_mm p = area->at[i], q = area->at[j];
        if (p.x_mm > left && p.x_mm < left + width && p.y_mm > floor && p.y_mm < floor + height) return 0.0;
        for (size_t k = 0; k < 4; k++) {
            if (do_segments_cross(p, q, corner[k], corner[(k + 1) % 4])) return 0.0;
            nearest = sw_min(nearest, point_segment_mm(corner[k], p, q));
            nearest = sw_min(nearest, point_segment_mm(p, corner[k], corner[(k + 1) % 4]));
        }
    }
    return is_within(area, left, floor) ? 0.0 : nearest;
}

/* How deep the two lie in each other: least way to move them apart along the axes and the normals of the area's edges.
 * Exact for convex areas (separating axes), a safe bound for others. */
static double overlap_mm(const sw_wall_area *area, double left, double floor, double width, double height)
{
    sw_pt_mm corner[4];
    corners_of(left, floor, width, height, corner);
    double least = INFINITY;
    for (size_t i = 0; i < area->n + 2; i++) {
        const sw_pt_mm p = area->at[i % area->n], q = area->at[(i + 1) % area->n];
        double nx = i == area->n ? 1.0 : i == area->n + 1 ? 0.0 : q.y_mm - p.y_mm;
        double ny = i == area->n ? 0.0 : i == area->n + 1 ? 1.0 : p.x_mm - q.x_mm;
        const double length = hypot(nx, ny);
        if (!(length > 0.0)) continue;
        nx /= length;
        ny /= length;
        double area_lo = INFINITY, area_hi = -INFINITY, art_lo = INFINITY, art_hi = -INFINITY;
        for (size_t k = 0; k < area->n; k++) {
            const double t = nx * area->at[k].x_mm + ny * area->at[k].y_mm;
            area_lo = sw_min(area_lo, t);
            area_hi = sw_max(area_hi, t);
        }
        for (size_t k = 0; k < 4; k++) {
            const double t = nx * corner[k].x_mm + ny * corner[k].y_mm;
            art_lo = sw_min(art_lo, t);
            art_hi = sw_max(art_hi, t);
        }
        least = sw_min(least, sw_min(area_hi - art_lo, art_hi - area_lo));
    }
    return sw_max(0.0, least);
}

double sw_wall_gap(const sw_wall_area *area, double left_mm, double floor_mm, double width_mm, double height_mm)
{
    const double gap = distance_mm(area, left_mm, floor_mm, width_mm, height_mm);
    return gap > 0.0 ? gap : -overlap_mm(area, left_mm, floor_mm, width_mm, height_mm);
}

static sw_wall_miss worst_of(const sw_wall *wall, double left, double floor, double width, double height)
{
    const double edge = sw_min(sw_min(left, floor), sw_min(wall->width_mm - left - width, wall->height_mm - floor - height));
    sw_wall_miss worst = { SIZE_MAX, edge };
    for (size_t i = 0; i < wall->n_areas; i++) {
        const double gap = sw_wall_gap(&wall->areas[i], left, floor, width, height);
        if (gap < worst.gap_mm) worst = (sw_wall_miss){ i, gap };
    }
    return worst;
}

/* What placing looks at many times: the wall and the box of each area. */
typedef struct room {
    const sw_wall *wall;
    sw_rect_mm *boxes; /* of the areas, grown by clear_mm; owned */
} room;

static sw_status make_room(const sw_wall *wall, room *out, sw_note *note)
{
    sw_rect_mm *const boxes = sw_alloc_array(wall->n_areas + 1, sizeof *boxes);
    if (boxes == NULL) return sw_fail_memory(note, "placing the artwork");
    for (size_t i = 0; i < wall->n_areas; i++) {
        const sw_wall_area *const area = &wall->areas[i];
        sw_pt_mm lo = { INFINITY, INFINITY }, hi = { -INFINITY, -INFINITY };
        for (size_t k = 0; k < area->n; k++) {
            lo = (sw_pt_mm){ sw_min(lo.x_mm, area->at[k].x_mm), sw_min(lo.y_mm, area->at[k].y_mm) };
            hi = (sw_pt_mm){ sw_max(hi.x_mm, area->at[k].x_mm), sw_max(hi.y_mm, area->at[k].y_mm) };
        }
        const double clear = wall->clear_mm;
        boxes[i] = (sw_rect_mm){ lo.x_mm - clear, lo.y_mm - clear, hi.x_mm - lo.x_mm + 2.0 * clear, hi.y_mm - lo.y_mm + 2.0 * clear };
    }
    *out = (room){ wall, boxes };
    return SW_OK;
}

static bool is_free(const room *r, double left, double floor, double width, double height)
{
    const sw_wall *const wall = r->wall;
    const double least = wall->clear_mm - TOLERANCE_MM;
    if (!(left >= least && floor >= least && wall->width_mm - left - width >= least && wall->height_mm - floor - height >= least))
        return false;
    for (size_t i = 0; i < wall->n_areas; i++) {
        const sw_rect_mm b = r->boxes[i];
        if (left >= b.x_mm + b.width_mm || left + width <= b.x_mm || floor >= b.y_mm + b.height_mm || floor + height <= b.y_mm)
            continue;
        if (sw_wall_gap(&wall->areas[i], left, floor, width, height) < least) return false;
    }
    return true;
}

/* Lines on which the rectangle, grown by clear_mm all round, touches something. Round corners of the clearance are left
 * out: a place they would allow is at most 0.42 clear_mm nearer than the one found. */
static size_t find_contacts(const sw_wall *wall, double width, double height, contact *out)
{
    size_t n = 0;
    const double clear = wall->clear_mm;
    out[n++] = (contact){ 1.0, 0.0, clear };
    out[n++] = (contact){ 0.0, 1.0, clear };
    out[n++] = (contact){ 1.0, 0.0, wall->width_mm - width - clear };
    out[n++] = (contact){ 0.0, 1.0, wall->height_mm - height - clear };
    for (size_t i = 0; i < wall->n_areas; i++) {
        const sw_wall_area *const area = &wall->areas[i];
        for (size_t k = 0; k < area->n; k++) {
            const sw_pt_mm p = area->at[k], q = area->at[(k + 1) % area->n];
            out[n++] = (contact){ 1.0, 0.0, p.x_mm + clear };
            out[n++] = (contact){ 1.0, 0.0, p.x_mm - width - clear };
            out[n++] = (contact){ 0.0, 1.0, p.y_mm + clear };
            out[n++] = (contact){ 0.0, 1.0, p.y_mm - height - clear };
            const double length = hypot(q.x_mm - p.x_mm, q.y_mm - p.y_mm);
            if (!(length > 0.0)) continue;
            const double a = (q.y_mm - p.y_mm) / length, b = (p.x_mm - q.x_mm) / length;
            const double c = a * p.x_mm + b * p.y_mm;
            /* the side of the edge the rectangle lies on decides which of its corners touches first */
            const double reach_hi = sw_max(a, 0.0) * width + sw_max(b, 0.0) * height;
            const double reach_lo = sw_min(a, 0.0) * width + sw_min(b, 0.0) * height;
            out[n++] = (contact){ a, b, c + clear - reach_lo };
            out[n++] = (contact){ a, b, c - clear - reach_hi };
        }
    }
    return n;
}

/* The free place nearest to the wish, or, if is_any will do, the first one found. */
static bool nearest_place(const room *r, const contact *contacts, size_t n, sw_rect_mm wish, bool is_any, sw_pt_mm *out)
{
    double best = INFINITY;
    if (is_free(r, wish.x_mm, wish.y_mm, wish.width_mm, wish.height_mm)) {
        *out = (sw_pt_mm){ wish.x_mm, wish.y_mm };
        return true;
    }
    for (size_t i = 0; i < n && !sw_is_interrupted(); i++) {
        for (size_t j = i; j < n; j++) {
            double x, y;
            if (i == j) { /* the foot of the wish on one line */
                const double off = contacts[i].a * wish.x_mm + contacts[i].b * wish.y_mm - contacts[i].c;
                x = wish.x_mm - off * contacts[i].a;
                y = wish.y_mm - off * contacts[i].b;
            } else {
                const double det = contacts[i].a * contacts[j].b - contacts[j].a * contacts[i].b;
                if (fabs(det) < 1e-9) continue;
                x = (contacts[i].c * contacts[j].b - contacts[j].c * contacts[i].b) / det;
                y = (contacts[i].a * contacts[j].c - contacts[j].a * contacts[i].c) / det;
            }
            const double far = hypot(x - wish.x_mm, y - wish.y_mm);
            if (far < best && is_free(r, x, y, wish.width_mm, wish.height_mm)) {
                best = far;
                *out = (sw_pt_mm){ x, y };
                if (is_any) return true;
            }
        }
    }
    return best < INFINITY;
}

/* The widest artwork of the wish's shape that fits anywhere; its place is the one nearest to the wish. */
static void find_largest(const room *r, contact *contacts, sw_rect_mm wish, sw_placement *out)
{
    const double shape = wish.height_mm / wish.width_mm;
    double lo = 0.0, hi = sw_min(r->wall->width_mm, r->wall->height_mm / shape);
    sw_pt_mm at = { 0 };
    while (hi - lo > 0.005 && !sw_is_interrupted()) { /* a smaller artwork fits wherever a larger one does, so halving is sound */
        const double width = (lo + hi) / 2.0;
        const size_t n = find_contacts(r->wall, width, width * shape, contacts);
        if (nearest_place(r, contacts, n, (sw_rect_mm){ wish.x_mm, wish.y_mm, width, width * shape }, true, &at)) lo = width;
        else hi = width;
    }
    if (!(lo > 0.0)) return;
    const size_t n = find_contacts(r->wall, lo, lo * shape, contacts);
    if (!nearest_place(r, contacts, n, (sw_rect_mm){ wish.x_mm, wish.y_mm, lo, lo * shape }, false, &at)) return;
    out->largest_width_mm = lo;
    out->largest_left_mm = at.x_mm;
    out->largest_floor_mm = at.y_mm;
}

sw_status sw_wall_place(const sw_wall *wall, double left_mm, double floor_mm, double width_mm, double height_mm,
                        sw_placement *out, sw_note *note)
{
    size_t n_corners = 0;
    for (size_t i = 0; i < wall->n_areas; i++) n_corners += wall->areas[i].n;
    if (!sw_length_ok(width_mm, false) || !sw_length_ok(height_mm, false) || !(fabs(left_mm) <= SW_MAX_MM) ||
        !(fabs(floor_mm) <= SW_MAX_MM))
        return sw_fail(note, SW_BAD_LENGTH, "the artwork's size or place on the wall is not a length");
    if (n_corners > MAX_CORNERS)
        return sw_fail(note, SW_TOO_LARGE, "the wall's keep-clear areas have %zu corners, more than %u; leave out what is far off",
                       n_corners, MAX_CORNERS);
    contact *const contacts = sw_alloc_array(4 + 6 * n_corners, sizeof *contacts);
    room r = { 0 };
    sw_status st = contacts == NULL ? sw_fail_memory(note, "placing the artwork") : make_room(wall, &r, note);
    if (st == SW_OK) {
        const sw_rect_mm wish = { left_mm, floor_mm, width_mm, height_mm };
        sw_placement made = { .left_mm = left_mm, .floor_mm = floor_mm, .width_mm = width_mm, .height_mm = height_mm };
        sw_pt_mm at = { 0 };
        made.worst = worst_of(wall, left_mm, floor_mm, width_mm, height_mm);
        made.fits = made.worst.gap_mm >= wall->clear_mm - TOLERANCE_MM;
        made.has_move = nearest_place(&r, contacts, find_contacts(wall, width_mm, height_mm, contacts), wish, false, &at);
        made.move_left_mm = at.x_mm;
        made.move_floor_mm = at.y_mm;
        find_largest(&r, contacts, wish, &made);
        if (sw_is_interrupted()) st = sw_fail(note, SW_INTERRUPTED, "interrupted"); /* nothing above is complete then */
        else *out = made;
    }
    sw_free(r.boxes);
    sw_free(contacts);
    return st;
}
