/* Sheets of a job: stack, smallest features, bridges. */
#include "sheet/sheet.h"

void sw_sheet_free(sw_sheet *sheet)
{
    if (sheet == NULL) return;
    sw_mask_free(&sheet->openings);
    sw_free(sheet->bridges);
    *sheet = (sw_sheet){ 0 };
}

void sw_sheets_free(sw_sheets *sheets)
{
    if (sheets == NULL) return;
    for (size_t i = 0; i < sheets->n && sheets->at != NULL; i++) sw_sheet_free(&sheets->at[i]);
    sw_free(sheets->at);
    *sheets = (sw_sheets){ 0 };
}
