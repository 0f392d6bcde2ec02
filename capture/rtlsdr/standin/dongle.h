// A dongle that a program has opened: its settings, its sample clock, and the changes
// that have been made but do not show in the samples yet.
#ifndef STANDIN_DONGLE_H
#define STANDIN_DONGLE_H

#include <pthread.h>
#include "clock.h"
#include "control.h"
#include "samples.h"
#include "sky.h"
#pragma GCC visibility push(hidden)

enum stream { INACTIVE = 0, CANCELING, RUNNING };

struct rtlsdr_dev {
	pthread_mutex_t lock; // guards all but the mixer, which the reading thread owns
	uint32_t index;
	bool closed, gone; // gone: unplugged, and lost for this handle
	bool over;         // its stream has ended for good
	struct control control;
	struct stamp stamp;
	struct settings settings;

	// The sample clock counts from the opening, at the true rate. With pace 1 it
	// follows the clock of clock.h; with pace 0 it stands at the next sample unread.
	double since_s;       // when base was set
	uint64_t base;        // the clock's count then
	uint64_t next;        // the next sample to hand out
	uint64_t lose;        // samples to drop at the next buffer
	double stall_s;       // pause before the next buffer
	double synced_s;      // when read_sync last ended
	double drifted_s;     // when its temperature was last looked at

	struct reception *now;     // what comes out at next
	struct reception *pending; // what will, oldest first

	enum stream stream;
	struct mixer mixer;
	double cpu_s; // of our own work, not reported yet

	struct rtlsdr_dev *older; // every dongle ever opened
};

// dongle_lock takes the lock and reads the control file again if it changed. Using a
// dongle that has been closed ends the process.
void dongle_lock(struct rtlsdr_dev *dev);
void dongle_unlock(struct rtlsdr_dev *dev);

// dongle_hang keeps a call from returning while the control file says that it hangs.
void dongle_hang(struct rtlsdr_dev *dev, const char *call);

// dongle_away tells whether all dongles are pulled out for a while.
bool dongle_away(void);

// dongle_pull does what the key pulled says, once.
void dongle_pull(const struct control *c);

// The rest is called with the lock held.

// dongle_clock gives the count of the sample clock now.
uint64_t dongle_clock(const struct rtlsdr_dev *dev);

// dongle_due gives the time at which sample n has been taken.
double dongle_due(const struct rtlsdr_dev *dev, uint64_t n);

// dongle_rebase lets the sample clock go on from here with another rate or pace.
// It is called before the change.
void dongle_rebase(struct rtlsdr_dev *dev);

// dongle_rescale lets what is in the queue wait for the same time at another rate,
// which is by so much the higher. It is called after dongle_rebase.
void dongle_rescale(struct rtlsdr_dev *dev, double by);

// dongle_changed puts settings and control as they are now into the queue, and gives
// the first sample that will show them.
uint64_t dongle_changed(struct rtlsdr_dev *dev);

// dongle_drift puts what temperature does meanwhile into the queue.
void dongle_drift(struct rtlsdr_dev *dev);

// dongle_flush lets everything in the queue show at once.
void dongle_flush(struct rtlsdr_dev *dev);

// dongle_fill makes n samples from dev->next on, and moves it. While samples are made
// the lock is let go.
void dongle_fill(struct rtlsdr_dev *dev, unsigned char *out, uint32_t n);

// dongle_status appends a line to the status file.
void dongle_status(const struct rtlsdr_dev *dev, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

// dongle_report_cpu appends the CPU time spent since the last report.
void dongle_report_cpu(struct rtlsdr_dev *dev);

double thread_cpu_s(void);

#pragma GCC visibility pop
#endif
