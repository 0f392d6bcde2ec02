package comb

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/envelope"
	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

var seeds = dsptest.FreshSeeds()

// madeModulation gives the modulation found in a comb of 24 lines, db over the floor in one
// resolution, whose envelopes are made: an amplitude of 1 + depth·sin at hz, in noise of the
// channel's width.
func madeModulation(seed uint64, db, depth, hz float64) Modulation {
	m := newMadeSpectrum(seed, 21, 9.65e6)
	const spacing, rate, n = 65.012e3, 2343.75, 1100
	over := math.Pow(10, db/10)
	m.addComb(spacing, over, 0)
	v := m.view()
	s := lineStretch{rate: rate, enbw: envelope.NewFilter(26).ENBW}
	noise, phase := math.Sqrt(s.enbw/v.enbw/2), 2*math.Pi*m.r.Float64()
	for first, last := v.multiples(spacing); first <= last; first++ {
		p := keptLine{at: v.column(float64(first) * spacing), power: make([]float32, n)}
		for i := range p.power {
			line := math.Sqrt(over) * (1 + depth*math.Sin(2*math.Pi*hz*float64(i)/rate+phase))
			x := complex(line+noise*m.r.NormFloat64(), noise*m.r.NormFloat64())
			p.power[i] = float32(stat.SquaredAbs(x))
			p.mean += stat.SquaredAbs(x) / n
		}
		s.lines = append(s.lines, p)
	}
	v.stretches = []lineStretch{s}
	return newCombSearch([]*View{v}).modulation(Comb{Spacing: spacing})
}

// P is not too small: of 300 steady combs it is under 0.01 in 3 at most (fewer,
// for neighbouring frequencies count as if they were independent), and in more than 9 but once in
// 900 times; of combs whose amplitude swings by 0.15, a depth of the power of 0.29, at 10 dB a
// line 9 of 10 are told.
func TestModulationPValue(t *testing.T) {
	dsptest.SkipIfShort(t)
	steady := dsptest.CountParallel(300, func(i int) bool { return madeModulation(seeds()+uint64(i), 10+float64(i%20), 0, 0).P < 0.01 })
	if steady > 9 {
		t.Errorf("P under 0.01 in %d of 300 steady combs", steady)
	}
	told := dsptest.CountParallel(50, func(i int) bool { return madeModulation(seeds()+uint64(i), 10, 0.15, 99.3).Mains == 50 })
	if told < 45 {
		t.Errorf("the modulation is found in %d of 50 combs", told)
	}
}

// A recording of any length keeps two stretches, the later of its last three quarters; short ones keep
// none.
func TestStretchesKept(t *testing.T) {
	const rate = 256e3
	k := dsptest.Comb{Spacing: 15.317e3, Level: -50, Low: -0.1e6, High: 0.1e6}
	s := dsptest.New(1, rate, 0).Noise(dsptest.BroadcastFloor).Comb(k)
	for _, test := range []struct {
		seconds float64
		starts  []float64 // chunks are half a second
	}{{0.1, nil}, {0.5, []float64{0}}, {1, []float64{0, 0.5}}, {5, []float64{0.5, 2}}} {
		view := viewInChunks(s, int64(rate*test.seconds))
		kept := view.stretches
		if len(kept) != len(test.starts) {
			t.Fatalf("%v s: %d stretches, want %d", test.seconds, len(kept), len(test.starts))
		}
		for i, want := range test.starts {
			// Seven lines below zero and seven above; the DC spike's is none.
			if math.Abs(kept[i].start-want) > 0.05 || len(kept[i].lines) < 10 || len(kept[i].lines) > 14 {
				t.Errorf("%v s: %d lines from %.3f s, want %.1f", test.seconds, len(kept[i].lines), kept[i].start, want)
			}
		}
		if view.Release(); view.stretches != nil {
			t.Error("kept after use")
		}
	}
}

// viewInChunks gives the view of so many samples, half a second at a time.
func viewInChunks(signal *dsptest.Signal, samples int64) *View {
	n := spectrum.FrameLength(signal.Rate, samples)
	frames := spectrum.FramesInChunk(signal.Rate, samples, n)
	s := spectrum.NewSpectrogram(signal.Rate, n, frames)
	gain, power := make([]float64, s.Bins), make([]float64, s.Bins)
	for b := range gain {
		gain[b] = 1
	}
	a := spectrum.NewAverages(s.Bins, gain)
	var w Accumulator
	counted := 0
	take := func() {
		for f := range s.Frames {
			re, im := s.Row(f)
			a.Add(counted+f, re, im, spectrum.Kept)
		}
		a.CloseChunk(power)
		a.Average(true)
		w.Add(s, a, signal.Centre, float64(counted*s.Hop)/s.Rate)
		counted += s.Frames
		s.Reset()
	}
	fft.NewFramer(fft.Hann(s.N), s.Hop).Write(signal.Samples(int(samples)), func(re, im []float32) {
		if s.Frames == frames {
			take()
		}
		s.Append(re, im)
	})
	take()
	return w.View(s, a, signal.Centre, 0, 0)
}
