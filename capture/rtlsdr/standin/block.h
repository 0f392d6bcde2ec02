// Four floats at a time, and the sizes the noise table and its readers share.
#ifndef STANDIN_BLOCK_H
#define STANDIN_BLOCK_H

#include <string.h>
#include "samples.h"

enum {
	TABLE = 1 << 21, // samples in a table of noise
	BLOCK = 1024,    // samples made in one go; a multiple of 2·LANES
	LANES = 4
};

typedef float lanes __attribute__((vector_size(4 * LANES)));
typedef int32_t whole_lanes __attribute__((vector_size(4 * LANES)));

static inline lanes load(const float *p)
{
	lanes v;
	memcpy(&v, p, sizeof v);
	return v;
}

static inline void store(float *p, lanes v)
{
	memcpy(p, &v, sizeof v);
}

#endif
