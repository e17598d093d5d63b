/* The wall file: words on lines. A fault names its line. */
#include "wall/wall.h"

#include <stdio.h>
#include <string.h>

#define MAX_WORDS 130          /* a polygon of 64 corners */
#define MAX_LINE 4096
#define MAX_THINGS 1000u       /* areas, features or points of one wall */
#define MAX_AREA_CORNERS 64

typedef struct line {
    const char *file;
    size_t number;
    char text[MAX_LINE];
    char *word[MAX_WORDS];
    size_t n;
} line;

/* Cut the line into words in place. */
static sw_status split(line *l, sw_note *note)
{
    char *p = l->text;
    l->n = 0;
    for (;;) {
        while (*p == ' ' || *p == '\t' || *p == '\r') p++;
        if (*p == '\0' || *p == '#') return SW_OK;
        if (l->n == MAX_WORDS) return sw_fail(note, SW_BAD_FILE, "'%s' line %zu has too many words", l->file, l->number);
        const bool is_quoted = *p == '"';
        if (is_quoted) p++;
        l->word[l->n++] = p;
        p += is_quoted ? strcspn(p, "\"") : strcspn(p, " \t\r");
        if (is_quoted && *p == '\0')
            return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: a quote is not closed", l->file, l->number);
        if (*p != '\0') *p++ = '\0';
    }
}

static sw_status want(const line *l, size_t n_least, size_t n_most, const char *form, sw_note *note)
{
    if (l->n >= n_least && l->n <= n_most) return SW_OK;
    return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: write it as: %s", l->file, l->number, form);
}

/* A length of word i; it may be 0, and negative where is_signed. */
static sw_status take_mm(const line *l, size_t i, bool is_signed, double *out, sw_note *note)
{
    const char *text = l->word[i];
    const bool is_negative = is_signed && text[0] == '-';
    double mm = 0.0;
    char what[SW_WALL_NAME_SIZE];
    snprintf(what, sizeof what, "line %zu of the wall file:", l->number);
    SW_TRY(sw_length_parse(is_negative ? text + 1 : text, what, true, &mm, note));
    *out = is_negative ? -mm : mm;
    return SW_OK;
}

static sw_status take_number(const line *l, size_t i, double least, double most, double *out, sw_note *note)
{
    double value;
    if (!sw_number_parse(l->word[i], &value) || !(value >= least && value <= most))
        return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: '%s' is not a number from %d to %d", l->file, l->number,
                       l->word[i], (int)least, (int)most);
    *out = value;
    return SW_OK;
}

static sw_status too_many(const line *l, sw_note *note)
{
    return sw_fail(note, SW_TOO_LARGE, "'%s' line %zu: more than %u of these", l->file, l->number, MAX_THINGS);
}

static sw_status add_corner(sw_wall_area *area, double x_mm, double y_mm, sw_note *note)
{
    void *data = area->at;
    if (!sw_grow(&data, &area->cap, area->n + 1, sizeof *area->at)) return sw_fail_memory(note, "the wall");
    area->at = data;
    area->at[area->n++] = (sw_pt_mm){ x_mm, y_mm };
    return SW_OK;
}

static sw_status new_area(const line *l, sw_wall *wall, sw_wall_area **out, sw_note *note)
{
    void *data = wall->areas;
    if (wall->n_areas >= MAX_THINGS) return too_many(l, note);
    if (!sw_grow(&data, &wall->cap_areas, wall->n_areas + 1, sizeof *wall->areas)) return sw_fail_memory(note, "the wall");
    wall->areas = data;
    sw_wall_area *const area = &wall->areas[wall->n_areas++];
    *area = (sw_wall_area){ .n = 0 };
    snprintf(area->name, sizeof area->name, "%s", l->word[1]);
    *out = area;
    return SW_OK;
}

