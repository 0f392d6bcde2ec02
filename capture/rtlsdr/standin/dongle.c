#include "dongle.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

double thread_cpu_s(void)
{
	struct timespec t;
	clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double rate_of(const struct rtlsdr_dev *dev)
{
	return sky_true_rate(&dev->settings, &dev->control);
}

uint64_t dongle_clock(const struct rtlsdr_dev *dev)
{
	if (!dev->control.pace)
		return dev->next;
	return dev->base + (uint64_t)((clock_s() - dev->since_s) * rate_of(dev));
}

double dongle_due(const struct rtlsdr_dev *dev, uint64_t n)
{
	return dev->since_s + ((double)n - (double)dev->base) / rate_of(dev);
}

void dongle_rebase(struct rtlsdr_dev *dev)
{
	dev->base = dongle_clock(dev);
	dev->since_s = clock_s();
}

void dongle_rescale(struct rtlsdr_dev *dev, double by)
{
	for (struct reception *r = dev->pending; r; r = r->next)
		if (r->from > dev->base)
			r->from = dev->base + (uint64_t)llround((double)(r->from - dev->base) * by);
}

// What the key pulled said last, and when the dongles are away by it.
static double pull_after_s, pull_s, away_from_s, away_to_s;

bool dongle_away(void)
{
	double now = clock_s();
	return now >= away_from_s && now < away_to_s;
}

void dongle_pull(const struct control *c)
{
	if (c->pull_after_s == pull_after_s && c->pull_s == pull_s)
		return;
	pull_after_s = c->pull_after_s;
	pull_s = c->pull_s;
	away_from_s = clock_s() + pull_after_s;
	away_to_s = away_from_s + pull_s;
}

static void read_again(struct rtlsdr_dev *dev)
{
	struct control was = dev->control;
	if (dongle_away())
		dev->gone = true;
	if (!control_changed(&dev->control, &dev->stamp))
		return;
	struct control *is = &dev->control;
	if (is->pace != was.pace || is->ppm != was.ppm) {
		struct control new = *is;
		*is = was;
		dongle_rebase(dev);
		*is = new;
	}
	if (is->lose != was.lose)
		dev->lose += (uint64_t)is->lose;
	if (is->stall_ms != was.stall_ms)
		dev->stall_s += is->stall_ms / 1e3;
	dongle_pull(is);
	if (!is->plugged || dongle_away())
		dev->gone = true;
	dongle_changed(dev);
}

void dongle_lock(struct rtlsdr_dev *dev)
{
	pthread_mutex_lock(&dev->lock);
	if (dev->closed) {
		fputs("librtlsdr stand-in: call on a dongle that has been closed\n", stderr);
		abort();
	}
	read_again(dev);
}

void dongle_unlock(struct rtlsdr_dev *dev)
{
	pthread_mutex_unlock(&dev->lock);
}

void dongle_hang(struct rtlsdr_dev *dev, const char *call)
{
	for (bool hung = false;;) {
		dongle_lock(dev);
		bool hangs = !strcmp(dev->control.hang, call);
		if (hangs && !hung)
			dongle_status(dev, "hang %s", call);
		dongle_unlock(dev);
		if (hangs != hung)
			clock_hang(hangs ? 1 : -1);
		hung = hangs;
		if (!hung)
			return;
		struct timespec t = {0, 1000000};
		nanosleep(&t, NULL);
	}
}

// running_s gives how long the dongle has been running: as long as the control file says,
// since it said so. Closing does not cool it.
static double running_s(const struct rtlsdr_dev *dev)
{
	static double since_s, said[5];
	const struct control *c = &dev->control;
	const double says[5] = {c->age_s, c->drift_db_h, c->warm_db, c->warm_ppm, c->warm_s};
	if (memcmp(said, says, sizeof said)) {
		memcpy(said, says, sizeof said);
		since_s = clock_s();
	}
	return c->age_s + (c->pace ? clock_s() - since_s : (double)dev->next / rate_of(dev));
}

// warm lets gain and clock go where the temperature has taken them. The sample clock
// goes on from the last whole sample, so that it loses nothing.
static void warm(struct rtlsdr_dev *dev)
{
	const struct control *c = &dev->control;
	double s = running_s(dev), cold = c->warm_s > 0 ? exp(-s / c->warm_s) : 0;
	dev->drifted_s = s;
	dev->settings.drift_db = c->drift_db_h * s / 3600 + c->warm_db * cold;
	if (c->warm_ppm * cold == dev->settings.drift_ppm)
		return;
	uint64_t base = dongle_clock(dev);
	dev->since_s = dongle_due(dev, base);
	dev->base = base;
	dev->settings.drift_ppm = c->warm_ppm * cold;
}

void dongle_drift(struct rtlsdr_dev *dev)
{
	enum { EVERY_MS = 100 };
	const struct control *c = &dev->control;
	bool moves = c->drift_db_h || c->warm_s > 0;
	if (moves && running_s(dev) - dev->drifted_s >= EVERY_MS / 1e3)
		dongle_changed(dev);
}

uint64_t dongle_changed(struct rtlsdr_dev *dev)
{
	struct reception *r = calloc(1, sizeof *r);
	if (!r)
		abort();
	double began = thread_cpu_s();
	warm(dev);
	sky_receive(r, &dev->settings, &dev->control);
	r->noise = table_for(dev->settings.rate > 0 ? dev->settings.rate : 2.048e6, &dev->control);
	dev->cpu_s += thread_cpu_s() - began;
	if (!dev->now) { // just opened: this is what the queue is full of
		dev->now = r;
		return r->from;
	}
	r->from = dongle_clock(dev) + (uint64_t)llround(dev->control.queue_s * r->rate);
	struct reception **last = &dev->pending;
	while (*last) {
		if (r->from < (*last)->from)
			r->from = (*last)->from; // a queue does not overtake itself
		last = &(*last)->next;
	}
	*last = r;
	return r->from;
}

void dongle_flush(struct rtlsdr_dev *dev)
{
	uint64_t now = dongle_clock(dev);
	for (struct reception *r = dev->pending; r; r = r->next)
		if (r->from > now)
			r->from = now;
}

void dongle_fill(struct rtlsdr_dev *dev, unsigned char *out, uint32_t n)
{
	while (n > 0) {
		struct reception *coming;
		while ((coming = dev->pending) && coming->from <= dev->next) {
			free(dev->now);
			dev->now = coming;
			dev->pending = coming->next;
		}
		uint32_t some = n;
		if (coming && coming->from - dev->next < some)
			some = (uint32_t)(coming->from - dev->next);
		uint64_t at = dev->next;
		dev->next += some; // a change made meanwhile shows after these
		pthread_mutex_unlock(&dev->lock);
		mixer_fill(&dev->mixer, dev->now, at, some, out); // only this thread moves now
		pthread_mutex_lock(&dev->lock);
		out += 2 * some;
		n -= some;
	}
}

void dongle_status(const struct rtlsdr_dev *dev, const char *format, ...)
{
	if (!dev->control.status[0])
		return;
	FILE *f = fopen(dev->control.status, "a");
	if (!f) {
		perror("librtlsdr stand-in: status file");
		abort();
	}
	va_list rest;
	va_start(rest, format);
	vfprintf(f, format, rest);
	va_end(rest);
	fputc('\n', f);
	fclose(f);
}

void dongle_report_cpu(struct rtlsdr_dev *dev)
{
	dongle_status(dev, "cpu %.6f", dev->cpu_s);
	dev->cpu_s = 0;
}
