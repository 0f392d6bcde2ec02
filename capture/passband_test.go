package capture

import (
	"testing"
	"time"

	"nightfloor/dsp"
	"nightfloor/survey"
)

// Pulses that a converter makes because it is driven over are no impulses; those that it
// hears are.
func TestNoImpulsesOfAnOverload(t *testing.T) {
	gentle, driven := dsp.NewCodeCounter(8), dsp.NewCodeCounter(8)
	iq := make([]byte, 1<<16)
	for i := range iq {
		iq[i] = byte(100 + i%56)
	}
	gentle.AddU8(iq)
	for i := range iq {
		if i%3 == 0 {
			iq[i] = 255
		}
	}
	driven.AddU8(iq)
	for _, test := range []struct {
		codes *dsp.CodeCounter
		want  int
	}{{gentle, 1}, {driven, 0}} {
		m := dsp.Measurement{Samples: 1 << 15, DC: 1e-6, Bands: []dsp.BandResult{{Band: dsp.Band{Low: 9.4e6, High: 9.9e6}}},
			Findings: &dsp.Findings{Impulses: &dsp.Impulses{Count: 3, Rate: 6, Strength: 100, P: 1e-9}}}
		p := newPassband(m, Conditions{Segments: []survey.Segment{{Name: "31 m", Low: 9.4e6, High: 9.9e6}}, Start: time.Unix(0, 0), Centre: 9.65e6, SampleRate: 2.4e6, Codes: test.codes})
		if len(p.findings) != test.want {
			t.Errorf("overload %v: %+v", p.readings[0].Quality.Has(survey.FlagOverload), p.findings)
		}
	}
}
