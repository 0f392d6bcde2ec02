package dsp

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/dsp/comb"
	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
)

var long = flag.Bool("long", false, "count how often clean recordings are taken for interference: some 10 minutes (-timeout 2h)")

// certain is the P up to which a finding is listed: confidence 0.999.
const certain = (1 - 0.999) / interference.Kinds

// TestFalseAlarms counts clean recordings in which a finding of any kind is listed.
func TestFalseAlarms(t *testing.T) {
	dsptest.SkipIfShort(t)
	recordings := 4
	if *long {
		recordings = 500
	}
	tally := dsptest.Tally{T: t}
	alarms := dsptest.CountParallel(recordings, func(i int) bool {
		m, kind := cleanRecording(t, uint64(i))
		found := listed(m)
		return tally.Add(kind, found, len(found) > 0)
	})
	tally.Log()
	t.Logf("%d of %d flagged at confidence 0.999, all kinds together", alarms, recordings)
	if float64(alarms) > 0.003*float64(recordings) {
		t.Errorf("%d of %d clean ones flagged, want at most 0.3 %%", alarms, recordings)
	}
}

// Nothing is found in recordings of one code.
func TestFindingsOfConstantCodes(t *testing.T) {
	for name, codes := range map[string][2]byte{"zero": {0, 0}, "middle": {127, 128}, "one": {200, 128}} {
		iq := make([]byte, 2.4e6)
		for i := range iq {
			iq[i] = codes[i&1]
		}
		m, err := NewMeter(MeterOptions{Rate: 2.4e6, Centre: 9.65e6, Bands: []spectrum.Band{{Low: 9.4e6, High: 9.6e6}}, Samples: 1.2e6, Seek: &interference.Options{}})
		if err != nil {
			t.Fatal(err)
		}
		m.WriteU8(iq)
		out, err := m.Finish()
		if err != nil {
			t.Fatal(err)
		}
		if found := listed(out); len(found) > 0 {
			t.Errorf("constant codes, %s: %v", name, found)
		}
	}
}

// cleanRecording measures half a second of I/Q without any interference: noise and
// stations, programme and all, in 8 bits with the receiver's offset and images.
func cleanRecording(t *testing.T, seed uint64) (Measurement, string) {
	const rate = 2.4e6
	r := rand.New(rand.NewPCG(seed, 5))
	centre := 1150 + 5e3*math.Round((5e6+10e6*r.Float64())/5e3)
	s := dsptest.New(seed, rate, centre).Noise(dsptest.BroadcastFloor)
	low, high := centre-0.78e6, centre+0.78e6
	kind := "I/Q: noise only"
	switch seed % 5 {
	case 1, 2, 3:
		s.Stations(low, low+0.3e6+1.2e6*r.Float64(), 0.1+0.8*r.Float64(), dsptest.BroadcastFloor)
		kind = "I/Q: broadcast"
	case 4:
		for range 1 + r.IntN(8) {
			s.Data(10e3*math.Round((low+(high-low)*r.Float64())/10e3), 10e3, -50-20*r.Float64())
		}
		kind = "I/Q: blocks of 10 kHz"
	}
	s.DC(complex(0.004, -0.003)).Imbalance(complex(0.003, 0.002))
	iq := dsptest.U8(nil, s.Samples(rate/2))
	m, err := NewMeter(MeterOptions{Rate: rate, Centre: centre, Bands: []spectrum.Band{{Low: centre - 0.7e6, High: centre + 0.7e6}}, Samples: rate / 2, Seek: &interference.Options{Quiet: []spectrum.Band{{Low: 7e6, High: 7.2e6}, {Low: 10.1e6, High: 10.15e6}, {Low: 14e6, High: 14.35e6}}}})
	if err != nil {
		t.Error(err)
		return Measurement{}, kind
	}
	m.WriteU8(iq)
	out, err := m.Finish()
	if err != nil {
		t.Error(err)
	}
	return out, kind
}

// listed names what is found in a measurement at confidence 0.999.
func listed(m Measurement) (out []string) {
	for _, c := range comb.Seek([]*comb.View{m.View}, certain) {
		out = append(out, fmt.Sprintf("comb %+v", c))
	}
	f := m.Findings
	if f == nil {
		return out
	}
	if f.Mains != nil && f.Mains.P <= certain {
		out = append(out, fmt.Sprintf("mains %+v", *f.Mains))
	}
	if f.Impulses != nil && f.Impulses.P <= certain {
		out = append(out, fmt.Sprintf("impulses %+v", *f.Impulses))
	}
	for _, h := range f.Humps {
		if h.P <= certain {
			out = append(out, fmt.Sprintf("hump %+v", h))
		}
	}
	for _, n := range f.Notches {
		if n.P <= certain {
			out = append(out, fmt.Sprintf("notch %+v", n))
		}
	}
	return out
}
