// Package text prints results for people and for spreadsheets: tables, the summary, CSV.
//
// It computes nothing but places of decimals: whatever it says is in the results. Lines keep
// within the width that is asked for: tables go without columns that can be spared, or are folded, and no
// figure is cut (Sheet). Whatever came from a file or a receiver is made printable.
package text
