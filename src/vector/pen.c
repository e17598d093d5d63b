/* Draws contours from path commands: user units in, closed curves in mm out. Arcs and quadratics become cubics. */
#include "vector/parts.h"

#include <math.h>

#define PI 3.14159265358979323846
#define CLOSED_MM 0.0005 /* half of the last decimal that files hold: ends nearer than this are the same point */

affine affine_times(affine o, affine i)
{
    return (affine){ o.a * i.a + o.c * i.b, o.b * i.a + o.d * i.b,       o.a * i.c + o.c * i.d,
                     o.b * i.c + o.d * i.d, o.a * i.e + o.c * i.f + o.e, o.b * i.e + o.d * i.f + o.f };
}

sw_pt_mm affine_map(const affine *m, double x, double y)
{
    return (sw_pt_mm){ m->a * x + m->c * y + m->e, m->b * x + m->d * y + m->f };
}

static double distance_mm(sw_pt_mm p, sw_pt_mm q) { return hypot(p.x_mm - q.x_mm, p.y_mm - q.y_mm); }

static sw_pt_mm end_of(const sw_contour *contour)
{
    return contour->n_segs == 0 ? contour->start : contour->segs[contour->n_segs - 1].end;
}

/* The contour is complete: its last point is its first one, to the bit. */
static void finish(pen *p)
{
    const double gap_mm = distance_mm(end_of(&p->now), p->now.start);
    if (gap_mm > CLOSED_MM) {
        if (!sw_contour_add_line(&p->now, p->now.start)) p->is_broken = true;
    } else if (p->now.n_segs > 0) {
        p->now.segs[p->now.n_segs - 1].end = p->now.start;
    }
    if (p->now.n_segs >= 2 || (p->now.n_segs == 1 && !p->now.segs[0].is_line)) { /* one curve may close on itself */
        if (sw_contours_take(p->closed, &p->now, NULL) != SW_OK) p->is_broken = true;
    }
    sw_contour_free(&p->now);
}

void pen_end(pen *p)
{
    if (p->now.n_segs == 0) {
        sw_contour_free(&p->now);
        return;
    }
    const sw_pt_mm begin = p->now.start, end = end_of(&p->now);
    const double gap_mm = distance_mm(begin, end);
    if (gap_mm > CLOSED_MM && p->is_drawing) {
        sw_contour_free(&p->now);
        return;
    }
    if (gap_mm > CLOSED_MM) {
        sw_finding finding = { .kind = SW_FIND_OPEN_PATH, .at = begin, .to = end, .measure_mm = gap_mm, .line = p->line };
        for (size_t i = 0; i + 1 < sizeof finding.shape && p->shape[i] != '\0'; i++) finding.shape[i] = p->shape[i];
        if (!sw_vector_add_finding(p->vector, &finding)) p->is_broken = true;
        if (!p->is_filled) {
            sw_contour_free(&p->now);
            return;
        }
    }
    finish(p);
}

void pen_move(pen *p, double x, double y)
{
    pen_end(p);
    p->now.start = affine_map(&p->to_mm, x, y);
    p->x = p->start_x = x;
    p->y = p->start_y = y;
    p->has_start = true;
}

void pen_line(pen *p, double x, double y)
{
    if (!sw_contour_add_line(&p->now, affine_map(&p->to_mm, x, y))) p->is_broken = true;
    p->x = x;
    p->y = y;
}

void pen_cubic(pen *p, double x1, double y1, double x2, double y2, double x, double y)
{
    if (!sw_contour_add_cubic(&p->now, affine_map(&p->to_mm, x1, y1), affine_map(&p->to_mm, x2, y2),
                              affine_map(&p->to_mm, x, y)))
        p->is_broken = true;
    p->x = x;
    p->y = y;
}

void pen_quad(pen *p, double x1, double y1, double x, double y)
{
    pen_cubic(p, p->x + 2.0 / 3.0 * (x1 - p->x), p->y + 2.0 / 3.0 * (y1 - p->y), x + 2.0 / 3.0 * (x1 - x),
              y + 2.0 / 3.0 * (y1 - y), x, y);
}

void pen_close(pen *p)
{
    if (!p->has_start) return;
    finish(p);
    p->now.start = affine_map(&p->to_mm, p->start_x, p->start_y); /* a command after Z goes on from there */
    p->x = p->start_x;
    p->y = p->start_y;
}

void pen_arc(pen *p, double rx, double ry, double rotation_deg, bool is_large, bool is_sweep, double x, double y)
{
    rx = fabs(rx);
    ry = fabs(ry);
    const double dx = (p->x - x) / 2.0, dy = (p->y - y) / 2.0;
    if (dx == 0.0 && dy == 0.0) return;
    if (!(rx > 0.0 && ry > 0.0)) {
        pen_line(p, x, y);
        return;
    }
    /* SVG 1.1, F.6.5 and F.6.6: centre form, radii scaled up when they cannot reach */
    const double turn = rotation_deg * PI / 180.0, cos_turn = cos(turn), sin_turn = sin(turn);
    const double x1 = cos_turn * dx + sin_turn * dy, y1 = -sin_turn * dx + cos_turn * dy;
    const double reach = x1 * x1 / (rx * rx) + y1 * y1 / (ry * ry);
    if (reach > 1.0) {
        rx *= sqrt(reach);
        ry *= sqrt(reach);
    }
    const double below = rx * rx * y1 * y1 + ry * ry * x1 * x1;
    const double root = sqrt(sw_max(0.0, (rx * rx * ry * ry - below) / below)) * (is_large == is_sweep ? -1.0 : 1.0);
    const double cx1 = root * rx * y1 / ry, cy1 = -root * ry * x1 / rx;
    const double cx = cos_turn * cx1 - sin_turn * cy1 + (p->x + x) / 2.0;
    const double cy = sin_turn * cx1 + cos_turn * cy1 + (p->y + y) / 2.0;
    const double begin = atan2((y1 - cy1) / ry, (x1 - cx1) / rx);
    double sweep = atan2((-y1 - cy1) / ry, (-x1 - cx1) / rx) - begin;
    if (is_sweep && sweep < 0.0) sweep += 2.0 * PI;
    if (!is_sweep && sweep > 0.0) sweep -= 2.0 * PI;
    if (!isfinite(sweep)) {
        pen_line(p, x, y);
        return;
    }
    const int n = (int)sw_clamp(ceil(fabs(sweep) / (PI / 2.0) - 1e-9), 1.0, 4.0);
    const double step = sweep / n, handle = 4.0 / 3.0 * tan(step / 4.0);
    for (int i = 0; i < n; i++) {
        const double a0 = begin + step * i, a1 = a0 + step;
        const double u[3][2] = { { cos(a0) - handle * sin(a0), sin(a0) + handle * cos(a0) },
                                 { cos(a1) + handle * sin(a1), sin(a1) - handle * cos(a1) },
                                 { cos(a1), sin(a1) } };
        double v[3][2];
        for (int k = 0; k < 3; k++) {
            v[k][0] = cos_turn * rx * u[k][0] - sin_turn * ry * u[k][1] + cx;
            v[k][1] = sin_turn * rx * u[k][0] + cos_turn * ry * u[k][1] + cy;
        }
        if (i == n - 1) {
            v[2][0] = x; /* no drift: the arc ends where it was told to */
            v[2][1] = y;
        }
        pen_cubic(p, v[0][0], v[0][1], v[1][0], v[1][1], v[2][0], v[2][1]);
    }
}
