// Package verdict puts into words what a report comes to: which setup hears best in a segment
// and by how much (Sentence), all segments and hours at a glance (At), and what to do, as far as the
// figures carry it (Advise). It tells as well what is not worth telling: periods that repeat the whole time
// (Entries), doubts that the sentence has said (Doubts), marks where all setups would have one (Marked).
//
// Terminal and page take their words from here, so that they cannot differ. Nothing is computed:
// every figure stands in the results, with its interval.
package verdict
