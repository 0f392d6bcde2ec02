#include "control.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

// A number is a key with one numeric value.
struct number {
	const char *key;
	size_t at;
	double min, max;
	bool whole;
};

#define FLAG(key, field) {key, offsetof(struct control, field), 0, 1, true}
#define COUNT(key, field, max) {key, offsetof(struct control, field), 0, max, true}
#define REAL(key, field, min, max) {key, offsetof(struct control, field), min, max, false}

static const struct number numbers[] = {
	COUNT("devices", devices, MAX_DEVICES),
	FLAG("plugged", plugged),
	FLAG("busy", busy),
	FLAG("denied", denied),
	FLAG("kernel_driver", kernel_driver),
	{"refuse", offsetof(struct control, refuse), -99, 0, true},
	FLAG("pace", pace),
	REAL("queue", queue_s, 0, 60),
	FLAG("reset_flushes", reset_flushes),
	COUNT("wedge", wedge, 2),
	FLAG("empty", empty),
	FLAG("short_reads", short_reads),
	FLAG("patient", patient),
	COUNT("lose", lose, 1e9),
	REAL("stall", stall_ms, 0, 600e3),
	COUNT("seed", seed, 1e9),
	REAL("ppm", ppm, -1000, 1000),
	REAL("lock_above", lock_above_hz, 0, 1e10),
	REAL("figure", figure_db, 0, 100),
	REAL("fullscale", fullscale_dbm, -200, 200),
	REAL("gain_error", gain_error_db, 0, 20),
	REAL("stuck", stuck_db, -100, 100),
	REAL("slope", slope_db_mhz, -10, 10),
	REAL("if_width", if_width_hz, 0, 1e7),
	REAL("drift", drift_db_h, -1000, 1000),
	REAL("age", age_s, 0, 1e9),
	REAL("ip3", ip3_dbm, -200, 200),
	REAL("ip2", ip2_dbm, -200, 200),
	REAL("dc", dc_dbfs, -200, 0),
	REAL("image", image_dbc, -200, 0),
	FLAG("droop", droop),
	FLAG("builtin_upconverter", builtin_upconverter),
	REAL("noise", noise_dbm_hz, -300, 0),
	REAL("antenna", antenna_db, -200, 200),
	FLAG("terminated", terminated),
	REAL("attenuator", attenuator_db, 0, 100),
	REAL("enr", enr_db, -20, 60),
	FLAG("source", source),
	REAL("upconverter", upconverter_hz, 0, 1e9),
	REAL("lo_leak", lo_leak_dbm, -300, 100),
};

static const char *const tuners[] = {
	"unknown", "e4000", "fc0012", "fc0013", "fc2580", "r820t", "r828d",
};

// A place is where in the file a complaint belongs.
struct place {
	const char *path;
	int line;
};

static void give_up(struct place p, const char *what, const char *word)
{
	fprintf(stderr, "librtlsdr stand-in: %s:%d: %s %s\n", p.path, p.line, what, word);
	abort();
}

// calls are those that can hang.
static const char *const calls[] = {"open", "tune", "gain", "testmode", "close"};

static double number_of(struct place p, const char *word)
{
	char *end;
	if (!word)
		give_up(p, "a number is missing", "");
	double v = strtod(word, &end);
	if (end == word || *end || !isfinite(v))
		give_up(p, "not a number:", word);
	return v;
}

static double bounded(struct place p, const char *word, double min, double max, bool whole)
{
	double v = number_of(p, word);
	if (v < min || v > max || (whole && v != floor(v)))
		give_up(p, "out of bounds:", word);
	return v;
}

static void text_of(struct place p, char *to, size_t room, const char *word)
{
	if (strlen(word) >= room)
		give_up(p, "too long:", word);
	strcpy(to, word);
}

static void defaults(struct control *c)
{
	memset(c, 0, sizeof *c);
	c->devices = 1;
	for (int i = 0; i < MAX_DEVICES; i++)
		strcpy(c->serial[i], "00000001");
	strcpy(c->manufacturer, "Realtek");
	strcpy(c->product, "RTL2838UHIDIR");
	c->tuner = RTLSDR_TUNER_R820T;
	c->plugged = c->pace = c->seed = 1;
	c->lock_above_hz = 1766e6;
	c->figure_db = 8;
	c->dc_dbfs = c->image_dbc = c->lo_leak_dbm = c->enr_db = c->imd_dbm_hz = c->stuck_db = -INFINITY;
	c->ip3_dbm = c->ip2_dbm = INFINITY;
	c->branch = 2;
	c->noise_dbm_hz = -130;
}

static void carrier_line(struct control *c, struct place p, char **word, int words)
{
	if (c->carriers == MAX_CARRIERS)
		give_up(p, "too many carriers:", word[0]);
	if (words != 2 && words != 5)
		give_up(p, "carrier wants HZ DBM [am DEPTH TONEHZ], has", words ? word[words - 1] : "");
	struct carrier *k = &c->carrier[c->carriers++];
	k->hz = bounded(p, word[0], 1, 1e10, false);
	k->dbm = bounded(p, word[1], -300, 100, false);
	if (words == 5) {
		if (strcmp(word[2], "am"))
			give_up(p, "unknown modulation", word[2]);
		k->depth = bounded(p, word[3], 0, 1, false);
		k->tone_hz = bounded(p, word[4], 0, 100e3, false);
	}
}

