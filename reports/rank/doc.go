// Package rank answers which setup hears best: it ranks setups by signal-to-noise ratio against
// a reference, in each segment, over the whole time and over day, dusk, night and dawn.
//
// Setups are compared within rounds, carrier by carrier, so that fading common to all cancels.
// A carrier that is strong through both gives a difference in dB; one that is weak through either
// gives a likelihood, so that it is neither left out, which flatters the poorer setup, nor put
// at its bound. A setup's advantage is the mean over carriers; its interval comes of what
// each block of rounds does to it (package stats). Controls, setups with a terminator in place of
// the antenna, tell what comes without one.
package rank
