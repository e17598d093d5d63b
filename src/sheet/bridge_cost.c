/* What a straight strip costs: a sum over its pixels, those of the verge beside it and those where its ends hang in the
 * air. Of a row, most are whole on the strip or on the verge: which, follows from its geometry, and whole numbers are
 * summed; only where a share is less than whole is it weighed pixel by pixel. */
#include <math.h>

#include "sheet/bridge_plan.h"

/* Places along a strip that are looked at while its own place is sought; what it costs there is counted in full. Taste:
 * strips of up to twice as many pixels are seen whole, and longer ones are seldom chosen. */
#define MOST_ALONG 128.0

/* What a strip pays for the verge beside it, and how wide that is. */
#define VERGE_WIDTHS 0.4
#define VERGE_FACTOR 0.15
#define OVERHANG_FACTOR 3.0
/* px by which a run of equal shares keeps clear of places where they change, and more than any rounding. */
#define CLEAR_PX 1e-6
/* A strip this many widths long costs twice its plain length. Taste: 60 mm of a 5 mm strip. */
#define SLENDER_WIDTHS 12.0
#define SLENDER_MOST 2.0

/* What an opening pixel of the plan costs: whole on the strip; thrice past its ends, where the strip would hang in the
 * air, so that places where it meets the outline in its full width win; a little on the verge. Edges are soft by a
 * pixel: otherwise the cost jumps as the strip moves across pixel centres, and the best place is a lucky one. */
static inline double share_of(const plan *p, double half_width, double along, double across)
{
    if (across <= half_width - 0.5 && along <= p->fr.half_px) return 1.0;
    const double past = along - p->half_px, away = past > 0.0 ? sqrt(past * past + across * across) : across;
    const double inside = sw_clamp(half_width + 0.5 - away, 0.0, 1.0), beyond = sw_clamp(along - p->fr.half_px, 0.0, 1.0);
    return inside * (1.0 + (OVERHANG_FACTOR - 1.0) * beyond) + (1.0 - inside) * (1.0 - beyond) * VERGE_FACTOR;
}

/* Longer strips than some widths flap: their length costs more, up to a limit, because they can be made wider where
 * nobody sees it. */
double bridge_strip_slender_cost(const bridge_ground *g, double length)
{
    const double ratio = length / (SLENDER_WIDTHS * g->width_px);
    return BRIDGE_LENGTH * length * g->width_px * sw_min(ratio * ratio, SLENDER_MOST);
}

/* Which pixels are looked at: every row-th of the rows, every column-th of a row. */
typedef struct stride {
    size_t row, column;
} stride;

static const stride each_pixel = { 1, 1 };

/* Enough to find a place by: as many across as the width needs, and along it MOST_ALONG. */
static stride search_stride(const bridge_ground *g, const bridge_strip *s)
{
    if (g->job->marks != NULL) return each_pixel;
    const double dx = fabs(s->b.x_px - s->a.x_px), dy = fabs(s->b.y_px - s->a.y_px);
    const size_t across = (size_t)sw_clamp(g->width_px / 5.0, 1.0, 8.0);
    const size_t along = sw_max_size(across, (size_t)(sw_max(dx, dy) / MOST_ALONG));
    return dy > dx ? (stride){ along, across } : (stride){ across, along };
}

/* One strip being measured. */
typedef struct survey {
    const bridge_ground *g;
    plan p;
    stride step;
    double half_width_px, length_px; /* length: half, to where ends have no share any more */
    /* Where a row meets the lines through the middle along the axis and across it, by so much more each row down, and how
     * much of it is a px across and along; all in columns of the stride. */
    double middle, axis_slope, cross_slope, per_across, per_along;
    double cost, seen;
    bool is_barred;                  /* by a pixel that no bridge may cover */
} survey;

/* With its sign, and far enough from 0 to divide by. */
static double not_zero(double v)
{
    return fabs(v) > 1e-12 ? v : 1e-12;
}

static survey survey_of(const bridge_ground *g, const bridge_strip *s, stride step)
{
    const double half_width = 0.5 * g->width_px, per_px = 1.0 / (double)step.column;
    survey v = { .g = g, .p = plan_of(g, s, half_width + VERGE_WIDTHS * g->width_px), .step = step, .half_width_px = half_width };
    const frame *const fr = &v.p.fr;
    const double dx = not_zero(fr->dx), dy = not_zero(fr->dy);
    v.length_px = sw_max(v.p.half_px + half_width + 0.5, fr->half_px + 1.0);
    v.middle = (fr->mid.x_px - 0.5) * per_px;
    v.axis_slope = dx / dy * per_px;
    v.cross_slope = -dy / dx * per_px;
    v.per_across = per_px / fabs(dy);
    v.per_along = per_px / fabs(dx);
    return v;
}

/* Columns of the stride, begin <= k < end, in a row. */
typedef struct columns {
    size_t begin, end;
} columns;

/* Those whose pixels' centres in row y are so near to the axis and to the middle. */
static inline columns columns_within(const survey *v, size_t y, double across, double along, columns of)
{
    const double down = (double)(ptrdiff_t)y + 0.5 - v->p.fr.mid.y_px;
    const double on_axis = v->middle + down * v->axis_slope, on_cross = v->middle + down * v->cross_slope;
    const double w = across * v->per_across, h = along * v->per_along;
    const size_t begin = whole_from(sw_max(on_axis - w, on_cross - h), of.begin, of.end);
    return (columns){ begin, whole_from(sw_min(on_axis + w, on_cross + h), begin, of.end) };
}

