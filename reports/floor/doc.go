// Package floor gives the floors through a survey: for each segment, setup and hour the
// quantiles of the readings, at one gain a segment so that they compare, and in dBm at the
// antenna's terminals where a calibration knows what full scale stands for.
package floor
