package reports

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// A spin is a survey's rows of a loop that is turned beside a whip, made directly. The
// floor through the loop is share + (1 − share)·sin²(θ − null) of its peak, and so are
// its carriers, with nulls of their own.
type spin struct {
	seed     uint64
	bearings []float64
	rounds   int
	null     float64   // degrees, of the floor
	depth    float64   // dB, of the floor
	scatter  float64   // dB, sd of a visit's floor
	lag1     float64   // correlation of that from round to round
	drift    float64   // dB, sd of the floor's level over rounds, common to all
	carriers []heading // of carriers
	looks    int       // independent Rayleigh fades averaged in a visit
	floor    float64   // dBFS/Hz through the whip; the loop's peak stands 2 dB lower
	gain     survey.Gain
}

// A heading is a carrier's null.
type heading struct{ null, depth, snr float64 } // dB; snr in standard errors of one visit's power at the peak

func newSpin(seed uint64) spin {
	random := rand.New(rand.NewPCG(seed, 5))
	return spin{seed: seed, bearings: steps(15), rounds: 12, null: 180 * random.Float64(), depth: 12, scatter: 0.5, lag1: 0.3,
		drift: 4, looks: 10, floor: -100, gain: exact(20)}
}

// steps gives bearings over half a turn.
func steps(step float64) (deg []float64) {
	for b := 0.0; b < 180; b += step {
		deg = append(deg, b)
	}
	return deg
}

// response is the share of its peak's power that an antenna with a null delivers.
func response(bearing, null, depth float64) float64 {
	share, sin := stats.FromDecibel(-depth), math.Sin((bearing-null)*math.Pi/180)
	return share + (1-share)*sin*sin
}

var spunSegment = survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}

func (s spin) input() input.Input {
	random := rand.New(rand.NewPCG(s.seed, 11))
	setups := []survey.Setup{{Antenna: "whip", Placement: "attic"}}
	for _, b := range s.bearings {
		setups = append(setups, survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(b)})
	}
	common := wander(random, s.rounds, s.drift, 0.8)
	var scatter, levels [][]float64
	for range setups {
		scatter = append(scatter, wander(random, s.rounds, s.scatter, s.lag1))
	}
	for range s.carriers {
		levels = append(levels, wander(random, s.rounds, 4, 0.8))
	}
	in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, First: setups[0], Start: newWorld(0).start, Ending: "all rounds done"}}}
	at, visit := newWorld(0).start, 0
	for n := range s.rounds {
		for _, k := range random.Perm(len(setups)) {
			visit++
			at = at.Add(30 * time.Second)
			floor := s.floor + common[n] + scatter[k][n]
			if k > 0 {
				floor += -2 + stats.Decibel(response(setups[k].Bearing.Deg, s.null, s.depth))
			}
			r := survey.Reading{Segment: spunSegment, Start: at, Duration: time.Second, Resolution: 110, BinWidth: 73, Gain: s.gain,
				Floor: &survey.Floor{Density: survey.DBFSPerHz(floor), Sigma: 0.05, Quiet: survey.DBFSPerHz(floor)}}
			for c, h := range s.carriers {
				fade := make([]float64, 1)
				rayleigh(random, fade, s.looks)
				power := stats.FromDecibel(h.snr + levels[c][n] + fade[0]) // in standard errors
				if k > 0 {
					power *= response(setups[k].Bearing.Deg, h.null, h.depth)
				}
				power += random.NormFloat64()
				const sigma = 1e-9
				r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(9.42e6 + 15e3*float64(c)), Power: sigma * power, Sigma: sigma, Detected: power > 6})
			}
			in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: setups[k], Start: at, Readings: []survey.Reading{r}})
		}
	}
	return in
}

// holds tells whether the interval of the null, which may go across 0°, holds a bearing.
func holds(p *result.Pattern, null float64) bool {
	if p.Null == nil {
		return false
	}
	if *p.NullLow <= *p.NullHigh {
		return *p.NullLow <= null && null <= *p.NullHigh
	}
	return null >= *p.NullLow || null <= *p.NullHigh
}

// off gives how far the null found is from a bearing, degrees; 90 where none is claimed.
func off(p *result.Pattern, null float64) float64 {
	if p.Null == nil {
		return 90
	}
	return math.Abs(math.Remainder(*p.Null-null, 180))
}

