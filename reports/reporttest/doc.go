// Package reporttest makes surveys of which all is known, for tests of the reports: rows made
// directly, without I/Q, by worlds that each ask one question.
//
// A World compares setups by carriers that fade; a Din is a house with switching supplies.
// Each gives its rows with Input. Statistical tests take their seed of SeedFor and their number of surveys of
// TrialsOr, so that -fresh and -trials work in all of them. It is used by tests only.
package reporttest
