package onair

import (
	"math"
	"slices"
	"testing"
	"time"

	"nightfloor/dsp"
	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// TestFromSamples: transmissions of known power stand in the samples of two setups, of which the
// second has 6 dB less noise; out come their known excess in each slot and 6 dB.
func TestFromSamples(t *testing.T) {
	const rate, centre, slots, rounds = 250e3, 28.06e6, 40, 6
	segment := survey.Segment{Name: "10 m amateur", Low: 28.01e6, High: 28.01e6 + slots*SlotWidth}
	noise := []float64{4e-10, 1e-10}
	var in input.Selection
	in.Surveys = []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true}}
	var spectra []*survey.Spectrum
	excess := func(round, slot int) float64 { // through the second setup
		if (7*slot+13*round)%slots >= 12 {
			return 0
		}
		return stats.FromDecibel(float64(8 + (11*slot+5*round)%15))
	}
	for n := range rounds {
		for k := range testSetups {
			s := dsptest.New(uint64(10*n+k+1), rate, centre).Noise(noise[k])
			for i := range slots {
				if x := excess(n, i); x > 0 {
					middle := float64(segment.Low) + (float64(i)+0.5)*float64(SlotWidth)
					s.Data(middle, 1500, stats.Decibel(x*noise[1]*float64(SlotWidth)))
				}
			}
			density, sp := measured(t, s.Samples(rate/2), rate, centre, segment)
			spectra = append(spectra, sp)
			start := time.Date(2026, 11, 3, 18, 4*n, 30*k, 0, time.UTC)
			in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Visit: 2*n + k + 1, Setup: testSetups[k], Start: start, Readings: []survey.Reading{
				{ID: int64(len(spectra)), Segment: segment, Start: start, Duration: time.Second / 2, Floor: &survey.Floor{Density: density}}}})
		}
	}
	a := New(in)
	var keys []input.RoundKey
	for i, s := range spectra {
		a.Add(int64(i+1), s)
		if i%2 == 0 {
			keys = append(keys, input.RoundKey{Survey: 1, Round: i/2 + 1})
		}
	}
	c, ok := a.Compare(segment, keys, testSetups[1], testSetups[0])
	if !ok || c.Quantiles != 5 || c.Slots != slots || c.Rounds != rounds {
		t.Fatalf("%+v", c)
	}
	mean, half := compared(c)
	t.Logf("%.2f ± %.2f dB", mean, half)
	// Five quantiles, each of a slot or two, in six rounds: 0.13 dB·√2/√(5·6) of scatter, and 3 % of the noise
	// at most by which its level is off: of an excess of 2 dB, the least that counts, 0.1 dB.
	if math.Abs(mean-6.02) > 0.25 {
		t.Errorf("%.2f dB, want 6.02 ± 0.25", mean)
	}
	var off []float64
	for n, key := range keys {
		for k, setup := range testSetups {
			for i, got := range a.bands[0].cells[cellKey{setup, key}].excess {
				want := excess(n, i) * noise[1] / noise[k]
				// Half a second tells 2.4 kHz of noise, or of data, to 1/√1200.
				off = append(off, (got-want)/(0.029*(1+want)))
			}
		}
	}
	mean, variance := stats.MeanVariance(off)
	t.Logf("excess off by %.2f, scatter %.2f standard errors", mean, math.Sqrt(variance))
	slices.Sort(off)
	if math.Abs(mean) > 1 || variance > 2.25 || off[0] < -5 || off[len(off)-1] > 5 {
		t.Errorf("excess is off by %.2f standard errors, scatters by %.2f, %.1f to %.1f", mean, math.Sqrt(variance), off[0], off[len(off)-1])
	}
}

// measured gives the floor and the spectrum of samples as they are stored.
func measured(t *testing.T, x []complex64, rate, centre float64, s survey.Segment) (survey.DBFSPerHz, *survey.Spectrum) {
	t.Helper()
	m, err := dsp.NewMeter(dsp.MeterOptions{Rate: rate, Centre: centre, Samples: int64(len(x)), Bands: []spectrum.Band{{Low: float64(s.Low), High: float64(s.High)}}})
	if err != nil {
		t.Fatal(err)
	}
	m.Write(x)
	found, err := m.Finish()
	if err != nil || found.Bands[0].Floor == nil {
		t.Fatal(err, "no floor")
	}
	p := found.Bands[0].Spectrum
	out := &survey.Spectrum{First: survey.Hz(p.First), Step: survey.Hz(p.Step), ENBW: p.ENBW, Looks: p.Looks}
	for _, d := range p.Density { // stored in steps of 0.1 dB
		out.Density = append(out.Density, float32(math.Round(100*math.Log10(float64(d)))/10))
	}
	return survey.DensityOf(found.Bands[0].Floor.Density), out
}
