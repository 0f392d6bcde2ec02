package calibrate

import (
	"math"
	"strings"
	"testing"

	"nightfloor/survey"
)

// levels gives what a level of a generator shows at gains of 0 to 40 dB in steps of 10: full scale is
// −10 dBm less the gain, and more by what is given for each gain; NaN: the step gave none.
func levels(told survey.DBm, more ...float64) levelRun {
	l := levelRun{told: told}
	for i, by := range more {
		gain := survey.DB(10 * i)
		if math.IsNaN(by) {
			l.left = append(l.left, survey.SkippedStep{Gain: gain, Why: map[bool]string{true: ReasonClips, false: ReasonFewCodes}[i > 2]})
			continue
		}
		l.found = append(l.found, survey.LevelReference{Gain: gain, FullScale: -10 - survey.DBm(gain) + survey.DBm(by), Sigma: survey.DB(0.01 + 0.01*float64(told+70))})
	}
	return l
}

var fiveGains = []survey.DB{0, 10, 20, 30, 40}

// Full scale by two levels 10 dB apart must agree within 0.3 dB and the error of both.
func TestTwoLevels(t *testing.T) {
	none := math.NaN()
	for _, test := range []struct {
		name      string
		high, low []float64
		want      []float64 // by how much full scale is off; NaN: left out
		doubt     string    // "": none
		refusal   string
	}{
		{"both agree", []float64{0, 0, 0, 0, none}, []float64{none, 0, 0, 0, 0}, []float64{0, 0, 0, 0, 0}, "", ""},
		{"within the step's error", []float64{none, 0.5, 0.5, 0.5, none}, []float64{none, 0, 0, 0, 0}, []float64{none, 0, 0, 0, 0}, "", ""},
		{"beyond it", []float64{none, 0, 0, 0.6, none}, []float64{none, 0, 0, 0, 0}, []float64{none, 0, 0, 0, 0}, "compressed at -60 dBm at gains of 30.0 dB, by 0.6 dB at the most: full scale there is by -70 dBm", ""},
		// What the higher level alone measures below a gain at which it is compressed is not known to be free of that.
		{"at all gains", []float64{0.9, 0.9, 0.9, 0.9, none}, []float64{none, 0.1, 0.1, 0.1, 0.1}, []float64{none, 0.1, 0.1, 0.1, 0.1}, "gains of 10.0, 20.0, 30.0 dB, by 0.8 dB", ""},
		{"too far at all gains", []float64{none, 1.1, 1.1, 1.1, none}, []float64{none, 0, 0, 0, 0}, nil, "", "the two levels read 8.9 dB apart, not 10, at most gains"},
		{"a step of 4 dB", []float64{none, 6, 6, 6, none}, []float64{none, 0, 0, 0, 0}, nil, "", "read 4.0 dB apart, not 10"},
		{"a step of 14 dB", []float64{none, 0, 0, 0, none}, []float64{none, 4, 4, 4, 4}, nil, "", "read 14.0 dB apart, not 10"},
		{"a step of 10.6 dB", []float64{none, 0, 0, 0, none}, []float64{none, 0.6, 0.6, 0.6, none}, []float64{none, 0.6, 0.6, 0.6, none}, "the two levels disagree at gains of 10.0, 20.0, 30.0 dB", ""},
		{"no gain in common", []float64{0, 0, none, none, none}, []float64{none, none, 0, 0, 0}, []float64{0, 0, 0, 0, 0}, "at no gain were both levels measured", ""},
	} {
		found, left, doubts, err := byBoth(levels(-60, test.high...), levels(-70, test.low...), fiveGains)
		if (err != nil) != (test.refusal != "") || err != nil && !strings.Contains(err.Error(), test.refusal) {
			t.Errorf("%s: %v", test.name, err)
		}
		if (len(doubts) > 0) != (test.doubt != "") || !strings.Contains(strings.Join(doubts, "; "), test.doubt) {
			t.Errorf("%s: %q", test.name, doubts)
		}
		if err != nil {
			continue
		}
		if len(found)+len(left) != len(fiveGains) {
			t.Errorf("%s: %d found, %d left out", test.name, len(found), len(left))
		}
		of := levelRun{found: found}
		for i, gain := range fiveGains {
			l, ok := of.at(gain)
			if off := float64(l.FullScale + 10 + survey.DBm(gain)); ok == math.IsNaN(test.want[i]) || ok && math.Abs(off-test.want[i]) > 1e-9 {
				t.Errorf("%s: at %v dB full scale is off by %.2f dB (%t), want %.2f", test.name, gain, off, ok, test.want[i])
			}
		}
	}
	// What neither measured has the reason that says what to do: another level, where one is compressed.
	_, left, _, _ := byBoth(levels(-60, 0.9, 0.9, 0.9, 0.9, none), levels(-70, none, 0.1, 0.1, 0.1, none), fiveGains)
	if len(left) != 2 || left[0].Why != ReasonCompresses || left[1].Why != ReasonClips {
		t.Errorf("%+v", left)
	}
}
