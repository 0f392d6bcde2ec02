#include <math.h>

#include "block.h"

void mixer_start(struct mixer *m, uint64_t seed)
{
	*m = (struct mixer){.draws = seed * 2 + 1, .walk.draws = ~seed, .tuning = ~(uint64_t)0};
}

static double fraction(double cycles)
{
	return cycles - floor(cycles);
}

static double draw_phase(uint64_t *state)
{
	return (double)(draw(state) >> 11) * 0x1p-53;
}

// A rotator holds 2·LANES consecutive values of a turning phasor.
struct rotator {
	lanes re[2], im[2];
	float step_re, step_im; // by which all of them turn at once
};

static struct rotator rotator_at(double phase, double step, double level)
{
	struct rotator z;
	double c = cos(2 * M_PI * step), s = sin(2 * M_PI * step);
	double re = level * cos(2 * M_PI * phase), im = level * sin(2 * M_PI * phase);
	for (int k = 0; k < 2 * LANES; k++) {
		z.re[k / LANES][k % LANES] = (float)re;
		z.im[k / LANES][k % LANES] = (float)im;
		double t = re * c - im * s;
		im = re * s + im * c;
		re = t;
	}
	z.step_re = (float)cos(2 * M_PI * fraction(2 * LANES * step));
	z.step_im = (float)sin(2 * M_PI * fraction(2 * LANES * step));
	return z;
}

static inline void turn(struct rotator *z)
{
	for (int k = 0; k < 2; k++) {
		lanes re = z->re[k] * z->step_re - z->im[k] * z->step_im;
		z->im[k] = z->re[k] * z->step_im + z->im[k] * z->step_re;
		z->re[k] = re;
	}
}

static void add_tone(float *re, float *im, uint32_t n, double phase, const struct tone *t)
{
	struct rotator z = rotator_at(phase, t->step, t->level);
	for (uint32_t i = 0; i < n; i += 2 * LANES) {
		for (int k = 0; k < 2; k++) {
			float *a = re + i + k * LANES, *b = im + i + k * LANES;
			store(a, load(a) + z.re[k]);
			store(b, load(b) + z.im[k]);
		}
		turn(&z);
	}
}

// start_walk draws two places and a turn. White noise may turn by any frequency;
// shaped noise by little, or its shape would blur.
static void start_walk(struct walk *w, const struct table *t)
{
	enum { STRETCH = 1 << 16 };
	w->table = t;
	w->left = STRETCH;
	w->at[0] = draw(&w->draws) % TABLE;
	do // two readings in step would be one, twice as strong
		w->at[1] = draw(&w->draws) % TABLE;
	while ((w->at[1] - w->at[0] + STRETCH) % TABLE < 2 * STRETCH);
	w->phase = draw_phase(&w->draws);
	w->step = (draw_phase(&w->draws) - 0.5) * (t->rate > 0 ? 10e3 / t->rate : 1);
}

static void set_noise(float *re, float *im, uint32_t n, struct walk *w, const struct reception *r)
{
	if (w->table != r->noise || w->left < n)
		start_walk(w, r->noise);
	const float *are = w->table->re + w->at[0], *aim = w->table->im + w->at[0];
	const float *bre = w->table->re + w->at[1], *bim = w->table->im + w->at[1];
	struct rotator z = rotator_at(w->phase, w->step, r->sd * M_SQRT1_2);
	for (uint32_t i = 0; i < n; i += 2 * LANES) {
		for (uint32_t k = 0; k < 2; k++) {
			uint32_t j = i + k * LANES;
			lanes x = load(are + j) + load(bre + j), y = load(aim + j) + load(bim + j);
			store(re + j, x * z.re[k] - y * z.im[k]);
			store(im + j, x * z.im[k] + y * z.re[k]);
		}
		turn(&z);
	}
	w->left -= n;
	w->phase = fraction(w->phase + n * w->step);
	for (int k = 0; k < 2; k++)
		w->at[k] = (w->at[k] + n) % TABLE;
}

static inline lanes least(lanes a, lanes b)
{
	whole_lanes first = a < b;
	return (lanes)(((whole_lanes)a & first) | ((whole_lanes)b & ~first));
}

