/* The wall picture goes into job.html: between the two comments that the page keeps for it. */
#include "wall/wall.h"

#include <stdio.h>
#include <string.h>

#define MAX_PAGE_BYTES 200000000u

static void add_base64(sw_text *out, const sw_text *bytes) /* RFC 4648, 4 */
{
    static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const uint8_t *const at = (const uint8_t *)bytes->data;
    for (size_t i = 0; i < bytes->size; i += 3) {
        const size_t n = sw_min_size(3, bytes->size - i);
        const unsigned v = (unsigned)at[i] << 16 | (n > 1 ? (unsigned)at[i + 1] << 8 : 0u) | (n > 2 ? (unsigned)at[i + 2] : 0u);
        const char four[4] = { digits[v >> 18], digits[v >> 12 & 63u], n > 1 ? digits[v >> 6 & 63u] : '=', n > 2 ? digits[v & 63u] : '=' };
        sw_text_add_bytes(out, four, sizeof four);
    }
}

/* First place of word in the n bytes; NULL if there is none. */
static const char *find(const char *bytes, size_t n, const char *word)
{
    const size_t length = strlen(word);
    for (const char *p = bytes; (size_t)(bytes + n - p) >= length; p++) {
        p = memchr(p, word[0], (size_t)(bytes + n - p) - length + 1);
        if (p == NULL) return NULL;
        if (memcmp(p, word, length) == 0) return p;
    }
    return NULL;
}

static void add_section(sw_text *page, const sw_text *jpeg, sw_rect_mm place, const char *words)
{
    sw_text_add(page, SW_HTML_WALL_BEGIN "<figure data-left=\"");
    sw_text_add_number(page, place.x_mm, 1);
    sw_text_add(page, "\" data-floor=\"");
    sw_text_add_number(page, place.y_mm, 1);
    sw_text_add(page, "\"><img class=photo alt=\"The wall with the artwork painted on it and a person 1.7 m tall beside it\" "
                      "src=\"data:image/jpeg;base64,");
    add_base64(page, jpeg);
    sw_text_add(page, "\"><figcaption>");
    sw_text_add_xml(page, words);
    sw_text_add(page, "</figcaption></figure>" SW_HTML_WALL_END);
}

sw_status sw_wall_page_add(const char *dir, const sw_text *jpeg, sw_rect_mm place, const char *words, sw_note *note)
{
    sw_text path = { 0 }, page = { 0 };
    uint8_t *bytes = NULL;
    size_t n = 0;
    sw_text_addf(&path, "%s/job.html", dir);
    sw_status st = path.is_broken ? sw_fail_memory(note, "a path") : sw_file_read(path.data, MAX_PAGE_BYTES, &bytes, &n, note);
    if (st != SW_OK) goto cleanup;
    const char *const text = (const char *)bytes, *const begin = text == NULL ? NULL : find(text, n, SW_HTML_WALL_BEGIN);
    const char *const end = begin == NULL ? NULL : find(begin, n - (size_t)(begin - text), SW_HTML_WALL_END);
    if (end == NULL) {
        st = sw_fail(note, SW_BAD_FILE, "'%s' has no place for a wall picture; cut the job again", path.data);
        goto cleanup;
    }
    const char *const rest = end + strlen(SW_HTML_WALL_END);
    sw_text_add_bytes(&page, text, (size_t)(begin - text));
    add_section(&page, jpeg, place, words);
    sw_text_add_bytes(&page, rest, n - (size_t)(rest - text));
    st = page.is_broken ? sw_fail_memory(note, "job.html") : sw_file_write(path.data, true, page.data, page.size, note);
cleanup:
    sw_free(bytes);
    sw_text_free(&path);
    sw_text_free(&page);
    return st;
}
