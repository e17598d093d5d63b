/* Walks the tree and draws every element that can be cut. */
#include "vector/parts.h"
#include "vector/tree.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define USER_UNITS_PER_MM (96.0 / 25.4) /* CSS 2.1, 4.3.2 */
#define MAX_USE_DEPTH 8u
#define MAX_WALK_DEPTH 256u
#define MAX_SHAPES 400000u  /* `use` can multiply; a drawing this large is a mistake or an attack */
#define THICK_LINE_MM 0.5   /* a wider stroke was meant as a drawn line, a thinner one as a cut line; taste */
#define ARC_HANDLE 0.5522847498307936 /* 4/3 (sqrt 2 - 1): a quarter circle as one cubic */

typedef struct look {
    affine to_mm;
    double width, height;      /* of the nearest viewport, user units */
    bool is_filled, is_stroked, is_even_odd, is_hidden;
    double stroke_width;       /* user units */
    char layer[48];
} look;

typedef struct walker {
    const tree *tree;
    sw_vector *vector;
    size_t use_depth, depth, n_drawn;
    bool has_rules; /* a style element says how classes look, and nobody was told yet that it is not followed */
    sw_status status;
} walker;

static void copy_text(char *out, size_t size, const char *text) { snprintf(out, size, "%s", text == NULL ? "" : text); }

/* A property from the style attribute, else from the attribute of its name; false if neither says anything. */
static bool find_property(const tree *t, size_t node, const char *name, char *out, size_t size)
{
    const char *const style = tree_attribute_of(t, node, "style");
    if (style != NULL && find_style(style, name, out, size)) return strcmp(out, "inherit") != 0;
    const char *const value = tree_attribute_of(t, node, name);
    if (value == NULL) return false;
    copy_text(out, size, value);
    return strcmp(out, "inherit") != 0;
}

static double length_of(const walker *w, size_t node, const char *name, double percent_of, double fallback)
{
    const char *const text = tree_attribute_of(w->tree, node, name);
    double value;
    return text != NULL && parse_length(text, percent_of, &value) ? value : fallback;
}

static void add_finding(walker *w, sw_finding_kind kind, size_t node, sw_pt_mm at)
{
    sw_finding finding = { .kind = kind, .at = at, .to = at, .line = w->tree->nodes[node].line };
    const char *const id = tree_attribute_of(w->tree, node, "id");
    copy_text(finding.shape, sizeof finding.shape, id != NULL ? id : tree_name(w->tree, node));
    if (!sw_vector_add_finding(w->vector, &finding)) w->status = SW_NO_MEMORY;
}

static bool is_paint(const char *value)
{
    return strcmp(value, "none") != 0 && strcmp(value, "transparent") != 0;
}

/* What changes how a shape looks and is not followed here: rules for classes (told once), clipping and masks. */
static void tell_unfollowed(walker *w, size_t node, sw_pt_mm here)
{
    static const char *const cutters[] = { "clip-path", "mask" };
    char value[64];
    for (size_t i = 0; i < SW_ARRAY_LEN(cutters); i++) {
        if (find_property(w->tree, node, cutters[i], value, sizeof value) && strcmp(value, "none") != 0)
            add_finding(w, SW_FIND_UNSUPPORTED, node, here);
    }
    if (w->has_rules && tree_attribute_of(w->tree, node, "class") != NULL) {
        w->has_rules = false;
        add_finding(w, SW_FIND_UNSUPPORTED, node, here);
    }
}

static void update_look(walker *w, size_t node, look *l)
{
    char value[64];
    affine transform;
    const char *const text = tree_attribute_of(w->tree, node, "transform");
    if (text != NULL) {
        if (parse_transform(text, &transform)) l->to_mm = affine_times(l->to_mm, transform);
        else add_finding(w, SW_FIND_UNSUPPORTED, node, affine_map(&l->to_mm, 0.0, 0.0));
    }
    if (find_property(w->tree, node, "fill", value, sizeof value)) l->is_filled = is_paint(value);
    if (find_property(w->tree, node, "stroke", value, sizeof value)) l->is_stroked = is_paint(value);
    if (find_property(w->tree, node, "fill-rule", value, sizeof value)) l->is_even_odd = strcmp(value, "evenodd") == 0;
    if (find_property(w->tree, node, "stroke-width", value, sizeof value)) parse_length(value, l->width, &l->stroke_width);
    if (find_property(w->tree, node, "visibility", value, sizeof value)) l->is_hidden = strcmp(value, "visible") != 0;
}

