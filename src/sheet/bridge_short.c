/* The second way to leave a bridge: a drawn line stops short. Where a thin line runs into another line or a wide opening,
 * the gap that ends it there reads as drawn, and the other line stays whole. From a strip across a line the line is
 * followed both ways until both its edges end at once; the gap lies before the place where they do, one side in line
 * with the edge of what the line runs into. Common practice of sign painters, no source. */
#include <math.h>

#include "sheet/bridge_track.h"

/* A gap at a line's end counts so much of one elsewhere. Taste: at 0.7 gaps went across the broad ends of strokes. */
#define END_RATIO 0.8
/* Lines up to this many smallest openings wide; taste: a gap at the end of a broad stroke reads as a cut. */
#define LINE_OPENINGS 5.0
#define REACH_WIDTHS 10.0     /* how far a line is followed from a bridge, in widths of a bridge */
#define REACH_WIDTHS_MANY 4.0 /* the same where there are many parts */
#define OPENS_RATIO 1.7       /* an edge ends where it is suddenly this much farther off */
#define SLANT_MOST 0.9        /* rad: how obliquely a line may run into another */

/* Do both edges end here? *p and *q: where. From a little before, because the last step may have passed one's end. */
static bool find_mouth(const bridge_ground *g, const bridge_tracker *k, sw_pt_px *p, sw_pt_px *q)
{
    const double most = 0.5 * OPENS_RATIO * k->width_px + 1.0, nx = k->dy, ny = -k->dx;
    bool has_left = false, has_right = false, is_left = false, is_right = false; /* an edge; its end */
    for (double t = -k->width_px; t <= 2.0 * k->width_px; t += 0.5) {
        const sw_pt_px at = { k->at.x_px + t * k->dx, k->at.y_px + t * k->dy };
        double left, right;
        if (!bridge_track_edges(g, at, k, 0.0, &left, &right)) return false;
        if (!is_left && left <= most) *p = (sw_pt_px){ at.x_px + left * nx, at.y_px + left * ny };
        if (!is_right && right <= most) *q = (sw_pt_px){ at.x_px - right * nx, at.y_px - right * ny };
        has_left = has_left || left <= most;
        has_right = has_right || right <= most;
        is_left = has_left && (is_left || left > most);
        is_right = has_right && (is_right || right > most);
        if (!is_left || !is_right) continue;
        uint32_t part; /* what the line runs into is itself no speck */
        return bridge_ray(g, at, k->dx, k->dy, 2.0 * k->width_px, &part) >=
               0.5 * sw_px_from_mm(&g->grid, g->job->min_opening_mm);
    }
    return false;
}

/* The gap before a mouth. */
static bridge_strip gap_at(const bridge_ground *g, const bridge_tracker *k, sw_pt_px p, sw_pt_px q)
{
    double ux = p.x_px - q.x_px, uy = p.y_px - q.y_px;
    const double length = hypot(ux, uy), back = 0.5 * g->width_px + 0.25;
    bridge_strip s = { .cost = HUGE_VAL };
    if (!(length > 1.0)) return s;
    ux /= length;
    uy /= length;
    if (fabs(ux * k->dx + uy * k->dy) > sin(SLANT_MOST)) return s;
    const double side = uy * k->dx - ux * k->dy > 0.0 ? -1.0 : 1.0; /* away from where the line leads */
    const sw_pt_px mid = { 0.5 * (p.x_px + q.x_px) + side * back * uy, 0.5 * (p.y_px + q.y_px) - side * back * ux };
    s = bridge_strip_across(g, mid, atan2(uy, ux), 1.5 * length);
    s.is_line_end = true;
    return s;
}

/* Follow the line from a strip one way; *best is replaced by a gap at its end that costs less. */
static void look_along(const bridge_ground *g, const bridge_strip *s, double way, bridge_strip *best)
{
    const double reach_px = (g->n_parts <= BRIDGE_FEW_PARTS ? REACH_WIDTHS : REACH_WIDTHS_MANY) * g->width_px;
    bridge_tracker k = bridge_track_from(s, way);
    sw_pt_px p = s->a, q = s->b;
    for (double t = 0.0; t < reach_px && bridge_track_step(g, &k);) t += BRIDGE_TRACK_PX;
    if (!find_mouth(g, &k, &p, &q)) return;
    const bridge_strip gap = gap_at(g, &k, p, q);
    if (!bridge_joins_same(s, &gap) || !(END_RATIO * gap.cost < (best->is_line_end ? END_RATIO : 1.0) * best->cost)) return;
    if (END_RATIO * gap.seen > s->seen + g->width_px * BRIDGE_LENGTH) return;
    *best = gap;
}

static bridge_strip stop_short(const bridge_ground *g, const bridge_strip *s)
{
    const double length = hypot(s->b.x_px - s->a.x_px, s->b.y_px - s->a.y_px);
    bridge_strip best = *s;
    if (length < 1.0 || length > LINE_OPENINGS * sw_px_from_mm(&g->grid, g->job->min_opening_mm) || !(s->seen > 0.0)) return best;
    look_along(g, s, 1.0, &best);
    look_along(g, s, -1.0, &best);
    return best;
}

typedef struct short_job {
    const bridge_ground *g;
    bridge_strips *strips;
} short_job;

static void stop_some(size_t begin, size_t end, void *ctx)
{
    const short_job *const job = ctx;
    for (size_t i = begin; i < end; i++)
        if (!job->strips->at[i].is_path) job->strips->at[i] = stop_short(job->g, &job->strips->at[i]);
}

void bridge_short(const bridge_ground *g, bridge_strips *strips)
{
    sw_parallel_bands(strips->n, 8, stop_some, &(short_job){ g, strips });
}
