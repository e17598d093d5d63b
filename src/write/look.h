/* Inside src/write/ only: how cut files look, the same in every format.
 *
 * Colours of what is cut, of the edge and of what is drawn are far apart in hue and in lightness, so that they differ on
 * a grey print and for a colour-blind eye as well. Taste; nothing reads a meaning into them. */
#ifndef SW_WRITE_LOOK_H
#define SW_WRITE_LOOK_H

#include "base/base.h"

static const sw_rgb8 sw_look_cut = { 0x7a, 0x0f, 0x5c };
static const sw_rgb8 sw_look_outline = { 0x1f, 0x8a, 0x70 };
static const sw_rgb8 sw_look_marks = { 0xd9, 0x90, 0x00 };

#endif
