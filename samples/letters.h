/* Capital letters as outlines of our own: no font file, so the same shapes on every machine. */
#ifndef SAMPLES_LETTERS_H
#define SAMPLES_LETTERS_H

#include "canvas.h"

/** Where a point of a straight line of text goes; for lettering along an arc. May be NULL. */
typedef pt (*warp_fn)(pt p, const void *ctx);

/** Width of the text at height 1. Letters, figures and signs that are not drawn here count as a space. */
double letters_width(const char *text, double gap);
/** Add the text: left edge x, top y, given height; gap between letters in heights. */
void letters_add(path *p, const char *text, double x, double y, double height, double gap, warp_fn warp, const void *ctx);

#endif
