// A stand-in for librtlsdr, for tests on machines without a dongle. It answers the
// whole interface of version 0.6 and makes its own, simulated samples; what it
// simulates is said in the control file, see README.md.
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "dongle.h"

static pthread_mutex_t all_lock = PTHREAD_MUTEX_INITIALIZER;
static struct rtlsdr_dev *all; // every dongle ever opened: a late call is found out

static const char *const found[] = {
	"", "Elonics E4000", "Fitipower FC0012", "Fitipower FC0013", "FCI 2580",
	"Rafael Micro R820T", "Rafael Micro R828D",
};

static uint32_t count_in(const struct control *c)
{
	return c->plugged && !dongle_away() ? (uint32_t)c->devices : 0;
}

static void strings(const struct control *c, uint32_t index, char *manufact, char *product,
		    char *serial)
{
	if (manufact)
		strcpy(manufact, c->manufacturer);
	if (product)
		strcpy(product, c->product);
	if (serial)
		strcpy(serial, c->serial[index]);
}

uint32_t rtlsdr_get_device_count(void)
{
	struct control c;
	struct stamp s;
	control_read(&c, &s);
	return count_in(&c);
}

const char *rtlsdr_get_device_name(uint32_t index)
{
	return index < rtlsdr_get_device_count() ? "Generic RTL2832U OEM" : "";
}

int rtlsdr_get_device_usb_strings(uint32_t index, char *manufact, char *product, char *serial)
{
	struct control c;
	struct stamp s;
	control_read(&c, &s);
	if (index >= count_in(&c))
		return -2;
	if (c.denied)
		return USB_ACCESS;
	strings(&c, index, manufact, product, serial);
	return 0;
}

int rtlsdr_get_index_by_serial(const char *serial)
{
	char has[MAX_TEXT];
	if (!serial)
		return -1;
	uint32_t n = rtlsdr_get_device_count();
	if (n == 0)
		return -2;
	for (uint32_t i = 0; i < n; i++)
		if (!rtlsdr_get_device_usb_strings(i, NULL, NULL, has) && !strcmp(has, serial))
			return (int)i;
	return -3;
}

int rtlsdr_get_usb_strings(rtlsdr_dev_t *dev, char *manufact, char *product, char *serial)
{
	if (!dev)
		return -1;
	dongle_lock(dev);
	int result = dev->gone ? USB_NO_DEVICE : 0;
	if (!result)
		strings(&dev->control, dev->index, manufact, product, serial);
	dongle_unlock(dev);
	return result;
}

static bool claimed(uint32_t index)
{
	for (struct rtlsdr_dev *dev = all; dev; dev = dev->older)
		if (dev->index == index && !dev->closed && !dev->gone)
			return true;
	return false;
}

// admit gives what the system answers to a program that opens the dongle.
static int admit(const struct control *c, uint32_t index)
{
	if (index >= count_in(c))
		return -1;
	if (c->denied) {
		fprintf(stderr, "usb_open error %d\n", USB_ACCESS);
		fputs("Please fix the device permissions, e.g. by installing the udev rules "
		      "file rtl-sdr.rules\n", stderr);
		return USB_ACCESS;
	}
	if (c->kernel_driver)
		fputs("\nKernel driver is active, or device is claimed by second instance of "
		      "librtlsdr.\nIn the first case, please either detach or blacklist the "
		      "kernel module\n(dvb_usb_rtl28xxu), or enable automatic detaching at "
		      "compile time.\n\n", stderr);
	if (c->kernel_driver || c->busy || claimed(index)) {
		fprintf(stderr, "usb_claim_interface error %d\n", USB_BUSY);
		return USB_BUSY;
	}
	return 0;
}

static void power_up(struct rtlsdr_dev *dev, uint32_t index)
{
	pthread_mutex_init(&dev->lock, NULL);
	dev->index = index;
	dev->since_s = clock_s();
	dongle_pull(&dev->control);
	dev->settings.rtl_xtal = dev->settings.tuner_xtal = (uint32_t)CRYSTAL_HZ;
	if (dev->control.tuner == RTLSDR_TUNER_UNKNOWN) {
		fputs("No supported tuner found\n", stderr);
		fputs("Enabled direct sampling mode, input 1\n", stderr);
		dev->settings.direct = 1;
	} else {
		fprintf(stderr, "Found %s tuner\n", found[dev->control.tuner]);
	}
	uint64_t seed = (uint64_t)dev->control.seed;
	for (const struct rtlsdr_dev *older = all; older; older = older->older)
		draw(&seed); // no two openings hear the same noise
	mixer_start(&dev->mixer, draw(&seed));
	dongle_changed(dev);
	clock_count(1, 0);
	dongle_status(dev, "open");
}

// hang_in_open is dongle_hang for a dongle that is not open yet.
static void hang_in_open(struct rtlsdr_dev *dev)
{
	if (strcmp(dev->control.hang, "open"))
		return;
	dongle_status(dev, "hang open");
	clock_hang(1);
	while (!strcmp(dev->control.hang, "open")) {
		struct timespec t = {0, 1000000};
		nanosleep(&t, NULL);
		control_changed(&dev->control, &dev->stamp);
	}
	clock_hang(-1);
}

int rtlsdr_open(rtlsdr_dev_t **out, uint32_t index)
{
	struct rtlsdr_dev *dev = calloc(1, sizeof *dev);
	if (!dev)
		return -ENOMEM;
	control_read(&dev->control, &dev->stamp);
	hang_in_open(dev);
	pthread_mutex_lock(&all_lock);
	int result = admit(&dev->control, index);
	if (result) {
		free(dev);
	} else {
		power_up(dev, index);
		dev->older = all;
		all = dev;
		*out = dev;
	}
	pthread_mutex_unlock(&all_lock);
	return result;
}

int rtlsdr_close(rtlsdr_dev_t *dev)
{
	if (!dev)
		return -1;
	dongle_hang(dev, "close");
	dongle_lock(dev);
	while (dev->stream != INACTIVE) {
		struct timespec t = {0, 1000000};
		dongle_unlock(dev);
		nanosleep(&t, NULL);
		dongle_lock(dev);
	}
	dongle_report_cpu(dev);
	dongle_status(dev, "close");
	dev->closed = true;
	clock_count(-1, 0);
	clock_over(dev->over ? -1 : 0);
	free(dev->now);
	for (struct reception *r = dev->pending, *next; r; r = next) {
		next = r->next;
		free(r);
	}
	dev->now = dev->pending = NULL;
	dongle_unlock(dev);
	return 0;
}
