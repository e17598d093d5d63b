/* Panels that were measured before. Sheets are measured while they are mended, and what hangs on them when a thread has
 * nothing else to do; most of their curves are never touched again. What was said about a panel holds as long as
 * everything that it was said about is the same. That is seen by looking at every number, so the proof still trusts
 * nothing but itself. */
#include "proof/shape.h"

static bool is_same_place(sw_pt_mm a, sw_pt_mm b) { return a.x_mm == b.x_mm && a.y_mm == b.y_mm; }

static bool is_same_seg(const sw_seg *a, const sw_seg *b)
{
    return a->is_line == b->is_line && is_same_place(a->end, b->end) &&
           (a->is_line || (is_same_place(a->c1, b->c1) && is_same_place(a->c2, b->c2)));
}

static bool is_same_contour(const sw_contour *a, const sw_contour *b)
{
    bool is_same = a->n_segs == b->n_segs && is_same_place(a->start, b->start);
    for (size_t i = 0; i < a->n_segs && is_same; i++) is_same = is_same_seg(&a->segs[i], &b->segs[i]);
    return is_same;
}

static bool are_same_contours(const sw_contours *a, const sw_contours *b)
{
    bool are_same = a->n == b->n;
    for (size_t i = 0; i < a->n && are_same; i++) are_same = is_same_contour(&a->at[i], &b->at[i]);
    return are_same;
}

/* Everything that sw_proof_shape_make looks at. */
static bool is_same_panel(const sw_panel *a, const sw_panel *b)
{
    return a->width_mm == b->width_mm && a->height_mm == b->height_mm && is_same_contour(&a->outline, &b->outline) &&
           are_same_contours(&a->marks, &b->marks) && are_same_contours(&a->openings, &b->openings);
}

static bool is_same_asked(const sw_proof_known *known, const sw_proof_opts *opts)
{
    return known->min_opening_mm == opts->min_opening_mm && known->min_web_mm == opts->min_web_mm &&
           known->px_per_mm == opts->px_per_mm;
}

/* A hang is in artwork coordinates, and cells are laid from the panel's corner. */
static bool is_same_hang(const sw_proof_known *known, const sw_panel *a, const sw_proof_opts *opts, const sw_panel *b)
{
    const sw_material *const was = &known->material, *const is = opts->material != NULL ? opts->material : sw_material_find(NULL);
    if (!(opts->droop_mm > 0.0)) return !(known->droop_mm > 0.0);
    return known->droop_mm == opts->droop_mm && was->thickness_mm == is->thickness_mm && was->density_kg_m3 == is->density_kg_m3 &&
           was->modulus_mpa == is->modulus_mpa && is_same_place(a->origin, b->origin);
}

const sw_proof_panel *sw_proof_known_find(const sw_proof_opts *opts, const sw_panel *panel, bool *has_hang)
{
    for (size_t k = 0; k < opts->n_known; k++) {
        const sw_proof_known *const known = &opts->known[k];
        if (!is_same_asked(known, opts)) continue;
        for (size_t p = 0; p < known->proof.n_panels; p++) {
            if (!known->proof.panels[p].is_good || !is_same_panel(panel, &known->layout.panels[p])) continue;
            *has_hang = is_same_hang(known, &known->layout.panels[p], opts, panel);
            return &known->proof.panels[p];
        }
    }
    *has_hang = false;
    return NULL;
}

typedef struct hang_work {
    const sw_proof_known *known;
    const sw_proof_opts *opts;
} hang_work;

static sw_status hang_one(size_t p, void *ctx, sw_note *note)
{
    const hang_work *const w = ctx;
    const sw_panel *const panel = &w->known->layout.panels[p];
    sw_proof_shape shape = { 0 };
    SW_TRY(sw_proof_shape_make(panel, &shape, note));
    const sw_status st = sw_proof_droop(&shape, panel, w->opts, &w->known->proof.panels[p].hang, note);
    sw_proof_shape_free(&shape);
    return st;
}

sw_status sw_proof_known_hang(sw_proof_known *known, const sw_proof_opts *opts, sw_note *note)
{
    known->droop_mm = 0.0;
    if (!known->proof.is_good || !(opts->droop_mm > 0.0)) return SW_OK;
    SW_TRY(sw_parallel_tasks(known->proof.n_panels, hang_one, &(hang_work){ known, opts }, note));
    known->droop_mm = opts->droop_mm;
    known->material = opts->material != NULL ? *opts->material : *sw_material_find(NULL);
    return SW_OK;
}

void sw_proof_known_free(sw_proof_known *known)
{
    if (known == NULL) return;
    sw_layout_free(&known->layout);
    sw_proof_free(&known->proof);
    *known = (sw_proof_known){ 0 };
}
