// Package quality counts what each survey holds, and says what speaks against it: flags, gaps,
// visits that did not reach what was asked for, the calibrations that served, and doubts about
// what was selected as a whole.
package quality