static sw_status take_keep(const line *l, sw_wall *wall, sw_note *note)
{
    double v[4];
    sw_wall_area *area;
    SW_TRY(want(l, 6, 6, "keep NAME FROM-LEFT FROM-FLOOR WIDTH HEIGHT", note));
    for (size_t i = 0; i < 4; i++) SW_TRY(take_mm(l, i + 2, i < 2, &v[i], note));
    SW_TRY(new_area(l, wall, &area, note));
    SW_TRY(add_corner(area, v[0], v[1], note));
    SW_TRY(add_corner(area, v[0] + v[2], v[1], note));
    SW_TRY(add_corner(area, v[0] + v[2], v[1] + v[3], note));
    return add_corner(area, v[0], v[1] + v[3], note);
}

static sw_status take_keep_shape(const line *l, sw_wall *wall, sw_note *note)
{
    sw_wall_area *area;
    SW_TRY(want(l, 8, 2 + 2 * MAX_AREA_CORNERS, "keep-shape NAME X Y X Y X Y ...", note));
    if (l->n % 2 != 0) return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: a corner lacks its height", l->file, l->number);
    SW_TRY(new_area(l, wall, &area, note));
    for (size_t i = 2; i < l->n; i += 2) {
        double x_mm, y_mm;
        SW_TRY(take_mm(l, i, true, &x_mm, note));
        SW_TRY(take_mm(l, i + 1, true, &y_mm, note));
        SW_TRY(add_corner(area, x_mm, y_mm, note));
    }
    return SW_OK;
}

static sw_status take_feature(const line *l, sw_wall *wall, sw_note *note)
{
    sw_wall_feature feature = { .art_x_ratio = 0.5, .art_y_ratio = 0.5 };
    SW_TRY(want(l, 4, 6, "feature NAME FROM-LEFT FROM-FLOOR [ART-X ART-Y]", note));
    if (l->n == 5) return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: ART-Y is missing", l->file, l->number);
    SW_TRY(take_mm(l, 2, true, &feature.at.x_mm, note));
    SW_TRY(take_mm(l, 3, true, &feature.at.y_mm, note));
    if (l->n == 6) {
        SW_TRY(take_number(l, 4, 0.0, 1.0, &feature.art_x_ratio, note));
        SW_TRY(take_number(l, 5, 0.0, 1.0, &feature.art_y_ratio, note));
    }
    snprintf(feature.name, sizeof feature.name, "%s", l->word[1]);
    void *data = wall->features;
    if (wall->n_features >= MAX_THINGS) return too_many(l, note);
    if (!sw_grow(&data, &wall->cap_features, wall->n_features + 1, sizeof feature)) return sw_fail_memory(note, "the wall");
    wall->features = data;
    wall->features[wall->n_features++] = feature;
    return SW_OK;
}

static sw_status take_point(const line *l, sw_wall *wall, sw_note *note)
{
    sw_photo_point point;
    SW_TRY(want(l, 5, 5, "point PIXELS-FROM-LEFT PIXELS-FROM-TOP FROM-LEFT FROM-FLOOR", note));
    SW_TRY(take_number(l, 1, -1e6, 1e6, &point.photo.x_px, note));
    SW_TRY(take_number(l, 2, -1e6, 1e6, &point.photo.y_px, note));
    SW_TRY(take_mm(l, 3, true, &point.wall.x_mm, note));
    SW_TRY(take_mm(l, 4, true, &point.wall.y_mm, note));
    void *data = wall->points;
    if (wall->n_points >= MAX_THINGS) return too_many(l, note);
    if (!sw_grow(&data, &wall->cap_points, wall->n_points + 1, sizeof point)) return sw_fail_memory(note, "the wall");
    wall->points = data;
    wall->points[wall->n_points++] = point;
    return SW_OK;
}

static sw_status take_surface(const line *l, sw_wall *wall, sw_note *note)
{
    SW_TRY(want(l, 2, 2, "surface smooth|render|brick|timber", note));
    for (size_t i = 0; sw_surface_at(i) != NULL; i++) {
        if (strcmp(sw_surface_at(i)->name, l->word[1]) != 0) continue;
        wall->surface = i;
        return SW_OK;
    }
    return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: '%s' is not a surface; use smooth, render, brick or timber", l->file,
                   l->number, l->word[1]);
}

