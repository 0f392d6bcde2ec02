#include "clock.h"

#include <math.h>
#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <time.h>

// A waiter is a thread that streams and waits for a moment.
struct waiter {
	double until;
	uint64_t call; // of standin_run in which it began to
	bool over;
	struct waiter *next;
};

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static pthread_cond_t changed = PTHREAD_COND_INITIALIZER;
static bool driven; // by the program
static double now_s, allowed_s;
static uint64_t call; // counts those of standin_run
static int dongles, streams, hung, over;
static struct waiter *waiters;

static double host_clock_s(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

// drive is called with the lock held.
static void drive(void)
{
	if (!driven)
		now_s = host_clock_s();
	driven = true;
}

int64_t standin_now(void)
{
	pthread_mutex_lock(&lock);
	drive();
	int64_t ns = llround(now_s * 1e9);
	pthread_mutex_unlock(&lock);
	return ns;
}

double clock_s(void)
{
	pthread_mutex_lock(&lock);
	double s = driven ? now_s : host_clock_s();
	pthread_mutex_unlock(&lock);
	return s;
}

void clock_count(int more_dongles, int more_streams)
{
	pthread_mutex_lock(&lock);
	dongles += more_dongles;
	streams += more_streams;
	pthread_cond_broadcast(&changed);
	pthread_mutex_unlock(&lock);
}

void clock_over(int more)
{
	pthread_mutex_lock(&lock);
	over += more;
	pthread_cond_broadcast(&changed);
	pthread_mutex_unlock(&lock);
}

void clock_hang(int calls)
{
	pthread_mutex_lock(&lock);
	hung += calls;
	pthread_cond_broadcast(&changed);
	pthread_mutex_unlock(&lock);
}

int standin_hung(void)
{
	pthread_mutex_lock(&lock);
	int n = hung;
	pthread_mutex_unlock(&lock);
	return n;
}

void clock_delivered(void)
{
	pthread_mutex_lock(&lock);
	if (driven)
		allowed_s = now_s;
	pthread_mutex_unlock(&lock);
}

// rest waits for the moment, or until standin_run is called anew: what the program
// did before that call is to be seen before the time goes on. It is called with the
// lock held.
static void rest(double until)
{
	struct waiter w = {until, call, false, waiters}, **at = &waiters;
	waiters = &w;
	pthread_cond_broadcast(&changed);
	while (!w.over && w.call == call)
		pthread_cond_wait(&changed, &lock);
	while (*at != &w)
		at = &(*at)->next;
	*at = w.next;
}

void clock_nap(double s)
{
	pthread_mutex_lock(&lock);
	bool resting = driven;
	if (resting)
		rest(now_s + s);
	pthread_mutex_unlock(&lock);
	if (resting)
		return;
	struct timespec t = {0, (long)(s * 1e9)};
	nanosleep(&t, NULL);
}

// resting tells whether all who stream wait, and the moment that is due next. It is
// called with the lock held.
static bool resting(double *next)
{
	int n = 0;
	*next = allowed_s;
	for (const struct waiter *w = waiters; w; w = w->next) {
		n += !w->over && w->call == call;
		*next = fmin(*next, w->until);
	}
	return n == (hung || over ? streams : dongles);
}

// go_on moves the time, and wakes who waits for it. It is called with the lock held.
static void go_on(double to)
{
	now_s = fmax(now_s, to);
	for (struct waiter *w = waiters; w; w = w->next)
		w->over = w->until <= now_s;
	pthread_cond_broadcast(&changed);
}

int standin_run(int64_t until, int alone)
{
	int goes = 1;
	double next;
	pthread_mutex_lock(&lock);
	drive();
	allowed_s = 1e-9 * (double)until;
	call++;
	pthread_cond_broadcast(&changed);
	for (;;) {
		if (!hung && streams < dongles - (alone ? over : 0)) {
			goes = 0;
			break;
		}
		if (!resting(&next)) {
			pthread_cond_wait(&changed, &lock);
			continue;
		}
		if (now_s >= allowed_s)
			break;
		go_on(next);
	}
	pthread_mutex_unlock(&lock);
	return goes;
}
