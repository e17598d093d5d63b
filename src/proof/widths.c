/* Narrow webs and openings of one panel: gaps that lie together are one fault; openings too small to hold a disc are
 * faults of their own. */
#include <math.h>

#include "proof/gap.h"

#define ENOUGH_RATIO 0.9   /* of what was asked: a curve fitted within a tolerance may take the rest */
#define SEARCH_RATIO 1.3   /* the narrowest neck is looked for up to this times what was asked */
#define LONGEST_RATIO 1.001 /* of the longest chord: sums of lengths are rounded */
#define SPECK_WAY_RATIO 8.0 /* an opening whose edge is longer than this times the width is no speck: gaps see it */
#define SPECK_ACROSS_PX 40.0
#define SPECK_SURE_RATIO 0.97 /* the raster above is good to half a pixel at each side */

/* ---- gaps that lie together -------------------------------------------------------------------------------- */

/* Gaps as a forest; at: sorted by chord. */
typedef struct clusters {
    const sw_proof_shape *shape;
    const sw_proof_gap *at;
    size_t n;
    uint32_t *parent;
} clusters;

static size_t find_root(const clusters *c, size_t i)
{
    while (c->parent[i] != i) {
        c->parent[i] = c->parent[c->parent[i]];
        i = c->parent[i];
    }
    return i;
}

static void join(const clusters *c, size_t i, size_t k)
{
    const size_t a = find_root(c, i), b = find_root(c, k);
    if (a < b) c->parent[b] = (uint32_t)a;
    else c->parent[a] = (uint32_t)b;
}

/* Index of a chord's gap; n if it has none. */
static size_t index_of(const clusters *c, uint32_t chord)
{
    size_t lo = 0, hi = c->n;
    while (lo < hi) {
        const size_t mid = lo + (hi - lo) / 2;
        if (c->at[mid].chord < chord) lo = mid + 1;
        else hi = mid;
    }
    return lo < c->n && c->at[lo].chord == chord ? lo : c->n;
}

/* Gaps are one when their chords face each other, or follow each other along a ring: at once, or within the width. */
static void join_all(const clusters *c, double width_mm)
{
    const sw_proof_shape *const shape = c->shape;
    const double reach_mm = sw_max(width_mm, LONGEST_RATIO * SW_PROOF_LONGEST_MM); /* from start to start */
    size_t ring_first = 0;
    for (size_t i = 0; i < c->n; i++) {
        const size_t other = index_of(c, c->at[i].other);
        if (other < c->n) join(c, i, other);
        const size_t ring = shape->ring_of[c->at[i].chord];
        if (ring != shape->ring_of[c->at[ring_first].chord]) ring_first = i;
        if (i > ring_first && shape->along_mm[c->at[i].chord] - shape->along_mm[c->at[i - 1].chord] < reach_mm)
            join(c, i, i - 1);
        const double to_end = shape->rings[ring].length_mm - shape->along_mm[c->at[i].chord];
        if (to_end + shape->along_mm[c->at[ring_first].chord] < reach_mm) join(c, i, ring_first);
    }
}

static sw_pt_mm middle_of(const sw_proof_gap *gap)
{
    return (sw_pt_mm){ 0.5 * (gap->q.x_mm + gap->b.x_mm), 0.5 * (gap->q.y_mm + gap->b.y_mm) };
}

static sw_status add_fault(sw_proof_panel *panel, sw_fault_kind kind, const sw_proof_gap *gap, sw_note *note)
{
    void *data = panel->faults;
    if (!sw_grow(&data, &panel->cap_faults, panel->n_faults + 1, sizeof *panel->faults))
        return sw_fail_memory(note, "the proof's widths");
    panel->faults = data;
    panel->faults[panel->n_faults++] =
        (sw_proof_fault){ .kind = kind, .at = middle_of(gap), .width_mm = gap->width_mm };
    return SW_OK;
}

