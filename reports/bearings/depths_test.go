package bearings

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/text"
	"nightfloor/survey"
)

var patterns = flag.Int("patterns", 450, "in how many random patterns TestDepths looks for null and depth")

// perfect is the depth of a null in which nothing is left, dB.
const perfect = 200

// A randomWorld is a turned loop with a null of its own for the floor, a carrier and a noise
// source, 6 to 30 dB deep or, one in four, perfect.
type randomWorld struct {
	spin
	kind   string
	source heading
	sigma  float64
}

func newRandomWorld(seed uint64) randomWorld {
	w := randomWorld{spin: newSpin(seed)}
	random := rand.New(rand.NewPCG(seed, 17))
	draw := func() heading {
		h := heading{Null: 180 * random.Float64(), Depth: 6 + 24*random.Float64(), Snr: 20 + 10*random.Float64()}
		if random.IntN(4) == 0 {
			h.Depth = perfect
		}
		return h
	}
	floor := draw()
	w.Null, w.Depth = floor.Null, floor.Depth
	w.Carriers, w.source = []heading{draw()}, draw()
	w.kind = []string{survey.FindingComb, survey.FindingMains}[random.IntN(2)]
	w.sigma = math.Pow(10, -5+3*random.Float64())
	w.Bearings = stepsOf([]float64{15, 30}[random.IntN(2)])
	w.Rounds = []int{8, 12, 24}[random.IntN(3)]
	w.Scatter, w.Lag1, w.Drift = 0.2+0.6*random.Float64(), 0.5*random.Float64(), 4*random.Float64()
	return w
}

// truth gives null and depth of what a pattern is of.
func (w randomWorld) truth(p *result.Pattern) heading {
	switch p.Of {
	case result.OfCarrier:
		return w.Carriers[0]
	case result.OfNoiseSource:
		return w.source
	}
	return heading{Null: w.Null, Depth: w.Depth}
}

// A depthCount counts patterns in whose intervals null and depth stand; a null that is not claimed
// is not missed.
type depthCount struct{ patterns, claimed, held, deep, falls, fell int }

// TestDepths looks for the nulls of random worlds: the intervals hold null and depth in 94 to 98 %,
// and by how much the floor falls where the null of a noise source is in 94 % at least, no figure of any document is infinite, and of a null in which nothing is left there is a bound.
func TestDepths(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: long arithmetic of one goroutine")
	}
	counts := map[string]*depthCount{}
	var sum depthCount
	seed := reporttest.SeedFor(t)
	for i := 0; sum.patterns < *patterns; i++ {
		w := newRandomWorld(seed + uint64(i))
		b := bearingsOf(withSource(w.spin, w.kind, w.source, w.sigma), input.Options{})
		checkFinite(t, b)
		for j := range b.Patterns {
			p := &b.Patterns[j]
			h, of := w.truth(p), p.Of
			if of == result.OfNoiseSource {
				of = w.kind
			}
			if h.Depth == perfect {
				of += ", perfect"
			}
			if counts[of] == nil {
				counts[of] = &depthCount{}
			}
			for _, c := range []*depthCount{counts[of], &sum} {
				c.add(p, h)
				c.addFloor(p, heading{Null: w.Null, Depth: w.Depth})
			}
		}
	}
	for _, of := range slices.Sorted(maps.Keys(counts)) {
		c := counts[of]
		t.Logf("%-24s %v", of, c)
		// Three counting errors of 94 % are left to each, and those of the ends to the sum.
		error := 3 * math.Sqrt(0.94*0.06/float64(c.patterns))
		if c.share(c.held) < 0.94-error || c.share(c.deep) < 0.94-error || float64(c.fell) < (0.94-error)*float64(c.falls) {
			t.Errorf("%s: %v, want 94 %% at least", of, c)
		}
	}
	t.Logf("%-24s %v", "all", &sum)
	error := 3 * math.Sqrt(0.96*0.04/float64(sum.patterns))
	for _, n := range []int{sum.held, sum.deep} {
		if share := sum.share(n); math.Abs(share-0.96) > 0.02+error {
			t.Errorf("intervals hold %.3f, want 0.94 to 0.98, within %.3f", share, error)
		}
	}
}

func (c *depthCount) share(n int) float64 { return float64(n) / float64(c.patterns) }

func (c *depthCount) String() string {
	text := fmt.Sprintf("of %4d patterns a null is claimed of %4d; intervals hold %.3f of the nulls, %.3f of the depths", c.patterns, c.claimed, c.share(c.held), c.share(c.deep))
	if c.falls > 0 {
		text += fmt.Sprintf(", %.3f of %d falls of the floor", float64(c.fell)/float64(c.falls), c.falls)
	}
	return text
}

