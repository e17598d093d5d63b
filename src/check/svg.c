/*
 * Vector work judged, sheet by sheet: rings that cross or overlap, what would fall out, what is too narrow, what lies
 * outside. The reader has found open paths, text, pictures and missing sizes already.
 *
 * Overlaps come first, because where shapes overlap nobody knows what is an opening: rings that cross are left out of
 * what follows. Narrow places are the proof's, which measures on the curves.
 */
#include "check/parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BEYOND_MM 60.0    /* material around a document that has no outline */
#define OUTSIDE_MM 0.02   /* rounding at the edge is no fault */
#define MOST_RINGS 8000u  /* which lies in which is asked of all pairs */
#define MOST_FAULTS 4000u /* narrow places put together */
#define MOST_CUT_MM 20e6  /* of one sheet: 20 km of edge are a file's fault, and would take memory without end */
#define MOST_PAIRS 12e6    /* points near each other that the proof may have to compare */
#define SAME_MM 0.5       /* findings of a kind nearer than this are one */

bool sw_svg_is_one(const uint8_t *bytes, size_t n)
{
    static const uint8_t mark[] = { 0xef, 0xbb, 0xbf };
    if (n >= 3 && memcmp(bytes, mark, 3) == 0) {
        bytes += 3;
        n -= 3;
    }
    for (size_t i = 0; i < n && i < 256; i++) {
        if (bytes[i] == '<') return true;
        if (bytes[i] != ' ' && bytes[i] != '\t' && bytes[i] != '\r' && bytes[i] != '\n') return false;
    }
    return false;
}

/* One sheet at work. */
typedef struct sheet {
    sw_svg_check *check;
    const char *layer;
    size_t part;          /* the layer's panel; SW_NO_PANEL: all of it, or what lies on none */
    sw_rings rings;
    sw_panel panel;       /* for the proof; owns its openings and outline */
    sw_pt_mm origin;      /* of the panel, in document mm */
    sw_rect_mm edge;      /* what shapes must not reach beyond; document mm */
} sheet;

/* False when memory is out. Too many of a kind are only counted; neighbours of a kind are one, but for
 * islands. */
static bool add_finding(sheet *s, sw_finding_kind kind, size_t shape, sw_pt_mm at, double measure_mm)
{
    sw_vector *const v = &s->check->vector;
    sw_finding f = { .kind = kind, .at = at, .to = at, .measure_mm = measure_mm };
    if (shape < v->n_shapes) {
        f.line = v->shapes[shape].line;
        memcpy(f.shape, v->shapes[shape].id, sizeof f.shape);
    }
    const size_t looked = kind == SW_FIND_ISLAND ? 0 : sw_min_size(v->n_findings, 64); /* islands may lie in islands */
    for (size_t i = v->n_findings - looked; i < v->n_findings; i++) {
        const sw_finding *const other = &v->findings[i];
        if (other->kind == kind && other->line == f.line && hypot(other->at.x_mm - at.x_mm, other->at.y_mm - at.y_mm) < SAME_MM)
            return true;
    }
    s->check->counts[kind]++;
    return s->check->counts[kind] > SW_SVG_MAX_FINDINGS || sw_vector_add_finding(v, &f);
}

/* ---- crossings and overlaps --------------------------------------------------------------------------------- */

static bool note_crossing(void *ctx, size_t ring, size_t other, sw_pt_mm at)
{
    sheet *const s = ctx;
    const sw_vector *const v = &s->check->vector;
    const size_t one = s->rings.at[ring].shape, two = s->rings.at[other].shape;
    const bool is_overlap = one != two && !v->shapes[one].is_cut_line && !v->shapes[two].is_cut_line;
    return add_finding(s, is_overlap ? SW_FIND_OVERLAP : SW_FIND_CROSSING, sw_max_size(one, two), at, 0.0);
}

