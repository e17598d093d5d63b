/* Cells of material, and what of them hangs lowest. */
#include <math.h>

#include "sheet/hold.h"

/* A hand's breadth: material as broad is carried where it is. Common practice, no source. Thin material sinks within
 * less, so at most the length of a strip that sinks by the limit. */
#define BROAD_MM 80.0

double hold_broad_mm(const sw_material *material, double limit_mm)
{
    return sw_min(BROAD_MM, droop_tongue_length_mm(material, limit_mm));
}

sw_status sw_hold_cells_make(double width_mm, double height_mm, double cell_mm, sw_pt_mm corner, sw_hold_cells *out,
                             sw_note *note)
{
    sw_hold_cells c = { .cell_mm = cell_mm, .origin = { corner.x_mm - cell_mm, corner.y_mm - cell_mm } };
    c.width = (size_t)ceil(width_mm / cell_mm - 1e-9) + 2;
    c.height = (size_t)ceil(height_mm / cell_mm - 1e-9) + 2;
    c.cover = sw_alloc_array(c.width * c.height, sizeof *c.cover);
    if (c.cover == NULL) return sw_fail_memory(note, "what hangs");
    /* the last row and column may reach past the area: into what holds it */
    const double past_x = (double)(c.width - 2) - width_mm / cell_mm, past_y = (double)(c.height - 2) - height_mm / cell_mm;
    for (size_t x = 1; x + 1 < c.width; x++) c.cover[(c.height - 2) * c.width + x] = (float)sw_max(past_y, 0.0);
    for (size_t y = 1; y + 1 < c.height; y++) {
        float *const at = &c.cover[y * c.width + c.width - 2];
        *at += (1.0f - *at) * (float)sw_max(past_x, 0.0);
    }
    for (size_t x = 0; x < c.width; x++) c.cover[x] = c.cover[(c.height - 1) * c.width + x] = 1.0f;
    for (size_t y = 0; y < c.height; y++) c.cover[y * c.width] = c.cover[y * c.width + c.width - 1] = 1.0f;
    *out = c;
    return SW_OK;
}

void sw_hold_cells_free(sw_hold_cells *cells)
{
    if (cells == NULL) return;
    sw_free(cells->cover);
    *cells = (sw_hold_cells){ 0 };
}

void sw_hold_cells_add(sw_hold_cells *cells, size_t row, double x0_mm, double x1_mm, double share)
{
    const double last = (double)cells->width - 1.0;
    const double x0 = sw_clamp((x0_mm - cells->origin.x_mm) / cells->cell_mm, 1.0, last);
    const double x1 = sw_clamp((x1_mm - cells->origin.x_mm) / cells->cell_mm, 1.0, last);
    if (row == 0 || row + 1 >= cells->height || !(x1 > x0)) return;
    float *const cover = cells->cover + row * cells->width;
    for (size_t x = (size_t)x0; (double)x < x1; x++)
        cover[x] += (float)(share * (sw_min(x1, (double)x + 1.0) - sw_max(x0, (double)x)));
}

double hold_pull_mm(const hold_net *net, uint32_t node, sw_pt_mm at)
{
    if (node == HOLD_ROOT) return 0.0;
    const hold_node *const n = &net->nodes[node];
    return n->sink_mm + n->slope_x * (at.x_mm - n->middle.x_mm) + n->slope_y * (at.y_mm - n->middle.y_mm);
}

double hold_sink_mm(const hold_net *net, uint32_t node, sw_pt_mm at)
{
    if (node == HOLD_ROOT) return 0.0;
    const hold_node *const n = &net->nodes[node];
    return sw_clamp(hold_pull_mm(net, node, at), 0.0, n->way_mm + hypot(at.x_mm - n->middle.x_mm, at.y_mm - n->middle.y_mm));
}

double hold_node_sink_mm(const hold_net *net, uint32_t node, sw_pt_mm *at)
{
    *at = net->nodes[node].far;
    double most = hold_sink_mm(net, node, *at);
    if (node == HOLD_ROOT || node > net->n_broad) return most;
    for (size_t i = 0; i < HOLD_CORNERS; i++) {
        const sw_pt_mm corner = net->corners[(node - 1) * HOLD_CORNERS + i];
        const double sink = hold_sink_mm(net, node, corner);
        if (!(sink > most)) continue;
        most = sink;
        *at = corner;
    }
    return most;
}

uint32_t hold_node_at(const hold_net *net, sw_pt_mm at)
{
    const double x = (at.x_mm - net->origin.x_mm) / net->cell_mm, y = (at.y_mm - net->origin.y_mm) / net->cell_mm;
    if (!(x >= 0.0 && y >= 0.0 && x < (double)net->width && y < (double)net->height)) return HOLD_ROOT;
    return net->node_of[(size_t)y * net->width + (size_t)x];
}

/* The narrowest on a node's way, its last quarter left out: ends and corners run to a point. */
static double narrowest(const hold_net *net, uint32_t node)
{
    const double most_mm = 0.75 * net->nodes[node].way_mm;
    double least = HUGE_VAL;
    for (uint32_t i = node; i != HOLD_ROOT; i = net->nodes[i].before)
        if (i > net->n_broad && net->nodes[i].way_mm <= most_mm) least = sw_min(least, net->nodes[i].width_mm);
    return least < HUGE_VAL ? least : net->nodes[node].width_mm;
}

sw_hang hold_worst(hold_net *net, double limit_mm)
{
    sw_hang worst = { 0 };
    uint32_t lowest = HOLD_ROOT;
    for (uint32_t i = 1; i < net->n_nodes; i++) net->nodes[i].is_over = false;
    for (uint32_t i = 1; i < net->n_nodes; i++) {
        const hold_node *const n = &net->nodes[i];
        sw_pt_mm at;
        if (n->before == HOLD_NONE) continue;
        const double sink = hold_node_sink_mm(net, i, &at);
        if (sink > limit_mm && !net->nodes[n->group].is_over) {
            net->nodes[n->group].is_over = true;
            worst.n_over++;
        }
        if (!(sink > worst.droop_mm)) continue;
        worst.droop_mm = sink;
        worst.at = at;
        worst.length_mm = n->way_mm + hypot(at.x_mm - n->middle.x_mm, at.y_mm - n->middle.y_mm);
        lowest = i;
    }
    if (lowest != HOLD_ROOT) worst.width_mm = narrowest(net, lowest);
    return worst;
}

sw_status sw_hold_measure(const sw_hold_cells *cells, const sw_material *material, double limit_mm, sw_hang *out,
                          sw_note *note)
{
    hold_net net = { 0 };
    if (material == NULL) material = sw_material_find(NULL);
    SW_TRY(hold_net_make(cells, material, hold_broad_mm(material, limit_mm), &net, note));
    const sw_status st = hold_net_solve(&net, note);
    if (st == SW_OK) *out = hold_worst(&net, limit_mm);
    hold_net_free(&net);
    return st;
}
