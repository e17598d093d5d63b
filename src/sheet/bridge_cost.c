/* What a straight strip costs: a sum over its pixels, those of the verge beside it and those where its ends hang in the
 * air. Row by row: what the openings cost is gathered, then weighed by how far each lies along and across, several at a
 * time. */
#include <math.h>
#include <string.h>

#include "sheet/bridge_plan.h"

/* Places along a strip that are looked at while its own place is sought; what it costs there is counted in full. Taste:
 * strips of up to twice as many pixels are seen whole, and longer ones are seldom chosen. */
#define MOST_ALONG 128.0

/* What a strip pays for the verge beside it, and how wide that is. */
#define VERGE_WIDTHS 0.4
#define VERGE_FACTOR 0.15f
#define OVERHANG_FACTOR 3.0f
#define LANES BRIDGE_LANES /* weighed together */
#define AT_ONCE 128u       /* columns gathered together */
#define WALL_PX 1.0        /* that a strip keeps from a wall */
#define CHECK_ROWS 4u      /* between looks at what it costs so far */
/* A strip this many widths long costs twice its plain length. Taste: 60 mm of a 5 mm strip. */
#define SLENDER_WIDTHS 12.0
#define SLENDER_MOST 2.0

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

/* As many across as the width needs to find a place by. */
static size_t stride_across(const bridge_ground *g)
{
    return g->job->marks != NULL ? 1 : (size_t)sw_clamp(g->width_px / 5.0, 1.0, 8.0);
}

/* Enough to find a place by: along it MOST_ALONG. */
static stride search_stride(const bridge_ground *g, const bridge_strip *s)
{
    if (g->job->marks != NULL) return each_pixel;
    const double dx = fabs(s->b.x_px - s->a.x_px), dy = fabs(s->b.y_px - s->a.y_px);
    const size_t across = stride_across(g), along = sw_max_size(across, (size_t)(sw_max(dx, dy) / MOST_ALONG));
    return dy > dx ? (stride){ along, across } : (stride){ across, along };
}

/* One strip being measured: lengths from its middle along it and across it, px. */
typedef struct survey {
    const bridge_ground *g;
    bridge_patch *patch;           /* NULL: none of this stride */
    frame fr;
    stride step;
    float half_width, half_length; /* of the strip */
    float half_axis;               /* of the plan's, which runs a little into the parts */
    float along_step, across_step; /* from one column of the stride to the next */
    double across_most, along_most; /* where shares end */
    /* Where a row meets the lines through the middle along the axis and across it, by so much more each row down, and how
     * much of it lies within across_most and along_most; all in columns of the stride. */
    double middle, axis_slope, cross_slope, across_columns, along_columns;
    float cost[LANES], seen[LANES]; /* to be summed */
    bool is_barred;                 /* by a pixel that no bridge may cover */
} survey;

/* With its sign, and far enough from 0 to divide by. */
static double not_zero(double v)
{
    return fabs(v) > 1e-12 ? v : 1e-12;
}

static survey survey_of(const bridge_ground *g, const bridge_strip *s, stride step)
{
    const double half_width = 0.5 * g->width_px, per_px = 1.0 / (double)step.column;
    const plan p = plan_of(g, s, half_width + VERGE_WIDTHS * g->width_px);
    const double dx = not_zero(p.fr.dx), dy = not_zero(p.fr.dy);
    survey v = { .g = g, .fr = p.fr, .step = step, .half_width = (float)half_width, .half_length = (float)p.fr.half_px,
                 .half_axis = (float)p.half_px };
    v.along_step = (float)(p.fr.dx * (double)step.column);
    v.across_step = (float)(-p.fr.dy * (double)step.column);
    v.across_most = p.radius_px;
    v.along_most = sw_max(p.half_px + half_width + 0.5, p.fr.half_px + 1.0);
    v.middle = (p.fr.mid.x_px - 0.5) * per_px;
    v.axis_slope = dx / dy * per_px;
    v.cross_slope = -dy / dx * per_px;
    v.across_columns = v.across_most * per_px / fabs(dy);
    v.along_columns = v.along_most * per_px / fabs(dx);
    return v;
}

static inline float least_most(float v, float least, float most)
{
    const float up = v > least ? v : least;
    return up < most ? up : most;
}