/* Clusters with a gap whose middle no disc reaches. *least becomes the narrowest of those gaps. */
static sw_status count_clusters(const sw_proof_shape *shape, const sw_proof_cells *cells, const sw_proof_gaps *gaps,
                                int kind, double width_mm, size_t *count, sw_proof_gap *least, sw_proof_panel *panel,
                                sw_note *note)
{
    const sw_proof_gap *const at = gaps->narrow[kind];
    const size_t n = gaps->n_narrow[kind];
    clusters c = { .shape = shape, .at = at, .n = n };
    uint8_t *is_counted = NULL;
    size_t found = 0;
    sw_status st = SW_OK;
    if (n == 0) goto cleanup;
    c.parent = sw_alloc_raw(n, sizeof *c.parent);
    is_counted = sw_alloc_array(n, 1);
    if (c.parent == NULL || is_counted == NULL) {
        st = sw_fail_memory(note, "the proof's widths");
        goto cleanup;
    }
    for (size_t i = 0; i < n; i++) c.parent[i] = (uint32_t)i;
    join_all(&c, width_mm);
    for (size_t i = 0; i < n; i++) {
        const size_t root = find_root(&c, i);
        if (is_counted[root] && at[i].width_mm >= least->width_mm) continue;
        if (sw_proof_gap_is_reached(shape, cells, &at[i], width_mm)) continue;
        found += !is_counted[root];
        is_counted[root] = 1;
        if (least->width_mm <= 0.0 || at[i].width_mm < least->width_mm) *least = at[i];
    }
    for (size_t i = 0; i < n && st == SW_OK; i++) {
        if (is_counted[find_root(&c, i)]) st = add_fault(panel, kind == SW_PROOF_WEB ? SW_FAULT_WEB : SW_FAULT_OPENING, &at[i], note);
    }
    *count = found;
cleanup:
    sw_free(c.parent);
    sw_free(is_counted);
    return st;
}

/* ---- openings too small for a disc -------------------------------------------------------------------------- */

static void box_of(const sw_proof_shape *shape, const sw_proof_ring *ring, sw_pt_mm *lo, sw_pt_mm *hi)
{
    *lo = *hi = shape->at[ring->first];
    for (size_t i = ring->first; i < ring->first + ring->n; i++) {
        const sw_pt_mm p = shape->at[i];
        *lo = (sw_pt_mm){ sw_min(lo->x_mm, p.x_mm), sw_min(lo->y_mm, p.y_mm) };
        *hi = (sw_pt_mm){ sw_max(hi->x_mm, p.x_mm), sw_max(hi->y_mm, p.y_mm) };
    }
}

/* Does the ring hold an opening (not material inside an opening)? Its lowest point tells: inside lies above it. */
static bool is_opening(const sw_proof_shape *shape, size_t r)
{
    const sw_proof_ring *const ring = &shape->rings[r];
    double area = 0.0;
    for (size_t i = ring->first; i < ring->first + ring->n; i++) {
        const sw_pt_mm a = shape->at[i], b = shape->at[sw_proof_next(shape, i)], o = shape->at[ring->first];
        area += (a.x_mm - o.x_mm) * (b.y_mm - o.y_mm) - (a.y_mm - o.y_mm) * (b.x_mm - o.x_mm);
    }
    return ring->side == 0 || (area > 0.0) == (ring->side > 0); /* inside a ring of positive area is (-dy, dx) */
}

/* Diameter of the largest disc inside ring r alone, on a raster SPECK_ACROSS_PX across width_mm. */
static sw_status largest_disc(const sw_proof_shape *shape, size_t r, double width_mm, double *diameter_mm,
                              sw_note *note)
{
    sw_proof_rows rows = { 0 };
    sw_mask mask = { 0 };
    uint32_t *distance = NULL;
    uint32_t farthest = 0;
    sw_pt_mm lo, hi;
    box_of(shape, &shape->rings[r], &lo, &hi);
    const double scale = SPECK_ACROSS_PX / width_mm;
    const sw_proof_raster raster = { (size_t)((hi.x_mm - lo.x_mm) * scale) + 3, (size_t)((hi.y_mm - lo.y_mm) * scale) + 3,
                                     scale, { lo.x_mm - 1.0 / scale, lo.y_mm - 1.0 / scale } };
    sw_status st = sw_mask_make(raster.width_px, raster.height_px, &mask, note);
    if (st != SW_OK) goto cleanup;
    st = sw_proof_scan(shape, r, r + 1, &raster, &rows, note);
    if (st != SW_OK) goto cleanup;
    distance = sw_alloc_raw(raster.width_px * raster.height_px, sizeof *distance);
    if (distance == NULL) {
        st = sw_fail_memory(note, "the proof's widths");
        goto cleanup;
    }
    for (size_t y = 0; y < rows.height_px; y++) {
        for (size_t i = rows.first[y]; i + 1 < rows.first[y + 1]; i += 2) {
            const size_t end = sw_proof_column(rows.at[i + 1].x_px, rows.width_px);
            for (size_t x = sw_proof_column(rows.at[i].x_px, rows.width_px); x < end; x++)
                mask.at[y * rows.width_px + x] = 1;
        }
    }
    st = sw_distance_sq(&mask, 0, true, distance, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < raster.width_px * raster.height_px; i++) {
        if (mask.at[i] != 0 && distance[i] > farthest) farthest = distance[i];
    }
    *diameter_mm = sw_max(0.0, 2.0 * sqrt((double)farthest) - 1.0) / scale;
cleanup:
    sw_proof_rows_free(&rows);
    sw_mask_free(&mask);
    sw_free(distance);
    return st;
}

