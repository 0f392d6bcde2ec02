// Package waterfall makes the pictures of time against frequency, one a segment and setup, of
// spectra handed in one by one, so that a night of them need not be held.
package waterfall
