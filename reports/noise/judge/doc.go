// Package judge tells what a noise source looks like, with what speaks for it and against.
//
// Verdicts judges sources by the signs of PHYSICS.md 8.2: the spacing and warming of a comb, the
// modulation that goes with it, the rate of impulses, and when the source is on (habits.go).
// Where the signs fit several families as well, none is named. OwnLines tells which lines are the
// receiver's own.
package judge