// add counts a pattern whose null and depth are known.
func (c *depthCount) add(p *result.Pattern, h heading) {
	c.patterns++
	if p.Null != nil {
		c.claimed++
	}
	if holds(p, h.Null) || p.Null == nil {
		c.held++
	}
	if p.DepthLow != nil && float64(*p.DepthLow) <= h.Depth && (p.DepthHigh == nil || h.Depth <= float64(*p.DepthHigh)) {
		c.deep++
	}
}

// addFloor counts the fall of a floor whose null is known to the null of another pattern.
func (c *depthCount) addFloor(p *result.Pattern, floor heading) {
	if p.FloorFall == nil {
		return
	}
	c.falls++
	mean := (1 + stats.FromDecibel(-floor.Depth)) / 2
	fall := stats.Decibel(mean / response(*p.Null, floor.Null, floor.Depth))
	if float64(*p.FloorFall.Low) <= fall && (p.FloorFall.High == nil || fall <= float64(*p.FloorFall.High)) {
		c.fell++
	}
}

// checkFinite wants bearings written in every format without an infinite figure.
func checkFinite(t *testing.T, b result.Bearings) {
	t.Helper()
	var written bytes.Buffer
	if err := errors.Join(result.WriteJSON(&written, b), text.WriteCSV(&written, b), text.WriteTable(&written, b, reporttest.Zone, text.Width)); err != nil {
		t.Fatal(err)
	}
	for _, word := range []string{"Inf", "NaN", "∞"} {
		if strings.Contains(written.String(), word) {
			t.Fatalf("%s is in\n%s", word, written.String())
		}
	}
}

// Where nothing at all is left in the null, and nothing scatters, the depth is more than 60 dB.
func TestPerfectNullOfAStillWorld(t *testing.T) {
	s := newSpin(3)
	s.Scatter, s.Null, s.Depth = 0, 2.5, perfect
	p := floorPattern(s, result.OfFloor)
	if p.Depth != nil || p.DepthHigh != nil || p.Null == nil || math.Abs(float64(*p.DepthLow)-60) > 0.01 {
		t.Errorf("null %v, depth %v (%v … %v), want more than 60 dB", p.Null, p.Depth, p.DepthLow, p.DepthHigh)
	}
}

// No null is deeper than the isolation: where a terminator hears floor, carrier and noise source
// 20 dB under the loop's peak, no more is claimed of perfect nulls than that, and no depth is printed.
func TestNullsAndIsolation(t *testing.T) {
	for _, kind := range []string{survey.FindingComb, survey.FindingMains} {
		s := newSpin(4)
		s.Depth, s.Scatter, s.Carriers, s.Looks = perfect, 0.1, []heading{{Null: 70, Depth: perfect, Snr: 40}}, 1000
		in := withSource(s, kind, heading{Null: 110, Depth: perfect}, 1e-6)
		for _, p := range bearingsOf(in, input.Options{}).Patterns {
			if *p.DepthLow < 25 {
				t.Errorf("%s: without a terminator more than %.1f dB, want 25 and more", p.Of, *p.DepthLow)
			}
		}
		for _, w := range in.Sweeps {
			if !w.Setup.Bearing.Known {
				in.Sweeps = append(in.Sweeps, throughTerminator(w, kind, 20))
			}
		}
		b := bearingsOf(in, input.Options{})
		if len(b.Patterns) != 3 {
			t.Fatalf("%d patterns", len(b.Patterns))
		}
		for _, p := range b.Patterns {
			if math.Abs(float64(*p.DepthLow)-20) > 0.3 || p.Null == nil {
				t.Errorf("%s: more than %.2f dB, want 20", p.Of, *p.DepthLow)
			}
			if p.Depth != nil || p.DepthHigh != nil || p.Fall.DB != nil || len(p.Doubts) != 1 || p.Doubts[0].Kind != doubt.LeakIntoNull {
				t.Errorf("%s: a depth of %v, at most %v, is printed; fall %+v; %v", p.Of, p.Depth, p.DepthHigh, p.Fall, p.Doubts)
			}
			reporttest.Near(t, p.Of+": isolation", p.Isolation.DB, 20, 0.3)
		}
	}
}