static void line_of(struct control *c, struct place p, char *line)
{
	for (char *mark = line; (mark = strchr(mark, '#')); mark++)
		if (mark == line || mark[-1] == ' ' || mark[-1] == '\t') {
			*mark = 0;
			break;
		}
	for (size_t n = strlen(line); n && strchr(" \t\r", line[n - 1]);)
		line[--n] = 0;
	char *key = line + strspn(line, " \t");
	if (!*key)
		return;
	char *rest = key + strcspn(key, " \t");
	if (*rest)
		*rest++ = 0;
	rest += strspn(rest, " \t");

	if (!strcmp(key, "manufacturer"))
		return text_of(p, c->manufacturer, sizeof c->manufacturer, rest);
	if (!strcmp(key, "product"))
		return text_of(p, c->product, sizeof c->product, rest);
	if (!strcmp(key, "status"))
		return text_of(p, c->status, sizeof c->status, rest);

	enum { MOST = 6 };
	char *word[MOST], *save = NULL;
	int words = 0;
	for (char *w = strtok_r(rest, " \t", &save); w; w = strtok_r(NULL, " \t", &save)) {
		if (words == MOST)
			give_up(p, "too many words at key", key);
		word[words++] = w;
	}
	if (!strcmp(key, "carrier"))
		return carrier_line(c, p, word, words);
	if (words == 0)
		give_up(p, "no value at key", key);
	if (!strcmp(key, "serial") && words <= 2) {
		int i = words == 2 ? (int)bounded(p, word[1], 0, MAX_DEVICES - 1, true) : 0;
		return text_of(p, c->serial[i], sizeof c->serial[i], word[0]);
	}
	if (!strcmp(key, "pulled") && words == 2) {
		c->pull_after_s = bounded(p, word[0], 0, 1e6, false);
		c->pull_s = bounded(p, word[1], 0, 1e6, false);
		return;
	}
	if (!strcmp(key, "warm_up") && words == 3) {
		c->warm_db = bounded(p, word[0], -20, 20, false);
		c->warm_ppm = bounded(p, word[1], -100, 100, false);
		c->warm_s = bounded(p, word[2], 1, 1e6, false);
		return;
	}
	if (!strcmp(key, "imd") && words == 2) {
		c->imd_dbm_hz = bounded(p, word[0], -300, 0, false);
		c->imd_order = bounded(p, word[1], 2, 3, true);
		return;
	}
	if (words > 1)
		give_up(p, "too many words at key", key);
	if (!strcmp(key, "tuner")) {
		for (size_t i = 0; i < sizeof tuners / sizeof *tuners; i++)
			if (!strcmp(word[0], tuners[i])) {
				c->tuner = (enum rtlsdr_tuner)i;
				return;
			}
		give_up(p, "unknown tuner", word[0]);
	}
	if (!strcmp(key, "hang")) {
		for (size_t i = 0; i < sizeof calls / sizeof *calls; i++)
			if (!strcmp(word[0], calls[i]))
				return text_of(p, c->hang, sizeof c->hang, word[0]);
		give_up(p, "no call that hangs:", word[0]);
	}
	if (!strcmp(key, "branch")) {
		if (strcmp(word[0], "i") && strcmp(word[0], "q"))
			give_up(p, "unknown branch", word[0]);
		c->branch = word[0][0] == 'i' ? 1 : 2;
		return;
	}
	for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
		const struct number *n = &numbers[i];
		if (strcmp(key, n->key))
			continue;
		*(double *)((char *)c + n->at) = bounded(p, word[0], n->min, n->max, n->whole);
		return;
	}
	give_up(p, "unknown key", key);
}

static struct stamp stamp_of(const struct stat *st)
{
#ifdef __APPLE__
	const struct timespec t = st->st_mtimespec;
#else
	const struct timespec t = st->st_mtim;
#endif
	return (struct stamp){t.tv_sec, t.tv_nsec, st->st_size, (long long)st->st_ino};
}

// text_at gives the whole file, or NULL; the caller frees it.
static char *text_at(const char *path, struct stamp *s)
{
	struct stat st;
	int fd = open(path, O_RDONLY);
	if (fd < 0)
		return NULL;
	char *text = NULL;
	if (fstat(fd, &st) == 0 && (text = malloc((size_t)st.st_size + 1))) {
		ssize_t n = read(fd, text, (size_t)st.st_size);
		text[n < 0 ? 0 : n] = 0;
		*s = stamp_of(&st);
	}
	close(fd);
	return text;
}

static void parse(struct control *c, const char *path, char *text)
{
	struct place p = {path, 0};
	defaults(c);
	for (char *line = text; line && *line;) {
		char *next = strchr(line, '\n');
		if (next)
			*next++ = 0;
		p.line++;
		line_of(c, p, line);
		line = next;
	}
	if (isfinite(c->lo_leak_dbm) && !c->upconverter_hz)
		give_up(p, "lo_leak wants", "upconverter");
	if (c->source && !isfinite(c->enr_db))
		give_up(p, "source wants", "enr");
}

void control_read(struct control *c, struct stamp *s)
{
	const char *path = getenv("NIGHTFLOOR_STANDIN");
	*s = (struct stamp){0};
	defaults(c);
	c->devices = 0;
	if (!path || !*path)
		return;
	char *text = text_at(path, s);
	if (!text)
		give_up((struct place){path, 0}, "cannot be read:", strerror(errno));
	parse(c, path, text);
	free(text);
}

bool control_changed(struct control *c, struct stamp *s)
{
	const char *path = getenv("NIGHTFLOOR_STANDIN");
	struct stat st;
	if (!path || !*path || stat(path, &st))
		return false;
	struct stamp now = stamp_of(&st);
	if (!memcmp(&now, s, sizeof now))
		return false;
	char *text = text_at(path, &now);
	size_t n = text ? strlen(text) : 0;
	bool whole = n > 0 && text[n - 1] == '\n';
	if (whole) {
		parse(c, path, text);
		*s = now;
	}
	free(text);
	return whole;
}
