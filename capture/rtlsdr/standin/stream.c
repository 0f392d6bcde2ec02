// Handing out samples: at the pace of the clock or as fast as they are taken.
#include "dongle.h"

#include <stdio.h>
#include <stdlib.h>

enum { DEFAULT_BUFFERS = 15, DEFAULT_LENGTH = 16 * 32 * 512 };

// A read is one stretch of reading, by read_async or read_sync.
struct read {
	struct rtlsdr_dev *dev;
	bool sync;            // no callbacks, no cancelling
	uint64_t room;        // samples the library's buffers hold
	uint64_t grace;       // samples more that a stall leaves behind without loss
	uint64_t hole_at, hole; // samples that found no buffer, and where they are missing
};

enum end { GO_ON, CANCELLED, UNPLUGGED };

static enum end ended(const struct read *r)
{
	if (r->dev->gone)
		return UNPLUGGED;
	return !r->sync && r->dev->stream == CANCELING ? CANCELLED : GO_ON;
}

// nap lets others at the dongle for a while.
static void nap(struct rtlsdr_dev *dev, double s)
{
	dongle_unlock(dev);
	clock_nap(s < 0.01 ? s : 0.01);
	dongle_lock(dev);
}

// hold waits while the dongle is wedged or stalled.
static enum end hold(struct read *r)
{
	struct rtlsdr_dev *dev = r->dev;
	double until = 0;
	for (;;) {
		enum end e = ended(r);
		if (e != GO_ON)
			return e;
		double now = clock_s();
		if (dev->stall_s > 0) {
			until = now + dev->stall_s;
			r->grace += (uint64_t)(dev->stall_s * dev->now->rate) + 1;
			dev->stall_s = 0;
		}
		if (!dev->control.wedge && now >= until)
			return GO_ON;
		nap(dev, dev->control.wedge ? 0.01 : until - now);
	}
}

static void drop(struct rtlsdr_dev *dev, uint64_t n)
{
	if (n == 0)
		return;
	mixer_skip(&dev->mixer, dev->now, n);
	dev->next += n;
}

// overflow drops what the buffers had no room for: they keep the oldest samples, so
// that the hole comes after them. Until the hole is reached it can only grow.
static void overflow(struct read *r)
{
	struct rtlsdr_dev *dev = r->dev;
	if (!dev->control.pace || dev->control.patient)
		return;
	uint64_t clock = dongle_clock(dev), taken = dev->next + r->hole;
	uint64_t held = clock > taken ? clock - taken : 0;
	if (held <= r->room / 2)
		r->grace = 0;
	if (held <= r->room + r->grace)
		return;
	uint64_t lost = held - r->room - r->grace;
	if (r->hole == 0)
		r->hole_at = dev->next + r->room + r->grace;
	r->hole += lost;
	dongle_status(dev, "lost %llu", (unsigned long long)lost);
}

// await waits until n samples more have been taken.
static enum end await(struct read *r, uint32_t n)
{
	struct rtlsdr_dev *dev = r->dev;
	for (;;) {
		enum end e = ended(r);
		if (e != GO_ON || !dev->control.pace)
			return e;
		uint64_t last = dev->next + n;
		if (r->hole && r->hole_at < last)
			last += r->hole;
		double left = dongle_due(dev, last) - clock_s();
		if (left <= 0)
			return GO_ON;
		nap(dev, left);
	}
}

// fetch fills one buffer; n is how many samples it asks for and gets.
static enum end fetch(struct read *r, unsigned char *buf, uint32_t *n)
{
	struct rtlsdr_dev *dev = r->dev;
	enum end e = hold(r);
	if (e != GO_ON)
		return e;
	overflow(r);
	dongle_drift(dev);
	if (dev->lose) {
		dongle_status(dev, "lost %llu", (unsigned long long)dev->lose);
		if (r->hole)
			r->hole_at += dev->lose;
		drop(dev, dev->lose);
		dev->lose = 0;
	}
	if (dev->control.short_reads && *n > 1) {
		uint32_t least = *n / 4;
		*n = least + (uint32_t)(draw(&dev->mixer.draws) % (*n - least));
		if (*n == 0)
			*n = 1;
	}
	if ((e = await(r, *n)) != GO_ON)
		return e;
	uint32_t before = *n;
	if (r->hole && r->hole_at < dev->next + *n) {
		before = r->hole_at > dev->next ? (uint32_t)(r->hole_at - dev->next) : 0;
		dongle_fill(dev, buf, before);
		drop(dev, r->hole);
		r->hole = 0;
		dongle_fill(dev, buf + 2 * before, *n - before);
	} else {
		dongle_fill(dev, buf, *n);
	}
	return GO_ON;
}

