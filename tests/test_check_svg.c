/* Drawings broken by hand: each fault is found where it is; sound ones have none. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "check/check.h"
#include "support.h"

/* The document is 200 mm x 100 mm and one user unit is one millimetre. */
#define DOCUMENT(inside)                                                                                               \
    "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='100mm' viewBox='0 0 200 100'>\n" inside "\n</svg>"
#define NEAR_MM 0.5
/* A pass in two panels of 100 mm. */
#define SPLIT(path) DOCUMENT("<g id='pass-1'><desc>panels, mm from left and top, wide, high: A1 0 0 100 100; A2 100 0 100 100</desc>" path "</g>")

static sw_svg_check check_text(const char *text)
{
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0 };
    sw_svg_check check = { 0 };
    sw_note note = { 0 };
    assert_ok(sw_svg_check_make((const uint8_t *)text, strlen(text), "t.svg", &opts, &check, &note), note);
    return check;
}

typedef struct fault {
    const char *text;
    sw_finding_kind kind;
    double x_mm, y_mm;
    size_t line;
    const char *element;
} fault;

static const fault faults[] = {
    /* open paths */
    { DOCUMENT("<path id='a' fill='none' stroke='#000' d='M20 20H60V60H20V25'/>"), SW_FIND_OPEN_PATH, 20, 20, 2, "a" },
    { DOCUMENT("<polyline id='p' fill='none' stroke='#000' points='20,20 60,20 60,60 20,60'/>"), SW_FIND_OPEN_PATH, 20, 20, 2, "p" },
    { DOCUMENT("<g transform='translate(100 10) rotate(90)'><path id='a' fill='none' stroke='#000' stroke-width='.1' d='M20 20C40 20 60 40 60 60'/></g>"),
      SW_FIND_OPEN_PATH, 80, 30, 2, "a" },
    /* crossings; the loop's by p = t (1 - t) = 50 / 320 of its two parameters */
    { DOCUMENT("<path id='eight' d='M20 20L80 60V20L20 60Z'/>"), SW_FIND_CROSSING, 50, 40, 2, "eight" },
    { DOCUMENT("<path id='loop' d='M20 20C120 80 120 -10 20 70Z'/>"), SW_FIND_CROSSING, 66.875, 40.31, 2, "loop" },
    { DOCUMENT("<g fill='none' stroke='#000' stroke-width='.1'><rect x='20' y='20' width='40' height='40'/>\n"
               "<circle id='c' cx='60' cy='70' r='20'/></g>"), SW_FIND_CROSSING, 60, 50, 3, "c" },
    { DOCUMENT("<path id='two' fill-rule='evenodd' d='M20 20H60V60H20Z M40 40H90V50H40Z'/>"), SW_FIND_CROSSING, 60, 40, 2, "two" },
    /* overlaps */
    { DOCUMENT("<rect x='20' y='20' width='40' height='40'/>\n<rect id='b' x='50' y='30' width='40' height='20'/>"),
      SW_FIND_OVERLAP, 60, 30, 3, "b" },
    { DOCUMENT("<circle cx='60' cy='50' r='40'/>\n<circle id='inner' cx='70' cy='50' r='10'/>"), SW_FIND_OVERLAP, 70, 50, 3, "inner" },
    { DOCUMENT("<rect x='20' y='20' width='40' height='40'/><use href='#r' x='35'/><defs><rect id='r' x='5' y='30' width='40' "
               "height='20'/></defs>"), SW_FIND_OVERLAP, 60, 30, 2, "r" },
    /* islands */
    { DOCUMENT("<path id='ring' fill-rule='evenodd' d='M10 10H90V90H10Z M40 40H60V60H40Z'/>"), SW_FIND_ISLAND, 50, 50, 2, "ring" },
    { DOCUMENT("<path id='ring' d='M10 10H90V90H10Z M40 40V60H60V40Z'/>"), SW_FIND_ISLAND, 50, 50, 2, "ring" },
    { DOCUMENT("<g fill='none' stroke='#000' stroke-width='.1'><circle cx='60' cy='50' r='40'/>\n<circle id='i' cx='65' cy='48' r='20'/></g>"),
      SW_FIND_ISLAND, 65, 48, 3, "i" },
    { DOCUMENT("<g id='pass-2'><path id='o' fill-rule='evenodd' d='M10 10h80v80h-80z m20 20h30v40h-30z'/></g>"), SW_FIND_ISLAND, 45, 50, 2, "o" },
    /* narrow */
    { DOCUMENT("<rect x='20' y='20' width='40' height='40'/><rect x='62' y='20' width='40' height='40'/>"), SW_FIND_NARROW_WEB, 61, 0, 2, "rect" },
    { DOCUMENT("<circle cx='40' cy='50' r='20'/><circle cx='83' cy='50' r='20'/>"), SW_FIND_NARROW_WEB, 61.5, 50, 2, "circle" },
    { DOCUMENT("<rect id='slit' x='20' y='20' width='60' height='1.5'/>"), SW_FIND_NARROW_OPENING, 0, 20.75, 2, "slit" },
    { DOCUMENT("<circle id='dot' cx='120' cy='40' r='1'/>"), SW_FIND_NARROW_OPENING, 120, 40, 2, "dot" },
    { DOCUMENT("<path id='neck' d='M20 20H60V39H80V20H120V60H80V41H60V60H20Z'/>"), SW_FIND_NARROW_OPENING, 0, 40, 2, "neck" },
    /* outside */
    { DOCUMENT("<rect id='out' x='180' y='20' width='40' height='40'/>"), SW_FIND_OUTSIDE, 220, 0, 2, "out" },
    { DOCUMENT("<circle id='up' cx='100' cy='10' r='20'/>"), SW_FIND_OUTSIDE, 100, -10, 2, "up" },
    /* over a seam; what meets where no seam is; what lies on no panel */
    { SPLIT("<rect id='over' x='60' y='20' width='50' height='40'/>"), SW_FIND_OUTSIDE, 110, 0, 2, "over" },
    { SPLIT("<path id='o' fill-rule='evenodd' d='M20 20H60V60H20ZM60 10H90V70H60Z'/>"), SW_FIND_CROSSING, 60, 0, 2, "o" },
    { SPLIT("<path id='o' fill-rule='evenodd' d='M20 20H90V90H20ZM40 40H60V60H40Z'/>"), SW_FIND_ISLAND, 50, 50, 2, "o" },
    { DOCUMENT("<g id='pass-1'><desc>panels, mm from left and top, wide, high: A1 0 0 100 100</desc><path id='o' d='M120 20H210V60H120Z'/></g>"),
      SW_FIND_OUTSIDE, 210, 0, 2, "o" },
    { DOCUMENT("<g id='pass-1'><desc>panels, mm from left and top, wide, high: A1 0 0 100 100; A2 100 0 -9 1</desc>"
               "<path id='o' fill-rule='evenodd' d='M20 20H100V60H20ZM100 10H150V70H100Z'/></g>"), SW_FIND_CROSSING, 100, 0, 2, "o" },
    /* what is no shape */
    { DOCUMENT("<text id='t' x='30' y='40'>Heron</text>"), SW_FIND_TEXT, 30, 40, 2, "t" },
    { DOCUMENT("<image id='i' x='12' y='13' width='9' height='9' href='a.png'/>"), SW_FIND_IMAGE, 12, 13, 2, "i" },
    { DOCUMENT("<path id='s' fill='none' stroke='#000' stroke-width='4' d='M20 20H80V60Z'/>"), SW_FIND_STROKE, 20, 20, 2, "s" },
    { DOCUMENT("<rect id='c' x='20' y='20' width='40' height='40' clip-path='url(#x)'/>"), SW_FIND_UNSUPPORTED, 20, 20, 2, "c" },
    { DOCUMENT("<style>.a{fill:none}</style><rect id='k' class='a' x='20' y='20' width='40' height='40'/>"), SW_FIND_UNSUPPORTED, 20, 20, 2,
      "k" },
    { DOCUMENT("<rect fill='none' x='20' y='20' width='40' height='40'/>"), SW_FIND_NOTHING, 0, 0, 1, "svg" },
    { "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 200 100'><rect x='20' y='20' width='90' height='40'/></svg>", SW_FIND_NO_SIZE, 0,
      0, 1, "svg" },
};

