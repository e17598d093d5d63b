/* Inside src/job/ only: the parts of job.html. */
#ifndef SW_JOB_HTML_H
#define SW_JOB_HTML_H

#include "job/job.h"

/** The page's own style sheet and script: plain text without "</", ready to stand inside their elements. */
extern const char sw_html_style[], sw_html_script[];

/** Closed curves as SVG path data in whole units of unit_mm, shifted by (dx_mm, dy_mm) first: relative commands, and
 *  what is less than a unit is left out. A fifth of the size of layers.svg. */
void sw_html_add_path(sw_text *out, const sw_contours *contours, double dx_mm, double dy_mm, double unit_mm);

/** Plain words for a colour, like "dark strong teal": a swatch alone says nothing on a grey print. out: size bytes. */
void sw_html_colour_words(sw_rgb8 colour, char *out, size_t size);

/** A pass's paint in words: its name if it has one, the plain words, the number. */
void sw_html_add_paint(sw_text *out, const sw_job *job, size_t pass);

/** A square in the paint's colour with the pass number in it. */
void sw_html_add_swatch(sw_text *out, sw_rgb8 paint, size_t pass);

/** A place on the wall. dx_mm, up_mm: from the artwork's lower left corner; the page adds where that stands. is_full: say
 *  from where. */
void sw_html_add_place(sw_text *out, double dx_mm, double up_mm, bool is_full);

/** The steps from reading the cautions to the last photograph, as a list to tick (html_steps.c). */
void sw_html_add_steps(sw_text *out, const sw_job *job);

/** Panels with thumbnails, and bridges to touch up (html_parts.c). */
void sw_html_add_panels(sw_text *out, const sw_job *job);
void sw_html_add_bridges(sw_text *out, const sw_job *job);
/** Numbered rings on the bridges to touch up, for the viewer, in whole units of unit_mm. */
void sw_html_add_bridge_rings(sw_text *out, const sw_job *job, double unit_mm);

/** Openings used again, where --reuse left copies out; nothing otherwise (repeats.c). */
void sw_html_add_reuse(sw_text *out, const sw_job *job);
/** The step of a pass that uses openings again, if it has any. */
void sw_html_add_reuse_step(sw_text *out, const sw_job *job, size_t pass);

/** Key windows, for the section on lining up; nothing if there are none (keys.c). */
void sw_html_add_keys(sw_text *out, const sw_job *job);

/** Time and material: the whole estimate, and the rates used (estimates.c). */
void sw_html_add_estimates(sw_text *out, const sw_job *job);

#endif