// TestNullCoverage builds nulls into surveys and counts how often they are found within
// 5° and how often the 95 % intervals hold them: in 90 of 100 at least. At a true 95 %
// fewer come about once in 90 trials; the seed is fixed, and with fresh ones -trials 400
// leaves four counting errors.
func TestNullCoverage(t *testing.T) {
	seed, n := seedFor(t), trialsOr(100)
	for _, step := range []float64{15, 30} {
		for _, rounds := range []int{8, 12, 24} {
			for _, depth := range []float64{6, 12, 25} {
				for _, noise := range []struct{ scatter, lag1 float64 }{{0.3, 0}, {0.5, 0.5}, {1, 0.3}} {
					name := fmt.Sprintf("steps of %.0f°, %d rounds, %.0f dB, scatter %.1f dB, correlation %.1f", step, rounds, depth, noise.scatter, noise.lag1)
					t.Run(name, func(t *testing.T) {
						t.Parallel()
						s := spin{bearings: steps(step), rounds: rounds, depth: depth, scatter: noise.scatter, lag1: noise.lag1}
						near, held, deep := s.count(seed, n, result.OfFloor)
						t.Logf("of %d: within 5° %d, interval of the null holds %d, of the depth %d", n, near, held, deep)
						// A scatter of 1 dB, 0.23 of the power, leaves 6 bearings in 8 rounds 6 dB deep
						// (a swing of 0.6) a standard error of ½·0.23·√(2/48)/0.6 = 2.2°, with a correlation
						// of 0.3 √((1+0.3)/(1−0.3)) = 1.4 times as much: 5° are 1.7 of them, and not
						// every survey can be sure of 3 dB.
						least := enough(n)
						few := noise.scatter == 1 && depth == 6 && step == 30 && rounds == 8
						if !few && (near < least || held < least) {
							t.Errorf("%d of %d within 5°, %d in the interval, want 90 %%", near, n, held)
						}
						if deep < least {
							t.Errorf("the interval of the depth holds %d of %d, want 90 %%", deep, n)
						}
					})
				}
			}
		}
	}
}

// TestNullCoverageOfCarriers does the like for stations that fade independently at each
// bearing: ten fades a visit scatter it by 4.34/√10 = 1.4 dB.
func TestNullCoverageOfCarriers(t *testing.T) {
	seed, n := seedFor(t), trialsOr(100)
	for _, rounds := range []int{12, 24} {
		for _, h := range []heading{{depth: 6, snr: 30}, {depth: 12, snr: 25}, {depth: 25, snr: 25}, {depth: 12, snr: 14}} {
			t.Run(fmt.Sprintf("%d rounds, %.0f dB, %.0f dB over the noise", rounds, h.depth, h.snr), func(t *testing.T) {
				t.Parallel()
				s := spin{bearings: steps(15), rounds: rounds, scatter: 0.5, carriers: []heading{h}, looks: 10}
				near, held, deep := s.count(seed, n, result.OfCarrier)
				t.Logf("of %d: within 5° %d, interval of the null holds %d, of the depth %d", n, near, held, deep)
				if least := enough(n); near < least || held < least || deep < least {
					t.Errorf("within 5° %d, intervals hold %d and %d of %d, want 90 %%", near, held, deep, n)
				}
			})
		}
	}
}

// enough gives how many of n must hold: 90 % of 100 or more; of fewer, three counting
// errors less than 95 %.
func enough(n int) int {
	if n >= 100 {
		return n * 90 / 100
	}
	return int(0.95*float64(n) - 3*math.Sqrt(0.95*0.05*float64(n)))
}

// count makes n surveys and counts nulls within 5°, nulls and depths in their intervals.
func (s spin) count(seed uint64, n int, of string) (near, held, deep int) {
	s.drift, s.floor, s.gain = 4, -100, exact(20)
	for i := range n {
		s.seed = seed + uint64(i)
		random := rand.New(rand.NewPCG(s.seed, 5))
		s.null = 180 * random.Float64()
		null, depth := s.null, s.depth
		if of == result.OfCarrier {
			s.carriers = slices.Clone(s.carriers)
			s.carriers[0].null = 180 * random.Float64()
			null, depth = s.carriers[0].null, s.carriers[0].depth
		}
		p := s.pattern(of)
		if p == nil {
			continue
		}
		if off(p, null) <= 5 {
			near++
		}
		if holds(p, null) {
			held++
		}
		if p.DepthLow != nil && float64(*p.DepthLow) <= depth && (p.DepthHigh == nil || depth <= float64(*p.DepthHigh)) {
			deep++
		}
	}
	return near, held, deep
}

