#include <fcntl.h>
#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "block.h"

uint64_t draw(uint64_t *state) // splitmix64
{
	uint64_t z = *state += 0x9e3779b97f4a7c15u;
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
	z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
	return z ^ (z >> 31);
}

static float uniform(uint64_t bits) // in (0, 1), of the upper 24 bits
{
	return ((float)(bits >> 40) + 0.5f) * 0x1p-24f;
}

double draw_gauss(uint64_t *state)
{
	float r = sqrtf(-2 * logf(uniform(draw(state))));
	return r * cosf((float)(2 * M_PI) * uniform(draw(state)));
}

enum { PLANES = 2 * (TABLE + BLOCK) * sizeof(float) }; // bytes of a table's I and Q

static struct table *new_table(double rate, float *planes)
{
	struct table *t = malloc(sizeof *t);
	if (!planes)
		planes = malloc(PLANES);
	if (!t || !planes) {
		fputs("librtlsdr stand-in: no memory for noise\n", stderr);
		abort();
	}
	*t = (struct table){.rate = rate, .re = planes, .im = planes + TABLE + BLOCK};
	return t;
}

// kept names the file in which processes leave the white table of seed 1 to each other.
static bool kept(char *path, size_t size, uint64_t seed)
{
	const char *folder = getenv("NIGHTFLOOR_STANDIN_TABLES");
	return folder && seed == 1 && snprintf(path, size, "%s/white", folder) < (int)size;
}

static float *find(const char *path)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	if (fd < 0)
		return NULL;
	struct stat is;
	void *p = MAP_FAILED;
	if (fstat(fd, &is) == 0 && is.st_size == PLANES)
		p = mmap(NULL, PLANES, PROT_READ, MAP_PRIVATE, fd, 0);
	close(fd);
	return p == MAP_FAILED ? NULL : p;
}

// keep writes the file, whole at once. Where it cannot the next process makes its own table.
static void keep(const char *path, const float *planes)
{
	char fresh[1024];
	if (snprintf(fresh, sizeof fresh, "%s.XXXXXX", path) >= (int)sizeof fresh)
		return;
	int fd = mkstemp(fresh);
	if (fd < 0)
		return;
	bool whole = write(fd, planes, PLANES) == PLANES;
	if (close(fd) != 0 || !whole || rename(fresh, path) != 0)
		unlink(fresh);
}

// close_ring lets a block that begins anywhere be read in one go.
static void close_ring(struct table *t)
{
	memcpy(t->re + TABLE, t->re, BLOCK * sizeof *t->re);
	memcpy(t->im + TABLE, t->im, BLOCK * sizeof *t->im);
}

// exactly takes the mean off and makes the mean square 1, so that the density of a
// long stretch owes nothing to the luck of the draw.
static void exactly(float *x)
{
	double sum = 0, squares = 0;
	for (int i = 0; i < TABLE; i++) {
		sum += x[i];
		squares += (double)x[i] * x[i];
	}
	double mean = sum / TABLE, scale = 1 / sqrt(squares / TABLE - mean * mean);
	for (int i = 0; i < TABLE; i++)
		x[i] = (float)((x[i] - mean) * scale);
}

static struct table *white(uint64_t seed)
{
	char path[1000];
	bool shared = kept(path, sizeof path, seed);
	float *found = shared ? find(path) : NULL;
	struct table *t = new_table(0, found);
	if (found)
		return t;
	uint64_t state = seed;
	for (int i = 0; i < TABLE; i++) { // Box and Muller's pairs
		float r = sqrtf(-2 * logf(uniform(draw(&state))));
		float turn = (float)(2 * M_PI) * uniform(draw(&state));
		t->re[i] = r * cosf(turn);
		t->im[i] = r * sinf(turn);
	}
	exactly(t->re);
	exactly(t->im);
	close_ring(t);
	if (shared)
		keep(path, t->re);
	return t;
}

enum { REACH = 48 }; // taps to either side

// taps gives the symmetric filter whose response is that of sky_pass.
static void taps(float *h, double rate, const struct control *c)
{
	enum { POINTS = 1024 };
	double response[POINTS];
	for (int k = 0; k < POINTS; k++) // at the middles, from 0 to half the rate
		response[k] = sky_pass(c, (k + 0.5) / POINTS * rate / 2);
	for (int n = 0; n <= REACH; n++) {
		double sum = 0;
		for (int k = 0; k < POINTS; k++)
			sum += response[k] * cos(M_PI * n * (k + 0.5) / POINTS);
		h[n] = (float)(sum / POINTS);
	}
}

static void filter(float *to, const float *from, const float *h)
{
	for (int i = 0; i < TABLE; i += LANES) {
		float near[LANES + 2 * REACH];
		for (int k = 0; k < LANES + 2 * REACH; k++)
			near[k] = from[(i + k - REACH) & (TABLE - 1)];
		lanes sum = load(near + REACH) * h[0];
		for (int n = 1; n <= REACH; n++)
			sum += (load(near + REACH - n) + load(near + REACH + n)) * h[n];
		store(to + i, sum);
	}
}

static bool fits(const struct table *t, double rate, const struct control *c)
{
	return t->rate == rate && (!rate || (t->droop == (bool)c->droop && t->if_width_hz == c->if_width_hz));
}

const struct table *table_for(double rate, const struct control *c)
{
	static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
	static struct table *all; // the white one is the first made, so the last
	double key = sky_shaped(c) ? rint(rate) : 0;

	pthread_mutex_lock(&lock);
	if (!all)
		all = white((uint64_t)c->seed);
	struct table *t = all, *plain = all;
	for (; plain->next; plain = plain->next)
		;
	while (t && !fits(t, key, c))
		t = t->next;
	if (!t) {
		float h[REACH + 1];
		taps(h, key, c);
		t = new_table(key, NULL);
		t->droop = c->droop;
		t->if_width_hz = c->if_width_hz;
		filter(t->re, plain->re, h);
		filter(t->im, plain->im, h);
		close_ring(t);
		t->next = all;
		all = t;
	}
	pthread_mutex_unlock(&lock);
	return t;
}