/* Of some places only one coordinate is known: 0 stands for the other. */
static bool is_there(const sw_finding *f, const fault *wanted)
{
    return f->kind == wanted->kind && (wanted->x_mm == 0.0 || fabs(f->at.x_mm - wanted->x_mm) < NEAR_MM) &&
           (wanted->y_mm == 0.0 || fabs(f->at.y_mm - wanted->y_mm) < NEAR_MM);
}

static void each_fault_is_found_where_it_is(void **state)
{
    (void)state;
    size_t n_missed = 0;
    for (size_t i = 0; i < SW_ARRAY_LEN(faults); i++) {
        sw_svg_check check = check_text(faults[i].text);
        const sw_finding *found = NULL;
        for (size_t k = 0; k < check.vector.n_findings && found == NULL; k++) {
            if (is_there(&check.vector.findings[k], &faults[i])) found = &check.vector.findings[k];
        }
        if (found == NULL || found->line != faults[i].line || strcmp(found->shape, faults[i].element) != 0) {
            sw_text report = { 0 };
            sw_svg_check_report(&check, &report);
            print_error("fault %zu (%s at %g, %g, line %zu, %s) is not in:\n%s", i, sw_finding_name(faults[i].kind), faults[i].x_mm,
                        faults[i].y_mm, faults[i].line, faults[i].element, report.data);
            sw_text_free(&report);
            n_missed++;
        }
        assert_true(check.verdict > SW_VERDICT_YES);
        sw_svg_check_free(&check);
    }
    assert_int_equal(n_missed, 0);
}

