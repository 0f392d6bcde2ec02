// The control file: what a test says about the stand-in's dongles and sky.
// README.md lists every key with its unit and default.
#ifndef STANDIN_CONTROL_H
#define STANDIN_CONTROL_H

#include <stdbool.h>
#include "abi.h"
#pragma GCC visibility push(hidden)

enum { MAX_DEVICES = 8, MAX_CARRIERS = 64, MAX_TEXT = 256 };

struct carrier {
	double hz, dbm;
	double depth, tone_hz; // of the modulation; depth 0: none
};

struct control {
	// the dongles
	double devices;
	char serial[MAX_DEVICES][MAX_TEXT], manufacturer[MAX_TEXT], product[MAX_TEXT];
	enum rtlsdr_tuner tuner;
	double plugged, busy, denied, kernel_driver, refuse;
	double pull_after_s, pull_s;
	// the stream
	double pace, queue_s, reset_flushes, wedge, empty, short_reads, patient, lose, stall_ms, seed;
	char status[4096], hang[16]; // hang: the call that does not return
	// the receiver
	double ppm, lock_above_hz, figure_db, fullscale_dbm, gain_error_db;
	double dc_dbfs, image_dbc; // -INFINITY: none
	double stuck_db;           // -INFINITY: gain obeys
	double slope_db_mhz;       // about 10 MHz
	double if_width_hz;        // 0: as wide as the passband
	double drift_db_h, age_s;
	double warm_db, warm_ppm, warm_s; // warm_s 0: it is warm
	double ip3_dbm, ip2_dbm;   // INFINITY: linear
	double imd_dbm_hz, imd_order; // -INFINITY: none
	double droop, builtin_upconverter;
	int branch; // of direct sampling: 1 is I, 2 is Q
	// the sky
	double noise_dbm_hz, antenna_db, terminated, attenuator_db;
	double enr_db, source; // -INFINITY: no noise source
	double upconverter_hz, lo_leak_dbm; // 0 and -INFINITY: none
	int carriers;
	struct carrier carrier[MAX_CARRIERS];
};

// A stamp tells one version of the file from the next.
struct stamp {
	long long seconds, nanoseconds, size, inode;
};

// control_read reads the file that NIGHTFLOOR_STANDIN names; without the variable
// there are no devices. A file that cannot be read or understood ends the process.
void control_read(struct control *c, struct stamp *s);

// control_changed reads the file again if it is no longer the one of s, and tells
// whether it did. A file that is gone, empty or ends inside a line counts as being
// written just now: it is looked at again the next time.
bool control_changed(struct control *c, struct stamp *s);

#pragma GCC visibility pop
#endif
