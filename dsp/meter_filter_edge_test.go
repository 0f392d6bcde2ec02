package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/floor"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
)

// Long wave at 250 kS/s, which tests of filters' edges hear; noise of longWaveFloor, FS²/Hz.
const (
	longWaveRate, longWaveCentre = 250e3, 216e3
	longWaveFloor                = 3.16e-10 // −95 dBFS/Hz
)

// longWave is a band of stations on 9 kHz, 20 to 60 dB over the noise in 100 Hz, on every so-manieth place.
func longWave(seed uint64, every int) *dsptest.Signal {
	s := dsptest.New(seed, longWaveRate, longWaveCentre).Noise(longWaveFloor)
	for k, hz := 0, 81e3; hz < 350e3; k, hz = k+1, hz+9e3 {
		if k%every == 0 {
			s.Station(dsptest.Station{Hz: hz + 3, Level: 10*math.Log10(100*longWaveFloor) + 20 + float64(k*13%41), Depth: 0.3})
		}
	}
	return s
}

// residue adds what arithmetic behind a filter leaves in its stop band, of density FS²/Hz.
func residue(x []complex64, rate, density float64) []complex64 {
	for i, v := range dsptest.New(99, rate, 0).Noise(density).Samples(len(x)) {
		x[i] += v
	}
	return x
}

