/* Progress and interruption: the two things a running job exchanges with whoever waits for it. */
#include <signal.h>

#include "base/base.h"

static volatile sig_atomic_t is_asked_to_stop;

void sw_progress_tell(const sw_progress *progress, const char *stage, double done_ratio)
{
    if (progress != NULL && progress->tell != NULL) progress->tell(progress->ctx, stage, sw_clamp(done_ratio, 0.0, 1.0));
}

void sw_interrupt(void) { is_asked_to_stop = 1; }

bool sw_is_interrupted(void) { return is_asked_to_stop != 0; }