static bool is_in_shape(const sheet *s, size_t first, size_t end, sw_pt_mm p)
{
    const sw_vector_shape *const shape = &s->check->vector.shapes[s->rings.at[first].shape];
    int winding = 0;
    size_t n_odd = 0;
    for (size_t r = first; r < end; r++) {
        const int one = sw_ring_winding(&s->rings, r, p);
        winding += one;
        n_odd += one % 2 != 0;
    }
    return shape->is_even_odd ? n_odd % 2 == 1 : winding != 0;
}

/* First ring after those of the same shape. */
static size_t shape_end(const sw_rings *rings, size_t first)
{
    size_t end = first + 1;
    while (end < rings->n && rings->at[end].shape == rings->at[first].shape) end++;
    return end;
}

/* Filled shapes that lie on other filled shapes: they cut nothing that is not open already. */
static bool find_covered(sheet *s)
{
    sw_rings *const rings = &s->rings;
    for (size_t first = 0, end; first < rings->n; first = end) {
        end = shape_end(rings, first);
        const sw_ring *const ring = &rings->at[first];
        const sw_pt_mm p = sw_ring_middle(rings, first);
        if (s->check->vector.shapes[ring->shape].is_cut_line || ring->is_crossing) continue;
        for (size_t other = 0, other_end; other < rings->n; other = other_end) {
            other_end = shape_end(rings, other);
            if (other == first || s->check->vector.shapes[rings->at[other].shape].is_cut_line) continue;
            if (!is_in_shape(s, other, other_end, rings->points[ring->first])) continue;
            if (!add_finding(s, SW_FIND_OVERLAP, ring->shape, p, 0.0)) return false;
            for (size_t r = first; r < end; r++) rings->at[r].is_left_out = true;
            break;
        }
    }
    return true;
}

/* ---- islands, edges ------------------------------------------------------------------------------------------- */

static bool find_islands(sheet *s)
{
    for (size_t r = 0; r < s->rings.n; r++) {
        const sw_ring *const ring = &s->rings.at[r];
        if (ring->is_crossing || ring->is_left_out || ring->depth % 2 == 0) continue;
        if (!add_finding(s, SW_FIND_ISLAND, ring->shape, sw_ring_middle(&s->rings, r), sqrt(fabs(ring->area_mm2)))) return false;
    }
    return true;
}

/* The point of each ring that is farthest outside. */
static bool find_outside(sheet *s)
{
    const sw_rect_mm *const e = &s->edge;
    for (size_t r = 0; r < s->rings.n; r++) {
        const sw_ring *const ring = &s->rings.at[r];
        double farthest = OUTSIDE_MM;
        sw_pt_mm at = { 0 };
        for (size_t i = ring->first; i < ring->first + ring->n; i++) {
            const sw_pt_mm p = s->rings.points[i];
            const double out = sw_max(sw_max(e->x_mm - p.x_mm, p.x_mm - e->x_mm - e->width_mm),
                                      sw_max(e->y_mm - p.y_mm, p.y_mm - e->y_mm - e->height_mm));
            if (!(out > farthest)) continue;
            farthest = out;
            at = p;
        }
        if (farthest > OUTSIDE_MM && !add_finding(s, SW_FIND_OUTSIDE, ring->shape, at, farthest)) return false;
    }
    return true;
}

/* ---- narrow places -------------------------------------------------------------------------------------------- */