static bool has_gap(const sw_proof_shape *shape, size_t r, const sw_proof_gaps *gaps)
{
    const clusters c = { .shape = shape, .at = gaps->narrow[SW_PROOF_OPENING], .n = gaps->n_narrow[SW_PROOF_OPENING] };
    const sw_proof_ring *const ring = &shape->rings[r];
    for (size_t i = ring->first; i < ring->first + ring->n && c.n > 0; i++) {
        if (index_of(&c, (uint32_t)i) < c.n) return true;
    }
    return false;
}

static sw_status count_specks(const sw_proof_shape *shape, double width_mm, const sw_proof_gaps *gaps, size_t *count,
                              sw_proof_gap *least, sw_proof_panel *panel, sw_note *note)
{
    for (size_t r = 1; r < shape->n_rings; r++) {
        const sw_proof_ring *const ring = &shape->rings[r];
        double diameter_mm = 0.0;
        if (ring->length_mm > SPECK_WAY_RATIO * width_mm || !is_opening(shape, r) || has_gap(shape, r, gaps)) continue;
        if (ring->side != 0) SW_TRY(largest_disc(shape, r, width_mm, &diameter_mm, note));
        if (diameter_mm >= SPECK_SURE_RATIO * width_mm) continue;
        sw_proof_gap speck = { .width_mm = sw_max(diameter_mm, 0.001) };
        box_of(shape, ring, &speck.q, &speck.b); /* its middle is the middle of its box */
        SW_TRY(add_fault(panel, SW_FAULT_OPENING, &speck, note));
        ++*count;
        if (!(least->width_mm > 0.0 && least->width_mm <= diameter_mm)) *least = speck;
    }
    return SW_OK;
}

/* ---- one panel ------------------------------------------------------------------------------------------------- */

static void report(const sw_proof_gap *neck, const sw_proof_gap *fault, double *width_mm, sw_pt_mm *at)
{
    const bool is_fault = fault->width_mm > 0.0 && !(neck->width_mm > 0.0 && neck->width_mm <= fault->width_mm);
    const sw_proof_gap *const gap = is_fault ? fault : neck;
    *width_mm = gap->width_mm;
    *at = middle_of(gap);
}

sw_status sw_proof_widths(const sw_proof_shape *shape, const sw_proof_opts *opts, sw_proof_panel *out, sw_note *note)
{
    const sw_proof_asked asked = {
        { ENOUGH_RATIO * opts->min_web_mm, ENOUGH_RATIO * opts->min_opening_mm },
        { SEARCH_RATIO * opts->min_web_mm, SEARCH_RATIO * opts->min_opening_mm },
    };
    sw_proof_cells cells = { 0 };
    sw_proof_gaps gaps = { 0 };
    sw_proof_gap least[2] = { 0 };
    size_t n[2] = { 0, 0 };
    sw_status st = sw_proof_cells_make(shape, &cells, note);
    if (st != SW_OK) goto cleanup;
    st = sw_proof_gaps_find(shape, &cells, &asked, &gaps, note);
    if (st != SW_OK) goto cleanup;
    for (int kind = 0; kind < 2; kind++) {
        st = count_clusters(shape, &cells, &gaps, kind, asked.narrow_mm[kind], &n[kind], &least[kind], out, note);
        if (st != SW_OK) goto cleanup;
    }
    st = count_specks(shape, asked.narrow_mm[SW_PROOF_OPENING], &gaps, &n[SW_PROOF_OPENING], &least[SW_PROOF_OPENING],
                      out, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < gaps.n_crossing_places && st == SW_OK; i++) {
        const sw_proof_gap place = { .q = gaps.crossings[i], .b = gaps.crossings[i] };
        st = add_fault(out, SW_FAULT_CROSSING, &place, note);
    }
    if (st != SW_OK) goto cleanup;
    out->n_crossings = gaps.n_crossings;
    out->n_narrow_webs = n[SW_PROOF_WEB];
    out->n_narrow_openings = n[SW_PROOF_OPENING];
    report(&gaps.neck[SW_PROOF_WEB], &least[SW_PROOF_WEB], &out->narrowest_web_mm, &out->narrowest_web_at);
    report(&gaps.neck[SW_PROOF_OPENING], &least[SW_PROOF_OPENING], &out->narrowest_opening_mm,
           &out->narrowest_opening_at);
cleanup:
    sw_proof_cells_free(&cells);
    sw_proof_gaps_free(&gaps);
    return st;
}
