// Package lines finds the coherent lines of a recording and tells which are carriers.
//
// In go the chunks of a recording as spectrograms, the mean power of each column and a
// rough floor. Out come carriers with frequency, power and standard error, and every line
// as a mask sees it. A line is coherent where the complex values of one column, frame by
// frame, keep their phase: they are transformed once more over the whole chunk, and a line
// gathers in one narrow peak while noise and the sidebands of speech do not (zoom.go).
// Lines close to a strong one are found after its skirts are subtracted (near.go). Lines of
// successive chunks are joined into tracks, and a line that does not stand out in a chunk
// is measured where it is expected (track.go).
//
// Not carriers are the sidebands of stronger lines (sideband.go), the mirror images of the
// receiver's I/Q imbalance (imbalance.go, image.go) and the DC spike. A Tracker does all of
// this for one recording.
//
// Frequencies are in Hz, powers in full-scale units with the noise subtracted. How far over
// the floor a line must stand to count as a carrier is up to package floor.
package lines
