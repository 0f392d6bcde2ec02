// Package floor tells the noise's density from what stands in it: what columns of an
// averaged spectrum signals take, how strong the noise is in the rest, and how far that
// is certain.
//
// In go averages and the lines that are known. A Masker closes the columns that lines and
// all else that stands out of the local noise take, with the room that sidebands want,
// and measures any stretch of columns by those left: an Estimate, a power by column with
// its relative standard error for steady noise. A Rough floor needs no mask; lines are
// found by it. An EdgeFinder tells which columns the receiver's own filter lets through: all else is told
// from those. A Floor is the result, with the noise's course in time taken in, which
// package envelope tells and the caller puts in. Powers are in full-scale units a column,
// densities per hertz.
package floor
