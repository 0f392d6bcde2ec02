package page

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/doubt"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// The page shows which calibrations served, and takes no text for markup.
func TestCalibrationsOnThePage(t *testing.T) {
	r := smallNight()
	var without, with bytes.Buffer
	if err := Write(&without, r); err != nil || strings.Contains(without.String(), "Calibrations that served") {
		t.Fatalf("%v; no calibration served", err)
	}
	r.Quality.Calibrations = []result.QualityCalibration{{Calibration: 7, Kind: "linearity", Receiver: "a <b>dongle</b>", At: time.Date(2026, 11, 3, 19, 0, 0, 0, time.UTC),
		Note:      "attenuator of 10 dB <script>",
		Linearity: []survey.Linearity{{Segment: survey.Segment{Name: "49 m"}, Gain: 20.7, Verdict: "external"}, {Segment: survey.Segment{Name: "31 m"}, Gain: 28, Verdict: "intermodulation"}},
		Doubts:    []doubt.Doubt{doubt.New(doubt.Products, 1, doubt.Count{N: 2, Noun: "segment"})}}}
	if err := Write(&with, r); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"Calibrations that served", ">7, linearity</th>", "a &lt;b&gt;dongle", "attenuator of 10 dB &lt;script", "49 m at 20.7 dB: external; 31 m at 28.0 dB: intermodulation", "1 of 2 segments held intermodulation", `datetime="2026-11-03T19:00`} {
		if !strings.Contains(with.String(), part) {
			t.Errorf("%q is not on the page", part)
		}
	}
}
