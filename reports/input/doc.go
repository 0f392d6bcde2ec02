// Package input holds the rows that reports are made of, and selects what was asked for.
//
// An Input is rows as they were stored. Select narrows them down by the Options, once for all
// results of a report, and gives a Selection: sweeps in order of time; antennas that were
// repeaked under names of their own; copies of the readings into which the calibrations have
// put what they know, namely the flag receiver-limited and gains measured by a generator in
// place of labels, and controls what they show of own noise; and the setup that the others are compared with. Statistics know nothing
// of calibrations otherwise, but for CalibrationOf a reading.
//
// Levels against full scale move with the receiver's gain: Refer says by how much a level is
// to be lowered to stand at another gain, or that this is not known, in which case it must not
// be mixed in.
package input
