/* XML to a tree of plain arrays, through expat. Elements of other namespaces are left out with all they hold. Character
 * data is kept of desc only: SVG draws none of it but text, and text is only reported. */
#include "vector/tree.h"

#include <stdlib.h>
#include <string.h>

#include <expat.h>

#define MAX_NODES 400000u   /* a drawing of a hundred times the cut lines a shop would take */
#define MAX_DEPTH 200u
#define MAX_TEXT_BYTES 200000000u

typedef struct builder {
    tree *tree;
    XML_Parser parser;
    size_t node, depth, skip_depth; /* skip_depth > 0: inside an element of another namespace */
    sw_text said;                   /* by the desc being read */
    sw_status status;
} builder;

static void stop(builder *b, sw_status status)
{
    b->status = status;
    XML_StopParser(b->parser, XML_FALSE);
}

static size_t keep_text(builder *b, const char *string)
{
    const size_t at = b->tree->text.size;
    sw_text_add_bytes(&b->tree->text, string, strlen(string) + 1);
    if (b->tree->text.is_broken) stop(b, SW_NO_MEMORY);
    else if (b->tree->text.size > MAX_TEXT_BYTES) stop(b, SW_TOO_LARGE);
    return at;
}

static bool add_attributes(builder *b, tree_node *node, const char **attributes)
{
    tree *const t = b->tree;
    node->first_attribute = t->n_attributes;
    for (size_t i = 0; attributes[i] != NULL; i += 2) {
        void *data = t->attributes;
        if (!sw_grow(&data, &t->cap_attributes, t->n_attributes + 1, sizeof *t->attributes)) return false;
        t->attributes = data;
        const char *const colon = strchr(attributes[i], ':');
        const bool is_link = colon != NULL && strcmp(colon, ":href") == 0;
        t->attributes[t->n_attributes].name = keep_text(b, is_link ? "href" : attributes[i]);
        t->attributes[t->n_attributes].value = keep_text(b, attributes[i + 1]);
        t->n_attributes++;
    }
    node->n_attributes = t->n_attributes - node->first_attribute;
    return true;
}

static void XMLCALL on_start(void *ctx, const char *name, const char **attributes)
{
    builder *const b = ctx;
    tree *const t = b->tree;
    if (b->status != SW_OK) return;
    b->depth++;
    const char *const colon = strchr(name, ':');
    const bool is_other = colon != NULL && strncmp(name, "svg:", 4) != 0;
    if (b->skip_depth > 0 || is_other) {
        b->skip_depth++;
        return;
    }
    if (b->depth > MAX_DEPTH || t->n_nodes >= MAX_NODES) {
        stop(b, SW_TOO_LARGE);
        return;
    }
    tree_node node = { .parent = b->node,
                       .first_child = NO_NODE,
                       .last_child = NO_NODE,
                       .next = NO_NODE,
                       .line = (size_t)XML_GetCurrentLineNumber(b->parser),
                       .byte_begin = (size_t)XML_GetCurrentByteIndex(b->parser) };
    node.name = keep_text(b, colon != NULL ? colon + 1 : name);
    void *data = t->nodes;
    if (!add_attributes(b, &node, attributes) || !sw_grow(&data, &t->cap_nodes, t->n_nodes + 1, sizeof *t->nodes)) {
        stop(b, SW_NO_MEMORY);
        return;
    }
    t->nodes = data;
    const size_t self = t->n_nodes++;
    t->nodes[self] = node;
    if (b->node != NO_NODE) {
        tree_node *const parent = &t->nodes[b->node];
        if (parent->first_child == NO_NODE) parent->first_child = self;
        else t->nodes[parent->last_child].next = self;
        parent->last_child = self;
    }
    b->node = self;
}

/* Is a desc being read, and not what lies in it? */
static bool is_in_desc(const builder *b)
{
    return b->skip_depth == 0 && b->node != NO_NODE && strcmp(tree_name(b->tree, b->node), "desc") == 0;
}

static void XMLCALL on_text(void *ctx, const char *text, int n)
{
    builder *const b = ctx;
    if (b->status != SW_OK || !is_in_desc(b)) return;
    sw_text_add_bytes(&b->said, text, (size_t)n);
    if (b->said.is_broken) stop(b, SW_NO_MEMORY);
    else if (b->said.size > MAX_TEXT_BYTES) stop(b, SW_TOO_LARGE);
}