// A terminator at the receiver's input shows nothing of the feed line, nor a dummy for the whip's element of the loop:
// isolation is that of the terminator at the antenna's end, which hears more than the first and less than the second.
func TestWhichControlsIsolate(t *testing.T) {
	s := newSpin(4)
	s.Depth, s.Scatter, s.Carriers, s.Looks = perfect, 0.1, []heading{{Null: 70, Depth: perfect, Snr: 40}}, 1000
	in := withSource(s, survey.FindingComb, heading{Null: 110, Depth: perfect}, 1e-6)
	in.Surveys[0].Plan = `[[antenna]]
name = "input"
kind = "terminator"
at = "receiver"
[[antenna]]
name = "dummy"
kind = "element replaced"
of = "whip"
`
	for _, w := range in.Sweeps {
		if w.Setup.Bearing.Known {
			continue
		}
		for name, isolation := range map[string]float64{"terminator": 20, "input": 50, "dummy": 10} {
			x := throughTerminator(w, survey.FindingComb, isolation)
			x.Setup.Antenna = name
			in.Sweeps = append(in.Sweeps, x)
		}
	}
	patterns := bearingsOf(in, input.Options{}).Patterns
	if len(patterns) != 3 {
		t.Fatalf("%d patterns", len(patterns))
	}
	for _, p := range patterns {
		reporttest.Near(t, p.Of+": isolation", p.Isolation.DB, 20, 0.3)
	}
}

// throughTerminator gives a sweep of a spin's whip as a terminator hears it, so many dB under the loop's
// peak. That stands 2 dB under the whip with the floor, 6 dB with a source, and level with carriers.
func throughTerminator(whip *survey.Sweep, kind string, isolation float64) *survey.Sweep {
	w, r := *whip, whip.Readings[0]
	w.Setup = survey.Setup{Antenna: survey.KindTerminator, Placement: "attic"}
	floor := *r.Floor
	floor.Density -= survey.DBFSPerHz(2 + isolation)
	r.Floor = &floor
	r.Carriers, r.Findings = slices.Clone(r.Carriers), slices.Clone(r.Findings)
	if len(r.Carriers) == 0 {
		w.Readings = []survey.Reading{r}
		return &w
	}
	r.Carriers[0].Power *= stats.FromDecibel(-isolation)
	scale := 0.25 * stats.FromDecibel(-isolation)
	if kind == survey.FindingMains {
		scale *= scale
	}
	r.Findings[0].Power *= scale
	w.Readings = []survey.Reading{r}
	return &w
}

// Of a null 12 dB deep the depth is told, with a terminator that hears 20 dB less. What the terminator hears of carriers and
// sources is said under 25 dB; of the floor, to which noise adds, it does no harm.
func TestLeakBesideANull(t *testing.T) {
	for isolation, said := range map[float64]bool{20: true, 24.5: true, 25.5: false} {
		s := newSpin(4)
		s.Depth, s.Scatter, s.Carriers, s.Looks, s.Bearings = 12, 0.1, []heading{{Null: 70, Depth: 12, Snr: 60}}, 1000, stepsOf(15)
		in := withSource(s, survey.FindingComb, heading{Null: 110, Depth: 12}, 1e-6)
		for _, w := range in.Sweeps {
			if !w.Setup.Bearing.Known {
				in.Sweeps = append(in.Sweeps, throughTerminator(w, survey.FindingComb, isolation))
			}
		}
		for _, p := range bearingsOf(in, input.Options{}).Patterns {
			reporttest.Near(t, p.Of+": depth", p.Depth, 12, 0.5)
			if has := len(p.Doubts) > 0; has != (said && p.Of != result.OfFloor) {
				t.Errorf("%s, %.1f dB of isolation: %v", p.Of, isolation, p.Doubts)
			}
			// Voltages: −12 dB is 0.251 of the peak, the leak of −20 dB 0.1 of it, so that the null's is 0.151 to 0.351.
			if isolation == 20 && p.Of != result.OfFloor && (math.Abs(float64(*p.DepthLow)-9.1) > 0.5 || *p.DepthHigh < 15) {
				t.Errorf("%s: depth %.1f … %.1f dB, want 9.1 … 16.4 and more for scatter", p.Of, *p.DepthLow, *p.DepthHigh)
			}
		}
	}
}

