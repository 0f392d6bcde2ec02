// Package transient tells which frames of a recording hold transients: isolated pulses and
// transmissions of a tenth of a second at most, which are no part of the noise.
//
// In go the transforms of the frames of a chunk, one by one, out comes a verdict on
// each: kept, left out, or pending until the next chunk shows whether a rise ends soon
// or lasts. Passages tell at the end whether what was left out was transient at all, for
// what comes often enough is noise. What becomes of the frames is the caller's matter.
package transient