// pattern gives the first pattern of a thing, nil where there is none.
func (s spin) pattern(of string) *result.Pattern {
	b := bearingsOf(s.input(), input.Options{})
	for i := range b.Patterns {
		if b.Patterns[i].Of == of {
			return &b.Patterns[i]
		}
	}
	return nil
}

// TestNoNullOfAnIsotropicAntenna: what hears alike at all bearings has no null.
func TestNoNullOfAnIsotropicAntenna(t *testing.T) {
	seed, n := seedFor(t), trialsOr(100)
	for _, step := range []float64{15, 30} {
		for _, rounds := range []int{6, 12} {
			claimed, carriers := 0, 0
			for i := range n {
				s := newSpin(seed + uint64(i))
				s.bearings, s.rounds, s.depth, s.scatter = steps(step), rounds, 0, 1
				s.carriers, s.looks = []heading{{snr: 25}}, 3
				if p := s.pattern(result.OfFloor); p == nil || p.Null != nil {
					claimed++
				}
				if p := s.pattern(result.OfCarrier); p == nil || p.Null != nil {
					carriers++
				}
			}
			t.Logf("steps of %.0f°, %d rounds: of %d a null is claimed of %d floors, %d carriers", step, rounds, n, claimed, carriers)
			if most := max(1, n*5/100); claimed > most || carriers > most {
				t.Errorf("steps of %.0f°, %d rounds: %d floors, %d carriers of %d, want 5 %% at most", step, rounds, claimed, carriers, n)
			}
		}
	}
}

// TestPatternOfAStillWorld has no noise at all: every figure is the arithmetic of what is
// built in.
func TestPatternOfAStillWorld(t *testing.T) {
	s := newSpin(3)
	s.scatter, s.null, s.depth = 0, 2.5, 14
	p := s.pattern(result.OfFloor)
	if p == nil || p.Null == nil {
		t.Fatalf("%+v", p)
	}
	if off(p, 2.5) > 0.01 || math.Abs(*p.Peak-92.5) > 0.01 || math.Abs(float64(*p.Depth)-14) > 0.01 || p.Rounds != 12 || p.Frequency != nil || p.NoNull != nil {
		t.Errorf("null %.3f, peak %.3f, depth %.3f, %d rounds", *p.Null, *p.Peak, *p.Depth, p.Rounds)
	}
	// The meter's 0.1 dB are left, 1.96 of them on either side.
	if low, high := float64(*p.DepthLow), float64(*p.DepthHigh); math.Abs(14-low-0.196) > 0.01 || math.Abs(high-14-0.196) > 0.01 {
		t.Errorf("depth in %.3f … %.3f dB", low, high)
	}
	if len(p.Points) != 12 {
		t.Fatalf("%d points", len(p.Points))
	}
	for _, x := range p.Points {
		want := -2 + stats.Decibel(response(x.Bearing, 2.5, 14)) // the loop's peak stands 2 dB under the whip
		if x.Level == nil || math.Abs(float64(*x.Level)-want) > 0.01 || x.Visits != 12 {
			t.Errorf("%v°: %v in %d visits, want %.2f", x.Bearing, x.Level, x.Visits, want)
		}
		if on := stats.Decibel(p.Curve.At(x.Bearing)); math.Abs(on-want) > 0.01 {
			t.Errorf("%v°: curve at %.3f, want %.2f", x.Bearing, on, want)
		}
	}
}

// TestIntervalAcrossNorth: a null near 0° has an interval that begins under 180°.
func TestIntervalAcrossNorth(t *testing.T) {
	s := newSpin(7)
	s.null, s.scatter, s.depth = 0.2, 1, 10
	p := s.pattern(result.OfFloor)
	if p == nil || p.Null == nil || *p.NullLow < *p.NullHigh || *p.NullLow >= 180 || *p.NullHigh < 0 || !holds(p, 0.2) {
		t.Fatalf("%+v", p)
	}
	if *p.NullLow < 170 || *p.NullHigh > 10 {
		t.Errorf("%.1f … %.1f, want some degrees about 0", *p.NullLow, *p.NullHigh)
	}
}

