package rank

import (
	"math/rand/v2"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/onair"
	"nightfloor/reports/rank/ranktest"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// amateur ranks a night of an amateur band without a transmission, and without the sweeps that keep refuses,
// by what is on the air.
func amateur(t *testing.T, keep func(*survey.Sweep) bool) result.RankSegment {
	t.Helper()
	n := ranktest.Plain().Night(5)
	random := rand.New(rand.NewPCG(5, 1))
	in, id := n.Input, int64(0)
	in.Sweeps = nil
	spectra := map[int64]*survey.Spectrum{}
	for _, s := range n.Input.Sweeps {
		if !keep(s) {
			continue
		}
		r := &s.Readings[0]
		id++
		r.ID, r.Carriers = id, nil
		r.Segment = survey.Segment{Name: "40 m amateur", Low: 7e6, High: 7.1e6}
		spectrum := &survey.Spectrum{First: 7e6, Step: 150, Density: make([]float32, 667)}
		for i := range spectrum.Density {
			spectrum.Density[i] = float32(float64(r.Floor.Density) + 0.5*random.NormFloat64())
		}
		spectra[id] = spectrum
		in.Sweeps = append(in.Sweeps, s)
	}
	selected := reporttest.Selected(in, input.Options{Reference: ranktest.Setup(0).Antenna})
	air := onair.New(selected)
	for i := range id {
		air.Add(i+1, spectra[i+1])
	}
	return Of(selected, House{Air: air}, 1).Segments[0]
}

// Where nothing is on the air that is said of the setups; where setups share no rounds it is not.
func TestNothingOnTheAirOrNoRound(t *testing.T) {
	s := amateur(t, func(*survey.Sweep) bool { return true })
	if s.Verdict.Kind != result.VerdictNoStations || s.Of != result.OfTransmissions || !reporttest.HasDoubt(s, "on the air") {
		t.Errorf("nothing on the air: %s by %s, %q", s.Verdict.Kind, s.Of, s.Doubts)
	}
	s = amateur(t, func(s *survey.Sweep) bool { return (s.Setup == ranktest.Setup(0)) == (s.Round%2 == 0) })
	if s.Verdict.Kind != result.VerdictFewRounds || *s.Verdict.MoreRounds != 6 || reporttest.HasDoubt(s, "on the air") || !reporttest.HasDoubt(s, "never in a round with the reference") {
		t.Errorf("no common rounds: %s, %v more rounds, %q", s.Verdict.Kind, s.Verdict.MoreRounds, s.Doubts)
	}
}

// Where the plan lists what is compared, or what is on the air is, nothing is said of lines that were left out of
// another comparison.
func TestLinesOfAnotherComparison(t *testing.T) {
	c := &comparison{of: result.OfListed, ref: -1}
	c.found.Comb, c.lines = []int{1, 2}, []int{0}
	for of, want := range map[string]bool{result.OfCarriers: true, result.OfListed: false, result.OfTransmissions: false} {
		c.of = of
		c.matrix = &matrix.Matrix{}
		if got := reporttest.HasDoubt(result.RankSegment{Doubts: c.doubts(nil)}, "multiples of a noise source"); got != want {
			t.Errorf("%s: told of lines of combs: %v, want %v", of, got, want)
		}
	}
}
