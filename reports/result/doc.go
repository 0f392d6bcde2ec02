// Package result holds what reports found: one type for each question, which the computing
// packages fill and every rendering (table, CSV, JSON, page) takes.
//
// A figure that does not apply is nil. None is infinite or no number; one that were would be null in
// JSON, an empty field of CSV and a dash elsewhere. Levels and densities are in dB against full
// scale, differences in dB, frequencies in Hz, times in UTC. The fields' JSON names are the
// documents that users read, see the Schema constants: they change by addition only.
package result
