package reporttest

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A Radiator is a switching supply in a test's house, of which all is known.
type Radiator struct {
	Spacing float64    // Hz, once warm
	Drift   float64    // share by which it starts too high
	Warming float64    // hours, time constant
	Aging   float64    // Hz an hour, once warm too
	Wobble  float64    // Hz, of the fundamental: line n is n times as wide
	Hours   []HourSpan // after the survey's start
	Level   []float64  // by setup: a line's mean power over the floor in one resolution, dB
	Swing   []float64  // by setup: amplitude of the density's swing over the floor; 0: none
	Depth   float64    // of the modulation of its own lines; 0: none
	Weak    bool       // its lines are too weak to show one
}

// HourSpan is from when to when a radiator is on, hours after the start.
type HourSpan struct{ From, To float64 }

// Since gives for how many hours the radiator has been on.
func (r *Radiator) Since(hours float64) (long float64, on bool) {
	for _, h := range r.Hours {
		if hours >= h.From && hours < h.To {
			return hours - h.From, true
		}
	}
	return 0, false
}

func (r *Radiator) at(hours float64) float64 {
	long, _ := r.Since(hours)
	return r.Spacing*(1+r.Drift*math.Exp(-long/r.Warming)) + r.Aging*hours
}

// A Din is a survey's rows made directly: three setups, three segments each with a tuning of its
// own, two sweeps a visit, six minutes a round. What the detectors would find of the
// radiators stands in the readings, with errors; combs that were found in the last three
// rounds are measured by force, and so is modulation by the mains, always.
type Din struct {
	Seed      uint64
	Start     time.Time
	Rounds    int
	Setups    []survey.Setup
	Segments  []survey.Segment
	Radiators []Radiator
	FalseRate float64 // of combs by visit, and of modulation, that are found where there are none
}

// DinSegments are those of a Din unless it has others.
var DinSegments = []survey.Segment{{Name: "49 m", Low: 5.9e6, High: 6.2e6}, {Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "25 m", Low: 11.6e6, High: 12.1e6}}

// How long a round of a Din lasts, and its floor while nothing radiates.
const (
	DinRound = 6 * time.Minute
	DinFloor = -98.0 // dBFS/Hz
	// lineSigma is the standard error of a line's mean power in one reading, of the floor: 0.5 s in
	// bins of 110 Hz are some 40 averages, over eight lines in view.
	lineSigma = 0.056 // 1/√(40·8)
	// swingSigma is that of the squared amplitude of the swing, of the floor's square.
	swingSigma = 0.003
)

// NewDin gives a din of 160 rounds with the radiators.
func NewDin(seed uint64, radiators ...Radiator) Din {
	return Din{Seed: seed, Start: time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC), Rounds: 160, Segments: DinSegments, Radiators: radiators,
		Setups: []survey.Setup{{Antenna: "whip", Placement: "attic"}, {Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}, {Antenna: "wire", Placement: "study"}}}
}

// Evening are the three supplies of a house, one of them nearly always on.
func Evening() []Radiator {
	return []Radiator{
		{Spacing: 65.013e3, Drift: 8e-4, Warming: 0.42, Hours: []HourSpan{{1.67, 7.83}, {14.83, 15.95}}, Level: []float64{6, 0, -3}, Swing: []float64{0.5, 0.2, 0.15}},
		{Spacing: 48.617e3, Drift: 5e-4, Warming: 0.25, Hours: []HourSpan{{6.5, 12.33}}, Level: []float64{0, 4, -6}, Swing: []float64{0.3, 0.4, 0.1}},
		{Spacing: 113.29e3, Drift: 3e-4, Warming: 0.67, Hours: []HourSpan{{-1, 2}, {2.5, 12.33}, {12.8, 20}}, Level: []float64{3, 1, -2}, Swing: []float64{0.2, 0.1, 0.1}},
	}
}

// Input makes the rows.
func (d Din) Input() input.Input {
	random := rand.New(rand.NewPCG(d.Seed, 11))
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, First: d.Setups[0], Start: d.Start, Ending: "planned rounds done",
		Site: survey.Site{Name: "test house", Locator: "JN58td", MainsHz: 50}}}}
	heard := slices.Repeat([]int{-100}, len(d.Radiators)) // last round in which each was found
	visit := 0
	for n := range d.Rounds {
		pace := DinRound / time.Duration(2*len(d.Setups))
		for place, k := range random.Perm(len(d.Setups)) {
			visit++
			var wrong []survey.Finding
			for sweep := range 2 {
				at := d.Start.Add(time.Duration(n)*DinRound + time.Duration(2*place+sweep)*pace)
				s := d.Sweep(random, heard, n, k, visit, at)
				if found := d.chance(random); sweep == 0 {
					wrong = found
				}
				s.Readings[0].Findings = append(s.Readings[0].Findings, wrong...)
				in.Sweeps = append(in.Sweeps, s)
			}
		}
	}
	return in
}