/* The proof finds every place of a long slit: places that hang together are one finding, at the narrowest. */
static bool note_narrow(sheet *s, const sw_proof_panel *proof)
{
    const size_t n = sw_min_size(proof->n_faults, MOST_FAULTS);
    if (n == 0) return true;
    size_t *const group = sw_alloc_raw(n, sizeof *group);
    if (group == NULL) return false;
    const double near_mm = 2.0 * sw_max(s->check->opts.min_opening_mm, s->check->opts.min_web_mm);
    for (size_t i = 0; i < n; i++) {
        const sw_proof_fault *const f = &proof->faults[i];
        group[i] = i;
        for (size_t k = 0; k < i; k++) {
            const sw_proof_fault *const g = &proof->faults[k];
            if (g->kind != f->kind || hypot(g->at.x_mm - f->at.x_mm, g->at.y_mm - f->at.y_mm) > near_mm || group[k] == group[i]) continue;
            const size_t from = sw_max_size(group[i], group[k]), to = sw_min_size(group[i], group[k]);
            for (size_t j = 0; j <= i; j++) {
                if (group[j] == from) group[j] = to;
            }
        }
    }
    bool ok = true;
    for (size_t i = 0; i < n && ok; i++) {
        if (group[i] != i) continue;
        size_t least = i;
        for (size_t k = i; k < n; k++) {
            if (group[k] == i && proof->faults[k].width_mm < proof->faults[least].width_mm) least = k;
        }
        const sw_proof_fault *const f = &proof->faults[least];
        const sw_finding_kind kind = f->kind == SW_FAULT_WEB ? SW_FIND_NARROW_WEB
                                     : f->kind == SW_FAULT_OPENING ? SW_FIND_NARROW_OPENING : SW_FIND_CROSSING;
        const sw_pt_mm at = { f->at.x_mm + s->origin.x_mm, f->at.y_mm + s->origin.y_mm };
        ok = add_finding(s, kind, sw_svg_shape_near(&s->rings, at), at, f->width_mm);
    }
    sw_free(group);
    return ok;
}

/* So far out that it has nothing to do with the sheet: it is reported, and not measured. */
static bool is_far(const sheet *s, const sw_ring *ring)
{
    const sw_rect_mm *const e = &s->edge;
    const double far = sw_max(e->width_mm, e->height_mm) + BEYOND_MM;
    return ring->low.x_mm < e->x_mm - far || ring->low.y_mm < e->y_mm - far || ring->high.x_mm > e->x_mm + e->width_mm + far ||
           ring->high.y_mm > e->y_mm + e->height_mm + far;
}

/* Openings that can be measured, moved to the panel's corner. */
static sw_status fill_panel(sheet *s, sw_note *note)
{
    sw_contours *const openings = &s->panel.openings;
    for (size_t r = 0; r < s->rings.n; r++) {
        const sw_ring *const ring = &s->rings.at[r];
        if (ring->is_crossing || ring->is_left_out || is_far(s, ring)) continue;
        const sw_contours one = { .at = &s->check->vector.shapes[ring->shape].contours.at[ring->contour], .n = 1 };
        sw_contours copy = { 0 };
        SW_TRY(sw_contours_copy(&one, &copy, note));
        const sw_status st = sw_contours_take(openings, &copy.at[0], note);
        sw_contours_free(&copy);
        SW_TRY(st);
    }
    sw_contours_shift(openings, -s->origin.x_mm, -s->origin.y_mm);
    return SW_OK;
}

static bool draw_outline(sw_panel *panel)
{
    panel->outline.start = (sw_pt_mm){ 0.0, 0.0 };
    return sw_contour_add_line(&panel->outline, (sw_pt_mm){ panel->width_mm, 0.0 }) &&
           sw_contour_add_line(&panel->outline, (sw_pt_mm){ panel->width_mm, panel->height_mm }) &&
           sw_contour_add_line(&panel->outline, (sw_pt_mm){ 0.0, panel->height_mm }) &&
           sw_contour_add_line(&panel->outline, (sw_pt_mm){ 0.0, 0.0 });
}

