/* Progress and interruption: the two things a running job exchanges with whoever waits for it. */
#include <stdatomic.h>

#include "base/base.h"

static atomic_bool is_asked_to_stop; /* set by a signal, read by every worker; lock-free wherever the program is built */

void sw_progress_tell(const sw_progress *progress, const char *stage, double done_ratio)
{
    if (progress != NULL && progress->tell != NULL) progress->tell(progress->ctx, stage, sw_clamp(done_ratio, 0.0, 1.0));
}

void sw_interrupt(void) { atomic_store(&is_asked_to_stop, true); }

bool sw_is_interrupted(void) { return atomic_load(&is_asked_to_stop); }
