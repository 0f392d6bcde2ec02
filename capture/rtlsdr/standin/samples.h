// From a reception to bytes: noise off a table, tones off rotators, 8-bit codes.
#ifndef STANDIN_SAMPLES_H
#define STANDIN_SAMPLES_H

#include "sky.h"
#pragma GCC visibility push(hidden)

// A table is a stretch of complex Gaussian noise, white or shaped by the filters, of variance 1 in I and in Q before the shaping. It repeats itself; a walk
// hides that.
struct table {
	double rate; // of the shaping; 0: white
	double if_width_hz;
	bool droop;
	float *re, *im;
	struct table *next;
};

// A walk makes noise off a table: two readings of it at places drawn anew every so
// often, added, and turned in frequency by a draw. What is left of the table's own
// spectrum is smeared out.
struct walk {
	uint64_t draws;
	const struct table *table;
	uint32_t at[2], left;
	double phase, step; // cycles
};

// A mixer holds what lasts from one block of samples to the next.
struct mixer {
	struct walk walk;
	uint64_t draws;
	uint64_t tuning;
	double phase[MAX_TONES]; // cycles
};

// table_for gives the noise for a rate; without filters any rate has the same. Tables
// stay for the life of the process.
const struct table *table_for(double rate, const struct control *c);

void mixer_start(struct mixer *m, uint64_t seed);

// mixer_fill writes n samples, the first of which is number at on the sample clock.
void mixer_fill(struct mixer *m, const struct reception *r, uint64_t at, uint32_t n,
		unsigned char *out);

// mixer_skip passes over n samples without making them.
void mixer_skip(struct mixer *m, const struct reception *r, uint64_t n);

uint64_t draw(uint64_t *state);      // 64 random bits
double draw_gauss(uint64_t *state);  // mean 0, variance 1

#pragma GCC visibility pop
#endif