/* About how many pairs of points lie within width_mm of each other. */
static double count_pairs(const sheet *s, double width_mm)
{
    const double side_mm = sw_max(width_mm, sw_max(s->panel.width_mm, s->panel.height_mm) / 1000.0);
    const size_t n_x = (size_t)(s->panel.width_mm / side_mm) + 1, n_y = (size_t)(s->panel.height_mm / side_mm) + 1;
    uint32_t *const counts = sw_alloc_array(n_x * n_y, sizeof *counts);
    double sum = 0.0;
    if (counts == NULL) return 0.0;
    for (size_t i = 0; i < s->rings.n_points; i++) {
        const double x = (s->rings.points[i].x_mm - s->origin.x_mm) / side_mm, y = (s->rings.points[i].y_mm - s->origin.y_mm) / side_mm;
        const size_t column = (size_t)sw_clamp(x, 0.0, (double)n_x - 1.0), row = (size_t)sw_clamp(y, 0.0, (double)n_y - 1.0);
        counts[row * n_x + column]++;
    }
    for (size_t i = 0; i < n_x * n_y; i++) sum += (double)counts[i] * (double)counts[i];
    sw_free(counts);
    return 4.0 * sum; /* a disc of that radius covers about four of the squares' worth */
}

/* Widths to prove with. In a drawing so dense that nearly all of it is narrow, all of that cannot be compared in a moment:
 * then only what is a good deal narrower is looked for, and there is plenty of it. */
static sw_proof_opts proof_opts(const sheet *s)
{
    sw_proof_opts opts = { .min_opening_mm = s->check->opts.min_opening_mm, .min_web_mm = s->check->opts.min_web_mm };
    for (int i = 0; i < 12 && count_pairs(s, sw_max(opts.min_opening_mm, opts.min_web_mm)) > MOST_PAIRS; i++) {
        opts.min_opening_mm *= 0.7;
        opts.min_web_mm *= 0.7;
    }
    return opts;
}

/* Is the sheet of a size that anybody could cut? */
static bool is_of_this_world(const sheet *s)
{
    const sw_panel *const p = &s->panel;
    return p->width_mm <= SW_MAX_MM && p->height_mm <= SW_MAX_MM && sw_contours_measure(&p->openings).length_mm <= MOST_CUT_MM;
}

static sw_status prove(sheet *s, sw_note *note)
{
    sw_proof_panel proof = { 0 };
    if (!draw_outline(&s->panel)) return sw_fail_memory(note, "the sheet");
    SW_TRY(fill_panel(s, note));
    if (!is_of_this_world(s))
        return add_finding(s, SW_FIND_UNSUPPORTED, s->rings.at[0].shape, s->origin, 0.0) ? SW_OK : sw_fail_memory(note, "the findings");
    const sw_proof_opts opts = proof_opts(s);
    const sw_status st = sw_proof_panel_make(&s->panel, &opts, &proof, NULL);
    bool ok = true;
    if (st == SW_OK) ok = note_narrow(s, &proof);
    else if (st != SW_NO_MEMORY) ok = add_finding(s, SW_FIND_UNSUPPORTED, SIZE_MAX, s->origin, 0.0);
    sw_free(proof.faults);
    return !ok || st == SW_NO_MEMORY ? sw_fail_memory(note, "the findings") : SW_OK;
}

/* ---- one sheet -------------------------------------------------------------------------------------------------- */

static bool is_layer(const sw_vector_shape *shape, const char *layer) { return strcmp(shape->layer, layer) == 0; }