// TestNullsThroughLeakage looks for the nulls of random worlds in which 10 to 30 dB under the loop's peak a carrier and a
// noise source come beside the antenna, with any phase: intervals hold the antenna's own null and depth, as they do
// without leakage, and no depth reaches what leaks.
func TestNullsThroughLeakage(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: long arithmetic of one goroutine")
	}
	var sum depthCount
	seed := reporttest.SeedFor(t)
	for i := 0; sum.patterns < *patterns/3; i++ {
		w := newRandomWorld(seed + uint64(i))
		random := rand.New(rand.NewPCG(seed+uint64(i), 19))
		isolation := 10 + 15*random.Float64()
		w.sigma, w.Carriers[0].Snr = w.sigma/100, w.Carriers[0].Snr+20 // the terminator hears them
		w.Leak, w.Phase = stats.FromDecibel(-isolation), 2*math.Pi*random.Float64()
		in := withSource(w.spin, w.kind, w.source, w.sigma)
		for _, s := range in.Sweeps {
			if !s.Setup.Bearing.Known {
				in.Sweeps = append(in.Sweeps, throughTerminator(s, w.kind, isolation))
			}
		}
		for j, p := range bearingsOf(in, input.Options{}).Patterns {
			if p.Of == result.OfFloor {
				continue
			}
			sum.add(&p, w.truth(&p))
			if p.Depth != nil && float64(*p.Depth) > isolation+3 { // against a phase the peak is up to 3 dB higher
				t.Errorf("world %d, pattern %d: %.1f dB deep, with %.1f dB of isolation", i, j, *p.Depth, isolation)
			}
		}
	}
	t.Logf("%v", &sum)
	error := 3 * math.Sqrt(0.94*0.06/float64(sum.patterns))
	if sum.share(sum.held) < 0.94-error || sum.share(sum.deep) < 0.94-error {
		t.Errorf("%v, want 94 %% at least", &sum)
	}
}

// A terminator at another label than the loop's compares with it to 6 dB, by which labels may err: what it hears 20 dB under the
// peak may be 14, and no null is deeper than that; what it does not hear of the peak is far under any null. Where a
// gain is not known at all, nor is whether it hears anything, and that is said. Measured gains compare.
func TestControlAtAnotherGain(t *testing.T) {
	const step = 10 // dB that the terminator's gain is higher
	for _, test := range []struct {
		name             string
		loop, terminator survey.Gain
		isolation, depth float64 // of carrier and source
		told             float64 // the isolation
		bound            bool
		says             doubt.Kind
	}{
		{"labels, a deep null", labelled(20), labelled(20 + step), 20, 30, 14, true, doubt.LeakPerhaps},
		{"labels, a shallow null", labelled(20), labelled(20 + step), 20, 8, 14, true, doubt.LeakPerhaps},
		{"labels, little leaks", labelled(20), labelled(20 + step), 33, 12, 27, true, ""},
		{"no gain", labelled(20), survey.Gain{}, 20, 30, 0, false, doubt.LeakUnknown},
		{"measured", exactly(20), exactly(20 + step), 20, 30, 20, false, doubt.LeakIntoNull},
	} {
		s := newSpin(4)
		s.Depth, s.Scatter, s.Carriers, s.Looks, s.Gain, s.Bearings = 12, 0.1, []heading{{Null: 70, Depth: test.depth, Snr: 60}}, 1000, test.loop, stepsOf(15)
		in := withSource(s, survey.FindingComb, heading{Null: 110, Depth: test.depth}, 1e-6)
		for _, w := range in.Sweeps {
			if w.Setup.Bearing.Known {
				continue
			}
			x := throughTerminator(w, survey.FindingComb, test.isolation-step)
			x.Readings[0].Gain = test.terminator
			in.Sweeps = append(in.Sweeps, x)
		}
		for _, p := range bearingsOf(in, input.Options{}).Patterns {
			if p.Of == result.OfFloor {
				if test.bound && (p.Isolation != nil || len(p.Doubts) > 0) {
					t.Errorf("%s: of a floor %+v, %v", test.name, p.Isolation, p.Doubts)
				}
				continue
			}
			if p.Isolation == nil && test.told != 0 {
				t.Fatalf("%s, %s: no isolation", test.name, p.Of)
			}
			if test.told == 0 {
				if p.Isolation != nil || p.Depth == nil {
					t.Errorf("%s, %s: isolation %+v, depth %v", test.name, p.Of, p.Isolation, p.Depth)
				}
			} else if reporttest.Near(t, test.name+", isolation", p.Isolation.DB, test.told, 0.3); p.Isolation.Bound != test.bound {
				t.Errorf("%s, %s: %+v", test.name, p.Of, p.Isolation)
			}
			if deeper := test.told > 0 && test.depth > test.told; deeper != (p.Depth == nil) || deeper && (p.DepthHigh != nil || float64(*p.DepthLow) > test.told+0.3) {
				t.Errorf("%s, %s: a depth of %v, %v … %v dB", test.name, p.Of, p.Depth, *p.DepthLow, p.DepthHigh)
			}
			// Voltages: −8 dB is 0.398 of the peak, the most that leaks 0.2 of it: 0.598 is −4.5 dB, and scatter.
			if test.depth == 8 && (math.Abs(float64(*p.DepthLow)-4.5) > 0.5 || *p.DepthHigh < 12) {
				t.Errorf("%s, %s: %.1f … %.1f dB", test.name, p.Of, *p.DepthLow, *p.DepthHigh)
			}
			if said := len(p.Doubts) == 1 && p.Doubts[0].Kind == test.says; said != (test.says != "") || test.says == "" && len(p.Doubts) > 0 {
				t.Errorf("%s, %s: %v", test.name, p.Of, p.Doubts)
			}
		}
	}
}

