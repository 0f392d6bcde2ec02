// Package turn changes antennas: it puts a setup in place and says what was reached, which
// may be another one than was asked for.
//
// A Command is a program of the user's that switches, a Person is asked at the terminal, a
// Rotator turns antennas by way of Hamlib's rotctld, Only stands for a plan with one setup.
// A Chain asks several of them one after the other. Each is a capture.Changer: what it
// cannot confirm it does not claim, and its error then wraps capture.ErrNotReached. Command, Person
// and Chain are capture.Rewirers, too: they change feed lines, idle antennas and chokes at half time.
//
// Bearings are in degrees from true north; azimuths are a rotator's own degrees. Time is
// that of the wall clock.
package turn
