#include "sky.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include "front.h"
#include "samples.h"

static const int r82xx_gains[] = {
	0,   9,   14,  27,  37,  77,  87,  125, 144, 157, 166, 197, 207, 229, 254,
	280, 297, 328, 338, 364, 372, 386, 402, 421, 434, 439, 445, 480, 496,
};
static const int e4000_gains[] = {
	-10, 15, 40, 65, 90, 115, 140, 165, 190, 215, 240, 290, 340, 420,
};
static const int fc0012_gains[] = {-99, -40, 71, 179, 192};
static const int fc0013_gains[] = {
	-99, -73, -65, -63, -60, -58, -54, 58,  61,  63,  65,  67,
	68,  70,  71,  179, 181, 182, 184, 186, 188, 191, 197,
};
static const int no_gains[] = {0};

#define LIST(a) (*steps = (a), (int)(sizeof(a) / sizeof *(a)))

int sky_gains(enum rtlsdr_tuner tuner, const int **steps)
{
	switch (tuner) {
	case RTLSDR_TUNER_E4000:
		return LIST(e4000_gains);
	case RTLSDR_TUNER_FC0012:
		return LIST(fc0012_gains);
	case RTLSDR_TUNER_FC0013:
		return LIST(fc0013_gains);
	case RTLSDR_TUNER_R820T:
	case RTLSDR_TUNER_R828D:
		return LIST(r82xx_gains);
	default:
		return LIST(no_gains);
	}
}

// true_gain gives what the tuner really amplifies, in dB: the lowest step that
// reaches what was asked, with that step's error.
static double true_gain(const struct settings *s, const struct control *c)
{
	const int *steps;
	int n = sky_gains(c->tuner, &steps), i = 0;
	if (s->direct)
		return 0;
	double asked = isfinite(c->stuck_db) ? 10 * c->stuck_db : s->gain;
	while (i < n - 1 && steps[i] < asked)
		i++;
	double gain = steps[i] / 10.0;
	if (c->gain_error_db > 0) {
		uint64_t draw = (uint64_t)c->seed * 1000003 + (uint64_t)i;
		gain += c->gain_error_db * draw_gauss(&draw);
	}
	return gain + (s->manual ? 0 : 10);
}

// The decimation filter falls off through these points; between them runs a
// monotone cubic of the level over the offset.
static const double droop_mhz[] = {0, 0.5, 0.8, 1.0, 1.2, 1.6, 2.0};
static const double droop_db[] = {0, -0.06, -0.6, -1.5, -3.0, -8.6, -21};
enum { POINTS = sizeof droop_mhz / sizeof *droop_mhz };

static double chord(int i)
{
	return (droop_db[i + 1] - droop_db[i]) / (droop_mhz[i + 1] - droop_mhz[i]);
}

static double slope(int i)
{
	if (i == 0)
		return 0; // the filter is symmetric
	if (i == POINTS - 1)
		return chord(i - 1);
	double a = chord(i - 1), b = chord(i);
	return 2 * a * b / (a + b); // both are negative: the harmonic mean keeps it monotone
}

static double droop(double offset_hz)
{
	double x = fabs(offset_hz) / 1e6;
	int i = 0;
	if (x > droop_mhz[POINTS - 1])
		x = droop_mhz[POINTS - 1];
	while (i < POINTS - 2 && x > droop_mhz[i + 1])
		i++;
	double h = droop_mhz[i + 1] - droop_mhz[i], t = (x - droop_mhz[i]) / h;
	double db = (1 + 2 * t) * (1 - t) * (1 - t) * droop_db[i] +
		    t * (1 - t) * (1 - t) * h * slope(i) +
		    t * t * (3 - 2 * t) * droop_db[i + 1] + t * t * (t - 1) * h * slope(i + 1);
	return pow(10, db / 20);
}

// crystal gives by what its frequency is off now, as a factor.
static double crystal(const struct settings *s, const struct control *c)
{
	return 1 + (c->ppm + s->drift_ppm) * 1e-6;
}

bool sky_shaped(const struct control *c)
{
	return c->droop || c->if_width_hz > 0;
}

// The tuner's filter is a Butterworth filter of the fourth order.
double sky_pass(const struct control *c, double offset_hz)
{
	double level = c->droop ? droop(offset_hz) : 1;
	if (c->if_width_hz > 0)
		level /= sqrt(1 + pow(2 * offset_hz / c->if_width_hz, 8));
	return level;
}

double sky_true_rate(const struct settings *s, const struct control *c)
{
	double rate = s->rate > 0 ? s->rate : 2.048e6;
	return rate * CRYSTAL_HZ / s->rtl_xtal * crystal(s, c) / (1 + s->correction * 1e-6);
}

static void add(struct reception *r, const struct control *c, double offset_hz, double dbfs, int id)
{
	if (fabs(offset_hz) >= r->rate / 2)
		return;
	double level = pow(10, dbfs / 20) * sky_pass(c, offset_hz);
	r->tone[r->tones++] = (struct tone){offset_hz / r->rate, (float)level, id};
}

