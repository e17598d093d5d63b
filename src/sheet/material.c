/* Materials that sheets are cut from. Our own names; thickness, density and modulus are the middle of what makers' data
 * sheets and handbooks give for the kind (from memory, no single source): films and plastics by their resin, boards by
 * their usual density class. Paper and wood are weaker across the grain: the modulus is the lower direction's.
 * Smallest opening, smallest web and kerf are common practice, no source: thin films and boards go under a blade, which
 * removes nothing; a soft or flexing edge wants wider webs than a stiff sheet; boards from about 3 mm on go under a beam,
 * and parts as narrow as the board is thick char or break along the grain. The shop's data sheet decides. */
#include <string.h>

#include "sheet/sheet.h"

static const sw_material materials[] = {
    /* name, thickness, density, modulus; opening, web, kerf */
    { "plastic", 0.8, 905.0, 1400.0, 3.0, 5.0, 0.0 },      /* polypropylene sheet */
    { "film", 0.25, 1390.0, 4000.0, 3.0, 6.0, 0.0 },       /* polyester film */
    { "oiled-board", 0.5, 850.0, 3000.0, 3.0, 6.0, 0.0 },  /* paper board soaked in linseed oil */
    { "card", 1.0, 750.0, 2500.0, 3.0, 6.0, 0.0 },         /* pressed grey board */
    { "hardboard", 3.2, 950.0, 3500.0, 4.0, 7.0, 0.25 },
    { "plywood", 4.0, 650.0, 5000.0, 5.0, 8.0, 0.25 },     /* birch, three plies, across the face grain */
    { "acrylic", 2.0, 1190.0, 3100.0, 3.0, 6.0, 0.2 },
};

const sw_material *sw_material_at(size_t i) { return i < SW_ARRAY_LEN(materials) ? &materials[i] : NULL; }

const sw_material *sw_material_find(const char *name)
{
    if (name == NULL) return &materials[0];
    for (size_t i = 0; i < SW_ARRAY_LEN(materials); i++)
        if (strcmp(materials[i].name, name) == 0) return &materials[i];
    return NULL;
}
