package dsp

import (
	"math"
	"testing"

	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
)

// A station at the centre is taken for the receiver's DC offset, and listed nowhere. That something more than an offset
// stands there is told where it is stronger than offsets are, or turns. Noise −100 dBFS/Hz: −79.6 dBFS in a bin.
func TestLineAtCentre(t *testing.T) {
	const rate, centre = 1.024e6, 9.65e6
	low, high := spectrum.Usable(rate)
	measure := func(samples []complex64) Measurement {
		m, err := NewMeter(MeterOptions{Rate: rate, Centre: centre, Samples: int64(len(samples)), Bands: []spectrum.Band{{Low: centre + low, High: centre + high}}})
		if err != nil {
			t.Fatal(err)
		}
		m.Write(samples)
		got, err := m.Finish()
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	for _, test := range []struct {
		name            string
		offset, station float64 // dBFS
		hz              float64 // of the station from the centre
		seconds         float64
		told            bool
	}{
		{"an offset as real dongles have it", -58, -200, 0, 0.5, false},
		{"a large one", -41, -200, 0, 0.5, false},
		{"none", -200, -200, 0, 0.5, false},
		{"stronger than offsets are", -58, -39, 0, 0.5, true},
		{"a station with a clock 0.5 ppm off", -58, -50, 5, 0.5, true},
		{"under the offset", -58, -62, 5, 0.5, false},
		{"a little stronger", -58, -53, 5, 0.5, true},
		{"0.1 ppm off, in a longer recording", -58, -50, 1, 2, true},
		{"weak, where there is no offset", -200, -68, 5, 0.5, true},
		{"weaker", -200, -72, 5, 0.5, false},
		{"a station beside it", -58, -30, 5000, 0.5, false},
	} {
		amplitude := func(dB float64) complex128 { return complex(math.Pow(10, dB/20), 0) }
		s := dsptest.New(7, rate, centre).Noise(1e-10).DC(amplitude(test.offset)).Tone(centre+test.hz, test.station, 1)
		got := measure(s.Samples(int(test.seconds * rate)))
		listed := 0
		for _, c := range got.Bands[0].Carriers {
			if math.Abs(c.Frequency-centre) < 100 {
				listed++
			}
		}
		if got.AtCentre != test.told || listed > 0 {
			t.Errorf("%s: told %t, %d carriers at the centre, DC %.1f dBFS", test.name, got.AtCentre, listed, 10*math.Log10(got.DC))
		}
	}
}

// Real receivers' DC offsets are taken for nothing else.
func TestRealOffsets(t *testing.T) {
	for name, rate := range map[string]float64{"adsb_1090M_2M0_rtl.cu8": 2e6, "wmbus_868.950M_1M6_rtl.cu8": 1.6e6} {
		iq := dsptest.RealRecording(t, name)
		low, high := spectrum.Usable(rate)
		m, err := NewMeter(MeterOptions{Rate: rate, Samples: int64(len(iq) / 2), Bands: []spectrum.Band{{Low: low, High: high}}})
		if err != nil {
			t.Fatal(err)
		}
		m.WriteU8(iq)
		got, err := m.Finish()
		if dc := 10 * math.Log10(got.DC); err != nil || got.AtCentre || dc < -62 || dc > -56 {
			t.Errorf("%s: at the centre %t, DC %.1f dBFS, %v", name, got.AtCentre, dc, err)
		}
	}
}
