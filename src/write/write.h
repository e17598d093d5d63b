/*
 * Writers: bytes for the files of a job, and the folder that appears whole or not at all.
 *
 * A writer fills a sw_text with the whole file; the folder writes it beside and renames. Writers never compute
 * geometry. The same input gives the same bytes. Unless a comment says otherwise calls return SW_OK or SW_NO_MEMORY.
 */
#ifndef SW_WRITE_H
#define SW_WRITE_H

#include "proof/proof.h"

/* ---- the job folder (folder.c) -------------------------------------------------------------------- */

/** A job folder being written: files go into a new folder beside the wanted one until sw_folder_finish. */
typedef struct sw_folder sw_folder;

/** Whether sw_folder_begin could succeed now, so that a long job need not run first. Changes nothing. Same statuses. */
SW_MUST_USE sw_status sw_folder_check(const char *path, bool is_replace, sw_note *note);

/** Begin. Returns SW_EXISTS if path is there and is_replace is false, or is there and is not a job folder (a folder
 *  that holds a job.json); SW_BAD_USAGE if there is no parent, SW_IO if it cannot be written. *out is freed by sw_folder_free. */
SW_MUST_USE sw_status sw_folder_begin(const char *path, bool is_replace, sw_folder **out, sw_note *note);
/** Write one file; name may have one sub-folder ("cut/pass-1.svg"). Flushed and checked to the last byte. From several
 *  threads at once, if they like. */
SW_MUST_USE sw_status sw_folder_write(sw_folder *folder, const char *name, const void *bytes, size_t n, sw_note *note);
/** Put it in place with one rename (an exchange when something is replaced). */
SW_MUST_USE sw_status sw_folder_finish(sw_folder *folder, sw_note *note);
/** Free; whatever was not finished is removed. NULL is fine. */
void sw_folder_free(sw_folder *folder);

/** Whether sw_file_write could succeed now, so that long work need not come first. Changes nothing. Same statuses. */
SW_MUST_USE sw_status sw_file_check(const char *path, bool is_replace, sw_note *note);

/** Write one file beside its place and rename it there. Returns SW_OK, SW_EXISTS (and not is_replace), SW_BAD_USAGE (no
 *  such folder), SW_IO. */
SW_MUST_USE sw_status sw_file_write(const char *path, bool is_replace, const void *bytes, size_t n, sw_note *note);

/** Test hook, only in builds with SW_FAULTS: the nth write call from now fails with a full disk; 0 = none. */
void sw_write_fail_at(size_t nth);

/* ---- file formats ----------------------------------------------------------------------------------- */

/** One pass over the artwork. */
typedef struct sw_layer {
    size_t pass;
    sw_rgb8 paint;
    const char *paint_name;         /* may be NULL */
    const sw_contours *openings;    /* artwork coordinates */
    const sw_panel *panels;         /* a sheet that is split says where; those of other passes may be among them; NULL: none */
    size_t n_panels;
} sw_layer;

/** How the desc of a split pass's group begins; after it `NAME left top width height` of each panel's part of the artwork,
 *  apart by semicolons. */
#define SW_PANELS_DESC "panels, mm from left and top, wide, high: "

/** All passes over the artwork, user unit 1 mm. layers: n_layers entries in painting order. title may be NULL. *out: the
 *  file, caller frees. */
SW_MUST_USE sw_status sw_write_layers_svg(const sw_grid *grid, const char *title, const sw_layer *layers,
                                          size_t n_layers, sw_text *out, sw_note *note);

/** One panel's cut file. title may be NULL; stroke_mm: width of the hairline; *out: the file, caller frees. */
SW_MUST_USE sw_status sw_write_cut_svg(const sw_panel *panel, const char *title, double stroke_mm, sw_text *out,
                                       sw_note *note);

#define SW_MAX_PAGE_MM 5080.0 /* 14400 points, the largest page of PDF (ISO 32000-1 annex C, from memory) */

/**
 * Panels as PDF, one page a panel, pages as large as the panels: what a viewer prints at 100 % is true to size. Several
 * panels get an outline by pass. Drawn in the cut file's colours and order: marks, openings, edge, labels.
 * title may be NULL. Same bytes each time: no date.
 * Returns SW_OK, SW_BAD_LENGTH (a panel longer than SW_MAX_PAGE_MM), SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_write_cut_pdf(const sw_panel *panels, size_t n_panels, const char *title, double stroke_mm,
                                       sw_text *out, sw_note *note);

/** One panel as EPS, its lower left corner at the origin; the bounding box is the panel's edge, in whole points and
 *  exactly. title may be NULL. Same bytes each time: no date. Returns SW_OK, SW_BAD_LENGTH, SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_write_cut_eps(const sw_panel *panel, const char *title, double stroke_mm, sw_text *out,
                                       sw_note *note);

/** An 8-bit RGB PNG with its density (pHYs) when px_per_mm is above 0. Same bytes each time: no time stamp. */
SW_MUST_USE sw_status sw_write_png(const sw_picture *picture, double px_per_mm, sw_text *out, sw_note *note);

/** An 8-bit sRGB JPEG. quality: 1..100. Same bytes each time. Returns SW_OK, SW_TOO_LARGE (a side over 65500 pixels),
 *  SW_NO_MEMORY. */
SW_MUST_USE sw_status sw_write_jpeg(const sw_picture *picture, int quality, sw_text *out, sw_note *note);

/* ---- drawing on a picture (canvas.c): places in pixels of the canvas; what lies outside it is left out --------- */

/** Shade one pixel. ratio: 0 leaves it, 1 covers it. */
void sw_canvas_blend(sw_picture *canvas, int64_t x, int64_t y, sw_rgb8 colour, double ratio);
void sw_canvas_box(sw_picture *canvas, sw_pt_px from, sw_pt_px to, sw_rgb8 colour);
/** Round ends, soft edges. */
void sw_canvas_line(sw_picture *canvas, sw_pt_px a, sw_pt_px b, double width_px, sw_rgb8 colour);
/** The same in dashes, with gaps as long as they are. dash_px: above 0. */
void sw_canvas_dashes(sw_picture *canvas, sw_pt_px a, sw_pt_px b, double dash_px, double width_px, sw_rgb8 colour);
void sw_canvas_ring(sw_picture *canvas, sw_pt_px middle, double radius_px, double width_px, sw_rgb8 colour);
/** Lettering from base on; returns its width_px. */
double sw_canvas_text(sw_picture *canvas, sw_pt_px base, double capital_px, sw_rgb8 colour, const char *text);
/** The width_px lettering will have. */
double sw_canvas_text_width(double capital_px, const char *text);

#endif
