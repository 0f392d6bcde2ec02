package dsp

import (
	"math"
	"slices"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/lines"
	"nightfloor/dsp/spectrum"
)

// measureBand measures a signal's first seconds in one band.
func measureBand(t testing.TB, s *dsptest.Signal, seconds float64, b spectrum.Band) BandResult {
	t.Helper()
	n := int(s.Rate * seconds)
	m, err := NewMeter(MeterOptions{Rate: s.Rate, Centre: s.Centre, Samples: int64(n), Bands: []spectrum.Band{b}})
	if err != nil {
		t.Fatal(err)
	}
	m.WriteU8(dsptest.U8(nil, s.Samples(n)))
	got, err := m.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return got.Bands[0]
}

// nearestLine finds the carrier nearest to a frequency, if within 10 Hz.
func nearestLine(among []lines.Line, hz float64) (lines.Line, bool) {
	for _, l := range among {
		if math.Abs(l.Frequency-hz) < 10 {
			return l, true
		}
	}
	return lines.Line{}, false
}

var sceneBand = spectrum.Band{Low: 9.4e6, High: 9.9e6}

// A tone keeps its level and its frequency wherever it falls between bins.
func TestCarrierBetweenBins(t *testing.T) {
	for i, place := range []float64{0, 0.25, 0.5, 0.77} {
		const rate = 1.024e6
		// 62.5 Hz bins; the centre is in the middle of one.
		hz := sceneCentre + (1200+place)*rate/16384
		s := dsptest.New(uint64(i), rate, sceneCentre).Noise(1e-9).Tone(hz, -45, 1)
		b := measureBand(t, s, 0.5, sceneBand)
		if len(b.Carriers) != 1 {
			t.Fatalf("%d carriers, want 1: %v", len(b.Carriers), b.Carriers)
		}
		// −45 dBFS over −90 dBFS/Hz in 94 Hz is 25 dB; in the chunk's 3 Hz
		// 40 dB: 0.06 dB and some 0.01 Hz of standard error.
		l := b.Carriers[0]
		if level := 10 * math.Log10(l.Power); math.Abs(level+45) > 0.2 {
			t.Errorf("%.2f bins: %.2f dBFS, want −45 ± 0.2", place, level)
		}
		if math.Abs(l.Frequency-hz) > 0.1 {
			t.Errorf("%.2f bins: %.3f Hz off", place, l.Frequency-hz)
		}
	}
}

// Broadcast carriers amid their sidebands: frequency within 1 Hz in the median
// and 5 Hz for 95 %, level within 0.3 dB for 95 %, where 20 dB over the floor in
// a bin; nothing that is not there.
func TestCarriersOfBroadcastBand(t *testing.T) {
	dsptest.SkipIfShort(t)
	var hz, db []float64
	missed, expected, extra := 0, 0, 0
	for seed := uint64(1); seed <= 4; seed++ {
		s := dsptest.Broadcast(seed, 1.024e6, sceneCentre, 9.4e6, 9.9e6, 0.6)
		b := measureBand(t, s, 0.5, sceneBand)
		truth := s.Truth().Carriers
		bin := 1.5 * 62.5 * b.Floor.Density
		for _, c := range truth {
			over := c.Level - 10*math.Log10(bin)
			l, found := nearestLine(b.Carriers, c.Hz)
			if over < 11 || math.Abs(c.Hz-sceneCentre) < 1100 {
				continue
			}
			expected++
			if !found {
				missed++
				t.Logf("missed %.1f Hz, %.1f dB over the floor in a bin", c.Hz, over)
				continue
			}
			if over > 20 {
				hz = append(hz, math.Abs(l.Frequency-c.Hz))
				db = append(db, math.Abs(10*math.Log10(l.Power)-c.Level))
			}
		}
		for _, l := range b.Carriers {
			if !slices.ContainsFunc(truth, func(c dsptest.Carrier) bool { return math.Abs(c.Hz-l.Frequency) < 10 }) {
				extra++
				t.Logf("not there: %.1f Hz, %.1f dB over", l.Frequency, 10*math.Log10(l.OverFloor))
			}
		}
	}
	slices.Sort(hz)
	slices.Sort(db)
	t.Logf("%d of %d missed, %d false; frequency %.3f Hz median, %.2f Hz at 95 %%; level %.3f dB median, %.2f at 95 %%", missed, expected, extra,
		hz[len(hz)/2], hz[len(hz)*95/100], db[len(db)/2], db[len(db)*95/100])
	// A carrier just over 11 dB under a neighbour's sidebands may go unseen.
	if missed*50 > expected || extra > 0 {
		t.Errorf("%d of %d missed, %d not there", missed, expected, extra)
	}
	if hz[len(hz)/2] > 1 || hz[len(hz)*95/100] > 5 || db[len(db)*95/100] > 0.3 {
		t.Errorf("frequency or level off")
	}
}

// Noise has no carriers, steady or in bursts.
func TestNoCarriersInNoise(t *testing.T) {
	dsptest.SkipIfShort(t)
	n := 0
	for seed := range uint64(10) {
		s := dsptest.New(seed, 250e3, sceneCentre).Noise(1e-9)
		if seed%2 == 1 {
			s.Gated(dsptest.Gated{Mean: 1e-8, Mains: 50, Duty: 0.2, Between: -20})
		}
		b := measureBand(t, s, 0.5, spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3})
		n += len(b.Carriers)
	}
	if n > 0 {
		t.Errorf("%d carriers in 10 readings of noise", n)
	}
}

