// What a dongle hears: from the sky and the settings of the moment to noise and
// tones in full-scale units. A tone of |z| = 1 stands at 0 dBFS.
#ifndef STANDIN_SKY_H
#define STANDIN_SKY_H

#include <stdbool.h>
#include <stdint.h>
#include "control.h"
#pragma GCC visibility push(hidden)

#define CRYSTAL_HZ 28.8e6 // nominal

// Settings are what the program has asked of the dongle.
struct settings {
	uint32_t hz;         // asked of set_center_freq
	bool locked;         // whether the tuner's oscillator locked on it
	uint64_t tuning;     // counts the tunings: phases hold within one
	int correction;      // ppm
	uint32_t rtl_xtal, tuner_xtal;
	double rate;         // realised by the resampler, nominal crystal
	int gain;            // tenths of dB, in effect when the tuner is on
	int label;           // tenths of dB, as last asked; a fresh tuner does not change it
	bool manual;
	bool agc, test;      // of the chip
	int direct;          // 0, 1 for I, 2 for Q
	bool offset_tuning;
	double drift_db, drift_ppm; // what its temperature has made of it meanwhile
};

struct tone {
	double step; // cycles a sample
	float level; // amplitude
	int id;      // whose phase it keeps when other things change
};

// A carrier is up to three tones, upright and mirrored; the converter's oscillator is one.
// Behind them come products of the second order.
enum {
	FIRST_PRODUCT = 6 * MAX_CARRIERS + 1,
	MAX_PRODUCTS = 256,
	MAX_TONES = FIRST_PRODUCT + MAX_PRODUCTS
};

struct table; // of noise, see samples.h

// A reception is everything that decides how samples come out, from one sample on.
struct reception {
	uint64_t from; // on the sample clock
	uint64_t tuning;
	double rate;   // true samples a second
	bool test, agc;
	float sd;      // of the noise in I, and in Q
	float dc, image; // amplitudes
	float bend;      // third order: an amplitude a comes out as a·(1 − bend·a²); 0: linear
	const struct table *noise;
	int tones;
	struct tone tone[MAX_TONES];
	struct reception *next;
};

// sky_receive says what is received with these settings under this sky; from, noise
// and next are left to the caller.
void sky_receive(struct reception *r, const struct settings *s, const struct control *c);

// sky_true_rate gives the true sample rate: the crystal's error and the correction in.
double sky_true_rate(const struct settings *s, const struct control *c);

// sky_pass gives the amplitude with which the tuner's and the decimation filter pass an
// offset, and sky_shaped tells whether it is another than 1.
double sky_pass(const struct control *c, double offset_hz);
bool sky_shaped(const struct control *c);

// sky_gains gives the nominal gain steps of a tuner in tenths of dB, and their number.
int sky_gains(enum rtlsdr_tuner tuner, const int **steps);

#pragma GCC visibility pop
#endif
