/* A single-stroke font of our own for what is drawn on the material: printable ASCII and Latin-1.
 *
 * A glyph is a text: its width, then strokes of points, each point two digits x y. Base line y = 2, lower-case top 6,
 * capital top 8, descenders 0. Letters with accents are put together from the letter and the accent. Shapes are
 * straight lines and cut corners: they engrave fast and stay legible at 2 mm. */
#include "layout/parts.h"

#include <string.h>

#define BASE_LINE 2.0
#define GAP 1.6          /* between letters, units */
#define MAX_POINTS 32u   /* of one stroke */
#define DOTLESS_I 2u     /* code of our own, for the letters of i with an accent */

/* U+0020..U+007E */
static const char *const ascii[] = {
    "2", "0 0804 0302", "2 0806 2826", "4 1218 3238 0646 0444", "4 473818070615354443321203 2921",
    "4 0248 0818170708 3343423233", "4 4216172837360403122244", "0 0806", "1 18070312", "1 08171302",
    "4 2723 0644 0446", "4 2723 0545", "1 131201", "3 0535", "0 0203", "3 0238",
    "4 180703123243473818 1337", "2 071812 0222", "4 07183847460242", "4 0718384746354443321203 2535", "4 32380444",
    "4 480805354443321203", "4 4738180703123243443505", "4 084812", "4 180706153546473818 1504031232434435",
    "4 0312324347381807061545", "0 0203 0506", "1 131201 1516", "3 370533", "4 0646 0444", "3 073503",
    "4 07183847462524 2322",
    "4 36261514233436 344347381807031242", "4 022842 1535", "4 02083847463505 3544433202", "4 4738180703123243",
    "4 02083847433202", "4 48080242 0535", "4 480802 0535", "4 47381807031232434525", "4 0208 4248 0545",
    "2 0828 1812 0222", "4 4843321203", "4 0208 4804 1542", "4 080242", "4 0208254842", "4 02084248",
    "4 180703123243473818",
    "4 02083847463505", "4 180703123243473818 2442", "4 02083847463505 2542", "4 473818070615354443321203",
    "4 0848 2822", "4 080312324348", "4 082248", "4 0812263248", "4 0248 0842", "4 082548 2522", "4 08480242",
    "1 18080212", "3 0832", "1 08181202", "4 062846", "4 0141",
    "1 0817", "3 3632 3526160503122233", "3 0802 0516263533221203", "3 3526160503122233", "3 3832 3526160503122233",
    "3 04343526160503122233", "2 281712 0626", "3 3631201001 3526160503122233", "3 0802 0516263532", "0 0602 0807",
    "1 161100 1817", "3 0802 3603 1432", "1 080312", "4 0602 05162522 25364542", "3 0602 0516263532",
    "3 160503122233352616",
    "3 0600 0516263533221203", "3 3630 3526160503122233", "2 0602 051626", "3 35261605142433221203",
    "2 181322 0626", "3 0603122233 3632", "4 062246", "4 0612253246", "3 0632 0236", "4 0622 4610", "3 06360232",
    "2 28171605141322", "0 0801", "2 08171625141302", "4 05163445",
};

/* U+00A0..U+00BF, then U+00C0..U+00FF; NULL where the letter is put together. */
static const char *const latin[] = {
    "2", "0 0004 0506", "3 3526160503122233 2711", "4 4738281712 0242 0535", "4 1535331315 0615 4635 4233 0213",
    "4 082548 2522 0545 0343", "0 0806 0401", "4 38180716354433 16051433423111", "2 0708 2728",
    "4 180703123243473818 36161434", "2 28080626 2825 0424", "4 260422 462442", "4 054543", "3 0535",
    "4 180703123243473818 131727362515 2533", "3 0737",
    "2 1807162718", "4 2824 0646 0242", "2 0828270525", "2 08282505 1727", "1 0718", "3 0600 0603122233 3632",
    "4 481807061525 2822 4842", "0 0405", "1 121100", "1 071815", "2 0828260608 0424", "4 062402 264422",
    "5 0805 0248 41442252", "4 0805 0248 2444432141", "5 08181505 0248 41442252", "4 41301001022324 2526",
    NULL, NULL, NULL, NULL, NULL, NULL, "5 022858 383252 1545", NULL,
    NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL,
    "4 02083847433202 0525", NULL, NULL, NULL, NULL, NULL, NULL, "4 0347 0743",
    "4 180703123243473818 0248", NULL, NULL, NULL, NULL, NULL, "4 0208 073746453404", "3 02071828372534332212",
    NULL, NULL, NULL, NULL, NULL, NULL, "5 0626220204545626 2252", NULL,
    NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL,
    "3 160503122233352616 3518 0727", NULL, NULL, NULL, NULL, NULL, NULL, "4 0545 2726 2423",
    "3 160503122233352616 0236", NULL, NULL, NULL, NULL, NULL, "3 0800 0516263533221203", NULL,
};

/* For U+00C0..U+00FF: the letter, and the accent (grave, acute, circumflex, tilde, dieresis, ring, cedilla ','). */
static const char letter_of[] = "AAAAAA.CEEEEIIII.NOOOOO..UUUUY..aaaaaa.ceeeeiiii.nooooo..uuuuy.y";
static const char accent_of[] = "gactdr.,gacdgacd.tgactd..gacda..gactdr.,gacdgacd.tgactd..gacda.d";

