package scene

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"nightfloor/survey"
)

var fresh = flag.Bool("fresh", false, "run statistical tests with a fresh seed")

func seedOf(t *testing.T) uint64 {
	seed := uint64(20261103)
	if *fresh {
		seed = rand.Uint64()
	}
	t.Logf("seed %d", seed)
	return seed
}

func setupOf(antenna, place string, bearing float64) survey.Setup {
	s := survey.Setup{Antenna: antenna, Placement: place}
	if bearing >= 0 {
		s.Bearing = survey.BearingOf(bearing)
	}
	return s
}

// A listening is a house as it is when a test begins.
type listening struct {
	Options
	seed    uint64
	setup   survey.Setup // zero: a terminator
	gain    float64      // a step
	noOvers bool         // nothing is on the air in amateur bands
}

func (l listening) open(t *testing.T) *House {
	t.Helper()
	h, err := Open(fmt.Sprintf("scene:house?seed=%d", l.seed), l.Options)
	if err == nil && l.setup != (survey.Setup{}) {
		h.view.at, err = mount(l.setup)
	}
	if err != nil {
		t.Fatal(err)
	}
	if l.noOvers {
		h.world.airs = nil
	}
	h.view.gain = l.gain
	h.restart()
	return h
}

// listen opens a house, tunes it and throws the stale samples away, and one
// more, with which the tuning takes effect.
func listen(t *testing.T, l listening, centre survey.Hz) *House {
	t.Helper()
	h := l.open(t)
	if _, err := h.Tune(context.Background(), centre); err != nil {
		t.Fatal(err)
	}
	read(t, h, staleSamples(h)+1)
	return h
}

func staleSamples(h *House) int { return int(float64(h.Info().SampleRate) * h.Info().Stale.Seconds()) }

// read gives n samples as bytes.
func read(t *testing.T, h *House, n int) []byte {
	t.Helper()
	buf := make([]byte, 2*n)
	dropped, err := h.Read(context.Background(), buf)
	if err != nil || dropped != 0 {
		t.Fatalf("read of %d samples: %d dropped, %v", n, dropped, err)
	}
	return buf
}

// samplesOf turns codes into samples: (c − 127.5)/128.
func samplesOf(iq []byte) []complex128 {
	x := make([]complex128, len(iq)/2)
	for i := range x {
		x[i] = complex((float64(iq[2*i])-127.5)/128, (float64(iq[2*i+1])-127.5)/128)
	}
	return x
}

// A plain spectrum: averaged periodograms, Hann window, half overlap, by
// gonum's transform. It shares no code with the scene or package dsp.
type plain struct {
	first, step float64 // Hz
	density     []float64
}

func spectrumOf(x []complex128, n int, rate, centre float64) plain {
	fft := fourier.NewCmplxFFT(n)
	p := plain{first: centre - rate/2, step: rate / float64(n), density: make([]float64, n)}
	in, out := make([]complex128, n), make([]complex128, n)
	var frames, sum2 float64
	w := make([]float64, n)
	for i := range w {
		w[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
		sum2 += w[i] * w[i]
	}
	for at := 0; at+n <= len(x); at += n / 2 {
		for i := range in {
			in[i] = x[at+i] * complex(w[i], 0)
		}
		fft.Coefficients(out, in)
		for k, c := range out {
			p.density[(k+n/2)%n] += real(c)*real(c) + imag(c)*imag(c)
		}
		frames++
	}
	for k := range p.density {
		p.density[k] /= frames * sum2 * rate
	}
	return p
}

// mean gives the mean density of bins from low to high that free says are free.
func (p plain) mean(low, high float64, free func(f float64) bool) float64 {
	var sum, n float64
	for k, d := range p.density {
		f := p.first + p.step*float64(k)
		if f >= low && f <= high && (free == nil || free(f)) {
			sum += d
			n++
		}
	}
	return sum / n
}

// power gives the power from low to high.
func (p plain) power(low, high float64) float64 {
	var sum float64
	for k, d := range p.density {
		if f := p.first + p.step*float64(k); f >= low && f <= high {
			sum += d * p.step
		}
	}
	return sum
}

// lineless is a world of one steady station, without modulation, at a frequency
// and a field strength.
func lineless(f, fieldDB float64) *world {
	w := newWorld(1, defaultStart, 52, 9)
	s := station{broadcaster: broadcaster{name: "Test", distance: 2000, level: fieldDB}, frequency: f, hours: hours{0, 86400}}
	s.fading[verticalPart][0].amplitude = 1
	w.stations, w.supplies, w.airs = []station{s}, nil, nil
	return w
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.4f, want %.4f ± %.4f", what, got, want, tolerance)
	}
}

func at(hour, minute int) time.Time {
	return time.Date(2026, time.November, 3, hour, minute, 0, 0, time.UTC)
}
