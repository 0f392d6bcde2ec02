package bearings

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// withSource adds to the rows of a spin a comb, or noise modulated by the mains, that
// comes from elsewhere than the floor: its power through the loop is 6 dB under that
// through the whip in the peak, and scatters by 0.5 dB a visit. Sigma is in units of what
// is measured through the whip.
func withSource(s spin, kind string, h heading, sigma float64) input.Input {
	in := s.Input()
	random := rand.New(rand.NewPCG(s.Seed, 23))
	const whip = 1e-7
	for _, w := range in.Sweeps {
		power := stats.FromDecibel(0.5 * random.NormFloat64())
		if w.Setup.Bearing.Known {
			power *= 0.25 * s.through(w.Setup.Bearing.Deg, h)
		}
		f := survey.Finding{Kind: kind, Low: 9e6, High: 10e6, Confidence: 0.99999}
		if kind == survey.FindingMains {
			f.Envelope, f.Mains, power = 100, 50, power*power
		} else {
			f.Spacing, f.Lines = 65013, 15
		}
		power += sigma * random.NormFloat64()
		if power < 5*sigma {
			f.Confidence = 0
		}
		f.Power, f.Sigma = whip*power, whip*sigma
		w.Readings[0].Findings = []survey.Finding{f}
	}
	return in
}

// The pattern of a noise source is that of its own power: null and depth stand where they
// were built in, whatever the floor's are, and no deeper than they are where little is
// measured at the null. What is measured of a beat is squares of power.
func TestNullsOfNoiseSources(t *testing.T) {
	seed, n := reporttest.SeedFor(t), reporttest.TrialsOr(40)
	for _, test := range []struct {
		kind  string
		depth float64
		sigma float64 // at the null of 15 dB a comb has 0.008, a beat's square 6e-5
	}{{survey.FindingComb, 8, 0.003}, {survey.FindingComb, 15, 0.01}, {survey.FindingMains, 8, 1e-4}, {survey.FindingMains, 15, 1e-3}} {
		near, held, deep := 0, 0, 0
		for i := range n {
			s := newSpin(seed + uint64(i))
			h := heading{Null: math.Mod(s.Null+60, 180), Depth: test.depth}
			p := sourcePattern(bearingsOf(withSource(s, test.kind, h, test.sigma), input.Options{}))
			if p == nil {
				continue
			}
			if comb := test.kind == survey.FindingComb; (p.Spacing != nil) != comb || (p.Envelope != nil) == comb || p.Frequency != nil || *p.Source != 1 {
				t.Fatalf("%s: source %d, spacing %v, envelope %v", test.kind, *p.Source, p.Spacing, p.Envelope)
			}
			if off(p, h.Null) <= 5 {
				near++
			}
			if holds(p, h.Null) {
				held++
			}
			if p.DepthLow != nil && float64(*p.DepthLow) <= h.Depth && (p.DepthHigh == nil || h.Depth <= float64(*p.DepthHigh)) {
				deep++
			}
		}
		t.Logf("%s, %.0f dB: of %d within 5° %d, interval of the null holds %d, of the depth %d", test.kind, test.depth, n, near, held, deep)
		if least := enough(n); near < least || held < least || deep < least {
			t.Errorf("%s, %.0f dB: of %d within 5° %d, intervals hold %d and %d, want %d", test.kind, test.depth, n, near, held, deep, least)
		}
	}
}

func sourcePattern(b result.Bearings) *result.Pattern {
	for i := range b.Patterns {
		if b.Patterns[i].Of == result.OfNoiseSource {
			return &b.Patterns[i]
		}
	}
	return nil
}

// Levels of a beat are those of its power: through the loop's peak 6 dB under the whip.
func TestLevelsOfABeat(t *testing.T) {
	s := newSpin(3)
	h := heading{Null: 45, Depth: 12}
	p := sourcePattern(bearingsOf(withSource(s, survey.FindingMains, h, 1e-6), input.Options{}))
	if p == nil {
		t.Fatal("no pattern")
	}
	for _, x := range p.Points {
		want := -6.02 + stats.Decibel(response(x.Bearing, h.Null, h.Depth))
		// 12 visits that scatter by 0.5 dB, against the whip's: 0.2 dB.
		reporttest.Near(t, "level", x.Level, want, 0.8)
		reporttest.Near(t, "curve", result.DB(stats.Decibel(p.Curve.At(x.Bearing))), want, 0.8)
	}
}

// By how much the floor falls where a source has its null is told of the rounds in which that is on:
// in these the floor has the source's null, 12 dB deep, and in the others it is alike all around.
func TestFloorFallWhileOn(t *testing.T) {
	s := newSpin(6)
	s.Rounds, s.Null, s.Depth, s.Scatter = 24, 60, 12, 0.2
	in := withSource(s, survey.FindingComb, heading{Null: 60, Depth: 12}, 1e-3)
	s.Depth = 0
	off := s.Input()
	for i, w := range off.Sweeps {
		if w.Round > 12 {
			f := in.Sweeps[i].Readings[0].Findings
			f[0].Power, f[0].Confidence = 0, 0
			w.Readings[0].Findings, in.Sweeps[i] = f, w
		}
	}
	p := sourcePattern(bearingsOf(in, input.Options{}))
	if p == nil || p.Rounds != 12 || p.FloorFall == nil {
		t.Fatalf("%+v", p)
	}
	// 12 dB leave 0.063 of the peak; the mean over bearings is (1 + 0.063)/2: 9.26 dB over that.
	if f := p.FloorFall; f.High == nil || math.Abs(float64(*f.DB)-9.26) > 0.5 || *f.Low > 9.26 || *f.High < 9.26 {
		t.Errorf("the floor falls by %+v, want 9.26 dB", f)
	}
}

// Lines of a comb that was found are no carriers, where a band has a raster and where it has none.
func TestLinesOfACombAreNoCarriers(t *testing.T) {
	amateur, broadcast := survey.Segment{Name: "20 m amateur", Low: 14e6, High: 14.35e6}, survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}
	h := reporttest.NewHouse(3, amateur, broadcast)
	h.Setups = nil
	for _, deg := range []float64{0, 45, 90} {
		h.Setups = append(h.Setups, survey.Setup{Antenna: "loop", Placement: "study", Bearing: survey.BearingOf(deg)})
	}
	for _, p := range bearingsOf(h.Input(), input.Options{}).Patterns {
		if p.Of == result.OfCarrier {
			t.Errorf("%s: %v is a carrier", p.Segment, *p.Frequency)
		}
	}
}