static bool is_layer_id(const char *id)
{
    return strncmp(id, "pass-", 5) == 0 || strcmp(id, "cut") == 0 || strcmp(id, "outline") == 0 || strcmp(id, "marks") == 0;
}

static void draw_ellipse(pen *p, double cx, double cy, double rx, double ry)
{
    const double hx = rx * ARC_HANDLE, hy = ry * ARC_HANDLE;
    pen_move(p, cx + rx, cy);
    pen_cubic(p, cx + rx, cy + hy, cx + hx, cy + ry, cx, cy + ry);
    pen_cubic(p, cx - hx, cy + ry, cx - rx, cy + hy, cx - rx, cy);
    pen_cubic(p, cx - rx, cy - hy, cx - hx, cy - ry, cx, cy - ry);
    pen_cubic(p, cx + hx, cy - ry, cx + rx, cy - hy, cx + rx, cy);
    pen_close(p);
}

static void draw_rect(const walker *w, size_t node, const look *l, pen *p)
{
    const double x = length_of(w, node, "x", l->width, 0.0), y = length_of(w, node, "y", l->height, 0.0);
    const double width = length_of(w, node, "width", l->width, 0.0), height = length_of(w, node, "height", l->height, 0.0);
    double rx = length_of(w, node, "rx", l->width, -1.0), ry = length_of(w, node, "ry", l->height, -1.0);
    if (!(width > 0.0 && height > 0.0)) return;
    if (rx < 0.0) rx = ry;
    if (ry < 0.0) ry = rx;
    rx = sw_clamp(rx, 0.0, width / 2.0);
    ry = sw_clamp(ry, 0.0, height / 2.0);
    const bool is_round = rx > 0.0 && ry > 0.0;
    if (!is_round) rx = ry = 0.0;
    pen_move(p, x + rx, y);
    pen_line(p, x + width - rx, y);
    if (is_round) pen_arc(p, rx, ry, 0.0, false, true, x + width, y + ry);
    pen_line(p, x + width, y + height - ry);
    if (is_round) pen_arc(p, rx, ry, 0.0, false, true, x + width - rx, y + height);
    pen_line(p, x + rx, y + height);
    if (is_round) pen_arc(p, rx, ry, 0.0, false, true, x, y + height - ry);
    pen_line(p, x, y + ry);
    if (is_round) pen_arc(p, rx, ry, 0.0, false, true, x + rx, y);
    pen_close(p);
}

static void draw_points(const walker *w, size_t node, bool is_closed, pen *p)
{
    const char *at = tree_attribute_of(w->tree, node, "points");
    double x, y;
    if (at == NULL) return;
    for (bool is_first = true; take_number(&at, &x) && take_number(&at, &y); is_first = false) {
        if (is_first) pen_move(p, x, y);
        else pen_line(p, x, y);
    }
    if (is_closed) pen_close(p);
}

/* Draw one basic shape or path into the pen; false if the element is none. */
static bool draw_element(walker *w, size_t node, const look *l, pen *p)
{
    const char *const name = tree_name(w->tree, node);
    const double diagonal = hypot(l->width, l->height) / sqrt(2.0);
    if (strcmp(name, "path") == 0) {
        const char *const d = tree_attribute_of(w->tree, node, "d");
        if (d != NULL && !draw_path_data(p, d)) add_finding(w, SW_FIND_UNSUPPORTED, node, affine_map(&p->to_mm, p->x, p->y));
    } else if (strcmp(name, "rect") == 0) {
        draw_rect(w, node, l, p);
    } else if (strcmp(name, "circle") == 0 || strcmp(name, "ellipse") == 0) {
        const double r = length_of(w, node, "r", diagonal, 0.0);
        const double rx = length_of(w, node, "rx", l->width, r), ry = length_of(w, node, "ry", l->height, r);
        if (rx > 0.0 && ry > 0.0)
            draw_ellipse(p, length_of(w, node, "cx", l->width, 0.0), length_of(w, node, "cy", l->height, 0.0), rx, ry);
    } else if (strcmp(name, "line") == 0) {
        pen_move(p, length_of(w, node, "x1", l->width, 0.0), length_of(w, node, "y1", l->height, 0.0));
        pen_line(p, length_of(w, node, "x2", l->width, 0.0), length_of(w, node, "y2", l->height, 0.0));
    } else if (strcmp(name, "polygon") == 0 || strcmp(name, "polyline") == 0) {
        draw_points(w, node, strcmp(name, "polygon") == 0, p);
    } else {
        return false;
    }
    return true;
}

