// Package plan reads survey plans: what is to be measured, through which setups, in
// which order and for how long.
//
// Parse takes the text of a TOML file and gives a Plan, or every mistake in it, each
// with its line, so that one look mends the whole file. What only a receiver or a
// changer can know to be wrong is joined to these by AddMistake. A plan's Shuffler
// gives the order of setups in each round, its Outlook what the survey will hold:
// how long it takes, how much room it needs, how many rounds an answer wants.
//
// Nothing is tuned, moved or opened here.
package plan