int rtlsdr_read_async(rtlsdr_dev_t *dev, rtlsdr_read_async_cb_t cb, void *ctx, uint32_t buf_num,
		      uint32_t buf_len)
{
	if (!dev)
		return -1;
	dongle_lock(dev);
	if (dev->stream != INACTIVE) {
		dongle_unlock(dev);
		return -2;
	}
	if (buf_num == 0)
		buf_num = DEFAULT_BUFFERS;
	if (buf_len == 0 || buf_len % 512 != 0)
		buf_len = DEFAULT_LENGTH;
	unsigned char *buf = malloc(buf_len);
	if (!buf) {
		dongle_unlock(dev);
		return -1;
	}
	fprintf(stderr, "Allocating %u zero-copy buffers\n", buf_num);
	dev->stream = RUNNING;
	clock_count(0, 1);
	dev->next = dongle_clock(dev);
	dongle_status(dev, "read_async %u %u %llu", buf_num, buf_len, (unsigned long long)dev->next);

	struct read r = {.dev = dev, .room = (uint64_t)buf_num * buf_len / 2};
	enum end e;
	for (;;) {
		uint32_t n = buf_len / 2;
		double began = thread_cpu_s();
		e = fetch(&r, buf, &n);
		dev->cpu_s += thread_cpu_s() - began;
		if (e != GO_ON)
			break;
		if (cb) {
			bool empty = dev->control.empty;
			dongle_unlock(dev);
			cb(buf, empty ? 0 : 2 * n, ctx);
			clock_delivered();
			dongle_lock(dev);
		}
	}
	if (e == UNPLUGGED)
		fputs("cb transfer status: 5, canceling...\n", stderr);
	if (e == CANCELLED && dev->control.wedge == 2)
		for (double until = clock_s() + 5; clock_s() < until;)
			nap(dev, 0.01);
	dongle_report_cpu(dev);
	dev->stream = INACTIVE;
	clock_count(0, -1);
	if (e == UNPLUGGED && !dev->over)
		clock_over(1);
	dev->over = dev->over || e == UNPLUGGED;
	free(buf);
	dongle_unlock(dev);
	return 0;
}

int rtlsdr_wait_async(rtlsdr_dev_t *dev, rtlsdr_read_async_cb_t cb, void *ctx)
{
	return rtlsdr_read_async(dev, cb, ctx, 0, 0);
}

int rtlsdr_cancel_async(rtlsdr_dev_t *dev)
{
	int result = -2;
	if (!dev)
		return -1;
	dongle_lock(dev);
	if (dev->stream == RUNNING) {
		dev->stream = CANCELING;
		result = 0;
	}
	dongle_unlock(dev);
	return result;
}

int rtlsdr_read_sync(rtlsdr_dev_t *dev, void *buf, int len, int *n_read)
{
	enum { FIFO_S = 10 }; // ms that the dongle itself holds between two reads
	if (!dev)
		return -1;
	dongle_lock(dev);
	if (dev->stream != INACTIVE) {
		dongle_unlock(dev);
		return USB_BUSY;
	}
	if (clock_s() - dev->synced_s > FIFO_S / 1e3)
		dev->next = dongle_clock(dev);
	struct read r = {.dev = dev, .sync = true, .room = ~(uint64_t)0 / 2};
	uint32_t n = len > 0 ? (uint32_t)len / 2 : 0;
	double began = thread_cpu_s();
	enum end e = fetch(&r, buf, &n);
	dev->cpu_s += thread_cpu_s() - began;
	dev->synced_s = clock_s();
	dongle_unlock(dev);
	*n_read = e == GO_ON ? (int)(2 * n) : 0;
	return e == UNPLUGGED ? USB_NO_DEVICE : 0;
}

int rtlsdr_reset_buffer(rtlsdr_dev_t *dev)
{
	if (!dev)
		return -1;
	dongle_lock(dev); // what becomes of the order the library does not look at
	if (!dev->gone && dev->control.reset_flushes)
		dongle_flush(dev);
	dongle_unlock(dev);
	return 0;
}
