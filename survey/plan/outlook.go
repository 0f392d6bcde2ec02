package plan

import (
	"fmt"
	"math"
	"strings"
	"time"

	"nightfloor/survey"
)

// bytesOfReading is how many bytes a reading takes on the disk, with its spectrum and some ten
// carriers. Measured: a recorded night of 28,800 readings takes 132 MB.
const bytesOfReading = 4600

// How long changes are assumed to take, all included: the relay of an antenna that is switched,
// the samples that are thrown away after a new tuning or gain.
const (
	changingAntenna  = time.Second
	changingByPerson = 30 * time.Second // who walks to it, and presses Enter
	movingByPerson   = 2 * time.Minute  // to another placement (chosen)
	turningAntenna   = 15 * time.Second // 90° by a rotator of 6° a second; many are slower. Fails: TestOutlook
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
	Scatter, OnEight    survey.DB // of one round's advantage, one sigma: on one carrier, on eight that fade apart
	Needed              int       // rounds for ±1 dB on one carrier
	NeededOnEight       int       // on eight carriers that fade apart
}

// Outlook reckons what the plan will hold, with so many tunings in a sweep. It
// ends after length where that is sooner than its rounds; 0: no such end.
func (p Plan) Outlook(tunings int, length time.Duration) Outlook {
	o := Outlook{Sweep: time.Duration(tunings) * (p.Dwell + retuning)}
	changing := changingAntenna
	if p.Change.By == ByPerson {
		changing = changingByPerson + time.Duration(float64(movingByPerson-changingByPerson)*p.moves())
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
	o.Readings = each * p.readingsInRound()
	o.PerSetup = time.Duration(each) * p.Dwell
	o.Bytes = int64(o.Readings) * bytesOfReading
	visits := float64(p.VisitsPerRound()) // of a setup in a round, minutes apart: they fade apart
	fading := fadingScatter(fadingVariance(p.Sweeps, p.Dwell.Seconds(), o.Sweep.Seconds()) / visits)
	o.Scatter = survey.DB(math.Hypot(fading, floorScatter))
	o.OnEight = survey.DB(math.Hypot(fading/math.Sqrt(8), floorScatter))
	o.Needed = max(LeastRounds, pairsFor(1, o.Scatter))
	o.NeededOnEight = max(LeastRounds, pairsFor(1, o.OnEight))
	return o
}

// moves gives the share of changes that lead to another placement, where any setup may follow any other.
func (p Plan) moves() float64 {
	in := map[string]int{}
	for _, s := range p.Setups {
		in[s.Placement]++
	}
	n, apart := len(p.Setups), 0
	for _, here := range in {
		apart += here * (n - here)
	}
	return float64(apart) / float64(max(1, n*(n-1)))
}

// readingsInRound gives how many readings a sweep through every setup has in all.
func (p Plan) readingsInRound() (n int) {
	leftOut := map[string]int{} // segments, by antenna
	for _, a := range p.Antennas {
		for _, g := range p.Segments {
			if !a.Measures(g) {
				leftOut[a.Name]++
			}
		}
	}
	for _, s := range p.Setups {
		n += len(p.Segments) - leftOut[s.Antenna]
	}
	return n
}

// fadingSpread is the Doppler spread that plans reckon with, Hz, two-sided, of 2 sigma: skywave in
// moderate conditions (PHYSICS.md 9.1).
const fadingSpread = 0.5

// fadingVariance gives the variance of a visit's mean power over its square where the power fades by
// Rayleigh's law: the mean over all pairs of moments listened to of their correlation
// exp(−π²·B²·τ²), each dwell being continuous, one dwell a sweep (PHYSICS.md 9.2; seconds).
func fadingVariance(sweeps int, dwell, sweep float64) float64 {
	const a = math.Pi * math.Pi * fadingSpread * fadingSpread
	// The second derivative of twice is the correlation: of moments in two dwells that begin at lag from each
	// other the mean is its second difference.
	twice := func(x float64) float64 {
		return x*math.Sqrt(math.Pi/a)/2*math.Erf(math.Sqrt(a)*x) + math.Exp(-a*x*x)/(2*a)
	}
	mean := func(lag float64) float64 {
		return (twice(lag+dwell) - 2*twice(lag) + twice(lag-dwell)) / (dwell * dwell)
	}
	const forgotten = 4 / (math.Pi * fadingSpread) // s: correlation e^−16
	sum := float64(sweeps) * mean(0)
	for lag := 1; lag < sweeps && float64(lag)*sweep-dwell < forgotten; lag++ {
		sum += 2 * float64(sweeps-lag) * mean(float64(lag)*sweep)
	}
	return sum / float64(sweeps) / float64(sweeps)
}

// fadingScatter gives the scatter in dB of the difference of two antennas' means, one sigma, where each
// has variance v and both fade apart, as a loop and a whip do: 4.34·√v for each, √2 of it for two. A
// mean of few fades scatters by more in dB than its power does; v²/2 + v³/6 make it 7.9 dB for
// snapshots (PHYSICS.md 9.2; fails: TestFadingIsAsSimulated).
func fadingScatter(v float64) float64 {
	return 6.14 * math.Sqrt(v+v*v/2+v*v*v/6)
}

// floorScatter is by how much the difference of two setups' floors scatters from round to round, dB, one
// sigma, which all carriers of a segment share: 0.5 dB by which floors drift against each other between two
// visits, as in the nights that the ranking was simulated with (STATISTICS.md 3.10), and 0.1 dB by which
// either is measured wrong at most, with what the radiometer equation adds in the narrowest of bands
// (METHODS.md 5.10). Fails: TestFloorsAreSharedByCarriers.
const floorScatter = 0.52 // √(0.5² + 2·0.1²)

// pairsFor gives how many independent pairs make the 95 % interval ±h wide where
// one scatters by s: (1.96·s/h)², and two for Student's t (PHYSICS.md 9.3).
func pairsFor(h, s survey.DB) int {
	return int(math.Ceil(math.Pow(1.96*float64(s/h), 2))) + 2
}

// within gives the h of pairsFor for so many rounds.
func within(rounds int, s survey.DB) survey.DB {
	return 1.96 * s / survey.DB(math.Sqrt(float64(rounds-2)))
}

// Describe says in words what the plan will hold, with so many tunings in a sweep,
// and what speaks against it.
func (p Plan) Describe(o Outlook, tunings int, length time.Duration, doubts []string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s in %s, readings of %v\n", survey.Count(len(p.Setups), "setup"), survey.Count(len(p.Segments), "segment"), survey.Count(tunings, "tuning"), p.Dwell)
	fmt.Fprintf(&b, "a sweep takes %s, a visit %s, a round %s\n", DurationText(o.Sweep), DurationText(o.Visit), DurationText(o.Round))
	switch {
	case o.Rounds == 0 && length > 0: // one of the doubts
	case o.Rounds == 0:
		b.WriteString("it goes on until it is stopped\n")
	default:
		fmt.Fprintf(&b, "%s in %s: %s, %s, %s of listening for each setup and segment, %.0f MB\n",
			survey.Count(o.Rounds, "round"), DurationText(o.Total), survey.Count(o.Sweeps, "sweep"), survey.Count(o.Readings, "reading"), DurationText(o.PerSetup), float64(o.Bytes)/1e6)
	}
	for _, g := range p.Segments {
		if n := len(p.Listed[g.Name]); n > 0 {
			fmt.Fprintf(&b, "%s is ranked by its %s, measured in every reading\n", g.Name, survey.Count(n, "listed line"))
		}
	}
	if p.Change.By == ByPerson && len(p.Setups) > 1 {
		b.WriteString("half a minute is reckoned for each change by hand")
		changes := o.Rounds * len(p.Setups) * p.VisitsPerRound()
		if moves := p.moves(); moves > 0 {
			b.WriteString(", two minutes to another placement")
			if changes > 0 {
				fmt.Fprintf(&b, " (some %.0f of %d)", moves*float64(changes), changes)
			}
		}
		b.WriteString("\n")
	}
	if part, ok := p.Changing(); ok && o.Rounds > 0 {
		fmt.Fprintf(&b, "after round %d of %d, at half time, %s go from %s to %s\n", (o.Rounds+1)/2, o.Rounds, part.Name, part.Of(p.Halves[0]), part.Of(p.Halves[1]))
	}
	if len(p.Setups) > 1 {
		const reckoned = "(fading of 0.5 Hz, floors that drift by half a dB; what lasts takes more)"
		if o.Rounds >= LeastRounds {
			fmt.Fprintf(&b, "%s tell two antennas apart to ±%.1f dB on one carrier, ±%.1f dB on eight; ±1 dB takes %d and %d %s\n",
				survey.Count(o.Rounds, "round"), within(o.Rounds, o.Scatter), within(o.Rounds, o.OnEight), o.Needed, o.NeededOnEight, reckoned)
		} else {
			fmt.Fprintf(&b, "to tell two antennas apart to ±1 dB takes %d rounds on one carrier, %d on eight %s\n", o.Needed, o.NeededOnEight, reckoned)
		}
	}
	for _, doubt := range doubts {
		fmt.Fprintf(&b, "! %s\n", doubt)
	}
	return b.String()
}

// DurationText writes a duration as a person does: 41.0 s, 3.5 min, 8.2 h.
func DurationText(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%.1f s", d.Seconds())
	case d < time.Hour:
		return fmt.Sprintf("%.1f min", d.Minutes())
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}