static void add_shape(walker *w, size_t node, const look *l)
{
    sw_vector *const v = w->vector;
    const char *const id = tree_attribute_of(w->tree, node, "id");
    const tree_node *const at = &w->tree->nodes[node];
    sw_vector_shape shape = { .is_even_odd = l->is_even_odd,
                              .is_cut_line = !l->is_filled,
                              .line = at->line,
                              .byte_begin = at->byte_begin,
                              .byte_end = at->byte_end,
                              .to_mm = { l->to_mm.a, l->to_mm.b, l->to_mm.c, l->to_mm.d, l->to_mm.e, l->to_mm.f },
                              .is_reused = w->use_depth > 0 };
    const bool is_marks = strcmp(l->layer, "marks") == 0;
    pen p = { .to_mm = l->to_mm,
              .closed = &shape.contours,
              .vector = v,
              .shape = id != NULL ? id : tree_name(w->tree, node),
              .line = at->line,
              .is_filled = l->is_filled,
              .is_drawing = is_marks };
    if (!draw_element(w, node, l, &p)) return;
    pen_end(&p);
    copy_text(shape.id, sizeof shape.id, p.shape);
    copy_text(shape.layer, sizeof shape.layer, l->layer);
    const double scale = sqrt(fabs(l->to_mm.a * l->to_mm.d - l->to_mm.b * l->to_mm.c));
    if (l->is_stroked && l->stroke_width * scale > THICK_LINE_MM && shape.contours.n > 0 && !is_marks)
        add_finding(w, SW_FIND_STROKE, node, shape.contours.at[0].start);
    void *data = v->shapes;
    if (++w->n_drawn > MAX_SHAPES) {
        w->status = SW_TOO_LARGE;
    } else if (p.is_broken || !sw_grow(&data, &v->cap_shapes, v->n_shapes + 1, sizeof *v->shapes)) {
        w->status = SW_NO_MEMORY;
    } else if (shape.contours.n > 0) {
        v->shapes = data;
        v->shapes[v->n_shapes++] = shape;
        return;
    } else {
        v->shapes = data;
    }
    sw_contours_free(&shape.contours);
}

/* Map of a viewBox into a viewport: SVG 1.1, 7.8, aligned in the middle unless the attribute says otherwise. */
static affine view_map(const walker *w, size_t node, double x, double y, double width, double height, look *l)
{
    affine map = { 1, 0, 0, 1, x, y };
    const char *box = tree_attribute_of(w->tree, node, "viewBox");
    const char *const aspect = tree_attribute_of(w->tree, node, "preserveAspectRatio");
    double v[4];
    l->width = width;
    l->height = height;
    if (box == NULL) return map;
    for (size_t i = 0; i < 4; i++) {
        if (!take_number(&box, &v[i])) return map;
    }
    if (!(v[2] > 0.0 && v[3] > 0.0 && width > 0.0 && height > 0.0)) return map;
    double sx = width / v[2], sy = height / v[3], shift_x = 0.0, shift_y = 0.0;
    if (aspect == NULL || strstr(aspect, "none") == NULL) {
        const bool is_slice = aspect != NULL && strstr(aspect, "slice") != NULL;
        const double s = is_slice ? sw_max(sx, sy) : sw_min(sx, sy);
        const double part_x = aspect != NULL && strstr(aspect, "xMin") ? 0.0 : aspect != NULL && strstr(aspect, "xMax") ? 1.0 : 0.5;
        const double part_y = aspect != NULL && strstr(aspect, "YMin") ? 0.0 : aspect != NULL && strstr(aspect, "YMax") ? 1.0 : 0.5;
        shift_x = (width - v[2] * s) * part_x;
        shift_y = (height - v[3] * s) * part_y;
        sx = sy = s;
    }
    l->width = v[2];
    l->height = v[3];
    map.a = sx;
    map.d = sy;
    map.e += shift_x - v[0] * sx;
    map.f += shift_y - v[1] * sy;
    return map;
}

