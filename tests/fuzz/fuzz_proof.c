/* Fuzz target: a panel's curves from bytes, through the whole proof. What may be wrong with curves may be here: open,
 * crossing, empty, not a number, far away. The verdict must be consistent with the counts and the same for any number
 * of threads. */
#include "../proof_support.h"
#include "replay.h"

#include <string.h>

typedef struct reader {
    const uint8_t *at;
    size_t n;
} reader;

static uint8_t take_byte(reader *in)
{
    if (in->n == 0) return 0;
    in->n--;
    return *in->at++;
}

/* Tenths of a millimetre around a panel of 64 mm, or now and then what no writer should ever print. */
static double take_mm(reader *in)
{
    static const double odd[] = { NAN, INFINITY, -INFINITY, 1e300, -4e5, 4e5, 1e-300, 0.0 };
    const uint8_t high = take_byte(in), low = take_byte(in);
    if (high >= 0xf8) return odd[low % 8];
    return (double)(high % 4 * 256 + low) / 10.0 - 10.0;
}

static sw_pt_mm take_point(reader *in)
{
    const double x = take_mm(in);
    return (sw_pt_mm){ x, take_mm(in) };
}

static void take_contour(reader *in, sw_contours *list)
{
    const uint8_t how = take_byte(in);
    sw_contour contour = { .start = take_point(in) };
    for (int i = 0; i < (how & 15) && in->n > 0; i++) {
        const sw_pt_mm a = take_point(in);
        if ((how & 16) != 0) {
            must(sw_contour_add_line(&contour, a));
        } else {
            const sw_pt_mm b = take_point(in);
            must(sw_contour_add_cubic(&contour, a, b, take_point(in)));
        }
    }
    if ((how & 32) == 0) must(sw_contour_add_line(&contour, contour.start));
    must(sw_contours_take(list, &contour, NULL) == SW_OK);
}

static void check(const sw_proof_panel *one, const sw_proof_panel *two)
{
    const bool is_clean = one->n_pieces == 1 && one->n_open_contours + one->n_crossings + one->n_outside == 0 &&
                          one->n_narrow_webs + one->n_narrow_openings == 0;
    must(one->is_good == is_clean);
    must(!one->is_good || one->n_faults == 0);
    must(one->n_pieces == two->n_pieces && one->n_crossings == two->n_crossings);
    must(one->n_narrow_webs == two->n_narrow_webs && one->n_narrow_openings == two->n_narrow_openings);
    must(one->narrowest_web_mm == two->narrowest_web_mm && one->narrowest_opening_mm == two->narrowest_opening_mm);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    reader in = { bytes, n };
    if (n > 4096) return 0;
    sw_panel panel = blank_panel(64, 64);
    const sw_proof_opts opts = { .min_opening_mm = 1.0 + take_byte(&in) % 8, .min_web_mm = 1.0 + take_byte(&in) % 8 };
    while (in.n > 0) take_contour(&in, in.n % 7 == 0 ? &panel.marks : &panel.openings);
    const sw_layout layout = { .panels = &panel, .n_panels = 1 };
    const sw_grid grid = { 40, 40, 0.5 };
    const sw_separation separation = { .grid = grid, .n_passes = 1, .colour = { { 255, 255, 255 }, { 1, 2, 3 } } };
    sw_proof proofs[2] = { { 0 }, { 0 } };
    for (int k = 0; k < 2; k++) {
        sw_picture wall = { 0 };
        sw_threads_set(1 + k);
        must(sw_proof_make(&layout, &grid, &separation, NULL, &opts, NULL, &proofs[k], &wall, NULL) == SW_OK);
        sw_picture_free(&wall);
    }
    sw_threads_set(0);
    check(&proofs[0].panels[0], &proofs[1].panels[0]);
    sw_text why = { 0 };
    sw_proof_explain(&proofs[0], &layout, &why);
    must((why.size == 0) == proofs[0].is_good);
    sw_text_free(&why);
    sw_proof_free(&proofs[0]);
    sw_proof_free(&proofs[1]);
    free_panel(&panel);
    return 0;
}
