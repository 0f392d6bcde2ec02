// What a program asks of an open dongle.
#include "dongle.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

enum { LOWEST_LOCK_HZ = 24000000, XTAL_SLACK_HZ = 1000 };

// reached takes the lock for a command that goes out to the dongle, and tells whether
// the dongle is there and hears it. Otherwise it gives what the library makes of that:
// what a tuner answers it hands on, for the chip's own registers it says -1.
static bool reached(struct rtlsdr_dev *dev, bool to_tuner, int *result)
{
	dongle_lock(dev);
	*result = 0;
	if (dev->control.refuse)
		*result = (int)dev->control.refuse;
	else if (dev->gone)
		*result = to_tuner ? USB_NO_DEVICE : -1;
	if (*result)
		dongle_unlock(dev);
	return !*result;
}

static int done(struct rtlsdr_dev *dev, int result)
{
	dongle_changed(dev);
	dongle_unlock(dev);
	return result;
}

static bool locks(const struct rtlsdr_dev *dev, uint32_t hz)
{
	const struct control *c = &dev->control;
	if (c->builtin_upconverter && c->tuner == RTLSDR_TUNER_R828D && hz < CRYSTAL_HZ)
		return true;
	return hz >= LOWEST_LOCK_HZ && hz <= c->lock_above_hz;
}

// tune sets the frequency again, as the library does after anything that moves it.
static void tune(struct rtlsdr_dev *dev)
{
	struct settings *s = &dev->settings;
	s->tuning++;
	if (s->direct)
		return;
	s->locked = locks(dev, s->hz);
	if (!s->locked)
		fputs("[R82XX] PLL not locked!\n", stderr);
}

int rtlsdr_set_center_freq(rtlsdr_dev_t *dev, uint32_t freq)
{
	int result;
	if (!dev)
		return -1;
	dongle_hang(dev, "tune");
	if (!reached(dev, !dev->settings.direct, &result))
		return result;
	if (dev->control.tuner == RTLSDR_TUNER_UNKNOWN && !dev->settings.direct) {
		dongle_unlock(dev);
		return -1;
	}
	dev->settings.hz = freq;
	tune(dev);
	uint64_t shows = dongle_changed(dev);
	dongle_status(dev, "tune %u %llu", freq, (unsigned long long)shows);
	dongle_unlock(dev);
	return 0;
}

uint32_t rtlsdr_get_center_freq(rtlsdr_dev_t *dev)
{
	if (!dev)
		return 0;
	dongle_lock(dev);
	uint32_t hz = dev->settings.hz;
	dongle_unlock(dev);
	return hz;
}

int rtlsdr_set_freq_correction(rtlsdr_dev_t *dev, int ppm)
{
	int result;
	if (!dev)
		return -1;
	if (!reached(dev, false, &result))
		return result;
	if (dev->settings.correction == ppm) {
		dongle_unlock(dev);
		return -2;
	}
	dongle_rebase(dev);
	dev->settings.correction = ppm;
	dongle_status(dev, "correction %d", ppm);
	if (dev->settings.hz)
		tune(dev);
	return done(dev, 0);
}

int rtlsdr_get_freq_correction(rtlsdr_dev_t *dev)
{
	if (!dev)
		return 0;
	dongle_lock(dev);
	int ppm = dev->settings.correction;
	dongle_unlock(dev);
	return ppm;
}

int rtlsdr_set_xtal_freq(rtlsdr_dev_t *dev, uint32_t rtl_freq, uint32_t tuner_freq)
{
	const uint32_t nominal = (uint32_t)CRYSTAL_HZ;
	int result;
	if (!dev)
		return -1;
	if (rtl_freq && (rtl_freq < nominal - XTAL_SLACK_HZ || rtl_freq > nominal + XTAL_SLACK_HZ))
		return -EINVAL;
	if (!reached(dev, false, &result))
		return result;
	dongle_rebase(dev);
	if (rtl_freq) {
		dev->settings.rate *= (double)rtl_freq / dev->settings.rtl_xtal;
		dev->settings.rtl_xtal = rtl_freq;
	}
	dev->settings.tuner_xtal = tuner_freq ? tuner_freq : dev->settings.rtl_xtal;
	if (dev->settings.hz)
		tune(dev);
	return done(dev, 0);
}

int rtlsdr_get_xtal_freq(rtlsdr_dev_t *dev, uint32_t *rtl_freq, uint32_t *tuner_freq)
{
	if (!dev)
		return -1;
	dongle_lock(dev);
	double corrected = 1 + dev->settings.correction * 1e-6;
	if (rtl_freq)
		*rtl_freq = (uint32_t)(dev->settings.rtl_xtal * corrected);
	if (tuner_freq)
		*tuner_freq = (uint32_t)(dev->settings.tuner_xtal * corrected);
	dongle_unlock(dev);
	return 0;
}