// The sidebands of a carrier modulated by a tone are not carriers; two
// neighbours of equal strength on the raster are.
func TestToneSidebandsAreNotCarriers(t *testing.T) {
	s := dsptest.New(3, 1.024e6, sceneCentre).Noise(1e-10)
	s.Station(dsptest.Station{Hz: 9.6e6, Level: -30, Depth: 0.5, Tone: 1000})
	s.Station(dsptest.Station{Hz: 9.75e6, Level: -35, Depth: 0.3, Tone: 100})
	for _, hz := range []float64{9.5e6, 9.505e6, 9.495e6, 9.51e6, 9.49e6} {
		level := -50.0
		if hz == 9.5e6 {
			level = -40
		}
		s.Tone(hz, level, hz)
	}
	b := measureBand(t, s, 0.5, sceneBand)
	if len(b.Carriers) != 7 {
		t.Errorf("%d carriers, want 7: %v", len(b.Carriers), b.Carriers)
	}
}

// Neither DC spike nor mirror images are carriers, but a station in an image's
// place is.
func TestReceiverLinesAreNotCarriers(t *testing.T) {
	s := dsptest.New(4, 1.024e6, sceneCentre).Noise(1e-10).DC(0.05).Imbalance(0.008 + 0.004i)
	s.Station(dsptest.Station{Hz: 9.70e6, Level: -20, Depth: 0.3})
	s.Station(dsptest.Station{Hz: 9.75e6, Level: -25, Depth: 0.3})
	s.Station(dsptest.Station{Hz: 9.82e6, Level: -22, Depth: 0.3})
	s.Station(dsptest.Station{Hz: 9.550003e6, Level: -55, Depth: 0.3}) // the image of 9.75 MHz is −66
	b := measureBand(t, s, 0.5, sceneBand)
	if len(b.Carriers) != 4 {
		t.Errorf("%d carriers, want 4: %v", len(b.Carriers), b.Carriers)
	}
	if l, ok := nearestLine(b.Carriers, 9.550003e6); !ok || math.Abs(10*math.Log10(l.Power)+55) > 3 {
		t.Errorf("the station in the image's place: %v", l)
	}
}

// Levels of lines are unbiased, and scatter as their sigma says.
func TestCarrierSigma(t *testing.T) {
	var sum, squares, n float64
	for seed := range uint64(12) {
		s := dsptest.New(200+seed, 250e3, sceneCentre).Noise(1e-9)
		for k := range 6 {
			s.Tone(sceneCentre+20_011.3+float64(k)*9017.7, -50, float64(k))
		}
		for _, l := range measureBand(t, s, 0.5, spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3}).Carriers {
			pull := (l.Power - 1e-5) / l.Sigma
			sum, squares, n = sum+pull, squares+pull*pull, n+1
		}
	}
	t.Logf("mean pull %.2f, rms %.2f, of %.0f", sum/n, math.Sqrt(squares/n), n)
	// Of 72 pulls the mean is 0 ± 0.12 and the rms 1 ± 0.08; three of those.
	if n != 72 || math.Abs(sum/n) > 0.36 || math.Abs(math.Sqrt(squares/n)-1) > 0.25 {
		t.Errorf("mean pull %.2f, rms %.2f, of %.0f; want 0, 1, 72", sum/n, math.Sqrt(squares/n), n)
	}
}

// With no line there the error would be that of the noise alone: the same beside a line 10 dB stronger,
// and half as much in four times as long. Sigma grows with the line.
func TestCarrierQuiet(t *testing.T) {
	const hz = sceneCentre + 20_011.3
	of := func(level, seconds float64) (quiet, sigma float64) {
		for seed := range uint64(6) {
			s := dsptest.New(300+seed, 250e3, sceneCentre).Noise(1e-9).Tone(hz, level, 1)
			l, ok := nearestLine(measureBand(t, s, seconds, spectrum.Band{Low: sceneCentre - 80e3, High: sceneCentre + 80e3}).Carriers, hz)
			if !ok {
				t.Fatalf("%.0f dBFS, %.1f s: not found", level, seconds)
			}
			quiet, sigma = quiet+l.Quiet/6, sigma+l.Sigma/6
		}
		return quiet, sigma
	}
	quiet, sigma := of(-50, 0.5)
	stronger, wider := of(-40, 0.5)
	longer, _ := of(-50, 2)
	t.Logf("quiet %.3g, beside a stronger line %.3g, in 2 s %.3g; sigma %.3g, %.3g", quiet, stronger, longer, sigma, wider)
	// Six times 60 cells beside the line know the noise to 5 %; the same noise is beside both lines.
	if quiet < 5e-9 || quiet > 8e-9 || math.Abs(stronger/quiet-1) > 0.05 || math.Abs(longer/quiet-0.5) > 0.075 || wider < 2.8*sigma {
		t.Errorf("quiet %.3g, beside a stronger line %.3g, in 2 s %.3g; want about 6e-9, the same and half; sigma %.3g and %.3g, want 3.2 times", quiet, stronger, longer, sigma, wider)
	}
}