static const char *const sound[] = {
    DOCUMENT("<rect x='20' y='20' width='40' height='40'/><rect x='66' y='20' width='40' height='40'/>"),
    DOCUMENT("<circle cx='60' cy='50' r='30'/>"),
    DOCUMENT("<rect fill='none' x='5' y='5' width='190' height='90'/><circle cx='60' cy='50' r='30'/>"), /* nobody sees the frame */
    DOCUMENT("<path d='M20 20H60V60H20Z M70 20H110V60H70Z'/>"),
    DOCUMENT("<rect width='200' height='100'/>"), /* the frame goes on beyond the document */
    DOCUMENT("<rect width='10' height='10' rx='2'/><ellipse cx='100' cy='50' rx='30' ry='20'/>"),
    DOCUMENT("<path d='M20 20h60v60h-10v-50h-50z'/>"),
    DOCUMENT("<path d='M20 20H60V60H20ZM30 30H50V50H30Z'/>"), /* non-zero, same way round: all open, no island */
    DOCUMENT("<path d='M10 10h80v80h-35v-25h10v-30h-30v30h10v25h-35z'/>"), /* a bridge holds the middle */
    DOCUMENT("<g id='pass-1'><circle cx='60' cy='50' r='40'/></g><g id='pass-2'><circle cx='70' cy='50' r='20'/></g>"),
    DOCUMENT("<g fill='none' stroke='#000' stroke-width='.1'><rect x='20' y='20' width='40' height='40'/><polygon points='100,20 140,20 120,60'/></g>"),
    DOCUMENT("<g transform='rotate(30 100 50)'><rect x='80' y='30' width='40' height='40'/></g>"),
    DOCUMENT("<defs><circle id='d' r='8'/></defs><use href='#d' x='40' y='40'/><use href='#d' x='80' y='40'/>"),
    DOCUMENT("<svg x='20' y='20' width='50' height='50' viewBox='0 0 10 10'><path d='M1 1A4 4 0 1 1 9 9Z'/></svg>"),
    DOCUMENT("<g id='cut' fill='none' stroke='#000' stroke-width='.1'><path d='M20 20H60V60H20Z'/></g><g id='outline' fill='none' stroke='#000' stroke-width='.1'><path d='M0 0H200V100H0Z'/></g>"
             "<g id='marks' fill='none' stroke='#000' stroke-width='.1'><path d='M5 5H9M30 30L50 50'/></g>"),
    DOCUMENT("<path d='M20 20q20 -10 40 0t40 0v40q-20 10 -40 0t-40 0z'/>"),
    /* openings that meet at a seam, and a middle that hangs on the frames there; the same file made larger by an editor */
    SPLIT("<path d='M20 20H100V40H40V60H100V80H20Z M100 20H180V80H100V60H160V40H100Z'/>"),
    "<svg xmlns='http://www.w3.org/2000/svg' width='400mm' height='200mm' viewBox='0 0 200 100'><g id='pass-1'><desc>panels, mm from left "
    "and top, wide, high: A1 0 0 100 100; A2 100 0 100 100</desc><path d='M20 20H100V80H20ZM100 20H180V80H100Z'/></g></svg>",
};

static void sound_drawings_have_no_findings(void **state)
{
    (void)state;
    size_t n_wrong = 0;
    for (size_t i = 0; i < SW_ARRAY_LEN(sound); i++) {
        sw_svg_check check = check_text(sound[i]);
        if (check.vector.n_findings > 0 || check.verdict != SW_VERDICT_YES) {
            sw_text report = { 0 };
            sw_svg_check_report(&check, &report);
            print_error("sound drawing %zu: %s", i, report.data);
            sw_text_free(&report);
            n_wrong++;
        }
        sw_svg_check_free(&check);
    }
    assert_int_equal(n_wrong, 0);
}

