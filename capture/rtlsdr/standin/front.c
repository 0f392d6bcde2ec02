#include "front.h"

#include <math.h>

static const double room_dbm_hz = -173.975; // k · 290 K

static double linear(double db)
{
	return pow(10, db / 10);
}

bool front_open(const struct control *c)
{
	return !c->terminated && !isfinite(c->enr_db);
}

// A receiver of noise figure F adds k·T·(F−1) to what comes in; a termination brings k·T
// itself. An attenuator at room temperature lets 1/L through and adds k·T·(1 − 1/L), so
// that k·T stays k·T.
double front_noise(const struct control *c, bool heard, double zones)
{
	double room = linear(room_dbm_hz), through = linear(-c->attenuator_db);
	double own = room * (linear(c->figure_db) - 1), in = room;
	if (heard && c->source)
		in += room * linear(c->enr_db) * zones;
	else if (heard && front_open(c)) {
		in = linear(c->noise_dbm_hz + c->antenna_db) * zones;
		own += linear(c->imd_dbm_hz + c->imd_order * (c->antenna_db - c->attenuator_db));
	}
	return own + in * through + room * (1 - through);
}
