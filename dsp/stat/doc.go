// Package stat holds the statistics that the other packages of dsp share: order
// statistics of a slice, quantiles and tail probabilities of the distributions that
// powers of noise follow, whether events come with a frequency, and decibels.
//
// The power of Gaussian noise in one bin of one frame is an exponential variable, the
// mean of independent such powers ("looks") a gamma variable. Its quantiles and tails
// are what corrects a median for its bias (METHODS.md 3.4, 3.5) and what turns a ratio
// of powers into a probability. Powers and ratios are linear; only what DB returns is
// in decibels. A Phasor sums events at a frequency; by chance its power is an exponential
// variable as well (METHODS.md 3.6). How many trials a probability must be multiplied by is known to the
// callers alone.
package stat
