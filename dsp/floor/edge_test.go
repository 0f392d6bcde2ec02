package floor

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/spectrum"
)

// edgesOf gives what is heard, in Hz off the centre, in averages of noise whose power by offset is level, over so
// many frames.
func edgesOf(seed uint64, frames int, level func(hz float64) float64) (low, high float64, all bool) {
	const rate, n = 250e3, 4096
	s := spectrum.NewSpectrogram(rate, n, frames)
	r := rand.New(rand.NewPCG(seed, 1))
	a := averagesOf(r, s, frames, 0, 0, 0)
	for b := range a.Mean {
		for h := range 2 {
			a.Halves[h][b] *= level(s.Offset(b))
		}
		a.Mean[b] = (a.Halves[0][b] + a.Halves[1][b]) / 2
	}
	for range frames { // of the same noise, steady in time
		re, im := make([]float32, n), make([]float32, n)
		for b := range s.Bins {
			sd := math.Sqrt(level(s.Offset(b)) / 2)
			k := (b + s.Lowest + n) % n
			re[k], im[k] = float32(sd*r.NormFloat64()), float32(sd*r.NormFloat64())
		}
		s.Append(re, im)
	}
	var f EdgeFinder
	c := f.Find(a, s, nil)
	return s.Offset(c.From), s.Offset(c.To - 1), c == Columns{0, s.Bins}
}

// filterOf gives 1 within ±half Hz and else a power ratio.
func filterOf(half, beyond float64) func(hz float64) float64 {
	return func(hz float64) float64 {
		if hz > -half && hz < half {
			return 1
		}
		return beyond
	}
}

// What falls by 22 dB is an edge, found within 6 kHz of where it is and never beyond; 18 dB are none.
func TestEdgeOfTwentyDecibels(t *testing.T) {
	for seed := range uint64(20) {
		for _, frames := range []int{12, 60} {
			if _, _, all := edgesOf(seed, frames, filterOf(50e3, 0.0158)); !all {
				t.Errorf("%d frames: an edge of 18 dB", frames)
			}
			if low, high, _ := edgesOf(seed, frames, filterOf(50e3, 0.0063)); low < -50e3 || low > -44e3 || high > 50e3 || high < 44e3 {
				t.Errorf("%d frames: heard from %.1f to %.1f kHz", frames, low/1e3, high/1e3)
			}
		}
	}
}

// Where a filter falls ever faster, by 3 dB in the first 10 kHz, what is heard ends where it fell by 1.5 dB at the most, on
// top of the scatter of cells.
func TestEdgeOfAGentleFilter(t *testing.T) {
	fall := func(hz float64) float64 { // dB at so many Hz off the centre
		over := max(0, math.Abs(hz)-30e3) / 1e3
		return 0.03 * over * over
	}
	for seed := range uint64(20) {
		low, high, all := edgesOf(seed, 60, func(hz float64) float64 { return max(1e-5, math.Pow(10, -fall(hz)/10)) })
		if all || fall(low) > 2.2 || fall(high) > 2.2 || low > -30e3 || high < 30e3 {
			t.Errorf("heard from %.1f to %.1f kHz, where it falls by %.1f and %.1f dB", low/1e3, high/1e3, fall(low), fall(high))
		}
	}
}

// The noise between stations 10 kHz apart that leave 1 kHz tells the edge; a station beyond it, under its stop band
// of 40 dB, does not hide it.
func TestEdgeBetweenStations(t *testing.T) {
	for seed := range uint64(10) {
		filter := filterOf(52e3, 1e-4)
		low, high, _ := edgesOf(seed, 60, func(hz float64) float64 {
			p := 1.0
			if k := (int(hz+200e3) + int(seed)*300) % 10e3; k < 9e3 {
				p = 1e3
			}
			return p * filter(hz)
		})
		if low < -52e3 || low > -34e3 || high > 52e3 || high < 34e3 {
			t.Errorf("heard from %.1f to %.1f kHz", low/1e3, high/1e3)
		}
	}
}

// What is up to 60 kHz wide may be a transmission, unless two stations stand in it, and what does not hold the tuned frequency is none of the
// receiver's, nor what comes within 10 dB of what lies beyond; nor is a slope as steep as noise may have.
func TestWhatIsNoEdge(t *testing.T) {
	within := func(low, high float64) func(hz float64) float64 {
		return func(hz float64) float64 { return filterOf((high-low)/2, 1e-4)(hz - (low+high)/2) }
	}
	dip := func(to float64) func(hz float64) float64 { // 20 kHz wide, of what lies within
		return func(hz float64) float64 {
			if hz > -30e3 && hz < -10e3 {
				return to
			}
			return filterOf(52e3, 1e-4)(hz)
		}
	}
	lines := func(over float64) func(hz float64) float64 { // in one column of 61 Hz each, at ±15 kHz, of what is 54 kHz wide
		return func(hz float64) float64 {
			if math.Abs(math.Abs(hz)-15e3) < 30.5 {
				return over
			}
			return within(-27e3, 27e3)(hz)
		}
	}
	for i, test := range []struct {
		level func(hz float64) float64
		want  bool
	}{
		{lines(20), false}, // a data signal's pilots
		{lines(1000), true},
		{dip(4e-4), false},
		{dip(3e-3), true},
		{within(-27e3, 27e3), false},
		{within(-37e3, 37e3), true},
		{within(-100e3, -5e3), false},
		{within(-100e3, 10e3), true},
		{func(hz float64) float64 { return math.Pow(10, (-0.4*max(0, hz/1e3))/10) }, false},
		{func(hz float64) float64 { return math.Pow(10, (-1.2*max(0, hz/1e3-40))/10) }, true},
	} {
		if low, high, all := edgesOf(1, 60, test.level); all == test.want {
			t.Errorf("case %d: heard from %.1f to %.1f kHz, want edges %v", i, low/1e3, high/1e3, test.want)
		}
	}
}
