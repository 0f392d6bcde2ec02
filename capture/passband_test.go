package capture

import (
	"testing"
	"time"

	"nightfloor/dsp"
	"nightfloor/dsp/codes"
	"nightfloor/dsp/comb"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
)

// What a converter that is driven over makes is no evidence; what it hears else is.
func TestNoFindingsOfAnOverload(t *testing.T) {
	gentle, driven := codes.NewCounter(8), codes.NewCounter(8)
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
		codes *codes.Counter
		want  int
	}{{gentle, 2}, {driven, 0}} {
		m := dsp.Measurement{Samples: 1 << 15, DC: 1e-6, Bands: []dsp.BandResult{{Band: spectrum.Band{Low: 9.4e6, High: 9.9e6}}},
			Findings: &interference.Findings{Mains: &interference.MainsModulation{Mains: 50, P: 1e-9}, Impulses: &interference.Impulses{Count: 3, Rate: 6, Strength: 100, P: 1e-9}}, View: &comb.View{}}
		p := newHeardPassband(m, conditions{segments: []survey.Segment{{Name: "31 m", Low: 9.4e6, High: 9.9e6}}, start: time.Unix(0, 0), centre: 9.65e6, rate: 2.4e6, codes: test.codes})
		detected := 0
		for _, f := range p.findings {
			if f.Detected() {
				detected++
			}
		}
		if detected != test.want || (p.view == nil) != (test.want == 0) {
			t.Errorf("overload %v: %+v", p.readings[0].Quality.Has(survey.FlagOverload), p.findings)
		}
	}
}
