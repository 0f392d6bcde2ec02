// Package rank answers which setup hears best: it ranks setups by signal-to-noise ratio against
// a reference, in each segment, over the whole time, over day, dusk, night and dawn, and over each state
// of the noise sources that matters.
//
// Of goes through the segments. What setups are compared by is found first (package stations, and onair for
// amateur bands), then every setup is compared with every other within rounds (package pair), so that
// fading common to all cancels: one figure a round and pair. The rounds are put into states of the noise
// sources (package strata), and what they say of the mean, and of which setups may be the best, is told by
// package series. A comparison holds all this of one segment and period; a look is one way to read
// it, over all states or over one. The verdict is what a reading comes to. Controls, setups with a terminator in
// place of the antenna, tell what comes without one. Formulas and coverage: STATISTICS.md 2 to 4.
package rank
