/* Webs and openings narrower than asked, by the definition in sheet.h: what is left of a set when everything that a
 * disc of the asked diameter reaches is taken away, sorted into necks, specks, spikes and harmless corners. */
#include <math.h>
#include <stdlib.h>

#include "proof/shape.h"

#define ENOUGH_RATIO 0.9 /* of what was asked: a curve fitted within a tolerance may take the rest */
#define GAP_PX 2         /* pixels of an edge nearer than this belong to one stretch of it */

enum { OUT = 0, REST = 1, REACHED = 2 }; /* what a pixel is after the opening */

/* One set on one raster. 13 bytes a pixel. */
typedef struct narrow_work {
    sw_mask set;          /* 1: in the set; later OUT, REST, REACHED */
    sw_mask centre;       /* 1: a disc fits here */
    uint32_t *distance;   /* squared, first to the set's outside, then to the nearest centre */
    uint32_t *part;       /* which part of the rest a pixel is of; 0: none */
    size_t n_parts;
    double radius_px;
} narrow_work;

static sw_status make_work(size_t width_px, size_t height_px, narrow_work *out, sw_note *note)
{
    SW_TRY(sw_mask_make(width_px, height_px, &out->set, note));
    SW_TRY(sw_mask_make(width_px, height_px, &out->centre, note));
    out->distance = sw_alloc_raw(width_px * height_px, sizeof *out->distance);
    out->part = sw_alloc_raw(width_px * height_px, sizeof *out->part);
    return out->distance != NULL && out->part != NULL ? SW_OK : sw_fail_memory(note, "the proof's widths");
}

static void free_work(narrow_work *work)
{
    sw_mask_free(&work->set);
    sw_mask_free(&work->centre);
    sw_free(work->distance);
    sw_free(work->part);
}

/* A disc fits where the set's outside is a radius away. Pixel centres stand half a pixel inside the edge; that half
 * is given away, so that a bar of exactly the asked width passes wherever it lies on the raster. */
static void mark_centres(size_t row_begin, size_t row_end, void *ctx)
{
    const narrow_work *const work = ctx;
    const size_t width = work->set.width_px;
    const double limit = work->radius_px * work->radius_px;
    for (size_t i = row_begin * width; i < row_end * width; i++) work->centre.at[i] = work->distance[i] >= limit;
}

static void mark_rest(size_t row_begin, size_t row_end, void *ctx)
{
    const narrow_work *const work = ctx;
    const size_t width = work->set.width_px;
    const double limit = work->radius_px * work->radius_px;
    for (size_t i = row_begin * width; i < row_end * width; i++) {
        if (work->set.at[i] != OUT) work->set.at[i] = work->distance[i] <= limit ? REACHED : REST;
    }
}

/* Distance to the outside is lost on the way, but for the widest place of each part. */
static sw_status open_set(narrow_work *work, bool is_edge_outside, sw_note *note)
{
    const size_t height = work->set.height_px;
    SW_TRY(sw_distance_sq(&work->set, OUT, is_edge_outside, work->distance, note));
    sw_parallel_rows(height, mark_centres, work);
    SW_TRY(sw_distance_sq(&work->centre, 1, false, work->distance, note));
    sw_parallel_rows(height, mark_rest, work);
    return sw_components(&work->set, REST, true, work->part, &work->n_parts, note);
}

/* ---- parts of the rest --------------------------------------------------------------------------------- */

/* A pixel of the reached set beside a part. */
typedef struct contact {
    uint32_t part, x, y;
    size_t parent;
} contact;

typedef struct part_facts {
    size_t n_stretches;
    uint32_t farthest_sq; /* from the nearest centre */
    uint32_t x, y;        /* that place */
} part_facts;

typedef struct contact_list {
    contact *at;
    size_t n, cap;
} contact_list;

static int compare_contacts(const void *a, const void *b)
{
    const contact *const one = a, *const two = b;
    if (one->part != two->part) return one->part < two->part ? -1 : 1;
    if (one->y != two->y) return one->y < two->y ? -1 : 1;
    return one->x < two->x ? -1 : one->x > two->x;
}

/* Contacts of one pixel of the rest: its neighbours that discs reach. */
static bool add_contacts(const narrow_work *work, size_t x, size_t y, contact_list *list)
{
    const size_t width = work->set.width_px, height = work->set.height_px;
    const uint32_t part = work->part[y * width + x];
    for (size_t v = y == 0 ? 0 : y - 1; v <= y + 1 && v < height; v++) {
        for (size_t u = x == 0 ? 0 : x - 1; u <= x + 1 && u < width; u++) {
            if (work->set.at[v * width + u] != REACHED) continue;
            void *data = list->at;
            if (!sw_grow(&data, &list->cap, list->n + 1, sizeof *list->at)) return false;
            list->at = data;
            list->at[list->n++] = (contact){ .part = part, .x = (uint32_t)u, .y = (uint32_t)v };
        }
    }
    return true;
}