// A control has no pattern, in whatever bearings it stood, and a terminator at the receiver's input, which hears
// no feed line, does not make antennas stand apart better than the one at the antenna's end shows.
func TestControlsHaveNoPatterns(t *testing.T) {
	s := newSpin(4)
	s.Depth, s.Scatter, s.Carriers, s.Looks, s.Bearings = 12, 0.1, []heading{{Null: 70, Depth: 12, Snr: 60}}, 1000, stepsOf(15)
	in := withSource(s, survey.FindingComb, heading{Null: 110, Depth: 12}, 1e-6)
	in.Surveys[0].Plan = "[[antenna]]\nname = \"own\"\nkind = \"terminator\"\nat = \"receiver\"\n" +
		"[[antenna]]\nname = \"dummy\"\nkind = \"element replaced\"\nof = \"loop\"\n"
	for _, w := range in.Sweeps {
		if w.Setup.Bearing.Known {
			continue
		}
		own, dummy := throughTerminator(w, survey.FindingComb, 60), throughTerminator(w, survey.FindingComb, 20)
		own.Setup.Antenna, dummy.Setup = "own", survey.Setup{Antenna: "dummy", Placement: "attic", Bearing: survey.BearingOf(float64(90 * (w.Round % 2)))}
		in.Sweeps = append(in.Sweeps, throughTerminator(w, survey.FindingComb, 20), own, dummy)
	}
	carriers := 0
	for _, p := range bearingsOf(in, input.Options{}).Patterns {
		if p.Antenna == "dummy" || p.Antenna == "own" {
			t.Errorf("a pattern of %s", p.Antenna)
		}
		if p.Of == result.OfCarrier {
			carriers++
			reporttest.Near(t, "isolation", p.Isolation.DB, 20, 0.3)
		}
	}
	if carriers == 0 {
		t.Error("no pattern of a carrier")
	}
}

// A terminator that shows own noise only, as a calibration found it, hears nothing of the floor: what is left of own
// noise there is a bound, and no leak. Nor is an amplifier's noise one, which a dummy for its element shows and which is
// taken out of the loop's floor. Where own noise is not known, it may be one.
func TestOwnNoiseIsNoLeak(t *testing.T) {
	for _, control := range []string{"calibrated", "element replaced", "not known"} {
		s := newSpin(4)
		s.Depth, s.Scatter, s.Bearings, s.Gain = 30, 0.1, stepsOf(15), survey.Gain{DB: 30, Known: true, Exact: true}
		in := s.Input()
		own := s.Floor - 2 - 24 // dB under the loop's peak
		for _, w := range in.Sweeps {
			density := &w.Readings[0].Floor.Density
			*density = survey.DensityOf(density.Linear() + stats.FromDecibel(own))
		}
		for _, w := range in.Sweeps {
			if !w.Setup.Bearing.Known {
				x := throughTerminator(w, "", 0)
				x.Readings[0].Floor.Density = survey.DBFSPerHz(own)
				in.Sweeps = append(in.Sweeps, x)
			}
		}
		switch control {
		case "calibrated":
			in.Surveys[0].Receiver = "dongle"
			in.Calibrations = []survey.Calibration{{Kind: survey.CalibrateNoise, Receiver: "dongle", At: in.Surveys[0].Start,
				Noise: []survey.SelfNoise{{Segment: spunSegment, Gain: 30, Density: survey.DBFSPerHz(own), Sigma: 0.05}}}}
		case survey.KindReplaced:
			in.Surveys[0].Plan = "[[antenna]]\nname = \"terminator\"\nkind = \"element replaced\"\nof = \"loop\"\n"
		}
		p := bearingsOf(in, input.Options{}).Patterns[0]
		said := slices.ContainsFunc(p.Doubts, func(d doubt.Doubt) bool { return d.Kind == doubt.LeakIntoNull })
		if known := control != "not known"; p.Of != result.OfFloor || p.Isolation == nil || p.Isolation.Bound != known || said && known {
			t.Errorf("%s: isolation %+v, %v", control, p.Isolation, p.Doubts)
		}
	}
}
