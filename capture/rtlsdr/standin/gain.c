// The tuner: its type, its gain steps and its filter.
#include "dongle.h"

#include <string.h>

enum rtlsdr_tuner rtlsdr_get_tuner_type(rtlsdr_dev_t *dev)
{
	if (!dev)
		return RTLSDR_TUNER_UNKNOWN;
	dongle_lock(dev);
	enum rtlsdr_tuner tuner = dev->control.tuner;
	dongle_unlock(dev);
	return tuner;
}

int rtlsdr_get_tuner_gains(rtlsdr_dev_t *dev, int *gains)
{
	const int *steps;
	if (!dev)
		return -1;
	int n = sky_gains(rtlsdr_get_tuner_type(dev), &steps);
	if (gains)
		memcpy(gains, steps, (size_t)n * sizeof *steps);
	return n;
}

// order takes the lock for a command to the tuner; 0 is go ahead.
static int order(struct rtlsdr_dev *dev)
{
	if (!dev)
		return -1;
	dongle_lock(dev);
	int result = 0;
	if (dev->control.tuner == RTLSDR_TUNER_UNKNOWN)
		result = -1;
	else if (dev->control.refuse)
		result = (int)dev->control.refuse;
	else if (dev->gone)
		result = USB_NO_DEVICE;
	if (result)
		dongle_unlock(dev);
	return result;
}

int rtlsdr_set_tuner_gain(rtlsdr_dev_t *dev, int gain)
{
	if (dev)
		dongle_hang(dev, "gain");
	int result = order(dev);
	if (result)
		return result;
	dev->settings.gain = dev->settings.label = gain;
	dongle_status(dev, "gain %d", gain);
	dongle_changed(dev);
	dongle_unlock(dev);
	return 0;
}

int rtlsdr_get_tuner_gain(rtlsdr_dev_t *dev)
{
	if (!dev)
		return 0;
	dongle_lock(dev);
	int gain = dev->settings.label;
	dongle_unlock(dev);
	return gain;
}

int rtlsdr_set_tuner_gain_mode(rtlsdr_dev_t *dev, int manual)
{
	int result = order(dev);
	if (result)
		return result;
	dev->settings.manual = manual;
	dongle_status(dev, "gain_mode %d", manual);
	dongle_changed(dev);
	dongle_unlock(dev);
	return 0;
}

int rtlsdr_set_tuner_if_gain(rtlsdr_dev_t *dev, int stage, int gain)
{
	(void)stage, (void)gain;
	int result = order(dev);
	if (!result)
		dongle_unlock(dev);
	return result;
}

int rtlsdr_set_tuner_bandwidth(rtlsdr_dev_t *dev, uint32_t bw)
{
	(void)bw;
	int result = order(dev);
	if (!result)
		dongle_unlock(dev);
	return result;
}
