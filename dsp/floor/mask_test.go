package floor

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
)

// averagesOf makes averages of noise of mean 1 in both halves, over so many frames, with
// power half 0 alone has more in the columns from…to.
func averagesOf(r *rand.Rand, s *spectrum.Spectrogram, frames, from, to int, more float64) *spectrum.Averages {
	a := spectrum.NewAverages(s.Bins, nil)
	a.Frames = [2]int{frames / 2, frames / 2}
	a.Looks = float64(frames) / 2 / fft.OverlapLoss
	for h := range 2 {
		for b := range s.Bins {
			sum := 0.0
			for range frames / 2 {
				sum += r.ExpFloat64()
			}
			a.Halves[h][b] = sum / float64(frames/2)
			if h == 0 && b >= from && b < to {
				a.Halves[h][b] += more
			}
		}
	}
	return a
}

// What one half alone shows is taken in both where noise cannot have made it: from 6.5
// standard errors on, here of 5 kHz, 68 bins that scatter as 35 do by 29 looks: 3.1 %.
func TestStrongExcessOfOneHalf(t *testing.T) {
	const rate, n, frames = 0.6e6, 8192, 62
	s := spectrum.NewSpectrogram(rate, n, frames)
	for _, test := range []struct {
		more float64
		both bool
	}{{0.18, false}, {0.4, true}} { // 5.8 and 13 standard errors
		r := rand.New(rand.NewPCG(1, 1))
		from := s.Bins / 4
		a := averagesOf(r, s, frames, from, from+68, test.more)
		m := NewMasker(s)
		m.Mask(a, Columns{0, s.Bins}, nil, 0)
		taken := [2]int{}
		for h := range 2 {
			for b := from; b < from+68; b++ {
				if m.mask.taken[h][b] {
					taken[h]++
				}
			}
		}
		if taken[0] < 40 || (taken[1] >= 40) != test.both || !test.both && taken[1] > 10 {
			t.Errorf("%.0f %% more in one half: %d and %d of 68 columns taken", 100*test.more, taken[0], taken[1])
		}
	}
}

// Noise passes the limits of all scales in few columns; what stands out is found at the scale
// it has: a column, 2.5 kHz, 10 kHz.
func TestExcess(t *testing.T) {
	const rate, n, frames = 0.6e6, 8192, 62
	s := spectrum.NewSpectrogram(rate, n, frames)
	from := s.Bins / 4
	for _, test := range []struct {
		columns int
		more    float64
		found   bool
	}{{1, 0, false}, {1, 1.5, true}, {34, 0.5, true}, {136, 0.25, true}} {
		r := rand.New(rand.NewPCG(2, 2))
		a := averagesOf(r, s, frames, from, from+test.columns, test.more)
		m := NewMasker(s)
		m.Mask(a, Columns{0, s.Bins}, nil, 0)
		all, in := 0, 0
		for b, taken := range m.mask.taken[0] {
			if !taken {
				continue
			}
			all++
			if b >= from && b < from+test.columns {
				in++
			}
		}
		if found := 4*in >= 3*test.columns; found != test.found || all-in > 20+test.columns/2 {
			t.Errorf("%d columns with %.0f %% more: %d of them taken, and %d others", test.columns, 100*test.more, in, all-in)
		}
	}
}

// Each scale finds what is as wide as it: blocks of 2.5, 5 and 10 kHz in noise that does not
// scatter, 4.6 standard errors of their width over it, and none of 3.7. The other scales see them
// at 3.3 standard errors or less, those of half or twice the width at 4.6/√2.
func TestExcessAtEachScale(t *testing.T) {
	const rate, n, frames, cell = 0.6e6, 8192, 62, 7 // columns of 73 Hz in a cell
	s := spectrum.NewSpectrogram(rate, n, frames)
	for _, cells := range []int{5, 10, 20} {
		for _, sigmas := range []float64{3.7, 4.6} {
			a := spectrum.NewAverages(s.Bins, nil)
			a.Frames, a.Looks = [2]int{frames / 2, frames / 2}, frames/2/fft.OverlapLoss
			width := cells * cell
			from := width / 2 * 60 // where blocks begin that the search looks at
			for h := range 2 {
				for b := range s.Bins {
					a.Halves[h][b] = 1
				}
				for b := range width {
					a.Halves[h][from+b] += sigmas * math.Sqrt(fft.BinExcess/(a.Looks*float64(width)))
				}
			}
			m := NewMasker(s)
			m.Mask(a, Columns{0, s.Bins}, nil, 0)
			if taken := m.mask.taken[0][from+width/2]; taken != (sigmas > 4) {
				t.Errorf("%d cells, %v standard errors over the noise: taken %v", cells, sigmas, taken)
			}
		}
	}
}

// Where lines leave under a quarter of every group of the baseline, what they leave tells the
// noise all the same: the mean under them is no gap of nothing. 190 columns of 62 frames
// scatter by 1.4 %.
func TestFloorBetweenManyLines(t *testing.T) {
	const rate, n, frames = 0.15e6, 2048, 62
	s := spectrum.NewSpectrogram(rate, n, frames)
	a := averagesOf(rand.New(rand.NewPCG(3, 3)), s, frames, 0, 0, 0)
	for b := range a.Mean {
		a.Mean[b] = (a.Halves[0][b] + a.Halves[1][b]) / 2
	}
	var lines []Line
	for b := 20; b < s.Bins; b += 36 {
		lines = append(lines, Line{Column: float64(b), Over: 1e6}) // 31 columns with its skirts
	}
	m := NewMasker(s)
	for level := range Levels {
		m.Mask(a, Columns{0, s.Bins}, lines, level)
		f, ok := m.Measure(a, a.Mean, 0, s.Bins)
		if !ok {
			continue
		}
		if sigma := f.Sigma(0); math.Abs(f.Power-1) > 0.05 || !(sigma > 0 && sigma < 0.1) || !f.OK {
			t.Errorf("floor %.3f ± %.3f of noise of 1, %.0f %% taken", f.Power, sigma, 100*f.Occupancy)
		}
		return
	}
	t.Error("no floor")
}