// filterReading measures samples over the whole usable passband and over bands.
func filterReading(t *testing.T, x []complex64, rate, centre float64, bands ...spectrum.Band) Measurement {
	t.Helper()
	low, high := spectrum.Usable(rate)
	bands = append([]spectrum.Band{{Low: centre + low, High: centre + high}}, bands...)
	meter, err := NewMeter(MeterOptions{Rate: rate, Centre: centre, Samples: int64(len(x)), Bands: bands, Seek: &interference.Options{}})
	if err != nil {
		t.Fatal(err)
	}
	meter.Write(x)
	m, err := meter.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Where the receiver's filter is narrower than the usable passband the floor is that of what it lets
// through: the noise of −95 dBFS/Hz. What it leaves of half the −147 of its stop band does not count, nor lines there.
func TestFloorWithinTheFilter(t *testing.T) {
	for _, test := range fewerIfShort(2, []struct {
		name         string
		middle, half float64 // Hz, of the filter
		every        int
		short        float64 // dB by which the floor may be off beside three standard errors
	}{
		{"stations, ±50 kHz", 0, 50e3, 2, 0.1},
		{"crowded, ±25 kHz", 0, 25e3, 1, 0.1},
		{"empty, ±50 kHz", 0, 50e3, 1000, 0.1},
		{"crowded, ±45 kHz", 0, 45e3, 1, 0.1},
		{"stations, −160 … 40 kHz", -60e3, 100e3, 2, 0.1},
		{"stations, −30 … 60 kHz", 15e3, 45e3, 2, 0.1},
	}) {
		t.Run(test.name, func(t *testing.T) {
			x := longWave(1+seeds(), test.every).Samples(longWaveRate / 2)
			x = residue(dsptest.LowPass(x, longWaveRate, test.middle, test.half, 5e3), longWaveRate, 2e-15) // −147 dBFS/Hz
			m := filterReading(t, x, longWaveRate, longWaveCentre, spectrum.Band{Low: 148.5e3, High: 283.5e3})
			low, high := longWaveCentre+max(-longWaveRate/3, test.middle-test.half), longWaveCentre+min(longWaveRate/3, test.middle+test.half)
			if m.Heard.Low < low-100 || m.Heard.Low > low+8e3 || m.Heard.High > high+100 || m.Heard.High < high-8e3 {
				t.Errorf("heard from %.1f to %.1f kHz, not from %.1f to %.1f", m.Heard.Low/1e3, m.Heard.High/1e3, low/1e3, high/1e3)
			}
			for _, b := range m.Bands {
				if b.Floor == nil {
					t.Errorf("no floor; crowded: %v", b.Crowded)
				} else if off := 10 * math.Log10(b.Floor.Density/longWaveFloor); !b.Edge || math.Abs(off) > test.short+3*b.Floor.Sigma {
					t.Errorf("edge %v, floor %.2f dB off, standard error %.2f", b.Edge, off, b.Floor.Sigma)
				}
				for _, l := range b.Carriers {
					if l.Frequency < m.Heard.Low || l.Frequency > m.Heard.High {
						t.Errorf("a carrier at %.1f kHz", l.Frequency/1e3)
					}
				}
			}
		})
	}
}

// A band of which the filter lets nothing through has no floor, and is not called crowded; one of which it
// lets a third through has that of this third.
func TestBandBeyondTheFilter(t *testing.T) {
	x := longWave(2+seeds(), 3).Samples(longWaveRate / 2)
	x = residue(dsptest.LowPass(x, longWaveRate, 0, 50e3, 5e3), longWaveRate, 2e-15)
	m := filterReading(t, x, longWaveRate, longWaveCentre, spectrum.Band{Low: 270e3, High: 290e3}, spectrum.Band{Low: 250e3, High: 290e3}, spectrum.Band{Low: 190e3, High: 240e3})
	beyond, part, inside := m.Bands[1], m.Bands[2], m.Bands[3]
	if beyond.Floor != nil || beyond.Crowded || !beyond.Edge || len(beyond.Carriers) > 0 {
		t.Errorf("beyond the filter: %+v", beyond)
	}
	if !part.Edge || inside.Edge || part.Floor == nil || inside.Floor == nil {
		t.Fatalf("edges %v %v, floors %v %v", part.Edge, inside.Edge, part.Floor, inside.Floor)
	}
	for _, f := range []*floor.Floor{part.Floor, inside.Floor} {
		if off := 10 * math.Log10(f.Density/longWaveFloor); math.Abs(off) > 0.1+3*f.Sigma {
			t.Errorf("floor %.2f dB off", off)
		}
	}
}

// The rest of a stream whose length was not known, too short to judge by, does not undo what the chunks before it told.
func TestEdgeAtTheEndOfAStream(t *testing.T) {
	x := longWave(3+seeds(), 3).Samples(longWaveRate * 0.55)
	x = residue(dsptest.LowPass(x, longWaveRate, 0, 50e3, 8e3), longWaveRate, 2e-15)
	meter, err := NewMeter(MeterOptions{Rate: longWaveRate, Centre: longWaveCentre, Bands: []spectrum.Band{{Low: 140e3, High: 290e3}}})
	if err != nil {
		t.Fatal(err)
	}
	meter.Write(x)
	m, err := meter.Finish()
	if err != nil {
		t.Fatal(err)
	}
	if b := m.Bands[0]; !b.Edge || b.Floor == nil || math.Abs(10*math.Log10(b.Floor.Density/longWaveFloor)) > 0.1+3*b.Floor.Sigma {
		t.Errorf("edge %v, floor %+v", b.Edge, b.Floor)
	}
}

// crowd fills a raster of Hz at one end of the passband, up to 6200 kHz, with stations so many dB over the noise of
// −120 dBFS/Hz in 100 Hz.
func crowd(raster, level, depth float64) *dsptest.Signal {
	s := dsptest.New(3+seeds(), 250e3, 6.15e6).Noise(1e-12)
	for hz := 6e6; hz <= 6.2e6; hz += raster {
		s.Station(dsptest.Station{Hz: hz, Level: -100 + level, Depth: depth})
	}
	return s
}

// What is no edge of a filter: bands of stations that end, data signals, noise that falls as fast as noise can, quiet
// bands in coarse codes.
func TestNoEdges(t *testing.T) {
	quiet := func() *dsptest.Signal { return dsptest.New(4+seeds(), 250e3, 6.15e6).Noise(1e-12) }
	wide := func(shape func(hz float64) float64) *dsptest.Signal {
		return dsptest.New(5+seeds(), 1.2e6, 6.15e6).Shaped(shape)
	}
	for _, test := range fewerIfShort(3, []struct {
		name  string
		make  func() *dsptest.Signal
		bits  int     // of the codes; 0: floats
		floor float64 // FS²/Hz that the floor must be; 0: it is not asked
	}{
		{"every 5 kHz, 60 dB", func() *dsptest.Signal { return crowd(5e3, 60, 0.3) }, 16, 0},
		{"every 9 kHz, 90 dB", func() *dsptest.Signal { return crowd(9e3, 90, 0.3) }, 0, 0},
		{"data of 20 kHz at the centre", func() *dsptest.Signal { return quiet().Data(6.15e6, 20e3, -35) }, 16, 1e-12},
		{"every 5 kHz, 80 dB", func() *dsptest.Signal { return crowd(5e3, 80, 0.1) }, 16, 0},
		{"every 10 kHz, 80 dB", func() *dsptest.Signal { return crowd(10e3, 80, 0.3) }, 16, 0},
		{"splatter", func() *dsptest.Signal {
			s := crowd(10e3, 80, 0.3)
			for hz := 6e6; hz <= 6.2e6; hz += 10e3 {
				s.Splatter(hz, 8e3, -55)
			}
			return s
		}, 0, 0},
		{"data of 20 kHz at the end", func() *dsptest.Signal { return quiet().Data(6.225e6, 20e3, -35) }, 16, 1e-12},
		{"data of 20 kHz, stations", func() *dsptest.Signal {
			return quiet().Data(6.15e6, 20e3, -45).Stations(6.07e6, 6.23e6, 0.5, 1e-12)
		}, 16, 0},
		{"data of 40 kHz over two stations, others beyond", func() *dsptest.Signal {
			s := quiet().Data(6.15e6, 40e3, -45)
			for _, hz := range []float64{6.09e6, 6.14e6, 6.16e6, 6.21e6} {
				s.Station(dsptest.Station{Hz: hz, Level: -40, Depth: 0.3})
			}
			return s
		}, 16, 1e-12},
		{"quiet, 16 bits", func() *dsptest.Signal {
			return dsptest.New(6+seeds(), 250e3, 6.15e6).Noise(1e-14).Stations(6.07e6, 6.15e6, 0.6, 1e-14).Station(dsptest.Station{Hz: 6.08e6, Level: -20, Depth: 0.3})
		}, 16, 1e-14 + 2.0/12/(1<<30)/250e3}, // rounding adds its own
		{"quiet, 8 bits", func() *dsptest.Signal {
			return dsptest.New(7+seeds(), 250e3, 6.15e6).Noise(1e-12).Stations(6.07e6, 6.15e6, 0.6, 1e-11).Station(dsptest.Station{Hz: 6.08e6, Level: -20, Depth: 0.3})
		}, 8, 0},
		{"noise that falls by 0.25 dB/kHz", func() *dsptest.Signal {
			return wide(func(hz float64) float64 { return math.Pow(10, -9-3*min(1, max(0, (hz-6.25e6)/120e3))) })
		}, 0, 0},
		{"a hump of 30 dB", func() *dsptest.Signal {
			return wide(func(hz float64) float64 {
				c := math.Cos(math.Pi * max(-0.5, min(0.5, (hz-6.15e6)/400e3)))
				return 1e-12 + 1e-9*c*c
			})
		}, 0, 0},
	}) {
		t.Run(test.name, func(t *testing.T) {
			s := test.make()
			x := s.Samples(int(s.Rate / 2))
			if test.bits > 0 {
				x = dsptest.Coded(x, test.bits)
			}
			m := filterReading(t, x, s.Rate, s.Centre)
			b := m.Bands[0]
			if b.Edge {
				t.Errorf("heard from %.1f to %.1f kHz", m.Heard.Low/1e3, m.Heard.High/1e3)
			}
			if test.floor == 0 {
				return
			}
			if b.Floor == nil {
				t.Error("no floor")
			} else if off := 10 * math.Log10(b.Floor.Density/test.floor); math.Abs(off) > 0.15+3*b.Floor.Sigma {
				t.Errorf("floor %.2f dB off, standard error %.2f", off, b.Floor.Sigma)
			}
		})
	}
}

// A device that leaves an amateur band out of its noise makes an edge of its own, by 30 dB in 8 kHz, which is no
// receiver's where it lies at that band's edge. 40 kHz beside it the same is one.
func TestNotchIsNoEdge(t *testing.T) {
	for _, test := range []struct {
		edge float64
		want bool
	}{{7.0e6, false}, {6.96e6, true}} {
		x := dsptest.New(8+seeds(), 500e3, 6.9e6).Noise(1e-9).Samples(250e3)
		x = residue(dsptest.LowPass(x, 500e3, (test.edge-6.9e6-200e3)/2, (test.edge-6.9e6+200e3)/2, 8e3), 500e3, 1e-12)
		meter, err := NewMeter(MeterOptions{Rate: 500e3, Centre: 6.9e6, Samples: int64(len(x)), Bands: []spectrum.Band{{Low: 6.74e6, High: 7.06e6}},
			Seek: &interference.Options{Quiet: []spectrum.Band{{Low: 7.0e6, High: 7.2e6}}}})
		if err != nil {
			t.Fatal(err)
		}
		meter.Write(x)
		m, err := meter.Finish()
		if err != nil {
			t.Fatal(err)
		}
		if m.Bands[0].Edge != test.want {
			t.Errorf("noise up to %.2f MHz: edge %v", test.edge/1e6, m.Bands[0].Edge)
		}
	}
}

// The filter's edge is told in noise that comes in bursts with the mains.
func TestEdgeInUnsteadyNoise(t *testing.T) {
	for _, duty := range []float64{0.1, 0.3} {
		x := longWave(9+seeds(), 2).Gated(dsptest.Gated{Mean: 30 * longWaveFloor, Mains: 50, Duty: duty, Between: -20}).Samples(longWaveRate / 2)
		m := filterReading(t, residue(dsptest.LowPass(x, longWaveRate, 0, 50e3, 5e3), longWaveRate, 2e-15), longWaveRate, longWaveCentre)
		b := m.Bands[0]
		if b.Floor == nil || !b.Edge {
			t.Errorf("duty %v: edge %v, floor %v", duty, b.Edge, b.Floor)
		} else if off := 10 * math.Log10(b.Floor.Density/(31*longWaveFloor)); math.Abs(off) > 0.2+3*b.Floor.Sigma {
			t.Errorf("duty %v: floor %.2f dB off", duty, off)
		}
	}
}
