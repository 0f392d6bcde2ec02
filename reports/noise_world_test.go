package reports

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A radiator is a switching supply in a test's house, of which all is known.
type radiator struct {
	spacing float64    // Hz, once warm
	drift   float64    // share by which it starts too high
	warming float64    // hours, time constant
	aging   float64    // Hz an hour, once warm too
	hours   []hourSpan // after the survey's start
	level   []float64  // by setup: a line's mean power over the floor in one resolution, dB
	beat    []float64  // by setup: amplitude of the density's swing over the floor; 0: none
	depth   float64    // of the beat of its own lines; 0: none
	weak    bool       // its lines are too weak to show one
}

type hourSpan struct{ from, to float64 }

func (r *radiator) since(hours float64) (long float64, on bool) {
	for _, h := range r.hours {
		if hours >= h.from && hours < h.to {
			return hours - h.from, true
		}
	}
	return 0, false
}

func (r *radiator) at(hours float64) float64 {
	long, _ := r.since(hours)
	return r.spacing*(1+r.drift*math.Exp(-long/r.warming)) + r.aging*hours
}

// A din is a survey's rows made directly: three setups, three segments each with a tuning of its
// own, two sweeps a visit, six minutes a round. What the detectors would find of the
// radiators stands in the readings, with errors; combs that were found in the last three
// rounds are measured by force, and so is the beat with the mains, always.
type din struct {
	seed      uint64
	start     time.Time
	rounds    int
	setups    []survey.Setup
	radiators []radiator
	kind      string
	locator   string
	lineSigma float64 // standard error of a line's mean power in one reading, of the floor
	beatSigma float64 // of the squared amplitude of the swing, of the floor's square
	falseRate float64 // of combs by visit, and of beats, that are found where there are none
}

var dinSegments = []survey.Segment{{Name: "49 m", Low: 5.9e6, High: 6.2e6}, {Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "25 m", Low: 11.6e6, High: 12.1e6}}

const (
	dinRound = 6 * time.Minute
	dinFloor = -98.0 // dBFS/Hz
	// 0.5 s in bins of 110 Hz are some 40 averages, over eight lines in view.
	dinLineSigma = 0.056 // 1/√(40·8)
)

func newDin(seed uint64, radiators ...radiator) din {
	return din{seed: seed, start: time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC), rounds: 160, radiators: radiators, kind: survey.KindRecord,
		setups:  []survey.Setup{{Antenna: "whip", Placement: "attic"}, {Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}, {Antenna: "wire", Placement: "study"}},
		locator: "JN58td", lineSigma: dinLineSigma, beatSigma: 0.003}
}

// evening are the three supplies of a house, one of them nearly always on.
func evening() []radiator {
	return []radiator{
		{spacing: 65.013e3, drift: 8e-4, warming: 0.42, hours: []hourSpan{{1.67, 7.83}, {14.83, 15.95}}, level: []float64{6, 0, -3}, beat: []float64{0.5, 0.2, 0.15}},
		{spacing: 48.617e3, drift: 5e-4, warming: 0.25, hours: []hourSpan{{6.5, 12.33}}, level: []float64{0, 4, -6}, beat: []float64{0.3, 0.4, 0.1}},
		{spacing: 113.29e3, drift: 3e-4, warming: 0.67, hours: []hourSpan{{-1, 2}, {2.5, 12.33}, {12.8, 20}}, level: []float64{3, 1, -2}, beat: []float64{0.2, 0.1, 0.1}},
	}
}