/* How much of what the openings cost the strip pays, and what of it is seen: whole on the strip; thrice past its ends, where
 * it would hang in the air, so that places where it meets the outline in its full width win; a little on the verge. Edges
 * are soft by a pixel: otherwise the cost jumps as the strip moves across pixel centres, and the best place is a lucky one.
 * cost: of n columns and on to whole LANES; along, across: of the first. */
SW_WIDE static void weigh(survey *restrict v, const float *restrict cost, size_t n, float along, float across)
{
    const float along_step = v->along_step, across_step = v->across_step, half_axis = v->half_axis;
    const float half_length = v->half_length, edge = v->half_width + 0.5f;
    for (size_t k = 0; k < n; k += LANES)
        for (size_t i = 0; i < LANES; i++) {
            const float at = (float)(int32_t)(k + i), c = k + i < n ? cost[k + i] : 0.0f, shown = c - (float)BRIDGE_LENGTH;
            const float u = fabsf(along + at * along_step), w = across + at * across_step;
            const float past = u > half_axis ? u - half_axis : 0.0f;
            const float inside = least_most(edge - sqrtf(past * past + w * w), 0.0f, 1.0f);
            const float beyond = least_most(u - half_length, 0.0f, 1.0f);
            const float share = inside * (1.0f + (OVERHANG_FACTOR - 1.0f) * beyond) +
                                (1.0f - inside) * (1.0f - beyond) * VERGE_FACTOR;
            v->cost[i] += share * c;
            v->seen[i] += share * (shown > 0.0f ? shown : 0.0f);
        }
}

static double sum_of(const float lane[LANES])
{
    double sum = 0.0;
    for (size_t i = 0; i < LANES; i++) sum += (double)lane[i];
    return sum;
}

/* Cost of a pixel where there are marks; walls are none's, and bar the strip if they lie on it. */
static float marked_cost(survey *v, size_t x, size_t y)
{
    const uint32_t cost = bridge_pixel_cost(v->g, x, y);
    if (cost != BRIDGE_WALL) return (float)cost;
    double along, across;
    place_in(&v->fr, x, y, &along, &across);
    v->is_barred = v->is_barred || sw_hypot(sw_max(along - (double)v->half_axis, 0.0), across) <= (double)v->half_width + WALL_PX;
    return 0.0f;
}

/* Columns of the stride, begin <= k < end, in a row. */
typedef struct columns {
    size_t begin, end;
} columns;

/* What their openings cost, 0 where there is material. False if all is material. */
static bool gather(survey *v, size_t y, columns of, float *restrict cost)
{
    const bridge_ground *const g = v->g;
    const uint8_t *const label = g->job->separation->label, *const below = g->job->below;
    const uint8_t pass = g->pass;
    const size_t left = g->job->window.x, grid_y = g->job->window.y + y - 1;
    const size_t row = y * g->mask.width_px, grid_row = bridge_grid_index(g, 0, y), step = v->step.column;
    bool is_any = false;
    for (size_t k = of.begin; k < of.end; k++, cost++) {
        const size_t x = k * step, at = grid_row + x;
        *cost = 0.0f;
        if (bridge_part_of(g, row + x) != 0) continue;
        is_any = true;
        if (g->job->marks != NULL) *cost = marked_cost(v, x, y);
        else if (label[at] != pass) *cost = BRIDGE_LENGTH;
        else *cost = (float)(BRIDGE_LENGTH + g->error_of[below[at]] * sw_notice_at(g->notice, left + x - 1, grid_y) / SW_NOTICE_ONE);
    }
    return is_any;
}

static void weigh_columns(survey *v, double down, columns of, const float *cost)
{
    const double right = (double)(ptrdiff_t)(of.begin * v->step.column) + 0.5 - v->fr.mid.x_px;
    weigh(v, cost, of.end - of.begin, (float)(right * v->fr.dx + down * v->fr.dy), (float)(down * v->fr.dx - right * v->fr.dy));
}

/* The same, of a row that the patch has once it was asked for. */
static void weigh_in_patch(survey *v, size_t y, double down, columns of)
{
    bridge_patch *const p = v->patch;
    const size_t row = y / v->step.row - p->row;
    if (p->is_known[row] == PATCH_UNKNOWN)
        p->is_known[row] = gather(v, y, (columns){ p->column, p->column_end }, p->cost[row]) ? PATCH_OPEN : PATCH_MATERIAL;
    if (p->is_known[row] == PATCH_OPEN) weigh_columns(v, down, of, p->cost[row] + (of.begin - p->column));
}

