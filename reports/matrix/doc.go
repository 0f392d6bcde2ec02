// Package matrix lays out one segment as setups by rounds by lines, the form in which setups
// are compared.
//
// A Cell is what one round found through one setup: the sweeps of its visits put together in
// linear power, at one gain, with the part of its floor that comes from outside the receiver.
// Carriers are told apart by frequency over all readings, so that a line may drift; Counting
// says which lines count as stations: heard often enough, on the broadcasters' raster where
// there is one, and not the receiver's own. What was left out is counted.
package matrix
