// Package reports turns stored sweeps into answers, and shows them.
//
// Statistics are pure functions from rows (package survey) to the results in
// this file; every rendering (table, JSON, CSV, page) takes the same results. A
// figure that does not apply is nil. Levels and densities are in dB against
// full scale, differences in dB, frequencies in Hz, times in UTC.
package reports
