package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// lineSpectrum measures a signal and gives the band's spectrum and floor.
func lineSpectrum(t testing.TB, s *dsptest.Signal) (spectrum.PowerSpectrum, float64) {
	b := measureBand(t, s, 0.5, spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3})
	return b.Spectrum, b.Floor.Density
}

// quantised gives the spectrum as the database keeps it, in steps of 0.1 dB.
func quantised(s spectrum.PowerSpectrum) spectrum.PowerSpectrum {
	out := s
	out.Density = make([]float32, len(s.Density))
	for i, d := range s.Density {
		out.Density[i] = float32(math.Pow(10, math.Round(100*math.Log10(float64(d)))/100))
	}
	return out
}

// Forced on nothing, Line scatters about zero with the quiet sigma it states; so
// does it on quantised and on coarser spectra.
func TestForcedLineOnNothing(t *testing.T) {
	type pull struct{ sum, squares, n float64 }
	pulls := map[string]*pull{"as measured": {}, "in 0.1 dB steps": {}, "merged by 3": {}}
	for seed := range uint64(6) {
		averaged, floor := lineSpectrum(t, dsptest.New(100+seed, 250e3, sceneCentre).Noise(1e-9))
		for name, s := range map[string]spectrum.PowerSpectrum{"as measured": averaged, "in 0.1 dB steps": quantised(averaged),
			"merged by 3": quantised(averaged.Coarser(3))} {
			// 613 Hz apart, ten bins, the values are nearly independent.
			for f := sceneCentre - 75e3; f < sceneCentre+75e3; f += 613 {
				if math.Abs(f-sceneCentre) < 2000 {
					continue
				}
				p, _, quiet := s.Line(f, floor)
				pulls[name].sum += p / quiet
				pulls[name].squares += p * p / quiet / quiet
				pulls[name].n++
			}
		}
	}
	for name, p := range pulls {
		mean, rms := p.sum/p.n, math.Sqrt(p.squares/p.n)
		// Of 1400 values the mean scatters by 0.027, neighbours sharing the
		// noise about them somewhat more; the rms by 0.02. The median that is
		// taken for the local noise is biased by less than 0.05 sigma.
		t.Logf("%s: mean pull %.3f, rms %.3f, of %.0f", name, mean, rms, p.n)
		if math.Abs(mean) > 0.12 || rms < 0.9 || rms > 1.1 {
			t.Errorf("%s: mean pull %.3f, rms %.3f; want 0 and 1", name, mean, rms)
		}
	}
}

// What would be the error with no line there is that of nothing, whatever the line's power, on each
// spectrum. The noise beside it, of 18 bins of 40 looks, is known to some 5 %.
func TestForcedQuiet(t *testing.T) {
	const hz = sceneCentre + 500.3*250e3/4096
	quiet := map[string]float64{} // with no line
	for _, level := range []float64{-150, -75, -55, -35} {
		s := dsptest.New(3, 250e3, sceneCentre).Noise(1e-9).Tone(hz, level, 0)
		averaged, floor := lineSpectrum(t, s)
		for name, p := range map[string]spectrum.PowerSpectrum{"as measured": averaged, "in 0.1 dB steps": quantised(averaged),
			"merged by 3": quantised(averaged.Coarser(3))} {
			power, sigma, got := p.Line(hz, floor)
			if level == -150 {
				quiet[name] = got
			}
			if math.Abs(got/quiet[name]-1) > 0.1 || sigma < got || power > 20*got && sigma < 2*got {
				t.Errorf("%s, %.0f dBFS: %.3g with sigma %.3g, quiet %.3g; want quiet %.3g", name, level, power, sigma, got, quiet[name])
			}
		}
	}
}

// A strong line is right within 0.3 dB wherever it falls, on each spectrum,
// and amid the sidebands of speech.
func TestForcedLineOnLines(t *testing.T) {
	for i, away := range []float64{0, 0.3, 0.5} {
		hz := sceneCentre + (500+away)*250e3/4096
		s := dsptest.New(uint64(i), 250e3, sceneCentre).Noise(1e-9)
		s.Tone(hz, -45, 0)
		s.Station(dsptest.Station{Hz: hz - 50e3, Level: -40, Depth: 0.3})
		averaged, floor := lineSpectrum(t, s)
		for name, p := range map[string]spectrum.PowerSpectrum{"as measured": averaged, "in 0.1 dB steps": quantised(averaged),
			"merged by 3": quantised(averaged.Coarser(3))} {
			tone, sigma, _ := p.Line(hz, floor)
			station, _, _ := p.Line(hz-50e3, floor)
			t.Logf("%s %.1f: %.3f ± %.3f dB, %.3f", name, away, 10*math.Log10(tone)+45, 4.34*sigma/tone, 10*math.Log10(station)+40)
			if e := 10*math.Log10(tone) + 45; math.Abs(e) > 0.3 {
				t.Errorf("%s, tone %.1f bins off: %.2f dB wrong", name, away, e)
			}
			if e := 10*math.Log10(station) + 40; math.Abs(e) > 0.3 {
				t.Errorf("%s, station %.1f bins off: %.2f dB wrong", name, away, e)
			}
		}
	}
}