static void walk(walker *w, size_t node, look l);

static void walk_children(walker *w, size_t node, const look *l)
{
    for (size_t child = w->tree->nodes[node].first_child; child != NO_NODE && w->status == SW_OK;
         child = w->tree->nodes[child].next)
        walk(w, child, *l);
}

static void walk_use(walker *w, size_t node, look l)
{
    const char *const href = tree_attribute_of(w->tree, node, "href");
    const size_t target = href != NULL && href[0] == '#' ? tree_find_id(w->tree, href + 1) : NO_NODE;
    if (target == NO_NODE || w->use_depth >= MAX_USE_DEPTH) {
        add_finding(w, SW_FIND_UNSUPPORTED, node, affine_map(&l.to_mm, 0.0, 0.0));
        return;
    }
    const double x = length_of(w, node, "x", l.width, 0.0), y = length_of(w, node, "y", l.height, 0.0);
    l.to_mm = affine_times(l.to_mm, (affine){ 1, 0, 0, 1, x, y });
    w->use_depth++;
    if (strcmp(tree_name(w->tree, target), "symbol") == 0) {
        update_look(w, target, &l);
        const affine map = view_map(w, target, 0.0, 0.0, length_of(w, node, "width", l.width, l.width),
                                    length_of(w, node, "height", l.height, l.height), &l);
        l.to_mm = affine_times(l.to_mm, map);
        walk_children(w, target, &l);
    } else {
        walk(w, target, l);
    }
    w->use_depth--;
}

static void walk(walker *w, size_t node, look l)
{
    static const char *const not_drawn[] = { "defs",     "symbol",         "clipPath", "mask",     "marker", "pattern",
                                             "metadata", "linearGradient", "title",    "desc",     "style",  "filter",
                                             "script",   "radialGradient", "animate" };
    const char *const name = tree_name(w->tree, node);
    char display[16];
    if (w->depth > MAX_WALK_DEPTH) {
        w->status = SW_TOO_LARGE;
        return;
    }
    const size_t said = w->tree->nodes[node].content;
    if (said != 0 && l.layer[0] != '\0' && !read_panels(w->vector, l.layer, &l.to_mm, w->tree->text.data + said)) w->status = SW_NO_MEMORY;
    for (size_t i = 0; i < SW_ARRAY_LEN(not_drawn); i++) {
        if (strcmp(name, not_drawn[i]) == 0) return;
    }
    if (find_property(w->tree, node, "display", display, sizeof display) && strcmp(display, "none") == 0) return;
    w->depth++;
    update_look(w, node, &l);
    const char *const id = tree_attribute_of(w->tree, node, "id");
    const bool is_group = strcmp(name, "g") == 0 || strcmp(name, "a") == 0 || strcmp(name, "switch") == 0;
    if (is_group && id != NULL && is_layer_id(id)) copy_text(l.layer, sizeof l.layer, id);
    const sw_pt_mm here = affine_map(&l.to_mm, length_of(w, node, "x", l.width, 0.0), length_of(w, node, "y", l.height, 0.0));
    tell_unfollowed(w, node, here);
    if (is_group) {
        walk_children(w, node, &l);
    } else if (strcmp(name, "svg") == 0) {
        const affine map = view_map(w, node, length_of(w, node, "x", l.width, 0.0), length_of(w, node, "y", l.height, 0.0),
                                    length_of(w, node, "width", l.width, l.width),
                                    length_of(w, node, "height", l.height, l.height), &l);
        l.to_mm = affine_times(l.to_mm, map);
        walk_children(w, node, &l);
    } else if (strcmp(name, "use") == 0) {
        walk_use(w, node, l);
    } else if (strcmp(name, "text") == 0) {
        if (!l.is_hidden) add_finding(w, SW_FIND_TEXT, node, here);
    } else if (strcmp(name, "image") == 0 || strcmp(name, "foreignObject") == 0) {
        if (!l.is_hidden) add_finding(w, SW_FIND_IMAGE, node, here);
    } else if (!l.is_hidden && (l.is_filled || l.is_stroked)) { /* what nobody sees is not cut either */
        add_shape(w, node, &l);
    }
    w->depth--;
}

