// Package text prints results for people and for spreadsheets: tables, the summary, CSV.
//
// It computes nothing but places of decimals: whatever it says is in the results. Lines keep
// within 100 characters, and whatever came from a file or a receiver is made printable.
package text
