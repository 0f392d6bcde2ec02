// Package readlog holds the readings of a selection in order of time, with the rounds and the
// setup segments (a setup in a segment) that they belong to. Noise sources and rises of the
// floor are both found in it.
package readlog
