/* A list of paints from a CSV file (RFC 4180 quoting): name,#rrggbb[,coverage_m2_per_can]. */
#include <string.h>

#include "separate/separate.h"

#define MAX_BYTES 1000000u
#define MAX_COVERAGE_M2 1000.0 /* of one can; more is a slip of the pen */

typedef struct cursor {
    const char *at, *end;
    size_t line;
} cursor;

static bool at_line_end(const cursor *c) { return c->at == c->end || *c->at == '\n' || *c->at == '\r'; }

static void skip_line_end(cursor *c)
{
    if (c->at < c->end && *c->at == '\r') c->at++;
    if (c->at < c->end && *c->at == '\n') c->at++;
    c->line++;
}

/* One field without surrounding blanks; what does not fit is cut off, and *is_whole says so. */
static void field_read(cursor *c, char *out, size_t size, bool *is_whole)
{
    size_t n = 0;
    *is_whole = true;
    while (c->at < c->end && (*c->at == ' ' || *c->at == '\t')) c->at++;
    const bool is_quoted = c->at < c->end && *c->at == '"';
    if (is_quoted) c->at++;
    while (c->at < c->end) {
        if (is_quoted && *c->at == '"') {
            if (c->end - c->at < 2 || c->at[1] != '"') break;
            c->at++; /* a doubled quote stands for one */
        } else if (at_line_end(c) || (!is_quoted && *c->at == ',')) {
            break;
        }
        if (n + 1 < size) out[n++] = *c->at;
        else *is_whole = false;
        c->at++;
    }
    if (is_quoted) { /* the closing quote, and anything wrong behind it */
        if (c->at == c->end || *c->at != '"') *is_whole = false;
        else c->at++;
        for (; !at_line_end(c) && *c->at != ','; c->at++) *is_whole &= *c->at == ' ' || *c->at == '\t';
    } else {
        while (n > 0 && (out[n - 1] == ' ' || out[n - 1] == '\t')) n--;
    }
    out[n] = '\0';
}

static bool take_comma(cursor *c)
{
    if (c->at == c->end || *c->at != ',') return false;
    c->at++;
    return true;
}

static sw_status bad_line(const char *file, size_t line, const char *mend, sw_note *note)
{
    return sw_fail(note, SW_BAD_FILE, "'%s' line %zu: %s", file, line, mend);
}

/* One line that is not empty. *is_paint: false for a heading. */
static sw_status line_read(cursor *c, const char *file, sw_paint *paint, bool *is_paint, sw_note *note)
{
    char colour[16], coverage[32];
    bool is_whole;
    *paint = (sw_paint){ 0 };
    field_read(c, paint->name, sizeof paint->name, &is_whole);
    if (!is_whole) return bad_line(file, c->line, "the name is too long or a quote is missing", note);
    if (!take_comma(c)) return bad_line(file, c->line, "give name,#rrggbb or name,#rrggbb,square metres a can", note);
    field_read(c, colour, sizeof colour, &is_whole);
    *is_paint = is_whole && sw_rgb8_parse(colour, &paint->colour);
    if (!*is_paint && c->line == 1 && colour[0] != '#') { /* a heading */
        while (!at_line_end(c)) c->at++;
        return SW_OK;
    }
    if (!*is_paint) return bad_line(file, c->line, "the second field must be a colour such as #c04020", note);
    if (take_comma(c)) {
        field_read(c, coverage, sizeof coverage, &is_whole);
        if (coverage[0] != '\0' &&
            !(is_whole && sw_number_parse(coverage, &paint->coverage_m2) && paint->coverage_m2 > 0.0 &&
              paint->coverage_m2 <= MAX_COVERAGE_M2))
            return bad_line(file, c->line, "the third field must be the square metres one can covers", note);
    }
    if (!at_line_end(c)) return bad_line(file, c->line, "there is more than three fields", note);
    return SW_OK;
}

sw_status sw_paints_read_memory(const uint8_t *bytes, size_t n, const char *name, sw_paints *out, sw_note *note)
{
    sw_paints made = { 0 };
    const char *const text = n > 0 ? (const char *)bytes : "";
    cursor c = { text, text + n, 1 }; /* cppcheck-suppress pointerOutOfBoundsCond ; n is the length of text */
    sw_status st = SW_OK;
    if (n >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0) c.at += 3; /* the mark some programs put before UTF-8 */
    while (c.at < c.end) {
        sw_paint paint;
        bool is_paint = false;
        if (!at_line_end(&c)) st = line_read(&c, name, &paint, &is_paint, note);
        if (st != SW_OK) goto cleanup;
        skip_line_end(&c);
        if (!is_paint) continue;
        if (made.n == SW_MAX_PAINTS) {
            st = sw_fail(note, SW_BAD_FILE, "'%s' lists more than %d paints; leave out those you do not have", name,
                         SW_MAX_PAINTS);
            goto cleanup;
        }
        void *data = made.at;
        if (!sw_grow(&data, &made.cap, made.n + 1, sizeof *made.at)) {
            st = sw_fail_memory(note, "the list of paints");
            goto cleanup;
        }
        made.at = data;
        made.at[made.n++] = paint;
    }
    if (made.n == 0) {
        st = sw_fail(note, SW_BAD_FILE, "'%s' lists no paint; give lines of name,#rrggbb", name);
        goto cleanup;
    }
    *out = made;
    made = (sw_paints){ 0 };
cleanup:
    sw_paints_free(&made);
    return st;
}

sw_status sw_paints_read(const char *path, sw_paints *out, sw_note *note)
{
    uint8_t *bytes = NULL;
    size_t n = 0;
    SW_TRY(sw_file_read(path, MAX_BYTES, &bytes, &n, note));
    const sw_status st = sw_paints_read_memory(bytes, n, path, out, note);
    sw_free(bytes);
    return st;
}

void sw_paints_free(sw_paints *paints)
{
    if (paints == NULL) return;
    sw_free(paints->at);
    *paints = (sw_paints){ 0 };
}