static const char *accent_glyph(char accent)
{
    switch (accent) {
    case 'g': return "1 0110";
    case 'a': return "1 0011";
    case 'c': return "2 001120";
    case 't': return "3 00112031";
    case 'd': return "2 0001 2021";
    case 'r': return "2 1001122110";
    default: return "1 121100"; /* cedilla: its points count from the descender line */
    }
}

/* Signs that people paste and that have a plain twin. */
static uint32_t plain_twin(uint32_t code)
{
    switch (code) {
    case 0x2010: case 0x2011: case 0x2012: case 0x2013: case 0x2014: case 0x2212: return '-';
    case 0x2018: case 0x2019: return '\'';
    case 0x201c: case 0x201d: return '"';
    case '\t': case '\n': case '\r': case 0x2009: case 0x202f: return ' ';
    default: return code;
    }
}

static const char *plain_glyph(uint32_t code)
{
    if (code == SW_FONT_UP_ARROW) return "4 2228 062846";
    if (code == DOTLESS_I) return "0 0602";
    if (code >= 0x20 && code <= 0x7e) return ascii[code - 0x20];
    if (code >= 0xa0 && code <= 0xff) return latin[code - 0xa0];
    return NULL;
}

static bool is_composed(uint32_t code) { return code >= 0xc0 && code <= 0xff && letter_of[code - 0xc0] != '.'; }

bool sw_font_has(uint32_t code)
{
    const uint32_t plain = plain_twin(code);
    return plain_glyph(plain) != NULL || is_composed(plain);
}

/* The letter that gives the width and the strokes below the accent. */
static const char *base_glyph(uint32_t code)
{
    if (is_composed(code)) {
        const char letter = letter_of[code - 0xc0];
        return plain_glyph(letter == 'i' ? DOTLESS_I : (uint32_t)(unsigned char)letter);
    }
    const char *const glyph = plain_glyph(code);
    return glyph != NULL ? glyph : plain_glyph('?');
}

/* glyph: never NULL, as '?' always has one; analysers cannot know */
static double width_of(const char *glyph) { return glyph != NULL ? glyph[0] - '0' : 0; }

uint32_t sw_font_next(const char **text)
{
    const unsigned char *const p = (const unsigned char *)*text;
    if (p[0] == '\0') return 0;
    size_t n = p[0] < 0x80 ? 1 : p[0] >= 0xc2 && p[0] < 0xe0 ? 2 : p[0] >= 0xe0 && p[0] < 0xf0 ? 3 : 0;
    if (p[0] >= 0xf0 && p[0] < 0xf5) n = 4;
    uint32_t code = n == 1 ? p[0] : n == 0 ? 0xfffd : p[0] & (0xffu >> (n + 1));
    for (size_t i = 1; i < n; i++) {
        if ((p[i] & 0xc0) != 0x80) {
            *text += i; /* go on at the byte that broke the sequence */
            return 0xfffd;
        }
        code = code << 6 | (p[i] & 0x3fu);
    }
    *text += n == 0 ? 1 : n;
    return code;
}

double sw_font_width(const char *text)
{
    double width = 0.0;
    for (uint32_t code; (code = sw_font_next(&text)) != 0;) width += width_of(base_glyph(plain_twin(code))) + GAP;
    return width > 0.0 ? width - GAP : 0.0;
}

/* Strokes of one glyph, moved by (dx, dy). */
static bool draw_glyph(const char *glyph, double dx, double dy, sw_font_fn fn, void *ctx)
{
    const char *p = glyph + 1;
    while (*p != '\0') {
        sw_pt_px at[MAX_POINTS];
        size_t n = 0;
        while (*p == ' ') p++;
        for (; p[0] > ' ' && p[1] > ' ' && n < MAX_POINTS; p += 2)
            at[n++] = (sw_pt_px){ p[0] - '0' + dx, p[1] - '0' + dy };
        if (n > 1 && !fn(ctx, at, n)) return false;
    }
    return true;
}

static bool draw_accent(uint32_t code, double x, double base_width, sw_font_fn fn, void *ctx)
{
    const char letter = letter_of[code - 0xc0], accent = accent_of[code - 0xc0];
    const char *const glyph = accent_glyph(accent);
    const double dx = x + (base_width - width_of(glyph)) * 0.5;
    const bool is_capital = letter >= 'A' && letter <= 'Z';
    const double bottom = is_capital ? (accent == 'r' ? 8.0 : 8.8) : (accent == 'r' ? 6.4 : 6.9);
    return draw_glyph(glyph, dx, accent == ',' ? -BASE_LINE : bottom - BASE_LINE, fn, ctx);
}

bool sw_font_draw(const char *text, sw_font_fn fn, void *ctx, size_t *n_replaced)
{
    double x = 0.0;
    for (uint32_t code; (code = sw_font_next(&text)) != 0;) {
        code = plain_twin(code);
        const char *const glyph = base_glyph(code);
        if (!sw_font_has(code) && n_replaced != NULL) (*n_replaced)++;
        if (!draw_glyph(glyph, x, -BASE_LINE, fn, ctx)) return false;
        if (is_composed(code) && !draw_accent(code, x, width_of(glyph), fn, ctx)) return false;
        x += width_of(glyph) + GAP;
    }
    return true;
}
