/* A job folder, read back: measurements from job.json, what is painted from layers.svg. */
#include "vector/vector.h"
#include "wall/json.h"
#include "wall/wall.h"

#include <stdio.h>
#include <string.h>

#define MAX_JSON_BYTES 200000000u
#define MAX_SVG_BYTES 400000000u
#define MAX_PANELS 100000u

static double number_at(json object, const char *key)
{
    json value;
    double v = 0.0;
    return json_member(object, key, &value) && json_number(value, &v) ? v : 0.0;
}

static bool colour_at(json object, const char *key, sw_rgb8 *out)
{
    json value;
    char text[16];
    return json_member(object, key, &value) && json_string(value, text, sizeof text) && sw_rgb8_parse(text, out);
}

static sw_status add_panel(json at, size_t pass, sw_wall_job *job, sw_note *note)
{
    json origin, value;
    sw_wall_panel panel = { .pass = pass };
    panel.art.width_mm = number_at(at, "width_mm");
    panel.art.height_mm = number_at(at, "height_mm");
    if (!json_member(at, "name", &value) || !json_string(value, panel.name, sizeof panel.name) ||
        !json_member(at, "origin_mm", &origin) || !json_first(origin, &value) || !json_number(value, &panel.art.x_mm) ||
        !json_next(&value) || !json_number(value, &panel.art.y_mm) || !sw_length_ok(panel.art.width_mm, false) ||
        !sw_length_ok(panel.art.height_mm, false) || job->n_panels >= MAX_PANELS)
        return sw_fail(note, SW_BAD_FILE, "a panel of pass %zu in job.json makes no sense; cut the job again", pass);
    void *data = job->panels;
    if (!sw_grow(&data, &job->cap_panels, job->n_panels + 1, sizeof panel)) return sw_fail_memory(note, "the panels");
    job->panels = data;
    job->panels[job->n_panels++] = panel;
    return SW_OK;
}

static sw_status take_pass(json at, sw_wall_job *job, sw_note *note)
{
    json list, panel;
    if (job->n_passes == SW_MAX_PASSES || !colour_at(at, "paint", &job->paint[job->n_passes]))
        return sw_fail(note, SW_BAD_FILE, "pass %zu in job.json makes no sense; cut the job again", job->n_passes + 1);
    job->n_passes++;
    if (json_member(at, "estimate", &list))
        job->drying_minutes = sw_max(0.0, job->drying_minutes - sw_clamp(number_at(list, "painting_minutes"), 0.0, 1e9));
    if (!json_member(at, "panels", &list) || !json_first(list, &panel)) return SW_OK;
    do SW_TRY(add_panel(panel, job->n_passes, job, note));
    while (json_next(&panel));
    return SW_OK;
}

static sw_status take_json(const char *text, size_t n, const char *path, sw_wall_job *job, sw_note *note)
{
    const json root = { text, text + n };
    json value, pass;
    job->width_mm = number_at(root, "width_mm");
    job->height_mm = number_at(root, "height_mm");
    job->frame_mm = number_at(root, "frame_mm");
    job->min_opening_mm = number_at(root, "min_opening_mm");
    job->min_web_mm = number_at(root, "min_web_mm");
    if (!colour_at(root, "ground", &job->ground)) job->ground = (sw_rgb8){ 255, 255, 255 };
    if (!json_member(root, "picture", &value) || !json_string(value, job->picture, sizeof job->picture) ||
        !sw_length_ok(job->width_mm, false) || !sw_length_ok(job->height_mm, false) || !sw_length_ok(job->frame_mm, true))
        return sw_fail(note, SW_BAD_FILE, "'%s' is not the record of a job", path);
    if (!json_member(root, "material", &value) || !json_string(value, job->material, sizeof job->material)) job->material[0] = '\0';
    if (!json_member(root, "surface", &value) || !json_string(value, job->surface, sizeof job->surface)) job->surface[0] = '\0';
    if (json_member(root, "estimate", &value)) {
        job->painting_minutes = sw_clamp(number_at(value, "painting_minutes"), 0.0, 1e9);
        job->n_cans = (size_t)sw_clamp(number_at(value, "cans"), 0.0, 1e9);
        job->drying_minutes = job->painting_minutes; /* less what the passes take */
    }
    if (!json_member(root, "passes", &value) || !json_first(value, &pass))
        return sw_fail(note, SW_BAD_FILE, "'%s' has no passes", path);
    do SW_TRY(take_pass(pass, job, note));
    while (json_next(&pass));
    return SW_OK;
}

/* "pass-3" or "pass-3-openings" -> 3; 0 for anything else. */
static size_t pass_of(const char *id)
{
    if (strncmp(id, "pass-", 5) != 0 || id[5] < '1' || id[5] > '9') return 0;
    return id[6] == '\0' || id[6] == '-' ? (size_t)(id[5] - '0') : 0;
}

static sw_status take_layers(sw_vector *vector, sw_wall_job *job, sw_note *note)
{
    for (size_t i = 0; i < vector->n_shapes; i++) {
        sw_vector_shape *const shape = &vector->shapes[i];
        const size_t by_layer = pass_of(shape->layer), pass = by_layer != 0 ? by_layer : pass_of(shape->id);
        if (pass == 0 || pass > job->n_passes) continue;
        for (size_t c = 0; c < shape->contours.n; c++)
            SW_TRY(sw_contours_take(&job->openings[pass - 1], &shape->contours.at[c], note));
    }
    return SW_OK;
}

static sw_status read_file(const char *dir, const char *name, size_t most, uint8_t **bytes, size_t *n, sw_text *path,
                           sw_note *note)
{
    sw_text_free(path);
    sw_text_addf(path, "%s/%s", dir, name);
    if (path->is_broken) return sw_fail_memory(note, "a path");
    SW_TRY(sw_file_read(path->data, most, bytes, n, note));
    return *bytes != NULL ? SW_OK : sw_fail(note, SW_BAD_FILE, "'%s' is empty", path->data);
}

sw_status sw_wall_job_read(const char *dir, sw_wall_job *out, sw_note *note)
{
    sw_wall_job made = { 0 };
    sw_vector vector = { 0 };
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_text path = { 0 };
    sw_status st = read_file(dir, "job.json", MAX_JSON_BYTES, &bytes, &n, &path, note);
    if (st != SW_OK) goto cleanup;
    st = take_json((const char *)bytes, n, path.data, &made, note);
    if (st != SW_OK) goto cleanup;
    sw_free(bytes);
    bytes = NULL;
    st = read_file(dir, "layers.svg", MAX_SVG_BYTES, &bytes, &n, &path, note);
    if (st != SW_OK) goto cleanup;
    st = sw_vector_read(bytes, n, path.data, &vector, note);
    if (st != SW_OK) goto cleanup;
    st = take_layers(&vector, &made, note);
    if (st != SW_OK) goto cleanup;
    *out = made;
    made = (sw_wall_job){ 0 };
cleanup:
    sw_wall_job_free(&made);
    sw_vector_free(&vector);
    sw_free(bytes);
    sw_text_free(&path);
    return st;
}

void sw_wall_job_free(sw_wall_job *job)
{
    for (size_t i = 0; i < SW_MAX_PASSES; i++) sw_contours_free(&job->openings[i]);
    sw_free(job->panels);
    *job = (sw_wall_job){ 0 };
}
