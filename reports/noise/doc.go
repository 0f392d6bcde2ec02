// Package noise finds the devices behind findings, and says what they look like.
//
// Each step makes a value of the one before it:
//
//	readlog.Log       the readings, rounds and setup segments of a selection
//	track.Track       what was detected of one thing, followed through time
//	presence.Presence when it was on
//	source.Source     both, with what was measured of it by force, drift and modulation
//	source.Strengths  how strong it is through every setup
//	judge.Verdict     what it looks like, with what speaks for and against it
//
// Find goes through them; Result shows what came out, and Measured hands on what was measured
// of the sources while they were on, for patterns by bearing.
package noise