static bool gather(const narrow_work *work, part_facts *facts, contact_list *list)
{
    const size_t width = work->set.width_px;
    for (size_t y = 0; y < work->set.height_px; y++) {
        for (size_t x = 0; x < width; x++) {
            const uint32_t part = work->part[y * width + x];
            if (part == 0) continue;
            part_facts *const fact = &facts[part];
            if (work->distance[y * width + x] > fact->farthest_sq || fact->farthest_sq == 0) {
                fact->farthest_sq = work->distance[y * width + x];
                fact->x = (uint32_t)x;
                fact->y = (uint32_t)y;
            }
            if (!add_contacts(work, x, y, list)) return false;
        }
    }
    return true;
}

static size_t root_of(contact *at, size_t i)
{
    while (at[i].parent != i) {
        at[i].parent = at[at[i].parent].parent;
        i = at[i].parent;
    }
    return i;
}

static bool are_near(uint32_t a, uint32_t b) { return a > b ? a - b <= GAP_PX : b - a <= GAP_PX; }

/* Contacts of a part that lie near each other are one stretch. */
static void count_stretches(contact_list *list, part_facts *facts)
{
    size_t from = 0;
    if (list->n > 0) qsort(list->at, list->n, sizeof *list->at, compare_contacts);
    for (size_t i = 0; i < list->n; i++) {
        contact *const at = list->at;
        at[i].parent = i;
        while (from < i && (at[from].part != at[i].part || at[from].y + GAP_PX < at[i].y)) from++;
        for (size_t k = from; k < i; k++) {
            if (!are_near(at[k].x, at[i].x)) continue;
            const size_t a = root_of(at, k), b = root_of(at, i);
            at[a > b ? a : b].parent = a > b ? b : a;
        }
    }
    for (size_t i = 0; i < list->n; i++) facts[list->at[i].part].n_stretches += list->at[i].parent == i;
}

static bool is_narrow(const part_facts *fact, double radius_px)
{
    const double reach_px = sqrt((double)fact->farthest_sq) - radius_px;
    return fact->n_stretches != 1 || reach_px > 2.0 * radius_px;
}

/* ---- one panel ------------------------------------------------------------------------------------------- */

static void fill_set(const sw_proof_rows *rows, bool is_web, sw_mask *set)
{
    for (size_t y = 0; y < rows->height_px; y++) {
        bool in_outline = false, in_opening = false;
        size_t begin = 0;
        for (size_t i = rows->first[y]; i < rows->first[y + 1]; i++) {
            const size_t x = sw_proof_column(rows->at[i].x_px, rows->width_px);
            const bool is_in = is_web ? in_outline && !in_opening : in_opening;
            for (size_t u = begin; u < x && is_in; u++) set->at[y * rows->width_px + u] = 1;
            begin = x;
            if (rows->at[i].ring == 0) in_outline = !in_outline;
            else in_opening = !in_opening;
        }
    }
}

static sw_status count_narrow(const sw_proof_rows *rows, bool is_web, double width_px, size_t *n, sw_note *note)
{
    narrow_work work = { .radius_px = 0.5 * width_px };
    part_facts *facts = NULL;
    contact_list list = { 0 };
    size_t found = 0;
    sw_status st = make_work(rows->width_px, rows->height_px, &work, note);
    if (st != SW_OK) goto cleanup;
    fill_set(rows, is_web, &work.set);
    st = open_set(&work, true, note);
    if (st != SW_OK) goto cleanup;
    facts = sw_alloc_array(work.n_parts + 1, sizeof *facts);
    if (facts == NULL || !gather(&work, facts, &list)) {
        st = sw_fail_memory(note, "the proof's widths");
        goto cleanup;
    }
    count_stretches(&list, facts);
    for (size_t part = 1; part <= work.n_parts; part++) found += is_narrow(&facts[part], work.radius_px);
    *n = found;
cleanup:
    free_work(&work);
    sw_free(facts);
    sw_free(list.at);
    return st;
}

sw_status sw_proof_narrow(const sw_proof_shape *shape, const sw_proof_opts *opts, const sw_proof_raster *raster,
                          sw_proof_panel *out, sw_note *note)
{
    sw_proof_rows rows = { 0 };
    sw_status st = sw_proof_scan(shape, 0, shape->n_rings, raster, &rows, note);
    if (st != SW_OK) goto cleanup;
    const double scale = ENOUGH_RATIO * raster->px_per_mm;
    st = count_narrow(&rows, true, opts->min_web_mm * scale, &out->n_narrow_webs, note);
    if (st != SW_OK) goto cleanup;
    st = count_narrow(&rows, false, opts->min_opening_mm * scale, &out->n_narrow_openings, note);
cleanup:
    sw_proof_rows_free(&rows);
    return st;
}