// TestNoNullIsClaimed tells why not.
func TestNoNullIsClaimed(t *testing.T) {
	for _, test := range []struct {
		name   string
		change func(*spin)
		want   string
	}{
		{"few rounds", func(s *spin) { s.rounds = 5 }, "5 rounds: a null needs 6"},
		{"three bearings", func(s *spin) { s.bearings = []float64{0, 60, 120} }, "3 bearings, opposite ones counted once: a null needs 4"},
		{"opposite bearings", func(s *spin) { s.bearings = []float64{0, 60, 120, 180, 240, 300} }, "3 bearings, opposite"},
		{"a corner only", func(s *spin) { s.bearings = []float64{0, 20, 40, 60, 80} }, "nothing was measured over 100° of the half turn"},
		{"shallow", func(s *spin) { s.depth = 3 }, "it may be less than 3 dB deep"},
	} {
		s := newSpin(2)
		s.depth = 20
		test.change(&s)
		p := s.pattern(result.OfFloor)
		if p == nil || p.Null != nil || p.NullLow != nil || p.NullHigh != nil || p.Peak != nil || p.NoNull == nil || !strings.Contains(*p.NoNull, test.want) {
			t.Errorf("%s: %+v", test.name, p)
		} else if len(p.Points) != len(s.bearings) {
			t.Errorf("%s: %d points, want %d", test.name, len(p.Points), len(s.bearings))
		}
	}
}

// TestPerfectNull: of a carrier of which nothing is left in the null the depth has no
// upper end; its negative powers do no harm.
func TestPerfectNull(t *testing.T) {
	s := newSpin(9)
	s.carriers, s.looks, s.rounds = []heading{{null: 45, depth: 200, snr: 18}}, 20, 24
	in := s.input()
	negative := 0
	for _, sweep := range in.Sweeps {
		if sweep.Readings[0].Carriers[0].Power < 0 {
			negative++
		}
	}
	p := s.pattern(result.OfCarrier)
	if negative < 5 {
		t.Fatalf("%d negative powers: too few to test anything", negative)
	}
	if p == nil || p.Null == nil || off(p, 45) > 3 || !holds(p, 45) || p.DepthHigh != nil || *p.DepthLow < 10 {
		t.Fatalf("%+v", p)
	}
	for _, x := range p.Points {
		if x.Bearing == 45 && (x.Low != nil || x.High == nil || *x.High > -15) {
			t.Errorf("in the null: %+v, want a bound only", x)
		}
	}
}

// TestReferenceAmongTheBearings: the loop at one of its bearings serves too; that
// point then stands at 0, sure.
func TestReferenceAmongTheBearings(t *testing.T) {
	s := newSpin(5)
	s.null = 70
	b := bearingsOf(s.input(), input.Options{Reference: "loop@attic:30"})
	if len(b.Patterns) != 1 || b.Reference.Bearing.Deg != 30 {
		t.Fatalf("%+v", b)
	}
	p := &b.Patterns[0]
	if off(p, 70) > 3 || !holds(p, 70) {
		t.Errorf("null at %v", p.Null)
	}
	if x := p.Points[2]; *x.Level != 0 || *x.Low != 0 || *x.High != 0 {
		t.Errorf("the reference itself: %+v", x)
	}
	// 160° is the peak; 30° stands 40° from the null.
	want := -stats.Decibel(response(30, 70, 12))
	if x := p.Points[10]; math.Abs(float64(*x.Level)-(want+stats.Decibel(response(150, 70, 12)))) > 1 {
		t.Errorf("150°: %.2f dB over 30°, want %.2f", *x.Level, want)
	}
}

// TestOneBearingARound: an import's rounds hold the reference and one bearing each, and
// the reference alone carries the drift from one to the next.
func TestOneBearingARound(t *testing.T) {
	near, held := 0, 0
	for i := range 20 {
		s := newSpin(uint64(i))
		s.rounds = 48
		in := s.input()
		in.Sweeps = slices.DeleteFunc(in.Sweeps, func(w *survey.Sweep) bool {
			return w.Setup.Bearing.Known && w.Setup.Bearing.Deg != s.bearings[w.Round%12]
		})
		p := &bearingsOf(in, input.Options{}).Patterns[0]
		if off(p, s.null) < 5 {
			near++
		}
		if holds(p, s.null) {
			held++
		}
	}
	if near < 18 || held < 17 { // of 20 at 95 %, 16 or fewer come once in 60
		t.Errorf("of 20 nulls %d within 5°, %d in the interval", near, held)
	}
}

