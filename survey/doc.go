// Package survey holds the words of the trade as types.
//
// A survey is an experiment at a site. A receiver listens through setups (antenna,
// placement, bearing) in turn; one pass over all segments of spectrum through one
// setup is a sweep, what it found in one segment is a reading: floor, carriers,
// findings of interference, and what speaks against them. Sweeps through one setup
// between two changes are a visit, one visit to every setup is a round. A
// calibration says what the receiver adds of its own.
//
// The package imports no other of the module and touches no file. Below it, plan
// says what is to be done and sun where the sun stands over the site.
//
// Frequencies are in Hz, levels in dB against the reference that the type's
// name ends with, times in UTC, bearings in degrees clockwise from true north.
package survey