// Sweep makes one sweep; heard are the rounds in which each radiator was last found.
func (d Din) Sweep(random *rand.Rand, heard []int, n, k, visit int, at time.Time) *survey.Sweep {
	s := &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: d.Setups[k], Start: at}
	for i, segment := range d.Segments {
		s.Readings = append(s.Readings, survey.Reading{Segment: segment, Start: at.Add(time.Duration(i) * time.Second), Duration: 500 * time.Millisecond,
			Centre: (segment.Low + segment.High) / 2, BinWidth: 73.2, Resolution: 110, Gain: survey.Gain{Known: true, Exact: true},
			Floor: &survey.Floor{Density: DinFloor, Sigma: 0.05, Quiet: DinFloor}})
	}
	for i := range d.Radiators {
		d.comb(random, s, &d.Radiators[i], &heard[i], n, k)
	}
	hours := at.Sub(d.Start).Hours()
	for i := range s.Readings {
		d.modulate(random, &s.Readings[i], hours, k)
	}
	return s
}

// chance gives a comb that is found where there is none. The sweeps of a visit have their
// stations in common, and what these look like.
func (d Din) chance(random *rand.Rand) []survey.Finding {
	if random.Float64() >= d.FalseRate {
		return nil
	}
	spacing := 15e3 * math.Exp(random.Float64()*math.Log(500.0/15))
	return []survey.Finding{{Kind: survey.FindingComb, Spacing: survey.Hz(spacing), Lines: 20,
		Low: 5.9e6, High: 6.2e6, Confidence: 1 - 1e-3*random.Float64(), Sigma: 1}}
}

// comb puts a radiator's comb into the readings of a sweep: found where all of them
// together show it, else measured by force while it is remembered.
func (d Din) comb(random *rand.Rand, s *survey.Sweep, r *Radiator, heard *int, n, k int) {
	hours := s.Start.Sub(d.Start).Hours()
	level := 0.0
	if _, on := r.Since(hours); on && r.Level != nil {
		level = stats.FromDecibel(r.Level[k])
	}
	unit := stats.FromDecibel(DinFloor) * 110
	powers, sum := make([]float64, len(s.Readings)), 0.0
	for i := range powers {
		powers[i] = level + lineSigma*random.NormFloat64()
		sum += powers[i] / lineSigma
	}
	confidence := 0.0
	if z := sum / math.Sqrt(float64(len(powers))); z > 6 && level > 0 {
		confidence, *heard = 0.99999, n
	} else if n > *heard+3 {
		return
	}
	spacing := r.at(hours) * (1 + 2e-6*random.NormFloat64())
	for i := range s.Readings {
		x := &s.Readings[i]
		f := survey.Finding{Kind: survey.FindingComb, Low: x.Segment.Low, High: x.Segment.High, Spacing: survey.Hz(spacing), Width: survey.Hz(r.Wobble),
			Lines: int(float64(x.Segment.High-x.Segment.Low) / spacing), Confidence: confidence,
			Power: powers[i] * unit, Sigma: lineSigma * unit}
		if f.Detected() && !r.Weak {
			f.Sought = true
			if r.Depth > 0 {
				f.Envelope, f.Mains, f.Depth = 99.98, 50, r.Depth
			}
		}
		if f.Power > 0 {
			f.Strength = survey.DB(stats.Decibel(powers[i]))
		}
		x.Findings = append(x.Findings, f)
	}
}

// modulate measures the modulation by the mains in a reading: amplitudes of supplies add up,
// since all rectify at the peaks of one voltage.
func (d Din) modulate(random *rand.Rand, r *survey.Reading, hours float64, k int) {
	swing := 0.0
	for i := range d.Radiators {
		if _, on := d.Radiators[i].Since(hours); on && d.Radiators[i].Swing != nil {
			swing += d.Radiators[i].Swing[k]
		}
	}
	unit := stats.FromDecibel(2 * DinFloor)
	square := swing*swing + swingSigma*random.NormFloat64()
	f := survey.Finding{Kind: survey.FindingMains, Low: r.Segment.Low, High: r.Segment.High, Envelope: 100.01, Mains: 50,
		Power: square * unit, Sigma: swingSigma * unit}
	if square > 5*swingSigma && swing > 0 {
		f.Confidence, f.Depth, f.Shape = 0.9999, min(1, 1.6*swing), "two humps"
	}
	if random.Float64() < d.FalseRate/3 {
		f.Confidence = 1 - 1e-3*random.Float64()
	}
	r.Findings = append(r.Findings, f)
}

// WithSurvey puts another survey's rows beside those of an input, as survey id.
func WithSurvey(in, other input.Input, id int64) input.Input {
	other.Surveys[0].ID = id
	for _, s := range other.Sweeps {
		s.Survey = id
	}
	in.Surveys, in.Sweeps = append(in.Surveys, other.Surveys...), append(in.Sweeps, other.Sweeps...)
	return in
}
