// The time that the stand-in goes by: the host's monotonic clock, until the program
// takes the time into its own hands. Then it goes on only while the program waits
// for it: nothing comes late or is lost for want of a processor, and what a test
// waits for takes no longer than making the samples does.
#ifndef STANDIN_CLOCK_H
#define STANDIN_CLOCK_H

#include <stdint.h>

// standin_now takes the time into the program's hands, and gives it in nanoseconds.
int64_t standin_now(void);

// standin_run lets the time go on to a moment, or until a buffer was delivered, and
// returns once all who stream wait again. It gives 0 where the time stands: a dongle
// is open and nobody streams from it, so that the program is about to do something. If
// alone, nothing but the time can end the waiting, and dongles do not count of which the
// stream has ended since they were pulled out.
int standin_run(int64_t until, int alone);

// standin_hung tells how many calls hang. While one does, the program waits for it or has
// given it up, and the time goes on.
int standin_hung(void);

#pragma GCC visibility push(hidden)

double clock_s(void);           // the time in seconds
void clock_nap(double s);       // waits in the thread that streams
void clock_delivered(void);     // a buffer was: the program sees to it first
void clock_count(int dongles, int streams); // so many more are open, and streamed from
void clock_over(int more);      // so many more streams have ended for good
void clock_hang(int calls);     // so many more calls hang

#pragma GCC visibility pop
#endif
