/* What every cmocka test file starts from. */
#ifndef SW_TEST_SUPPORT_H
#define SW_TEST_SUPPORT_H

/* cmocka needs these four before it */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sheet/sheet.h"

/** assert_int_equal(SW_OK) that prints the note when it fails. */
#define assert_ok(call, note)                                                                                          \
    do {                                                                                                               \
        const sw_status assert_ok_status_ = (call);                                                                    \
        if (assert_ok_status_ != SW_OK) print_error("note: %s\n", (note).text);                                        \
        assert_int_equal(assert_ok_status_, SW_OK);                                                                    \
    } while (0)

/** splitmix64: a small generator for property tests; print the seed when a property fails. */
static inline uint64_t test_random(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/** A mask from text art: rows separated by '\n', '#' is opening, anything else material. Caller frees. */
static inline sw_mask test_mask(const char *art)
{
    sw_mask mask = { 0 };
    size_t width = strcspn(art, "\n"), height = 0;
    for (const char *p = art; *p != '\0'; p += strcspn(p, "\n"), p += *p == '\n') height++;
    if (sw_mask_make(width, height, &mask, NULL) != SW_OK) abort();
    const char *p = art;
    for (size_t y = 0; y < height; y++) {
        for (size_t x = 0; x < width && p[x] != '\n' && p[x] != '\0'; x++) mask.at[y * width + x] = p[x] == '#';
        p += strcspn(p, "\n");
        p += *p == '\n';
    }
    return mask;
}

#endif
