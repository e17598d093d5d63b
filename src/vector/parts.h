/* Between the files of src/vector/: affine maps, attribute values, path data. */
#ifndef SW_VECTOR_PARTS_H
#define SW_VECTOR_PARTS_H

#include "vector/vector.h"

/** x' = a x + c y + e, y' = b x + d y + f (SVG 1.1, 7.4). */
typedef struct affine {
    double a, b, c, d, e, f;
} affine;

static const affine affine_identity = { 1.0, 0.0, 0.0, 1.0, 0.0, 0.0 };

affine affine_times(affine outer, affine inner); /* inner first */
sw_pt_mm affine_map(const affine *m, double x, double y);

/** Read one SVG number at *p and move past it and one separator (spaces, a comma); false if there is none. */
bool take_number(const char **p, double *out);

/** A transform attribute; false when it cannot be read. */
bool parse_transform(const char *text, affine *out);

/** A length in user units at 96 a inch (CSS 2.1, 4.3.2); percent is of percent_of. False when it is none. */
bool parse_length(const char *text, double percent_of, double *out);
/** True if a length has an absolute unit (mm, cm, in, pt, pc, px or none counts as px). */
bool has_real_unit(const char *text);

/** Value of a CSS property within a style attribute; copied into out; false if it is not there. */
bool find_style(const char *style, const char *property, char *out, size_t size);

/** Take up the panels that a desc within a layer names, if it does. False when memory is out. */
bool read_panels(sw_vector *vector, const char *layer, const affine *to_mm, const char *text);

/** A contour being drawn in user units and mapped to mm on the way. */
typedef struct pen {
    affine to_mm;
    sw_contours *closed;      /* finished contours go here */
    sw_vector *vector;        /* open paths become findings here */
    const char *shape;        /* for findings */
    size_t line;
    bool is_filled;           /* a filled open path is closed by a line, as the renderer does; an unfilled one is open */
    bool is_drawing;          /* drawn and not cut: an open path is none of our business */
    sw_contour now;
    double x, y, start_x, start_y; /* user units */
    bool has_start, is_broken; /* is_broken: memory is out */
} pen;

void pen_move(pen *p, double x, double y);
void pen_line(pen *p, double x, double y);
void pen_cubic(pen *p, double x1, double y1, double x2, double y2, double x, double y);
void pen_quad(pen *p, double x1, double y1, double x, double y);
/** Elliptical arc by end points (SVG 1.1, F.6). */
void pen_arc(pen *p, double rx, double ry, double rotation_deg, bool is_large, bool is_sweep, double x, double y);
void pen_close(pen *p);
/** End the path: what is not closed yet becomes a finding, or is closed when it is filled. */
void pen_end(pen *p);

/** Path data (SVG 1.1, 8.3). False where it stops making sense; everything before that is drawn, as SVG asks. */
bool draw_path_data(pen *p, const char *d);

#endif