// TestPatternsLeftOut: what does not compare is left out, and said to be.
func TestPatternsLeftOut(t *testing.T) {
	said := func(b result.Bearings, text string) bool {
		return slices.ContainsFunc(b.Doubts, func(d string) bool {
			return strings.HasPrefix(d, "loop@attic on 31 m: ") && strings.Contains(d, text)
		})
	}
	s := newSpin(1)
	in := s.input()
	for _, w := range in.Sweeps {
		if w.Setup.Bearing.Known {
			w.Readings[0].Gain = label(20)
		} else {
			w.Readings[0].Gain = label(30)
		}
	}
	b := bearingsOf(in, input.Options{})
	if len(b.Patterns) != 1 || off(&b.Patterns[0], s.null) > 3 || len(b.Doubts) != 0 || b.Reference.Antenna != "whip" {
		t.Fatalf("labels of two gains: %d patterns, %q", len(b.Patterns), b.Doubts)
	}
	first := survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(0)}
	if p := b.Patterns[0]; p.Reference != first || *p.Points[0].Level != 0 || !slices.Contains(p.Doubts,
		"levels are against loop@attic:000: its gain and that of whip@attic are not known against each other") {
		t.Errorf("labels of two gains: against %v, %q", p.Reference, p.Doubts)
	}
	var table, rows bytes.Buffer
	if err := errors.Join(WriteTable(&table, b, zone), WriteCSV(&rows, b)); err != nil ||
		!strings.Contains(table.String(), "the floor's levels against loop@attic 000°") || !strings.Contains(rows.String(), ",loop@attic:0,") {
		t.Errorf("%v\n%s%s", err, table.String(), rows.String())
	}
	if b := bearingsOf(in, input.Options{Reference: "loop@attic:0"}); len(b.Patterns) != 1 || off(&b.Patterns[0], s.null) > 3 {
		t.Errorf("against one of its own bearings: %d patterns, %q", len(b.Patterns), b.Doubts)
	}

	in = s.input()
	for _, w := range in.Sweeps {
		w.Readings[0].Gain = label(20)
		if w.Setup.Bearing.Known && w.Setup.Bearing.Deg < 60 {
			w.Readings[0].Gain = label(30)
		}
	}
	if b := bearingsOf(in, input.Options{}); len(b.Patterns) != 1 || len(b.Patterns[0].Points) != 8 || off(&b.Patterns[0], s.null) > 3 ||
		!said(b, "48 visits left out: the gain is not known against that of the others in the same round; give all its bearings and the reference one gain") {
		t.Errorf("bearings of two gains: %+v, %q", b.Patterns, b.Doubts)
	}

	for _, w := range in.Sweeps {
		w.Readings[0].Gain = survey.Gain{}
	}
	if b := bearingsOf(in, input.Options{}); len(b.Patterns) != 0 || !said(b, "144 visits left out") || !said(b, "import --gain") || !said(b, "no pattern") {
		t.Errorf("no gain at all: %d patterns, %q", len(b.Patterns), b.Doubts)
	}

	in = s.input()
	for _, w := range in.Sweeps {
		if g := &w.Readings[0]; w.Visit%2 == 0 { // a measured step of 10 dB, taken out
			g.Gain = exact(30)
			g.Floor.Density += 10
		}
	}
	if b := bearingsOf(in, input.Options{}); len(b.Patterns) != 1 || off(&b.Patterns[0], s.null) > 3 || len(b.Doubts) != 0 {
		t.Errorf("measured steps: %d patterns, %q", len(b.Patterns), b.Doubts)
	}

	in = s.input()
	in.Sweeps = slices.DeleteFunc(in.Sweeps, func(w *survey.Sweep) bool { return !w.Setup.Bearing.Known && w.Round > 8 })
	if b := bearingsOf(in, input.Options{}); len(b.Patterns) != 1 || b.Patterns[0].Rounds != 12 || off(&b.Patterns[0], s.null) > 3 || len(b.Doubts) != 0 ||
		b.Patterns[0].Reference != b.Reference || b.Patterns[0].Points[0].Visits != 12 {
		t.Errorf("rounds without the reference: %+v, %q", b.Patterns, b.Doubts)
	}
	in.Sweeps = slices.DeleteFunc(in.Sweeps, func(w *survey.Sweep) bool { return !w.Setup.Bearing.Known && w.Round > 3 })
	if b := bearingsOf(in, input.Options{}); len(b.Patterns) != 1 || b.Patterns[0].Rounds != 12 || b.Patterns[0].Reference != first ||
		!slices.Contains(b.Patterns[0].Doubts, "levels are against loop@attic:000: whip@attic was measured in 3 of 12 rounds") {
		t.Errorf("most rounds without the reference: %+v, %q", b.Patterns, b.Doubts)
	}
	in.Sweeps = slices.DeleteFunc(in.Sweeps, func(w *survey.Sweep) bool { return w.Round > 10 && w.Setup.Bearing.Deg != 30 })
	if b := bearingsOf(in, input.Options{}); len(b.Patterns) != 1 || b.Patterns[0].Rounds != 10 || !said(b, "2 rounds with one bearing and no reference left out") {
		t.Errorf("rounds of one bearing: %+v, %q", b.Patterns, b.Doubts)
	}

	in = s.input()
	for _, w := range in.Sweeps {
		if w.Setup.Bearing.Known && off(&result.Pattern{Null: &w.Setup.Bearing.Deg}, s.null) < 20 {
			w.Readings[0].Quality.Flags = []string{survey.FlagReceiverLimited}
		}
	}
	p := bearingsOf(in, input.Options{}).Patterns[0]
	if p.DepthHigh != nil || len(p.Doubts) != 1 || !strings.Contains(p.Doubts[0], "the receiver's own noise") {
		t.Errorf("a null full of the receiver's noise: up to %v dB, %q", p.DepthHigh, p.Doubts)
	}
	for _, w := range in.Sweeps {
		w.Readings[0].Quality.Flags = []string{survey.FlagReceiverLimited}
	}
	if b := bearingsOf(in, input.Options{}); len(b.Patterns) != 0 || !said(b, "most floors through it or the reference are the receiver's own noise") {
		t.Errorf("only the receiver's noise: %d patterns, %q", len(b.Patterns), b.Doubts)
	}
}

