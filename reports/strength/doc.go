// Package strength tells how strong something is through one setup in one segment: the ratio
// of what was measured of it to what it is held against, over rounds, with its 95 % interval,
// or a bound where it is not over its uncertainty.
package strength
