package drive

import "nightfloor/survey"

// When a gain rises.
const (
	// LowMargin is the receiver margin under which a gain counts as too low: what the receiver
	// adds is then 1.3 dB and more. PHYSICS.md 7.2; TestGainFollowsTheMargin.
	LowMargin survey.DB = 6
	// leastRise is by how much a gain could rise at least in all readings of a round: with less,
	// fading would make it rise and fall in turns. Levels that fade by 6 dB rms from visit to visit move
	// a gain up 1.2 times and down 0.7 times in 24 rounds, 1.6 and 0.7 without it (simulated);
	// TestWatch, TestGainInFading.
	leastRise survey.DB = 6
)

// A Watch follows over rounds how gains drive the converter. K tells the gains apart. The zero
// value is ready.
type Watch[K comparable] struct{ rounds map[K]round }

// A round is how a gain drove the converter in the readings of a round.
type round struct {
	readings, low int
	room          survey.DB // the least
}

// Note notes how a reading was driven, and whether that was too little for its levels.
func (w *Watch[K]) Note(gain K, l Level, low bool) {
	if w.rounds == nil {
		w.rounds = map[K]round{}
	}
	r := w.rounds[gain]
	if room := l.Room(); r.readings == 0 || room < r.room {
		r.room = room
	}
	r.readings++
	if low {
		r.low++
	}
	w.rounds[gain] = r
}

// EndRound gives the gains that may rise, and by how much at most: those of which most readings
// of the round had too little drive, and all of them room.
func (w *Watch[K]) EndRound() map[K]survey.DB {
	rises := map[K]survey.DB{}
	for gain, r := range w.rounds {
		if 2*r.low > r.readings && r.room >= leastRise {
			rises[gain] = r.room
		}
	}
	clear(w.rounds)
	return rises
}