// TestReachedBearings turns the loop 2.9° further than asked, as a rotator within its
// tolerance may: the null stands where the loop was seen to point.
func TestReachedBearings(t *testing.T) {
	const offset = 2.9
	seed, n := seedFor(t), trialsOr(100)
	held, blind := 0, 0
	for i := range n {
		s := newSpin(seed + uint64(i))
		s.scatter = 0.3
		for c := range s.bearings {
			s.bearings[c] += offset
		}
		in := s.input()
		for _, w := range in.Sweeps {
			v := survey.Visit{Survey: 1, Number: w.Visit, Round: w.Round, Start: w.Start}
			if at := w.Setup.Bearing; at.Known {
				w.Setup.Bearing = survey.BearingOf(math.Round(at.Deg - offset))
				if v.Bearing = at; w.Round%2 == 0 { // the opposite serves as well
					v.Bearing = at.Opposite()
				}
			}
			v.Asked, v.Reached = w.Setup, w.Setup
			in.Visits = append(in.Visits, v)
		}
		p := &bearingsOf(in, input.Options{}).Patterns[0]
		if holds(p, s.null) {
			held++
		}
		if x := p.Points[1]; x.Bearing != 17.9 || len(p.Points) != 12 || p.Points[1].Visits != 12 {
			t.Fatalf("%+v", p.Points)
		}
		in.Visits = nil
		if holds(&bearingsOf(in, input.Options{}).Patterns[0], s.null) {
			blind++
		}
	}
	t.Logf("of %d: the interval holds %d, and %d at the bearings asked for", n, held, blind)
	if held < enough(n) || blind > n/10 {
		t.Errorf("of %d: the interval holds %d, and %d at the bearings asked for", n, held, blind)
	}
}