/* Where the material ends: the outline's box for a cut file, else well beyond everything; a panel has its frame. */
static void find_edge(sheet *s)
{
    const sw_vector *const v = &s->check->vector;
    s->edge = s->part != SW_NO_PANEL ? v->panels[s->part].rect : (sw_rect_mm){ 0.0, 0.0, v->width_mm, v->height_mm };
    double beyond = BEYOND_MM;
    for (size_t i = 0; i < v->n_shapes && strcmp(s->layer, "cut") == 0; i++) {
        if (!is_layer(&v->shapes[i], "outline")) continue;
        const sw_contour_measure m = sw_contours_measure(&v->shapes[i].contours);
        s->edge = (sw_rect_mm){ m.min.x_mm, m.min.y_mm, m.max.x_mm - m.min.x_mm, m.max.y_mm - m.min.y_mm };
        beyond = 0.0;
        break;
    }
    sw_pt_mm low = { s->edge.x_mm, s->edge.y_mm }, high = { low.x_mm + s->edge.width_mm, low.y_mm + s->edge.height_mm };
    for (size_t r = 0; r < s->rings.n && beyond > 0.0; r++) {
        const sw_ring *const ring = &s->rings.at[r];
        if (is_far(s, ring)) continue;
        low = (sw_pt_mm){ sw_min(low.x_mm, ring->low.x_mm), sw_min(low.y_mm, ring->low.y_mm) };
        high = (sw_pt_mm){ sw_max(high.x_mm, ring->high.x_mm), sw_max(high.y_mm, ring->high.y_mm) };
    }
    s->origin = (sw_pt_mm){ low.x_mm - beyond, low.y_mm - beyond };
    s->panel.width_mm = high.x_mm - low.x_mm + 2.0 * beyond;
    s->panel.height_mm = high.y_mm - low.y_mm + 2.0 * beyond;
}

static sw_status search_sheet(sheet *s, sw_note *note)
{
    sw_vector *const v = &s->check->vector;
    bool is_complete = true;
    if (!sw_rings_add_layer(&s->rings, v, s->layer, s->part)) return sw_fail_memory(note, "the drawing");
    for (size_t r = 0; r < s->rings.n; r++) {
        const sw_ring *const ring = &s->rings.at[r];
        s->check->cut_length_mm += sw_contour_measure_one(&v->shapes[ring->shape].contours.at[ring->contour]).length_mm;
    }
    s->check->n_contours += s->rings.n;
    if (s->rings.n == 0) return SW_OK;
    if (s->part != SW_NO_PANEL) s->check->n_panels++;
    find_edge(s);
    if (!find_outside(s)) return sw_fail_memory(note, "the findings");
    SW_TRY(sw_rings_cross(&s->rings, note_crossing, s, &is_complete, note));
    if (s->rings.n > MOST_RINGS || !is_complete) {
        return add_finding(s, SW_FIND_UNSUPPORTED, s->rings.at[0].shape, s->origin, 0.0) ? SW_OK
                                                                                         : sw_fail_memory(note, "the findings");
    }
    sw_rings_apply_fill(&s->rings, v);
    if (!find_covered(s)) return sw_fail_memory(note, "the findings");
    sw_rings_nest(&s->rings);
    if (!find_islands(s)) return sw_fail_memory(note, "the findings");
    return prove(s, note);
}

static sw_status check_part(sw_svg_check *check, const char *layer, size_t part, sw_note *note)
{
    sheet s = { .check = check, .layer = layer, .part = part };
    const sw_status st = search_sheet(&s, note);
    sw_rings_free(&s.rings);
    sw_contours_free(&s.panel.openings);
    sw_contour_free(&s.panel.outline);
    return st;
}

/* A sheet that is split is its panels, each for itself. */
static sw_status check_sheet(sw_svg_check *check, const char *layer, sw_note *note)
{
    const size_t n_before = check->n_contours;
    for (size_t p = sw_panel_after(&check->vector, layer, SW_NO_PANEL); p != SW_NO_PANEL; p = sw_panel_after(&check->vector, layer, p))
        SW_TRY(check_part(check, layer, p, note));
    SW_TRY(check_part(check, layer, SW_NO_PANEL, note));
    if (check->n_contours > n_before) check->n_sheets++;
    return SW_OK;
}

/* ---- the file ------------------------------------------------------------------------------------------------------ */

