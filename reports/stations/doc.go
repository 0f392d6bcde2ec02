// Package stations tells which of a segment's lines are stations, so that setups are compared by what
// comes from far away.
//
// A Finder is made of one segment's matrix and of what is Known of the house: its noise sources, with their
// combs and hours, and its controls. In sorts the lines that were heard in some rounds. Out go the receiver's own,
// those of combs, those off the broadcasters' raster where one is seen, and what a control hears nearly as well or keeps
// a noise source's hours. Where there is no raster, as on amateur bands, a line must show that it is a station: it
// keeps its frequency, as crystals do, and fades by itself, as each path does. Each line is in one list of Lines, so that a
// result can say what was left out, and why. The unit is the cell: one setup in one round.
package stations