func (d din) input() input.Input {
	random := rand.New(rand.NewPCG(d.seed, 11))
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: d.kind, Simulated: true, First: d.setups[0], Start: d.start, Ending: "planned rounds done",
		Site: survey.Site{Name: "test house", Locator: d.locator, MainsHz: 50}}}}
	heard := make([]int, len(d.radiators)) // last round in which each was found
	for i := range heard {
		heard[i] = -100
	}
	visit := 0
	for n := range d.rounds {
		pace := dinRound / time.Duration(2*len(d.setups))
		for place, k := range random.Perm(len(d.setups)) {
			visit++
			var wrong []survey.Finding
			for sweep := range 2 {
				at := d.start.Add(time.Duration(n)*dinRound + time.Duration(2*place+sweep)*pace)
				s := d.sweep(random, heard, n, k, visit, at)
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

func (d din) sweep(random *rand.Rand, heard []int, n, k, visit int, at time.Time) *survey.Sweep {
	s := &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: d.setups[k], Start: at}
	for i, segment := range dinSegments {
		s.Readings = append(s.Readings, survey.Reading{Segment: segment, Start: at.Add(time.Duration(i) * time.Second), Duration: 500 * time.Millisecond,
			Centre: (segment.Low + segment.High) / 2, BinWidth: 73.2, Resolution: 110, Gain: survey.Gain{Known: true, Exact: true},
			Floor: &survey.Floor{Density: dinFloor, Sigma: 0.05, Quiet: dinFloor}})
	}
	for i := range d.radiators {
		d.comb(random, s, &d.radiators[i], &heard[i], n, k)
	}
	hours := at.Sub(d.start).Hours()
	for i := range s.Readings {
		d.beat(random, &s.Readings[i], hours, k)
	}
	return s
}

// chance gives a comb that is found where there is none. The sweeps of a visit have their
// stations in common, and what these look like.
func (d din) chance(random *rand.Rand) []survey.Finding {
	if random.Float64() >= d.falseRate {
		return nil
	}
	spacing := 15e3 * math.Exp(random.Float64()*math.Log(500.0/15))
	return []survey.Finding{{Kind: survey.FindingComb, Spacing: survey.Hz(spacing), Lines: 20,
		Low: 5.9e6, High: 6.2e6, Confidence: 1 - 1e-3*random.Float64(), Sigma: 1}}
}

// comb puts a radiator's comb into the readings of a sweep: found where all of them
// together show it, else measured by force while it is remembered.
func (d din) comb(random *rand.Rand, s *survey.Sweep, r *radiator, heard *int, n, k int) {
	hours := s.Start.Sub(d.start).Hours()
	level := 0.0
	if _, on := r.since(hours); on && r.level != nil {
		level = stats.FromDecibel(r.level[k])
	}
	unit := stats.FromDecibel(dinFloor) * 110
	powers, sum := make([]float64, len(s.Readings)), 0.0
	for i := range powers {
		powers[i] = level + d.lineSigma*random.NormFloat64()
		sum += powers[i] / d.lineSigma
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
		f := survey.Finding{Kind: survey.FindingComb, Low: x.Segment.Low, High: x.Segment.High, Spacing: survey.Hz(spacing),
			Lines: int(float64(x.Segment.High-x.Segment.Low) / spacing), Confidence: confidence,
			Power: powers[i] * unit, Sigma: d.lineSigma * unit}
		if f.Detected() && !r.weak {
			f.Sought = true
			if r.depth > 0 {
				f.Envelope, f.Mains, f.Depth = 99.98, 50, r.depth
			}
		}
		if f.Power > 0 {
			f.Strength = survey.DB(stats.Decibel(powers[i]))
		}
		x.Findings = append(x.Findings, f)
	}
}

// beat measures the beat with the mains in a reading: amplitudes of supplies add up,
// since all rectify at the peaks of one voltage.
func (d din) beat(random *rand.Rand, r *survey.Reading, hours float64, k int) {
	swing := 0.0
	for i := range d.radiators {
		if _, on := d.radiators[i].since(hours); on && d.radiators[i].beat != nil {
			swing += d.radiators[i].beat[k]
		}
	}
	unit := stats.FromDecibel(2 * dinFloor)
	square := swing*swing + d.beatSigma*random.NormFloat64()
	f := survey.Finding{Kind: survey.FindingMains, Low: r.Segment.Low, High: r.Segment.High, Envelope: 100.01, Mains: 50,
		Power: square * unit, Sigma: d.beatSigma * unit}
	if square > 5*d.beatSigma && swing > 0 {
		f.Confidence, f.Depth, f.Shape = 0.9999, min(1, 1.6*swing), "two humps"
	}
	if random.Float64() < d.falseRate/3 {
		f.Confidence = 1 - 1e-3*random.Float64()
	}
	r.Findings = append(r.Findings, f)
}

// withSurvey puts another survey's rows beside those of an input, as survey id.
func withSurvey(in, other input.Input, id int64) input.Input {
	other.Surveys[0].ID = id
	for _, s := range other.Sweeps {
		s.Survey = id
	}
	in.Surveys, in.Sweeps = append(in.Surveys, other.Surveys...), append(in.Sweeps, other.Sweeps...)
	return in
}

// sources gives what is found, times told in the tests' zone.
func sourcesIn(in input.Input) result.NoiseSources { return noiseSourcesOf(in, input.Options{}, zone) }

// combOf gives the source of a spacing, to 0.1 %.
func combOf(t testing.TB, found result.NoiseSources, spacing float64) *result.NoiseSource {
	t.Helper()
	for i := range found.Sources {
		s := &found.Sources[i]
		if s.Spacing != nil && math.Abs(float64(*s.Spacing)/spacing-1) < 1e-3 {
			return s
		}
	}
	t.Fatalf("no comb of %.0f Hz in %d sources", spacing, len(found.Sources))
	return nil
}

// says tells whether any of the texts holds the words.
func says(texts []string, words string) bool {
	return strings.Contains(strings.Join(texts, "\n"), words)
}
