package plan

import (
	"math"
	"time"

	"nightfloor/survey"
)

// Of a reading with its spectrum and some ten carriers on the disk, bytes: a
// recorded night of 28,800 of them takes 132 MB.
const bytesOfReading = 4600

// How long a change of antenna, tuning or gain is assumed to take in all, with the time
// of a relay and of a short queue that is thrown away.
const (
	changingAntenna  = time.Second
	changingByPerson = 30 * time.Second // who walks to it, and presses Enter
	turningAntenna   = 15 * time.Second // 90° by a rotator of 6° a second; many are slower
	retuning         = 50 * time.Millisecond
)

// LeastRounds is how many rounds an interval needs; under it there is none.
const LeastRounds = 6

// An Outlook is what a plan will hold.
type Outlook struct {
	Sweep, Visit, Round time.Duration
	Busy                time.Duration // of a visit, without a wait for the next
	Rounds              int           // 0: without end
	Total               time.Duration // 0: without end
	Sweeps, Readings    int
	PerSetup            time.Duration // of readings, in each segment
	Bytes               int64
	Scatter             survey.DB // of the difference of one carrier in one round, one sigma
	Needed              int       // rounds for ±1 dB on one carrier
	NeededOnEight       int       // on eight carriers that fade apart
}

// Outlook reckons what the plan will hold, with so many tunings in a sweep. It
// ends after length where that is sooner than its rounds; 0: no such end.
func (p Plan) Outlook(tunings int, length time.Duration) Outlook {
	o := Outlook{Sweep: time.Duration(tunings) * (p.Dwell + retuning)}
	changing := changingAntenna
	if p.Change.By == ByPerson {
		changing = changingByPerson
	}
	if r := p.Change.Rotator; r != nil {
		turned := 0
		for _, s := range p.Setups {
			if s.Bearing.Known && r.Turns(s.Antenna) {
				turned++
			}
		}
		changing += turningAntenna * time.Duration(turned) / time.Duration(max(1, len(p.Setups))) // on average
	}
	o.Busy = changing + time.Duration(p.Sweeps)*o.Sweep
	o.Visit = max(o.Busy, p.Every)
	o.Round = time.Duration(len(p.Setups)*p.VisitsPerRound()) * o.Visit
	o.Rounds = p.Rounds
	if length > 0 {
		if fit := int(length / o.Round); o.Rounds == 0 || fit < o.Rounds {
			o.Rounds = fit
		}
	}
	o.Total = time.Duration(o.Rounds) * o.Round
	each := o.Rounds * p.Sweeps * p.VisitsPerRound() // sweeps of a setup
	o.Sweeps = each * len(p.Setups)
	for _, s := range p.Setups {
		for _, g := range p.Segments {
			if p.Antenna(s.Antenna).Measures(g) {
				o.Readings += each
			}
		}
	}
	o.PerSetup = time.Duration(each) * p.Dwell
	o.Bytes = int64(o.Readings) * bytesOfReading
	o.Scatter = fadingScatter(p.Sweeps*p.VisitsPerRound(), p.Dwell, o.Sweep)
	o.Needed = max(LeastRounds, pairsFor(1, o.Scatter))
	o.NeededOnEight = max(LeastRounds, pairsFor(1, o.Scatter/survey.DB(math.Sqrt(8))))
	return o
}

// fadingScatter gives the scatter of the difference between two antennas whose
// fading is independent, such as a loop's and a whip's, in one round: 7.9 dB for
// snapshots, less by the root of the fades that a visit holds (trade notes, 8.1),
// at a Doppler spread of 0.5 Hz.
func fadingScatter(sweeps int, dwell, sweep time.Duration) survey.DB {
	const spread = 0.5 // Hz
	apart := float64(sweeps) * max(1, dwell.Seconds()*spread)
	inAll := max(1, float64(sweeps)*sweep.Seconds()*spread)
	return survey.DB(7.9 / math.Sqrt(min(apart, inAll)))
}

// pairsFor gives how many independent pairs make the 95 % interval ±h wide where
// one scatters by s: (1.96·s/h)², and two for Student's t (trade notes, 8.2).
func pairsFor(h, s survey.DB) int {
	return int(math.Ceil(math.Pow(1.96*float64(s/h), 2))) + 2
}
