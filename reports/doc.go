// Package reports makes reports: NewReport takes a selection of stored readings (package input)
// and makes the results that are asked for, each once, in order of what rests on what.
//
// Statistics are pure functions from rows (package survey) to results (package result): rank,
// floor, bearings, noise, rises, quality and waterfall, a package each, on matrix, readlog,
// strength and stats. What speaks against a result is a value too (package doubt), its sentence
// written there alone. Renderings take results alone: package text and package page, and
// result.WriteJSON.
package reports
