// Package stats holds the numbers behind the reports' intervals: quantiles, the correlation of
// one round with the next, and the jackknife over blocks of rounds.
//
// Rounds next to each other are alike, since fading and noise last from one to the next, so
// that the scatter of single rounds says too little of how well their mean is known. Lagged
// finds how much alike they are; Blocks puts rounds together accordingly; a Jackknife holds
// what each block does to a figure, and gives its standard error and 95 % interval. (The mean of
// round figures has an estimator of its own, package series.)
//
// It knows nothing of readings and antennas: numbers go in, numbers come out, in dB where it
// says so.
package stats