static void widths_are_measured(void **state)
{
    (void)state;
    sw_svg_check check = check_text(DOCUMENT("<circle cx='40' cy='50' r='20'/><circle cx='83' cy='50' r='20'/>"));
    assert_int_equal(check.vector.n_findings, 1);
    assert_true(fabs(check.vector.findings[0].measure_mm - 3.0) < 0.05);
    sw_svg_check_free(&check);
}

static void drawings_are_told_by_their_content(void **state)
{
    (void)state;
    static const char *const yes[] = { "<svg/>", "<?xml version='1.0'?><svg/>", "\xef\xbb\xbf \n<svg/>" };
    for (size_t i = 0; i < SW_ARRAY_LEN(yes); i++) assert_true(sw_svg_is_one((const uint8_t *)yes[i], strlen(yes[i])));
    assert_false(sw_svg_is_one((const uint8_t *)"\x89PNG", 4));
    assert_false(sw_svg_is_one((const uint8_t *)"", 0));
}

static void nothing_leaks_when_memory_is_out(void **state)
{
    (void)state;
    static const char text[] = DOCUMENT("<path d='M10 10H90V90H10Z M40 40V60H60V40Z'/><rect x='80' y='30' width='40' height='20'/>"
                                        "<rect x='150' y='20' width='9' height='1'/><g id='pass-1'><desc>panels, mm from left and top, wide, "
                                        "high: A1 0 0 100 100; A2 100 0 100 100</desc><path d='M20 20H100V40H20ZM100 20H180V40H100Z'/></g>");
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0 };
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK && nth < 2000; nth++) {
        sw_svg_check check = { 0 };
        sw_alloc_fail_at(nth);
        st = sw_svg_check_make((const uint8_t *)text, sizeof text - 1, "t.svg", &opts, &check, NULL);
        sw_svg_check_free(&check);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_true(st == SW_OK || st == SW_NO_MEMORY);
    }
    assert_int_equal(st, SW_OK);
}

static const char *const islands[] = {
    DOCUMENT("<path fill-rule='evenodd' d='M10 10H90V90H10Z M40 40H60V60H40Z'/>"),
    DOCUMENT("<path d='M10 10H90V90H10Z M40 40V60H60V40Z'/>"),
    DOCUMENT("<path fill-rule='evenodd' d='M10 10H90V90H10Z M20 20H40V40H20Z M60 60H80V80H60Z M20 60h20v20h-20z'/>"),
    DOCUMENT("<g fill='none' stroke='#000' stroke-width='.1'><circle cx='60' cy='50' r='40'/><circle cx='60' cy='50' r='20'/></g>"),
    DOCUMENT("<g transform='translate(100 50) rotate(20) scale(2)' stroke='#000' stroke-width='.1'><ellipse fill='none' rx='30' ry='15'/><circle fill='none' cx='3' "
             "r='6'/></g>"),
    DOCUMENT("<path fill-rule='evenodd' d='M50 5a45 45 0 1 0 .1 0z M50 20a30 30 0 1 1 -.1 0z M50 35a15 15 0 1 0 .1 0z M45 45h10v10h-10z'/>"),
};

static void an_island_is_bridged_within_its_panel(void **state)
{
    (void)state;
    static const char text[] = SPLIT("<path fill-rule='evenodd' d='M10 10H100V90H10ZM100 10H190V90H100ZM70 30H94V70H70Z'/>");
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0 };
    sw_text fixed = { 0 };
    sw_note note = { 0 };
    size_t n_bridges = 0, n_left = 0;
    assert_ok(sw_svg_fix((const uint8_t *)text, strlen(text), "t.svg", &opts, &fixed, &n_bridges, &n_left, &note), note);
    sw_svg_check before = check_text(text), after = check_text(fixed.data);
    assert_int_equal(before.counts[SW_FIND_ISLAND], 1);
    assert_int_equal(n_bridges, 1);
    assert_int_equal(n_left, 0);
    assert_int_equal(after.verdict, SW_VERDICT_YES);
    assert_int_equal(after.n_sheets, 1);
    assert_int_equal(after.n_panels, 2);
    sw_svg_check_free(&before);
    sw_svg_check_free(&after);
    sw_text_free(&fixed);
}

static void every_island_gets_a_bridge_and_holds(void **state)
{
    (void)state;
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0 };
    for (size_t i = 0; i < SW_ARRAY_LEN(islands); i++) {
        sw_text fixed = { 0 };
        sw_note note = { 0 };
        size_t n_bridges = 0, n_left = 0;
        sw_svg_check before = check_text(islands[i]);
        assert_ok(sw_svg_fix((const uint8_t *)islands[i], strlen(islands[i]), "t.svg", &opts, &fixed, &n_bridges, &n_left, &note), note);
        sw_svg_check after = check_text(fixed.data);
        assert_true(before.counts[SW_FIND_ISLAND] > 0);
        assert_int_equal(n_bridges, before.counts[SW_FIND_ISLAND]);
        assert_int_equal(n_left, 0);
        if (after.vector.n_findings > 0) print_error("islands %zu: %s\n", i, fixed.data);
        assert_int_equal(after.vector.n_findings, 0);
        sw_svg_check_free(&before);
        sw_svg_check_free(&after);
        sw_text_free(&fixed);
    }
}