/* Size of the root in mm, and the map from its user units. */
static void walk_root(walker *w)
{
    const tree *const t = w->tree;
    sw_vector *const v = w->vector;
    look l = { .is_filled = true, .stroke_width = 1.0 };
    double box[4] = { 0, 0, 0, 0 };
    const char *at = tree_attribute_of(t, 0, "viewBox");
    for (size_t i = 0; at != NULL && i < 4; i++) {
        if (!take_number(&at, &box[i])) box[2] = box[3] = 0.0;
    }
    const char *const width_text = tree_attribute_of(t, 0, "width"), *const height_text = tree_attribute_of(t, 0, "height");
    const double fallback_width = box[2] > 0.0 ? box[2] : 100.0, fallback_height = box[3] > 0.0 ? box[3] : 100.0;
    const double width = sw_clamp(length_of(w, 0, "width", fallback_width, fallback_width), 1e-3, 1e9);
    const double height = sw_clamp(length_of(w, 0, "height", fallback_height, fallback_height), 1e-3, 1e9);
    v->width_mm = width / USER_UNITS_PER_MM;
    v->height_mm = height / USER_UNITS_PER_MM;
    if (width_text == NULL || height_text == NULL || !has_real_unit(width_text) || !has_real_unit(height_text))
        add_finding(w, SW_FIND_NO_SIZE, 0, (sw_pt_mm){ 0, 0 });
    l.to_mm = (affine){ 1.0 / USER_UNITS_PER_MM, 0, 0, 1.0 / USER_UNITS_PER_MM, 0, 0 };
    update_look(w, 0, &l);
    l.to_mm = affine_times(l.to_mm, view_map(w, 0, 0.0, 0.0, width, height, &l));
    walk_children(w, 0, &l);
}

sw_status sw_vector_read(const uint8_t *bytes, size_t n, const char *name, sw_vector *out, sw_note *note)
{
    tree t = { 0 };
    sw_vector made = { 0 };
    walker w = { .tree = &t, .vector = &made, .status = SW_OK };
    sw_status st = tree_read(bytes, n, name, &t, note);
    if (st != SW_OK) goto cleanup;
    for (size_t i = 0; i < t.n_nodes; i++) w.has_rules |= strcmp(tree_name(&t, i), "style") == 0;
    walk_root(&w);
    st = w.status;
    if (st == SW_NO_MEMORY) sw_fail_memory(note, name);
    if (st == SW_TOO_LARGE) sw_fail(note, st, "'%s' repeats or nests more shapes than can be checked; simplify it", name);
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_vector){ 0 };
cleanup:
    sw_vector_free(&made);
    tree_free(&t);
    return st;
}

bool sw_vector_add_finding(sw_vector *vector, const sw_finding *finding)
{
    void *data = vector->findings;
    if (!sw_grow(&data, &vector->cap_findings, vector->n_findings + 1, sizeof *vector->findings)) return false;
    vector->findings = data;
    vector->findings[vector->n_findings++] = *finding;
    return true;
}

const char *sw_finding_name(sw_finding_kind kind)
{
    static const char *const names[] = {
#define SW_FINDING_NAME(id, name, words) name,
        SW_FINDING_LIST(SW_FINDING_NAME)
#undef SW_FINDING_NAME
    };
    return (size_t)kind < SW_ARRAY_LEN(names) ? names[kind] : "unknown";
}

const char *sw_finding_words(sw_finding_kind kind)
{
    static const char *const words_of[] = {
#define SW_FINDING_WORDS(id, name, words) words,
        SW_FINDING_LIST(SW_FINDING_WORDS)
#undef SW_FINDING_WORDS
    };
    return (size_t)kind < SW_ARRAY_LEN(words_of) ? words_of[kind] : "an unknown fault";
}

void sw_vector_free(sw_vector *vector)
{
    if (vector == NULL) return;
    for (size_t i = 0; i < vector->n_shapes; i++) sw_contours_free(&vector->shapes[i].contours);
    sw_free(vector->shapes);
    sw_free(vector->findings);
    sw_free(vector->panels);
    *vector = (sw_vector){ 0 };
}
