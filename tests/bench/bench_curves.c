/* Node reduction against the tracer's own curve optimisation, on masks given as PGM files (P5, 0 is material).
 * usage: bench_curves MASK.pgm... ; prints one line a mask and tolerance. */
#include <math.h>
#include <potracelib.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include "contour/contour.h"

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

int main(int argc, char **argv)
{
    double tol[]={0.1,0.1,0.25,0.5,1};
    for (int a = 1; a < argc; a++) {
        FILE *f = fopen(argv[a], "rb"); int w,h;
        if (!f || fscanf(f, "P5\n%d %d\n255", &w, &h)!=2) return 2;
        fgetc(f);
        sw_mask m; if (sw_mask_make((size_t)w,(size_t)h,&m,NULL)) return 3;
        if (fread(m.at,1,(size_t)w*(size_t)h,f)==0) return 3;
        fclose(f);
        sw_grid g={(size_t)w,(size_t)h,2.0};
        printf("%s", argv[a]);
        for(size_t k=0;k<5;k++){ sw_contours c={0}; double best=1e9; 
         for(int r=0;r<1;r++){ sw_contours_free(&c); double t=now_ms(); if(sw_contours_trace(&m,&g,&(sw_trace_opts){.tolerance_mm=tol[k]},&c,NULL)) return 3; t=now_ms()-t; if(t<best)best=t;}
         size_t n=0; for(size_t i=0;i<c.n;i++) n+=c.at[i].n_segs;
         printf("  %g: %zu (%.1f ms)", tol[k], n, best); sw_contours_free(&c);}
        printf("\n"); sw_mask_free(&m);
    }
}
