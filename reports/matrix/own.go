package matrix

import (
	"math"

	"nightfloor/reports/input"
	"nightfloor/survey"
)

const (
	// HeardSigmas is from how many standard errors on a line counts as heard in one
	// cell. One cell of noise alone passes in 2.3 %, three of 24 in 2 % (STATISTICS.md 2.2).
	// TestWhichLinesCount of package stations fails when it or HeardRounds moves.
	HeardSigmas = 2
	// HeardRounds is in how many rounds a line must be heard through one setup to
	// count; with fewer than stats.MinRounds rounds, in all of them.
	HeardRounds = 3

	// A carrier within ownResolutions of a line of the receiver's own is not resolved
	// from it: with a Hann window two lines share bins up to 4 spacings apart, 2.7
	// resolutions. Where the resolution is finer, a line may still have moved since it
	// was calibrated: what the feed line picks up has a clock of its own, and 5 parts
	// in a million, a crystal warming up, are 50 Hz at 10 MHz (STATISTICS.md 2.3).
	// TestOwnLinesDoNotRank and TestOwnLinesDrift fail when they move.
	ownResolutions = 3
	ownDrift       = 50.0 // Hz
)

// ownLines gathers the lines that the receivers of a segment's readings have of
// their own, and the carriers that were heard near them.
type ownLines struct {
	met        map[float64][]meeting // by the line's frequency
	resolution float64               // the coarsest
}

// A meeting is a carrier within reach of an own line, in one reading.
type meeting struct {
	frequency float64
	stronger  bool // by so much that it is not the line
}

// ownStronger is how much stronger than a line of the receiver's own a carrier there must be
// to be a station: gains are labels, and levels drift. Chosen (STATISTICS.md 2.3);
// TestStationsOverOwnLines fails when it moves.
const ownStronger = 10 // dB

func (o *ownLines) add(r *survey.Reading, k *input.CalibrationFor) {
	o.resolution = max(o.resolution, float64(r.Resolution))
	if k == nil {
		return
	}
	for _, l := range k.Lines {
		line := float64(l.Frequency)
		all := o.met[line]
		for i := range r.Carriers {
			c := &r.Carriers[i]
			level, ok := survey.LevelOf(c.Power)
			if ok && c.Detected && !r.Quality.Has(survey.FlagOverload) && math.Abs(float64(c.Frequency)-line) <= o.reach() {
				all = append(all, meeting{float64(c.Frequency), level.Over(l.Level) > ownStronger})
			}
		}
		o.met[line] = all
	}
}

func (o *ownLines) reach() float64 { return max(ownResolutions*o.resolution, ownDrift) }

// among tells which of the lines, at the frequencies given, are the receiver's own, whatever
// the gain at which those were found: a line under the noise at one gain is still there. A
// carrier that is stronger than the line by ownStronger in most readings is a station.
func (o *ownLines) among(frequencies []float64) []bool {
	own := make([]bool, len(frequencies))
	for i, f := range frequencies {
		for line, met := range o.met {
			if math.Abs(f-line) > o.reach() {
				continue
			}
			times, stronger := 0, 0
			for _, m := range met {
				if math.Abs(m.frequency-f) <= o.resolution {
					times++
					if m.stronger {
						stronger++
					}
				}
			}
			own[i] = own[i] || 2*stronger <= times
		}
	}
	return own
}

// Heard tells whether the line is over its uncertainty in this cell.
func (c *Cell) Heard(line int) bool {
	return c != nil && c.Snr[line] > HeardSigmas*c.Sigma[line]
}