/* Pixel by pixel. */
static inline void weigh(survey *v, size_t y, size_t begin, size_t end)
{
    const bridge_ground *const g = v->g;
    for (size_t k = begin; k < end; k++) {
        const size_t x = k * v->step.column;
        if (bridge_part_of(g, y * g->mask.width_px + x) != 0) continue;
        const uint32_t cost = bridge_pixel_cost(g, x, y);
        double along, across;
        place_in(&v->p.fr, x, y, &along, &across);
        if (cost == BRIDGE_WALL) {
            v->is_barred = v->is_barred || share_of(&v->p, v->half_width_px + 1.5, along, across) >= 1.0;
            continue;
        }
        const double share = share_of(&v->p, v->half_width_px, along, across);
        v->cost += share * cost;
        if (cost > BRIDGE_LENGTH) v->seen += share * (cost - BRIDGE_LENGTH);
    }
}

/* The same where all pixels have one share and there are no marks. In the same order: of sums that are equal but for their
 * last digit the lower wins, so that must not depend on how pixels are grouped. */
static inline void add(survey *v, size_t y, size_t begin, size_t end, double share)
{
    const bridge_ground *const g = v->g;
    const uint8_t *const label = g->job->separation->label, *const below = g->job->below;
    const uint8_t *const salience = g->job->separation->salience, pass = g->pass;
    const size_t row = y * g->mask.width_px, grid_row = bridge_grid_index(g, 0, y), step = v->step.column;
    double cost = v->cost, seen = v->seen;
    for (size_t x = begin * step; x < end * step; x += step) {
        if (bridge_part_of(g, row + x) != 0) continue;
        const size_t at = grid_row + x;
        const uint32_t error = label[at] == pass ? g->error_of[below[at]] * g->weight_of[salience[at]] / BRIDGE_UNIT : 0;
        cost += share * (BRIDGE_LENGTH + error);
        seen += share * error;
    }
    v->cost = cost;
    v->seen = seen;
}

static void survey_row(survey *v, size_t y)
{
    const double half_width = v->half_width_px, half_px = v->p.fr.half_px - CLEAR_PX;
    size_t x0, x1;
    plan_columns(&v->p, (double)y + 0.5, v->g->mask.width_px, &x0, &x1);
    const size_t step = v->step.column;
    const columns inside = { (x0 + step - 1) / step, (x1 + step - 1) / step };
    if (v->g->job->marks != NULL) {
        weigh(v, y, inside.begin, inside.end);
        return;
    }
    const columns all = columns_within(v, y, HUGE_VAL, v->length_px + CLEAR_PX, inside);
    const columns verge = columns_within(v, y, HUGE_VAL, half_px, all);
    const columns soft = columns_within(v, y, half_width + 0.5 + CLEAR_PX, half_px, verge);
    const columns core = columns_within(v, y, half_width - 0.5 - CLEAR_PX, half_px, soft);
    const size_t ends[] = { verge.begin, soft.begin, core.begin, core.end, soft.end, verge.end, all.end };
    static const double shares[] = { 0.0, VERGE_FACTOR, 0.0, 1.0, 0.0, VERGE_FACTOR, 0.0 }; /* 0: to be weighed */
    for (size_t i = 0, begin = all.begin; i < SW_ARRAY_LEN(ends); begin = ends[i++]) {
        if (begin == ends[i]) continue;
        if (shares[i] > 0.0) add(v, y, begin, ends[i], shares[i]);
        else weigh(v, y, begin, ends[i]);
    }
}

/* Those with a share, of the plan's rows. */
static void survey_rows(const survey *v, size_t *begin, size_t *end)
{
    const frame *const fr = &v->p.fr;
    plan_rows(&v->p, v->g->mask.height_px, begin, end);
    if (v->g->job->marks != NULL || fabs(fr->dy) <= 1e-6) return;
    const double verge_px = fabs(fr->dy) * (fr->half_px + 1.0) + fabs(fr->dx) * v->p.radius_px;
    const double end_px = fabs(fr->dy) * v->p.half_px + v->half_width_px + 0.5;
    const double reach = sw_max(verge_px, end_px) + CLEAR_PX;
    *begin = whole_from(fr->mid.y_px - reach - 0.5, *begin, *end);
    *end = whole_from(fr->mid.y_px + reach - 0.5, *begin, *end);
}

/* The sum over pixels of the stride, scaled up. */
static void measure(const bridge_ground *g, bridge_strip *s, stride step, double limit)
{
    survey v = survey_of(g, s, step);
    const double each = (double)(step.row * step.column), slender = bridge_strip_slender_cost(g, 2.0 * v.p.fr.half_px);
    const double most = (limit - slender) / each * (1.0 + 1e-9); /* whatever the last digits */
    size_t y0, y1;
    survey_rows(&v, &y0, &y1);
    s->cost = HUGE_VAL;
    for (size_t y = (y0 + step.row - 1) / step.row * step.row; y < y1; y += step.row) {
        survey_row(&v, y);
        if (v.is_barred || !(v.cost <= most)) return;
    }
    s->cost = v.cost * each + slender;
    s->seen = v.seen * each;
}

void bridge_strip_measure(const bridge_ground *g, bridge_strip *strip, double limit)
{
    measure(g, strip, search_stride(g, strip), limit);
}

void bridge_strip_measure_all(const bridge_ground *g, bridge_strip *strip)
{
    measure(g, strip, each_pixel, HUGE_VAL);
}
