/* Noise, random streams and colour ramps: all from one integer hash, so that they are the same everywhere. */
#include "canvas.h"

#include <stdio.h>
#include <stdlib.h>

_Noreturn void die(const char *why)
{
    fprintf(stderr, "draw: %s\n", why);
    exit(3);
}

uint32_t hash2(int32_t x, int32_t y, uint32_t seed)
{
    uint32_t h = (uint32_t)x * 0x9e3779b1u ^ (uint32_t)y * 0x85ebca77u ^ seed * 0xc2b2ae3du;
    h ^= h >> 15;
    h *= 0x2c1b3c6du;
    h ^= h >> 12;
    h *= 0x297a2d39u;
    h ^= h >> 15;
    return h;
}

double hash01(int32_t x, int32_t y, uint32_t seed) { return (double)hash2(x, y, seed) / 4294967296.0; }

/* The last part of hash2, for corners that share the first. */
static double corner(uint32_t h)
{
    h ^= h >> 15;
    h *= 0x2c1b3c6du;
    h ^= h >> 12;
    h *= 0x297a2d39u;
    h ^= h >> 15;
    return (double)h / 4294967296.0;
}

/* Most of the time of every picture goes here. */
double noise2(double x, double y, uint32_t seed)
{
    const int32_t tx0 = (int32_t)x, ty0 = (int32_t)y;
    const int32_t ix = tx0 - (x < (double)tx0), iy = ty0 - (y < (double)ty0); /* floor, without the call */
    const double tx = x - (double)ix, ty = y - (double)iy;
    const double ux = tx * tx * tx * (tx * (tx * 6.0 - 15.0) + 10.0);
    const double uy = ty * ty * ty * (ty * (ty * 6.0 - 15.0) + 10.0);
    const uint32_t s = seed * 0xc2b2ae3du, x0 = (uint32_t)ix * 0x9e3779b1u, x1 = x0 + 0x9e3779b1u;
    const uint32_t y0 = (uint32_t)iy * 0x85ebca77u ^ s, y1 = ((uint32_t)iy + 1u) * 0x85ebca77u ^ s;
    const double a = lerp(corner(x0 ^ y0), corner(x1 ^ y0), ux), b = lerp(corner(x0 ^ y1), corner(x1 ^ y1), ux);
    return 2.0 * lerp(a, b, uy) - 1.0;
}

double fbm(double x, double y, int octaves, uint32_t seed)
{
    double sum = 0.0, gain = 0.5;
    for (int i = 0; i < octaves; i++) {
        sum += gain * noise2(x, y, seed + (uint32_t)i);
        /* turned a little each time so that the lattice does not show */
        const double nx = 1.6 * x - 1.2 * y, ny = 1.2 * x + 1.6 * y;
        x = nx;
        y = ny;
        gain *= 0.5;
    }
    return sum;
}

double rnd(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u); /* splitmix64, Steele, Lea and Flood 2014 */
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    z ^= z >> 31;
    return (double)(z >> 11) / 9007199254740992.0;
}

double rnd_range(uint64_t *state, double lo, double hi) { return lerp(lo, hi, rnd(state)); }

col ramp(const col *stops, int n, double t)
{
    const double at = clamp01(t) * (double)(n - 1);
    const int i = at >= (double)(n - 1) ? n - 2 : (int)at;
    return mix(stops[i], stops[i + 1], at - (double)i);
}
