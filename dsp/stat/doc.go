// Package stat holds what the other packages of dsp need of statistics: order
// statistics of a slice, quantiles and tails of the distributions that powers of
// noise follow, and decibels.
//
// Powers of Gaussian noise are exponential variables and their means gamma
// distributed. Ratios and probabilities are plain numbers; decibels are those of a
// ratio of powers. What is asked of the distributions, and with how many trials,
// is left to the callers.
package stat
