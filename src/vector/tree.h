/* The document as a tree: what expat reads, kept for the walk, because `use` may point forwards. Private. */
#ifndef SW_VECTOR_TREE_H
#define SW_VECTOR_TREE_H

#include "vector/vector.h"

#define NO_NODE SIZE_MAX

typedef struct tree_attribute {
    size_t name, value; /* offsets in text */
} tree_attribute;

typedef struct tree_node {
    size_t name;                       /* offset in text, without a "svg:" prefix */
    size_t first_attribute, n_attributes;
    size_t content;                    /* offset in text of what a desc says; 0 for none */
    size_t parent, first_child, last_child, next;
    size_t line, byte_begin, byte_end;
} tree_node;

typedef struct tree {
    tree_node *nodes;
    size_t n_nodes, cap_nodes;
    tree_attribute *attributes;
    size_t n_attributes, cap_attributes;
    sw_text text;
    struct tree_id *ids;               /* nodes that have an id, in order of it: many `use` look up many */
    size_t n_ids;
} tree;

/** Parse bytes. Returns SW_OK, SW_BAD_FILE, SW_TOO_LARGE, SW_NO_MEMORY; *out is freed by tree_free in every case. */
sw_status tree_read(const uint8_t *bytes, size_t n, const char *name, tree *out, sw_note *note);
void tree_free(tree *t);

const char *tree_name(const tree *t, size_t node);
/** An attribute's value, or NULL. */
const char *tree_attribute_of(const tree *t, size_t node, const char *name);
/** The first node with this id, or NO_NODE. */
size_t tree_find_id(const tree *t, const char *id);

#endif