// TestOppositesReached: bearings asked for a half turn apart are one, though one of them
// was reached a little beside.
func TestOppositesReached(t *testing.T) {
	for _, test := range []struct {
		bearings []float64
		want     string
	}{
		{[]float64{0.5, 60, 120.7, 179.4, 240.9, 300}, "3 bearings, opposite"},
		{[]float64{0, 60, 120, 123}, ""},
		{[]float64{0, 1.5, 3, 60, 120}, ""},
	} {
		if got := (&bearingSeries{bearings: test.bearings}).unseen(); !strings.HasPrefix(got, test.want) || test.want == "" && got != "" {
			t.Errorf("%v: %q", test.bearings, got)
		}
	}
}

// thin puts the receiver's own noise under a survey, so that the floor in the null stands
// 4.1 dB over it.
func (s spin) thin() input.Input {
	in := s.input()
	// 10^0.41 = 2.57: the noise from outside is 1.57 times the receiver's, 1.96 dB over it.
	noise := s.floor - 2 - s.depth - 1.96
	for _, w := range in.Sweeps {
		f := &w.Readings[0].Floor.Density
		*f = survey.DBFSPerHz(stats.Decibel(stats.FromDecibel(float64(*f)) + stats.FromDecibel(noise)))
	}
	in.Surveys[0].Receiver = dongle
	c := survey.Calibration{Kind: survey.CalibrateNoise, Receiver: dongle, At: in.Surveys[0].Start.Add(-time.Hour)}
	c.Noise = []survey.SelfNoise{{Segment: spunSegment, Gain: s.gain.DB, Density: survey.DBFSPerHz(noise), Sigma: 0.1}}
	in.Calibrations = []survey.Calibration{c}
	return in
}

// TestDepthWithoutTheReceiver: a null 12 dB deep stays that deep where the receiver's own
// noise fills it.
func TestDepthWithoutTheReceiver(t *testing.T) {
	s := newSpin(5)
	s.bearings, s.null, s.scatter, s.drift = steps(15), 45, 0, 0
	p := bearingsOf(s.thin(), input.Options{}).Patterns[0]
	// The errors of meter and calibration, 0.1 dB each, come 2.57/1.57 = 1.64 and 0.64
	// times into the null: 0.176 dB, and 1.96 of them to either side.
	if math.Abs(float64(*p.Depth)-12) > 0.01 || math.Abs(12-float64(*p.DepthLow)-0.345) > 0.02 || math.Abs(float64(*p.DepthHigh)-12-0.345) > 0.02 {
		t.Errorf("%.3f dB (%.3f … %.3f)", *p.Depth, *p.DepthLow, *p.DepthHigh)
	}
	for _, x := range p.Points {
		if want := -2 + stats.Decibel(response(x.Bearing, 45, 12)); math.Abs(float64(*x.Level)-want) > 0.01 {
			t.Errorf("%v°: %.3f dB, want %.3f", x.Bearing, *x.Level, want)
		}
	}
	if len(p.Doubts) != 1 || !strings.Contains(p.Doubts[0], "less than 10 dB over the receiver's own noise: that is taken out") {
		t.Errorf("doubts %q", p.Doubts)
	}

	seed, n := seedFor(t), trialsOr(100)
	near, held, deep, sum := 0, 0, 0, 0.0
	for i := range n {
		s := newSpin(seed + uint64(i))
		s.drift = 0
		p := bearingsOf(s.thin(), input.Options{}).Patterns[0]
		if off(&p, s.null) <= 5 {
			near++
		}
		if holds(&p, s.null) {
			held++
		}
		if p.DepthLow != nil && float64(*p.DepthLow) <= 12 && (p.DepthHigh == nil || float64(*p.DepthHigh) >= 12) {
			deep++
		}
		sum += float64(*p.Depth)
	}
	t.Logf("of %d: within 5° %d, intervals hold %d and %d; mean depth %.2f dB", n, near, held, deep, sum/float64(n))
	if least := enough(n); near < least || held < least || deep < least || math.Abs(sum/float64(n)-12) > 0.2 {
		t.Errorf("of %d: within 5° %d, intervals hold %d and %d; mean depth %.2f dB", n, near, held, deep, sum/float64(n))
	}
}

