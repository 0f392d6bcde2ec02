// Package matrix lays out one segment as setups by rounds by lines, the form in which setups
// are compared.
//
// A Cell is what one round found through one setup: the sweeps of its visits put together in
// linear power, at one gain, with the part of its floor that comes from outside the receiver.
// Carriers are told apart by frequency over all readings, so that a line may drift. Which of the
// lines are stations, package stations tells; here those are marked that are the receiver's own.
package matrix
