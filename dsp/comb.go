package dsp

// A Comb is a row of lines at whole multiples of one frequency.
type Comb struct {
	Spacing   float64 // Hz
	Sigma     float64 // Hz, standard error of Spacing
	Width     float64 // of a line n, over n: Hz of the fundamental's wobble, 0 for still lines
	Lines     int     // multiples in view
	Strength  float64 // mean power of a line over the floor in one resolution, a ratio
	Low, High float64 // Hz, of the stretch searched
	P         float64 // see Findings
}

// A CombView is what one recording says of evenly spaced lines: its spectrum over the
// usable passband, what is a signal's or the receiver's own marked. It keeps nothing of
// the Meter that made it.
type CombView struct{}

// SeekCombs finds combs in one recording, or in several of one moment taken together,
// strongest evidence first: their lines must stand at multiples in all of them.
func SeekCombs(views []*CombView) []Comb { return nil }

// Lines measures by force the lines of a comb known from elsewhere: their mean power in
// full-scale units, noise subtracted (it may be negative), with its standard error, and
// the number of multiples that it rests on. 0 lines: none is in view, or all are taken by
// signals; the others are then 0.
func (v *CombView) Lines(c Comb) (power, sigma float64, lines int) { return 0, 0, 0 }