static void XMLCALL on_end(void *ctx, const char *name)
{
    (void)name;
    builder *const b = ctx;
    if (b->status != SW_OK) return;
    b->depth--;
    if (b->skip_depth > 0) {
        b->skip_depth--;
        return;
    }
    tree_node *const node = &b->tree->nodes[b->node];
    const size_t at = (size_t)XML_GetCurrentByteIndex(b->parser);
    /* an empty element <a/> ends where it begins, as far as expat counts: its bytes are those of the start tag */
    node->byte_end = at + (size_t)XML_GetCurrentByteCount(b->parser);
    if (is_in_desc(b) && b->said.size > 0) {
        node->content = keep_text(b, b->said.data);
        sw_text_free(&b->said);
    }
    b->node = node->parent;
}

typedef struct tree_id {
    const char *id; /* in the tree's text, which is complete by then */
    size_t node;
} tree_id;

/* By id, then as they stand in the file; a total order. */
static int by_id(const void *one, const void *two)
{
    const tree_id *const a = one, *const b = two;
    const int order = strcmp(a->id, b->id);
    return order != 0 ? order : a->node < b->node ? -1 : a->node > b->node;
}

static bool index_ids(tree *t)
{
    t->ids = sw_alloc_array(t->n_nodes, sizeof *t->ids);
    if (t->ids == NULL) return false;
    for (size_t node = 0; node < t->n_nodes; node++) {
        const char *const id = tree_attribute_of(t, node, "id");
        if (id != NULL) t->ids[t->n_ids++] = (tree_id){ id, node };
    }
    qsort(t->ids, t->n_ids, sizeof *t->ids, by_id);
    return true;
}

sw_status tree_read(const uint8_t *bytes, size_t n, const char *name, tree *out, sw_note *note)
{
    if (n > 500000000u) return sw_fail(note, SW_TOO_LARGE, "'%s' is larger than 500 MB; split it", name);
    XML_Parser const parser = XML_ParserCreate(NULL);
    if (parser == NULL) return sw_fail_memory(note, name);
    builder b = { .tree = out, .parser = parser, .node = NO_NODE, .status = SW_OK };
    XML_SetUserData(parser, &b);
    XML_SetElementHandler(parser, on_start, on_end);
    XML_SetCharacterDataHandler(parser, on_text);
    const enum XML_Status parsed = XML_Parse(parser, (const char *)bytes, (int)n, 1);
    sw_status st = b.status;
    if (st == SW_NO_MEMORY || XML_GetErrorCode(parser) == XML_ERROR_NO_MEMORY) {
        st = sw_fail_memory(note, name);
    } else if (st == SW_TOO_LARGE) {
        sw_fail(note, st, "'%s' has more elements or deeper groups than this can be asked to check; simplify it", name);
    } else if (parsed != XML_STATUS_OK) {
        st = sw_fail(note, SW_BAD_FILE, "'%s' is not well-formed XML: %s in line %lu", name,
                     XML_ErrorString(XML_GetErrorCode(parser)), (unsigned long)XML_GetCurrentLineNumber(parser));
    } else if (out->n_nodes == 0 || strcmp(tree_name(out, 0), "svg") != 0) {
        st = sw_fail(note, SW_BAD_FILE, "'%s' is XML but not SVG; its first element must be svg", name);
    }
    XML_ParserFree(parser);
    sw_text_free(&b.said);
    return st == SW_OK && !index_ids(out) ? sw_fail_memory(note, name) : st;
}

void tree_free(tree *t)
{
    sw_free(t->nodes);
    sw_free(t->attributes);
    sw_free(t->ids);
    sw_text_free(&t->text);
    *t = (tree){ 0 };
}

const char *tree_name(const tree *t, size_t node) { return t->text.data + t->nodes[node].name; }

const char *tree_attribute_of(const tree *t, size_t node, const char *name)
{
    const tree_node *const at = &t->nodes[node];
    for (size_t i = at->first_attribute; i < at->first_attribute + at->n_attributes; i++) {
        if (strcmp(t->text.data + t->attributes[i].name, name) == 0) return t->text.data + t->attributes[i].value;
    }
    return NULL;
}

size_t tree_find_id(const tree *t, const char *id)
{
    size_t lo = 0, hi = t->n_ids; /* the first that is not less */
    while (lo < hi) {
        const size_t middle = lo + (hi - lo) / 2;
        if (strcmp(t->ids[middle].id, id) < 0) lo = middle + 1;
        else hi = middle;
    }
    return lo < t->n_ids && strcmp(t->ids[lo].id, id) == 0 ? t->ids[lo].node : NO_NODE;
}