int rtlsdr_set_sample_rate(rtlsdr_dev_t *dev, uint32_t rate)
{
	int result;
	if (!dev)
		return -1;
	if (rate <= 225000 || rate > 3200000 || (rate > 300000 && rate <= 900000)) {
		fprintf(stderr, "Invalid sample rate: %u Hz\n", rate);
		return -EINVAL;
	}
	if (!reached(dev, false, &result))
		return result;
	// The resampler's ratio has 28 bits, of which the uppermost counts twice.
	double scaled = dev->settings.rtl_xtal * 4194304.0; // 2^22
	uint32_t ratio = (uint32_t)(scaled / rate) & 0x0ffffffc;
	double real = scaled / (ratio | (ratio & 0x08000000) << 1);
	if (real != rate)
		fprintf(stderr, "Exact sample rate is: %f Hz\n", real);
	dongle_rebase(dev);
	double before = sky_true_rate(&dev->settings, &dev->control);
	dev->settings.rate = real;
	dongle_rescale(dev, sky_true_rate(&dev->settings, &dev->control) / before);
	dongle_status(dev, "rate %.6f", real);
	return done(dev, 0);
}

uint32_t rtlsdr_get_sample_rate(rtlsdr_dev_t *dev)
{
	if (!dev)
		return 0;
	dongle_lock(dev);
	uint32_t rate = (uint32_t)dev->settings.rate;
	dongle_unlock(dev);
	return rate;
}

// Test mode and gain control of the chip are values of one register: setting either
// ends the other.
static int set_chip(rtlsdr_dev_t *dev, bool test, bool agc, const char *what, int on)
{
	int result;
	if (!dev)
		return -1;
	if (!reached(dev, false, &result))
		return result;
	dev->settings.test = test;
	dev->settings.agc = agc;
	dongle_status(dev, "%s %d", what, on);
	return done(dev, 0);
}

int rtlsdr_set_testmode(rtlsdr_dev_t *dev, int on)
{
	if (dev)
		dongle_hang(dev, "testmode");
	return set_chip(dev, on, false, "testmode", on);
}

int rtlsdr_set_agc_mode(rtlsdr_dev_t *dev, int on)
{
	return set_chip(dev, false, on, "agc", on);
}

int rtlsdr_set_direct_sampling(rtlsdr_dev_t *dev, int on)
{
	int result;
	if (!dev)
		return -1;
	if (!reached(dev, false, &result))
		return result;
	struct settings *s = &dev->settings;
	if (on)
		fprintf(stderr, "Enabled direct sampling mode, input %i\n", on);
	else
		fputs("Disabled direct sampling mode\n", stderr);
	if (!on && s->direct) { // the tuner starts afresh
		s->gain = 0;
		s->manual = false;
	}
	s->direct = on;
	tune(dev);
	dongle_status(dev, "direct %d", on);
	return done(dev, 0);
}

int rtlsdr_get_direct_sampling(rtlsdr_dev_t *dev)
{
	if (!dev)
		return -1;
	dongle_lock(dev);
	int direct = dev->settings.direct;
	dongle_unlock(dev);
	return direct;
}

int rtlsdr_set_offset_tuning(rtlsdr_dev_t *dev, int on)
{
	int result;
	if (!dev)
		return -1;
	if (!reached(dev, false, &result))
		return result;
	if (dev->control.tuner == RTLSDR_TUNER_R820T || dev->control.tuner == RTLSDR_TUNER_R828D)
		result = -2;
	else if (dev->settings.direct)
		result = -3;
	else
		dev->settings.offset_tuning = on;
	dongle_unlock(dev);
	return result;
}

int rtlsdr_get_offset_tuning(rtlsdr_dev_t *dev)
{
	if (!dev)
		return -1;
	dongle_lock(dev);
	int on = dev->settings.offset_tuning;
	dongle_unlock(dev);
	return on;
}

int rtlsdr_set_bias_tee_gpio(rtlsdr_dev_t *dev, int gpio, int on)
{
	(void)gpio;
	if (!dev)
		return -1;
	dongle_lock(dev); // what becomes of the order the library does not look at
	if (!dev->gone)
		dongle_status(dev, "bias %d", on);
	dongle_unlock(dev);
	return 0;
}

int rtlsdr_set_bias_tee(rtlsdr_dev_t *dev, int on)
{
	return rtlsdr_set_bias_tee_gpio(dev, 0, on);
}
