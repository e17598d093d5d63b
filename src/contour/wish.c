/* Nodes for those who come later.
 *
 * A later mask takes curves over from where its run of shared edges begins to where it ends. If a segment happens to end
 * there it takes whole segments; if not, it has to split one and comes to a node more. So these places become
 * nodes that are worth something when the fewest segments are chosen. */
#include <stdlib.h>
#include <string.h>

#include "contour/shared.h"

#define WISH 0.5f
#define NEAR_PX 1.0    /* a node that near will do */
#define APART_PX 4.0   /* two wishes nearer than that are one */

/* s, within the first round. */
static double first_round(const outline *o, double s)
{
    const double r = fmod(s, o->length);
    return r < 0.0 ? r + o->length : r;
}

static double s_of(const outline *o, size_t i) { return o->samples[o->nodes[i].sample].s; }

/* Give the wish to a node that is near enough; false if there is none, but true where no node is wanted: on a straight edge
 * a split costs nothing. */
static bool wish_at_node(outline *o, double s)
{
    size_t best = SIZE_MAX, before = o->n - 1;
    double least = NEAR_PX;
    for (size_t i = 0; i < o->n; i++) {
        const double off = fabs(remainder(s_of(o, i) - s, o->length));
        if (s_of(o, i) <= s) before = i;
        if (off < APART_PX && o->nodes[i].wish > 0.0f) return true;
        const bool is_better = off < least || (o->nodes[i].is_corner && off < NEAR_PX);
        if (!is_better) continue;
        least = o->nodes[i].is_corner ? 0.0 : off;
        best = i;
    }
    if (best != SIZE_MAX) o->nodes[best].wish = WISH;
    return best != SIZE_MAX || o->nodes[before].is_straight;
}

static int compare_places(const void *pa, const void *pb)
{
    const double a = *(const double *)pa, b = *(const double *)pb;
    return (a > b) - (a < b);
}

/* Where a node has to be put in: sorted, apart from each other. Returns how many are left of n. */
static size_t sort_places(double *s, size_t n)
{
    size_t kept = 0;
    qsort(s, n, sizeof *s, compare_places);
    for (size_t i = 0; i < n; i++) {
        if (kept == 0 || s[i] - s[kept - 1] >= APART_PX) s[kept++] = s[i];
    }
    return kept;
}

/* The sample at s between two others. */
static sample sample_between(const sample *a, const sample *b, double s)
{
    const double len = b->s - a->s, t = len > 0.0 ? sw_clamp((s - a->s) / len, 0.0, 1.0) : 0.0;
    sample at = *a;
    at.p = pt_mix(a->p, b->p, t);
    at.normal = pt_unit(pt_mix(a->normal, b->normal, t));
    at.s = s;
    at.w_in = fmaxf(a->w_in, b->w_in);
    at.w_out = fmaxf(a->w_out, b->w_out);
    return at;
}

static double turn_of(pt a, pt b) { return atan2(pt_cross(a, b), pt_dot(a, b)); }

/* A node at the sample that was just put in; next: the outline's next node. The outline's own curve is split there. */
static void put_node(outline *o, const sample *at, const node *next)
{
    node *const before = &o->nodes[o->n - 1];
    const pt along = { at->normal.y, -at->normal.x };
    const double turn = before->turn_out + turn_of(before->out, along);
    node made = { .p = at->p, .in = along, .out = along, .sample = o->m - 1, .turn_in = turn, .turn_out = turn, .wish = WISH };
    if (before->own_a > 0.0f) {
        before->own_a = before->own_b = (float)(pt_len(pt_sub(at->p, before->p)) / 3.0);
        made.own_a = made.own_b = (float)(pt_len(pt_sub(next->p, at->p)) / 3.0);
    }
    o->nodes[o->n++] = made;
}

/* The outline with nodes at n places, none of them beside a node. */
static bool put_nodes(outline *o, const double *s, size_t n)
{
    outline made = { .nodes = sw_alloc_array(o->n + n, sizeof *made.nodes), .cap_nodes = o->n + n,
                     .samples = sw_alloc_array(o->m + n, sizeof *made.samples), .cap_samples = o->m + n };
    bool is_ok = made.nodes != NULL && made.samples != NULL;
    for (size_t k = 0, i = 0, next = 0; k < o->m && is_ok; k++) {
        made.samples[made.m++] = o->samples[k];
        if (i < o->n && o->nodes[i].sample == k) {
            made.nodes[made.n] = o->nodes[i++];
            made.nodes[made.n++].sample = made.m - 1;
        }
        for (; next < n && s[next] < o->samples[k + 1].s; next++) {
            if (s[next] <= o->samples[k].s || made.n == 0) continue;
            made.samples[made.m] = sample_between(&o->samples[k], &o->samples[k + 1], s[next]);
            made.m++;
            put_node(&made, &made.samples[made.m - 1], &o->nodes[i]);
        }
    }
    is_ok = is_ok && outline_double(&made, o->nodes[o->n].turn_in - o->nodes[0].turn_in);
    if (is_ok) {
        outline_free(o);
        *o = made;
    } else {
        outline_free(&made);
    }
    return is_ok;
}

bool wish_nodes(outline *o, const mask_edge *edge, const drawn_curves *later, size_t n_later, double least_px)
{
    edge_runs runs = { 0 };
    double *places = NULL;
    bool is_ok = find_runs(o, edge, later, n_later, least_px, true, &runs);
    size_t n = 0;
    if (is_ok && runs.n > 0) {
        places = sw_alloc_array(2 * runs.n, sizeof *places);
        is_ok = places != NULL;
        for (size_t i = 0; i < runs.n && is_ok; i++) {
            const double ends[2] = { first_round(o, runs.at[i].s0), first_round(o, runs.at[i].s1) };
            for (int k = 0; k < 2 && !runs.at[i].is_ring; k++) {
                if (!wish_at_node(o, ends[k])) places[n++] = ends[k];
            }
        }
        if (is_ok) is_ok = put_nodes(o, places, sort_places(places, n));
    }
    sw_free(places);
    sw_free(runs.at);
    return is_ok;
}
