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
// 20 dB under the loop's peak, no more is claimed of perfect nulls than that.
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
				in.Sweeps = append(in.Sweeps, throughTerminator(w, kind))
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
		}
	}
}

// throughTerminator gives a sweep of a spin's whip as a terminator hears it, 20 dB under the loop's
// peak. That stands 2 dB under the whip with the floor, 6 dB with a source, and level with carriers.
func throughTerminator(whip *survey.Sweep, kind string) *survey.Sweep {
	w, r := *whip, whip.Readings[0]
	w.Setup = survey.Setup{Antenna: survey.KindTerminator, Placement: "attic"}
	floor := *r.Floor
	floor.Density -= 22
	r.Floor = &floor
	r.Carriers, r.Findings = slices.Clone(r.Carriers), slices.Clone(r.Findings)
	r.Carriers[0].Power *= 0.01
	scale := 0.25 * 0.01
	if kind == survey.FindingMains {
		scale *= scale
	}
	r.Findings[0].Power *= scale
	w.Readings = []survey.Reading{r}
	return &w
}