// TestNotTheCurveOfALoop: levels that no loop gives are said to lie off the curve.
func TestNotTheCurveOfALoop(t *testing.T) {
	s := newSpin(4)
	in := s.input()
	for _, w := range in.Sweeps {
		if deg := w.Setup.Bearing.Deg; w.Setup.Bearing.Known { // four lobes to a turn more
			w.Readings[0].Floor.Density += survey.DBFSPerHz(3 * math.Cos(4*deg*math.Pi/180))
		}
	}
	p := bearingsOf(in, input.Options{}).Patterns[0]
	if !slices.ContainsFunc(p.Doubts, func(d string) bool { return strings.Contains(d, "off the curve") }) {
		t.Errorf("doubts %q", p.Doubts)
	}
	if p := s.pattern(result.OfFloor); len(p.Doubts) != 0 {
		t.Errorf("a loop's own: %q", p.Doubts)
	}
}

// spun is a loop with a null of its floor, one of a station, and a station without one.
func spun() result.Bearings {
	s := newSpin(4)
	s.depth, s.null = 13, 123
	s.carriers = []heading{{100, 8, 25}, {30, 15, 20}, {70, 2, 30}}
	in := s.input()
	in.Surveys[0].Simulated = true
	return bearingsOf(in, input.Options{})
}

func TestBearingsGolden(t *testing.T) {
	b := spun()
	for name, write := range map[string]func(w *bytes.Buffer) error{
		"bearings.txt":  func(w *bytes.Buffer) error { return WriteTable(w, b, zone) },
		"bearings.json": func(w *bytes.Buffer) error { return result.WriteJSON(w, b) },
		"bearings.csv":  func(w *bytes.Buffer) error { return WriteCSV(w, b) },
	} {
		var got bytes.Buffer
		if err := write(&got); err != nil {
			t.Fatal(err)
		}
		golden(t, name, got.Bytes())
		for i, line := range strings.Split(got.String(), "\n") {
			if n := len([]rune(line)); name == "bearings.txt" && n > 100 {
				t.Errorf("%s:%d is %d characters wide", name, i+1, n)
			}
		}
	}
	var none bytes.Buffer
	if err := WriteTable(&none, bearingsOf(newWorld(1).input(), input.Options{}), zone); err != nil || !strings.Contains(none.String(), "no antenna was heard in several bearings") {
		t.Errorf("%s%v", none.String(), err)
	}
}

// TestBearingsJSONIsWhole wants every field of the contract, null where it does not apply.
func TestBearingsJSONIsWhole(t *testing.T) {
	var b bytes.Buffer
	if err := result.WriteJSON(&b, spun()); err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Schema   string
		Patterns []map[string]any
	}
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil || doc.Schema != "nightfloor/bearings/1" || len(doc.Patterns) != 4 {
		t.Fatalf("%s, %d patterns, %v", doc.Schema, len(doc.Patterns), err)
	}
	for _, p := range doc.Patterns {
		for _, field := range []string{"antenna", "placement", "segment", "low_hz", "high_hz", "of", "frequency_hz", "spacing_hz", "envelope_hz",
			"null_deg", "null_low_deg", "null_high_deg", "peak_deg", "depth_db", "depth_low_db", "depth_high_db", "reference", "points"} {
			if _, ok := p[field]; !ok {
				t.Errorf("%v pattern without %s", p["of"], field)
			}
		}
		for _, field := range []string{"bearing_deg", "level_db", "low_db", "high_db", "visits"} {
			if _, ok := p["points"].([]any)[0].(map[string]any)[field]; !ok {
				t.Errorf("point without %s", field)
			}
		}
	}
	if last := doc.Patterns[3]; last["null_deg"] != nil || last["of"] != "carrier" || last["frequency_hz"] != 9450000.0 {
		t.Errorf("a station without a null: %v", last)
	}
}

// TestBearingsInTheSummary: a line an antenna and a segment, none where nothing was turned.
func TestBearingsInTheSummary(t *testing.T) {
	var with, without bytes.Buffer
	if err := errors.Join(writeSummary(&with, result.Report{Bearings: spun()}, zone), writeSummary(&without, result.Report{}, zone)); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(with.String(), "loop@attic on 31 m: null of the floor at 123° / 303°, 12.7 dB under the peak") || strings.Contains(without.String(), "By bearing") {
		t.Errorf("with a turned antenna:\n%s\nwithout:\n%s", with.String(), without.String())
	}
}