static int by_kind(const void *one, const void *two)
{
    const sw_finding *const a = one, *const b = two;
    if (a->kind != b->kind) return a->kind < b->kind ? -1 : 1;
    if (a->line != b->line) return a->line < b->line ? -1 : 1;
    if (a->at.y_mm != b->at.y_mm) return a->at.y_mm < b->at.y_mm ? -1 : 1;
    if (a->at.x_mm != b->at.x_mm) return a->at.x_mm < b->at.x_mm ? -1 : 1;
    return a->measure_mm < b->measure_mm ? -1 : a->measure_mm > b->measure_mm;
}

sw_verdict sw_svg_verdict_of(sw_finding_kind kind)
{
    switch (kind) {
    case SW_FIND_OPEN_PATH:
    case SW_FIND_CROSSING:
    case SW_FIND_OVERLAP:
    case SW_FIND_ISLAND:
    case SW_FIND_OUTSIDE:
    case SW_FIND_NOTHING: return SW_VERDICT_NO;
    default: return SW_VERDICT_YES_IF;
    }
}

static sw_status keep_name(sw_svg_check *check, const char *path, sw_note *note)
{
    const char *const slash = strrchr(path, '/');
    const char *base = slash != NULL && slash[1] != '\0' ? slash + 1 : path;
    if (strcmp(path, "-") == 0) base = "standard input";
    check->name = sw_alloc_array(strlen(base) + 1, 1);
    if (check->name == NULL) return sw_fail_memory(note, "the file's name");
    memcpy(check->name, base, strlen(base) + 1);
    return SW_OK;
}

/* Each layer is a sheet of its own, but for what is no opening. */
static sw_status check_layers(sw_svg_check *check, sw_note *note)
{
    const sw_vector *const v = &check->vector;
    for (size_t i = 0; i < v->n_shapes; i++) {
        const char *const layer = v->shapes[i].layer;
        if (strcmp(layer, "outline") == 0 || strcmp(layer, "marks") == 0) continue;
        bool is_seen = false;
        for (size_t k = 0; k < i && !is_seen; k++) is_seen = is_layer(&v->shapes[k], layer);
        if (!is_seen) SW_TRY(check_sheet(check, layer, note));
    }
    if (check->n_sheets > 0 || check->counts[SW_FIND_OPEN_PATH] > 0) return SW_OK;
    const sw_finding nothing = { .kind = SW_FIND_NOTHING, .line = 1, .shape = "svg" };
    check->counts[SW_FIND_NOTHING]++;
    return sw_vector_add_finding(&check->vector, &nothing) ? SW_OK : sw_fail_memory(note, "the findings");
}

sw_status sw_svg_check_make(const uint8_t *bytes, size_t n, const char *path, const sw_svg_opts *opts, sw_svg_check *out,
                            sw_note *note)
{
    sw_svg_check made = { .opts = *opts };
    sw_status st = SW_OK;
    if (!sw_length_ok(opts->min_opening_mm, false) || !sw_length_ok(opts->min_web_mm, false))
        st = sw_fail(note, SW_BAD_LENGTH, "--min-opening and --min-web must be above 0");
    if (st == SW_OK) st = keep_name(&made, path, note);
    if (st == SW_OK) st = sw_vector_read(bytes, n, path, &made.vector, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < made.vector.n_findings; i++) made.counts[made.vector.findings[i].kind]++;
    st = check_layers(&made, note);
    if (st != SW_OK) goto cleanup;
    if (made.vector.n_findings > 0)
        qsort(made.vector.findings, made.vector.n_findings, sizeof *made.vector.findings, by_kind);
    for (size_t i = 0; i < made.vector.n_findings; i++) {
        const sw_verdict one = sw_svg_verdict_of(made.vector.findings[i].kind);
        if (one > made.verdict) made.verdict = one;
    }
    *out = made;
    made = (sw_svg_check){ 0 };
cleanup:
    sw_svg_check_free(&made);
    return st;
}

void sw_svg_check_free(sw_svg_check *check)
{
    if (check == NULL) return;
    sw_free(check->name);
    sw_vector_free(&check->vector);
    *check = (sw_svg_check){ 0 };
}
