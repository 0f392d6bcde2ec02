// Package calibrate measures the receiver itself: what it adds to what an antenna
// hears, and by how much it errs.
//
// A Calibrator makes readings through a capture.Sweeper, while the operator has
// connected what the calibration wants:
//
//   - a terminator: SelfNoise, the receiver's own floor at every gain, and OwnLines,
//     the lines that are there without an antenna;
//   - a generator of a known level: Levels, what 0 dBFS stands for in dBm;
//   - a noise source, off and on: SelfNoise twice, then LevelsFromSource;
//   - an antenna without an attenuator, with it and without: Sweeps three times, then an
//     AttenuatorTest's Linearity, which tells noise from outside from the receiver's own and
//     from intermodulation, and refuses an attenuator that takes off something else;
//   - an antenna that hears broadcast stations: ClockError.
//
// A Run does one of these from beginning to end. Own noise and levels judge each other by the
// noise figure that they imply, and a run those before it: what cannot be is refused. A receiver
// that drifts within a run as one does that warms up is refused or doubted, too.
//
// The results are the types of package survey. What the operator is asked to do, and
// how results are shown and stored, is left to the caller.
package calibrate