#define LARGE(body) "<svg xmlns='http://www.w3.org/2000/svg' width='800mm' height='700mm' viewBox='0 0 800 700'>" body "</svg>"

/* A drawing mended; its check before and after. */
static void mend(const char *text, double droop_mm, size_t *n_bridges, sw_svg_check *before, sw_svg_check *after)
{
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0, .droop_mm = droop_mm };
    sw_text fixed = { 0 };
    sw_note note = { 0 };
    size_t n_left = 0;
    assert_ok(sw_svg_fix((const uint8_t *)text, strlen(text), "t.svg", &opts, &fixed, n_bridges, &n_left, &note), note);
    assert_int_equal(n_left, 0);
    *before = check_text(text);
    *after = check_text(fixed.data);
    if (after->vector.n_findings > 0) print_error("%s\n", fixed.data);
    assert_int_equal(after->vector.n_findings, 0);
    sw_text_free(&fixed);
}

static void a_large_ring_keeps_its_shape_and_gets_two_bridges(void **state)
{
    (void)state;
    static const char ring[] = LARGE("<path fill-rule='evenodd' d='M60 350a290 290 0 1 0 580 0a290 290 0 1 0 -580 0Z M130 350a220 220 0 1 0 "
                                     "440 0a220 220 0 1 0 -440 0Z'/>");
    sw_svg_check before, after;
    size_t n_bridges = 0;
    mend(ring, 5.0, &n_bridges, &before, &after);
    assert_int_equal(n_bridges, 2);
    assert_int_equal(after.n_contours, 2); /* two halves */
    /* each bridge adds its two edges of 70 mm and takes twice its width of outline away */
    assert_true(fabs(after.cut_length_mm - before.cut_length_mm - 2.0 * (2.0 * 70.0 - 2.0 * 5.1)) < 3.0);
    sw_svg_check_free(&before);
    sw_svg_check_free(&after);
}

static void what_droops_gets_more_bridges(void **state)
{
    (void)state;
    static const char plate[] = LARGE("<path fill-rule='evenodd' d='M100 100H500V250H100Z M115 115H485V235H115Z'/>");
    sw_svg_check before, after;
    size_t few = 0, more = 0;
    mend(plate, 0.0, &few, &before, &after);
    sw_svg_check_free(&before);
    sw_svg_check_free(&after);
    mend(plate, 5.0, &more, &before, &after);
    assert_int_equal(few, 2); /* 210 mm of side: one would let it turn */
    assert_true(more > few);
    sw_svg_check_free(&before);
    sw_svg_check_free(&after);
}

static void mending_survives_failing_memory(void **state)
{
    (void)state;
    const sw_svg_opts opts = { .min_opening_mm = 3.0, .min_web_mm = 5.0 };
    const size_t live = sw_alloc_fail_at(0);
    sw_status st = SW_NO_MEMORY;
    for (size_t nth = 1; st != SW_OK && nth < 3000; nth++) {
        sw_text fixed = { 0 };
        size_t n_bridges = 0, n_left = 0;
        sw_alloc_fail_at(nth);
        st = sw_svg_fix((const uint8_t *)islands[2], strlen(islands[2]), "t.svg", &opts, &fixed, &n_bridges, &n_left, NULL);
        sw_text_free(&fixed);
        assert_int_equal(sw_alloc_fail_at(0), live);
        assert_true(st == SW_OK || st == SW_NO_MEMORY);
    }
    assert_int_equal(st, SW_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fault_is_found_where_it_is), cmocka_unit_test(sound_drawings_have_no_findings),
        cmocka_unit_test(widths_are_measured),             cmocka_unit_test(drawings_are_told_by_their_content),
        cmocka_unit_test(nothing_leaks_when_memory_is_out), cmocka_unit_test(every_island_gets_a_bridge_and_holds),
        cmocka_unit_test(an_island_is_bridged_within_its_panel),
        cmocka_unit_test(a_large_ring_keeps_its_shape_and_gets_two_bridges),
        cmocka_unit_test(what_droops_gets_more_bridges),
        cmocka_unit_test(mending_survives_failing_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
