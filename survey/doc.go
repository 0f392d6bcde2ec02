// Package survey holds the words of the trade as types: units, setups,
// segments and the named bands, readings and sweeps, plans, and the physics of
// the site (sun, locator). It imports no other room and touches no file but a
// plan's text handed to it.
//
// Frequencies are in Hz, levels in dB against the reference that the type's
// name ends with, times in UTC, bearings in degrees clockwise from true north.
package survey