// codes gives round(128·x + 127.5) of x = v·scale + dc, clamped: all positive, so
// that cutting off the fraction of 128·x + 128 rounds.
static inline whole_lanes codes(lanes v, float scale, float dc)
{
	const lanes top = {255.5f, 255.5f, 255.5f, 255.5f}, zero = {0};
	lanes x = v * (128 * scale) + (128 * dc + 128);
	return __builtin_convertvector(-least(-least(x, top), zero), whole_lanes);
}

// A receiver with unequal gains g in I and Q answers a tone z with z + g·z*.
static void pack(unsigned char *out, const float *re, const float *im, uint32_t n, float level,
		 const struct reception *r)
{
	float dc = r->dc * (float)M_SQRT1_2 * level;
	float scale_re = level * (1 + r->image), scale_im = level * (1 - r->image);
	for (uint32_t i = 0; i < n; i += LANES) {
		whole_lanes a = codes(load(re + i), scale_re, dc);
		whole_lanes b = codes(load(im + i), scale_im, dc);
		uint32_t count = n - i < LANES ? n - i : LANES;
		for (uint32_t k = 0; k < count; k++) {
			out[2 * (i + k)] = (unsigned char)a[k];
			out[2 * (i + k) + 1] = (unsigned char)b[k];
		}
	}
}

// A tuning begins at phases of its own. The two sidebands of a modulated carrier lie
// symmetric about it.
static void keep_phases(struct mixer *m, const struct reception *r)
{
	if (m->tuning == r->tuning)
		return;
	m->tuning = r->tuning;
	for (int i = 0; i < FIRST_PRODUCT; i += 3) {
		double carrier = draw_phase(&m->draws), side = draw_phase(&m->draws);
		m->phase[i] = carrier;
		if (i + 2 < FIRST_PRODUCT) {
			m->phase[i + 1] = fraction(carrier - side);
			m->phase[i + 2] = fraction(carrier + side);
		}
	}
	for (int i = FIRST_PRODUCT; i < MAX_TONES; i++) {
		uint64_t own = r->tuning * MAX_TONES + (uint64_t)i;
		m->phase[i] = draw_phase(&own);
	}
}

// bend lays the third order on a block. From where more in would give less out the
// amplitude stays.
static void bend(float *re, float *im, uint32_t n, float third)
{
	const float most = 1 / (3 * third); // squared
	for (uint32_t i = 0; i < n; i++) {
		float power = re[i] * re[i] + im[i] * im[i];
		float by = power < most ? 1 - third * power : 2.f / 3 * sqrtf(most / power);
		re[i] *= by;
		im[i] *= by;
	}
}

// wander gives the amplitude that the chip's own gain control lays on everything.
static float wander(const struct reception *r, uint64_t at)
{
	double t = (double)at / r->rate;
	double db = 5 + 4 * sin(2 * M_PI * 0.6 * t) + 2 * sin(2 * M_PI * 3.7 * t);
	return (float)pow(10, db / 20);
}

void mixer_skip(struct mixer *m, const struct reception *r, uint64_t n)
{
	keep_phases(m, r);
	for (int i = 0; i < r->tones; i++) {
		double *phase = &m->phase[r->tone[i].id];
		*phase = fraction(*phase + (double)n * r->tone[i].step);
	}
}

void mixer_fill(struct mixer *m, const struct reception *r, uint64_t at, uint32_t n,
		unsigned char *out)
{
	if (r->test) {
		for (uint32_t i = 0; i < 2 * n; i++)
			out[i] = (unsigned char)(2 * at + i);
		mixer_skip(m, r, n);
		return;
	}
	keep_phases(m, r);
	while (n > 0) {
		float re[BLOCK], im[BLOCK];
		uint32_t some = n < BLOCK ? n : BLOCK;
		set_noise(re, im, some, &m->walk, r);
		for (int i = 0; i < r->tones; i++) {
			const struct tone *t = &r->tone[i];
			add_tone(re, im, some, m->phase[t->id], t);
		}
		if (r->bend > 0)
			bend(re, im, some, r->bend);
		pack(out, re, im, some, r->agc ? wander(r, at) : 1, r);
		mixer_skip(m, r, some);
		out += 2 * some;
		at += some;
		n -= some;
	}
}
