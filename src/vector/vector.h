/*
 * Vector work in: SVG that somebody drew or edited, as closed contours in mm, with what is wrong with it.
 *
 * Coordinates are mm from the document's top left corner, y down. Out parameters are untouched unless SW_OK.
 */
#ifndef SW_VECTOR_H
#define SW_VECTOR_H

#include "proof/proof.h"

/* kind, short name for JSON, words for people */
#define SW_FINDING_LIST(X)                                                                                             \
    X(SW_FIND_NO_SIZE, "no-size", "the file does not say how large it is")                                             \
    X(SW_FIND_OPEN_PATH, "open-path", "a path is not closed")                                                          \
    X(SW_FIND_CROSSING, "crossing", "an outline crosses itself or another")                                            \
    X(SW_FIND_OVERLAP, "overlap", "two shapes overlap")                                                                \
    X(SW_FIND_ISLAND, "island", "a piece of material would fall out")                                                  \
    X(SW_FIND_NARROW_WEB, "narrow-web", "material is too narrow")                                                      \
    X(SW_FIND_NARROW_OPENING, "narrow-opening", "an opening is too narrow")                                            \
    X(SW_FIND_STROKE, "stroke", "a drawn line has no area and would be cut as a slit")                                 \
    X(SW_FIND_OUTSIDE, "outside", "a shape reaches outside the sheet")                                                 \
    X(SW_FIND_TEXT, "text", "lettering is still text and not outlines")                                                \
    X(SW_FIND_IMAGE, "image", "an embedded picture cannot be cut")                                                     \
    X(SW_FIND_UNSUPPORTED, "unsupported", "something in the file is not understood and was left out")                  \
    X(SW_FIND_NOTHING, "nothing", "there is nothing to cut in the file")

typedef enum sw_finding_kind {
#define SW_FINDING_ENUM(kind, name, words) kind,
    SW_FINDING_LIST(SW_FINDING_ENUM)
#undef SW_FINDING_ENUM
        SW_FINDING_END
} sw_finding_kind;

/** One fault and where it is. */
typedef struct sw_finding {
    sw_finding_kind kind;
    sw_pt_mm at;        /* where; for an open path its start */
    sw_pt_mm to;        /* an open path's end; else the same as at */
    double measure_mm;  /* width of something narrow, gap of an open path; 0 if it has none */
    size_t line;        /* in the file, 1..; 0 if not known */
    char shape[48];     /* id of the element, or its kind */
} sw_finding;

/** One drawn element that can be cut. */
typedef struct sw_vector_shape {
    sw_contours contours;     /* closed */
    bool is_even_odd;         /* fill rule */
    bool is_cut_line;         /* stroked, not filled: its outline is to be cut */
    char layer[48];           /* id of the group that makes it a sheet of its own; "" for none */
    char id[48];
    size_t line;
    size_t byte_begin, byte_end; /* the element's bytes in the file */
    double to_mm[6];          /* its own user units to mm: x' = [0] x + [2] y + [4], y' = [1] x + [3] y + [5] */
    bool is_reused;           /* drawn by a use element: its bytes stand for other shapes too */
} sw_vector_shape;

/** The part of a sheet that one panel paints. */
typedef struct sw_vector_panel {
    sw_rect_mm rect;
    char layer[48];           /* the sheet */
} sw_vector_panel;

/** A read document. Free with sw_vector_free. */
typedef struct sw_vector {
    double width_mm, height_mm;
    sw_vector_shape *shapes;
    size_t n_shapes, cap_shapes;
    sw_finding *findings;
    size_t n_findings, cap_findings;
    sw_vector_panel *panels;  /* of sheets that are split; the document says so itself */
    size_t n_panels, cap_panels;
} sw_vector;

/**
 * Read an SVG 1.1 document: svg (nested too), g, use, symbol, path with every command, rect, circle, ellipse, line,
 * polyline, polygon, transforms, desc (panels), presentation attributes and style attributes. Fuzzed; nothing
 * outside the file is read, and entities, nesting and reuse are limited.
 *
 * bytes, n   the file; name for messages
 * out        caller frees; holds the findings that show without measuring (open paths, text, images, no size)
 *
 * Returns SW_OK, SW_BAD_FILE (no SVG, broken XML), SW_TOO_LARGE (limits), SW_NO_MEMORY.
 */
SW_MUST_USE sw_status sw_vector_read(const uint8_t *bytes, size_t n, const char *name, sw_vector *out, sw_note *note);

/** Append a finding; false when memory is out. */
SW_MUST_USE bool sw_vector_add_finding(sw_vector *vector, const sw_finding *finding);

/** A kind's short name for scripts and its words for people; never NULL. */
const char *sw_finding_name(sw_finding_kind kind);
const char *sw_finding_words(sw_finding_kind kind);

/** NULL and zeroed are fine; leaves it zeroed. */
void sw_vector_free(sw_vector *vector);

#endif