static sw_status take_file(const line *l, const char *form, char *out, size_t size, sw_note *note)
{
    SW_TRY(want(l, 2, 2, form, note));
    if (strlen(l->word[1]) >= size)
        return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: the file name is too long", l->file, l->number);
    snprintf(out, size, "%s", l->word[1]);
    return SW_OK;
}

static sw_status take_statement(const line *l, sw_wall *wall, sw_note *note)
{
    const char *const word = l->word[0];
    if (strcmp(word, "wall") == 0) {
        SW_TRY(want(l, 3, 3, "wall WIDTH HEIGHT", note));
        SW_TRY(take_mm(l, 1, false, &wall->width_mm, note));
        return take_mm(l, 2, false, &wall->height_mm, note);
    }
    if (strcmp(word, "artwork") == 0) {
        SW_TRY(want(l, 3, 3, "artwork FROM-LEFT FROM-FLOOR", note));
        wall->has_place = true;
        SW_TRY(take_mm(l, 1, true, &wall->art_left_mm, note));
        return take_mm(l, 2, true, &wall->art_floor_mm, note);
    }
    if (strcmp(word, "clear") == 0) {
        SW_TRY(want(l, 2, 2, "clear DISTANCE", note));
        return take_mm(l, 1, false, &wall->clear_mm, note);
    }
    if (strcmp(word, "surface") == 0) return take_surface(l, wall, note);
    if (strcmp(word, "keep") == 0) return take_keep(l, wall, note);
    if (strcmp(word, "keep-shape") == 0) return take_keep_shape(l, wall, note);
    if (strcmp(word, "feature") == 0) return take_feature(l, wall, note);
    if (strcmp(word, "point") == 0) return take_point(l, wall, note);
    if (strcmp(word, "photo") == 0) return take_file(l, "photo FILE", wall->photo, sizeof wall->photo, note);
    if (strcmp(word, "in-front") == 0) return take_file(l, "in-front FILE", wall->mask, sizeof wall->mask, note);
    return sw_fail(note, SW_BAD_FILE,
                   "'%s' line %zu: '%s' is not known; a line begins with wall, surface, artwork, clear, keep, keep-shape, "
                   "feature, photo, in-front or point",
                   l->file, l->number, word);
}

static sw_status parse_lines(const char *text, size_t n, const char *name, sw_wall *wall, sw_note *note)
{
    static const char bom[] = "\xef\xbb\xbf";
    line l = { .file = name };
    size_t at = n >= 3 && memcmp(text, bom, 3) == 0 ? 3 : 0;
    while (at < n) {
        size_t length = 0;
        while (at + length < n && text[at + length] != '\n') length++;
        l.number++;
        if (length >= sizeof l.text) return sw_fail(note, SW_BAD_FILE, "'%s' line %zu is too long", name, l.number);
        memcpy(l.text, text + at, length);
        l.text[length] = '\0';
        at += length + 1;
        SW_TRY(split(&l, note));
        if (l.n > 0) SW_TRY(take_statement(&l, wall, note));
    }
    if (!(wall->width_mm > 0.0 && wall->height_mm > 0.0))
        return sw_fail(note, SW_BAD_FILE, "'%s' does not say how large the wall is; add a line like: wall 6.2m 3.1m", name);
    return SW_OK;
}

sw_status sw_wall_parse(const char *text, size_t n, const char *name, sw_wall *out, sw_note *note)
{
    sw_wall made = { 0 };
    const sw_status st = parse_lines(text, n, name, &made, note);
    if (st == SW_OK) {
        *out = made;
        return SW_OK;
    }
    sw_wall_free(&made);
    return st;
}

void sw_wall_free(sw_wall *wall)
{
    for (size_t i = 0; i < wall->n_areas; i++) sw_free(wall->areas[i].at);
    sw_free(wall->areas);
    sw_free(wall->features);
    sw_free(wall->points);
    *wall = (sw_wall){ 0 };
}
