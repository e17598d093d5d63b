/*
 * draw: the sample pictures, made from nothing but this program. Same bytes every time.
 *
 * draw NAME OUT           at the picture's own size
 * draw NAME W H OUT       at W x H pixels; the design is scaled to cover them
 * draw -t N ...           with N threads (1 to 64); the bytes are the same
 * draw wall-corners       the four corners of the known rectangle in wallphoto.jpg, in pixels
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "scenes.h"

typedef struct scene {
    const char *name;
    double design_w, design_h;
    int w, h;
    void (*draw)(canvas *c);
} scene;

static const scene scenes[] = {
    { "heron", 3000.0, 2000.0, 3000, 2000, heron_draw },
    { "regatta", 2400.0, 3200.0, 2400, 3200, regatta_draw },
    { "sketch", 3000.0, 2250.0, 3000, 2250, sketch_draw },
    { "harbour", 3000.0, 2000.0, 3000, 2000, harbour_draw },
    { "figurehead", 2400.0, 3000.0, 2400, 3000, figurehead_draw },
    { "wallphoto", 3000.0, 2000.0, 3000, 2000, wall_draw },
};

enum { N_SCENES = sizeof scenes / sizeof scenes[0] };

static int usage(void)
{
    fputs("usage: draw [-t N] NAME [W H] OUT.png|OUT.jpg\nnames:", stderr);
    for (int i = 0; i < N_SCENES; i++) fprintf(stderr, " %s", scenes[i].name);
    fputc('\n', stderr);
    return 2;
}

/* 0 for anything that is not a whole number from lo to hi. */
static int number(const char *text, int lo, int hi)
{
    char *end = NULL;
    const long v = strtol(text, &end, 10);
    return *text != '\0' && *end == '\0' && v >= lo && v <= hi ? (int)v : 0;
}

int main(int argc, char **argv)
{
    if (argc > 3 && strcmp(argv[1], "-t") == 0) {
        const int threads = number(argv[2], 1, 64);
        if (threads == 0) return usage();
        sw_threads_set(threads);
        argv += 2;
        argc -= 2;
    }
    if (argc == 2 && strcmp(argv[1], "wall-corners") == 0) {
        wall_corners_print();
        return 0;
    }
    if (argc != 3 && argc != 5) return usage();
    const scene *s = NULL;
    for (int i = 0; i < N_SCENES; i++)
        if (strcmp(argv[1], scenes[i].name) == 0) s = &scenes[i];
    if (s == NULL) return usage();
    const int w = argc == 5 ? number(argv[2], 8, 20000) : s->w, h = argc == 5 ? number(argv[3], 8, 20000) : s->h;
    if (w == 0 || h == 0) return usage();
    canvas c = canvas_make(w, h, s->design_w, s->design_h);
    s->draw(&c);
    canvas_write(&c, argv[argc - 1]);
    canvas_free(&c);
    return 0;
}
