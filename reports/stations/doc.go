// Package stations tells which of a segment's lines are stations.
//
// Setups are compared by what comes from far away. A line counts that was heard often enough, stands
// on the broadcasters' raster where there is one, and is not the receiver's own. What was left out
// is told by reason.
package stations