static bool is_in_patch(const survey *v, size_t y, columns of)
{
    const bridge_patch *const p = v->patch;
    const size_t row = y / v->step.row;
    return p != NULL && row >= p->row && row - p->row < BRIDGE_PATCH && of.begin >= p->column && of.end <= p->column_end;
}

static void survey_row(survey *v, size_t y)
{
    const size_t last = (v->g->mask.width_px - 2) / v->step.column;
    const double down = (double)(ptrdiff_t)y + 0.5 - v->fr.mid.y_px;
    const double on_axis = v->middle + down * v->axis_slope, on_cross = v->middle + down * v->cross_slope;
    const size_t begin = whole_from(sw_max(on_axis - v->across_columns, on_cross - v->along_columns), 1, last + 1);
    const size_t end = whole_from(sw_min(on_axis + v->across_columns, on_cross + v->along_columns), begin, last + 1);
    if (is_in_patch(v, y, (columns){ begin, end })) {
        weigh_in_patch(v, y, down, (columns){ begin, end });
        return;
    }
    float cost[AT_ONCE] = { 0 };
    for (size_t k = begin; k < end; k += AT_ONCE) {
        const columns some = { k, sw_min_size(k + AT_ONCE, end) };
        if (gather(v, y, some, cost)) weigh_columns(v, down, some, cost);
    }
}

/* Rows with a share. */
static void survey_rows(const survey *v, size_t *begin, size_t *end)
{
    const double reach = fabs(v->fr.dy) * v->along_most + fabs(v->fr.dx) * v->across_most, middle = v->fr.mid.y_px - 0.5;
    *begin = whole_from(middle - reach, 1, v->g->mask.height_px - 1);
    *end = whole_from(middle + reach, *begin, v->g->mask.height_px - 1);
}

/* The sum over pixels of the stride, scaled up. */
static void measure(const bridge_ground *g, bridge_patch *patch, bridge_strip *s, stride step, double limit)
{
    survey v = survey_of(g, s, step);
    const double each = (double)(step.row * step.column), slender = bridge_strip_slender_cost(g, 2.0 * v.fr.half_px);
    const double most = (limit - slender) / each;
    size_t y0, y1;
    v.patch = patch != NULL && patch->step == step.row && patch->step == step.column ? patch : NULL;
    survey_rows(&v, &y0, &y1);
    s->cost = HUGE_VAL;
    if (!(most >= 0.0)) return;
    size_t n_rows = 0;
    for (size_t y = (y0 + step.row - 1) / step.row * step.row; y < y1; y += step.row) {
        survey_row(&v, y);
        if (v.is_barred || (++n_rows % CHECK_ROWS == 0 && sum_of(v.cost) > most)) return;
    }
    const double cost = sum_of(v.cost);
    if (!(cost <= most)) return;
    s->cost = cost * each + slender;
    s->seen = sum_of(v.seen) * each;
}

void bridge_patch_around(const bridge_ground *g, sw_pt_px at, bridge_patch *out)
{
    const size_t half = BRIDGE_PATCH / 2, last = g->mask.width_px - 2;
    out->step = g->job->marks == NULL ? stride_across(g) : 0;
    memset(out->is_known, PATCH_UNKNOWN, sizeof out->is_known);
    if (out->step == 0) return;
    const size_t column = whole_from(at.x_px, 0, last) / out->step, row = whole_from(at.y_px, 0, g->mask.height_px) / out->step;
    out->column = column > half ? column - half : 1;
    out->column_end = sw_max_size(out->column, sw_min_size(out->column + BRIDGE_PATCH, last / out->step + 1));
    out->row = row > half ? row - half : 0;
}

void bridge_strip_measure(const bridge_ground *g, bridge_strip *strip, double limit)
{
    measure(g, NULL, strip, search_stride(g, strip), limit);
}

void bridge_strip_measure_in(const bridge_ground *g, bridge_patch *patch, bridge_strip *strip, double limit)
{
    measure(g, patch, strip, search_stride(g, strip), limit);
}

void bridge_strip_measure_all(const bridge_ground *g, bridge_strip *strip)
{
    measure(g, NULL, strip, each_pixel, HUGE_VAL);
}
