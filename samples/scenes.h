/* The sample pictures: each fills a canvas made for its own design size. */
#ifndef SAMPLES_SCENES_H
#define SAMPLES_SCENES_H

#include "canvas.h"

void heron_draw(canvas *c);      /* 3000 x 2000 */
void heron_bird_draw(canvas *c); /* the bird alone, in its own units */
void heron_bird_outline(path *p);
void regatta_draw(canvas *c);    /* 2400 x 3200 */
void harbour_draw(canvas *c);    /* 3000 x 2000 */
void harbour_far_boats(canvas *c);
void harbour_boats(canvas *c);
void harbour_lens(canvas *c);
void harbour_sensor(canvas *c, double noise); /* vignette and noise; 1 is the harbour's */
void wall_draw(canvas *c);       /* 3000 x 2000 */
void wall_corners_print(void);   /* pixels of the known rectangle at that size, clockwise from the top left */
void sketch_draw(canvas *c);     /* 3000 x 2250 */
void figurehead_draw(canvas *c); /* 2400 x 3000 */
void figurehead_face(canvas *c);

#endif
