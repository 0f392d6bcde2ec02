package survey

import "time"

// Progress is how far a survey came before it was interrupted.
type Progress struct {
	Survey Survey
	Round  int           // the last that was begun, 0 for none
	Visit  int           // the last
	Made   map[Setup]int // sweeps in that round, by the setup that was asked for
	Last   time.Time     // end of the last reading, zero for none
	// Recent are the sweeps of the last rounds; the readings of the very last one
	// come with their spectra.
	Recent []*Sweep
}