// arrive adds one line at rf_hz. The direct path sees a real signal through a real
// converter: it stands at plus and minus rf_hz, modulo the converter's clock.
static void arrive(struct reception *r, const struct settings *s, const struct control *c,
		   double tuned_hz, double rf_hz, double dbfs, int id)
{
	double clock = CRYSTAL_HZ * crystal(s, c);
	if (!s->direct) {
		add(r, c, rf_hz - tuned_hz, dbfs, id);
		return;
	}
	add(r, c, remainder(rf_hz - tuned_hz, clock), dbfs, id);
	add(r, c, remainder(-rf_hz - tuned_hz, clock), dbfs, id + 3);
}

// product adds one of the second order.
static void product(struct reception *r, const struct settings *s, const struct control *c,
		    double tuned_hz, double hz, double dbfs)
{
	int had = r->tones, id = FIRST_PRODUCT;
	for (int i = 0; i < had; i++)
		if (r->tone[i].id >= id)
			id = r->tone[i].id + 1;
	if (hz <= 0)
		return;
	if (id > MAX_TONES - 4) {
		fputs("librtlsdr stand-in: too many products of second order in one passband\n", stderr);
		abort();
	}
	bool converted = c->upconverter_hz > 0 && !s->direct && hz < 60e6;
	arrive(r, s, c, tuned_hz, hz + (converted ? c->upconverter_hz : 0), dbfs, id);
}

// second adds the sums and differences of all carriers, without their modulation.
static void second(struct reception *r, const struct settings *s, const struct control *c,
		   double tuned_hz, double to_dbfs)
{
	double in = c->antenna_db - c->attenuator_db;
	for (int i = 0; i < c->carriers; i++) {
		const struct carrier *a = &c->carrier[i];
		for (int j = 0; j < i; j++) {
			const struct carrier *b = &c->carrier[j];
			double dbfs = a->dbm + b->dbm + 2 * in - c->ip2_dbm + to_dbfs;
			product(r, s, c, tuned_hz, a->hz + b->hz, dbfs);
			product(r, s, c, tuned_hz, fabs(a->hz - b->hz), dbfs);
		}
		double twice = 2 * (a->dbm + in) - c->ip2_dbm + 20 * log10(0.5) + to_dbfs;
		product(r, s, c, tuned_hz, 2 * a->hz, twice);
	}
}

void sky_receive(struct reception *r, const struct settings *s, const struct control *c)
{
	double xtal = s->direct ? s->rtl_xtal : s->tuner_xtal;
	double asked = s->hz;
	if (s->direct) // the down-conversion has 22 bits, and the driver cuts off the rest
		asked = floor(asked * 4194304.0 / CRYSTAL_HZ) * CRYSTAL_HZ / 4194304.0;
	double tuned = asked * CRYSTAL_HZ / xtal * crystal(s, c) / (1 + s->correction * 1e-6);
	double at_hz = tuned - (!s->direct && tuned > c->upconverter_hz ? c->upconverter_hz : 0);
	double slope_db = c->slope_db_mhz * (at_hz - 10e6) / 1e6;
	double to_dbfs = true_gain(s, c) + s->drift_db + slope_db - c->fullscale_dbm;
	bool hears = s->direct ? s->direct == c->branch : s->locked;
	bool sky = hears && front_open(c);

	r->tuning = s->tuning;
	r->rate = sky_true_rate(s, c);
	r->test = s->test;
	r->agc = s->agc;
	r->dc = (float)pow(10, c->dc_dbfs / 20);
	r->image = (float)pow(10, c->image_dbc / 20);
	r->tones = 0;

	// A direct converter hears both its zones below its clock.
	double density = front_noise(c, hears, s->direct ? 2 : 1);
	r->sd = (float)sqrt(density * pow(10, to_dbfs / 10) * r->rate / 2);

	// Two tones at the intercept would have products as strong as themselves.
	r->bend = (float)pow(10, -(c->ip3_dbm + to_dbfs) / 10);

	if (sky && isfinite(c->ip2_dbm))
		second(r, s, c, tuned, to_dbfs);
	for (int i = 0; sky && i < c->carriers; i++) {
		const struct carrier *k = &c->carrier[i];
		bool converted = c->upconverter_hz > 0 && !s->direct && k->hz < 60e6;
		double rf = k->hz + (converted ? c->upconverter_hz : 0);
		double dbfs = k->dbm + c->antenna_db - c->attenuator_db + to_dbfs;
		arrive(r, s, c, tuned, rf, dbfs, 6 * i);
		if (k->depth > 0) { // A·(1 + m·cos ωt) is a carrier and two sidebands of A·m/2
			double side = dbfs + 20 * log10(k->depth / 2);
			arrive(r, s, c, tuned, rf - k->tone_hz, side, 6 * i + 1);
			arrive(r, s, c, tuned, rf + k->tone_hz, side, 6 * i + 2);
		}
	}
	if (hears && !s->direct && c->upconverter_hz > 0 && isfinite(c->lo_leak_dbm))
		arrive(r, s, c, tuned, c->upconverter_hz, c->lo_leak_dbm + to_dbfs, FIRST_PRODUCT - 1);
}
