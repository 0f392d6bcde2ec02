package text

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// measuredSample is two recordings: one with interference of every kind, and some that
// was measured by force, which is no evidence; one with none.
func measuredSample() result.Measure {
	r := survey.Reading{Segment: survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, Start: time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC),
		Centre: 9.65e6, SampleRate: 2.4e6, BinWidth: 73.2422, Resolution: 109.8633, Occupancy: 0.22,
		Floor: &survey.Floor{Density: -98.21, Sigma: 0.04, Quiet: -98.4}, Vd: new(survey.DB(1.06)), VdBandwidth: 1e4,
		Carriers: []survey.Carrier{{Frequency: 9420000.4, Power: 4.786e-5, Sigma: 1e-9, Detected: true}},
		Quality:  survey.Quality{DC: -51, IQImbalance: survey.DB(math.NaN())}}
	loud := r
	low, high := survey.Hz(8.85e6), survey.Hz(10.45e6)
	loud.Findings = []survey.Finding{
		{Kind: survey.FindingMains, Low: low, High: high, Envelope: 100.04, Mains: 50, Depth: 0.6, Shape: "two humps", Confidence: 0.9998, Power: 1e-20, Sigma: 1e-22},
		{Kind: survey.FindingImpulses, Low: low, High: high, Rate: 1.2, RateLow: 0.1, RateHigh: 4.5, Strength: 20.1, Confidence: 0.9997},
		{Kind: survey.FindingImpulses, Low: low, High: high, Rate: 50, Regular: true, Strength: 12, Confidence: 0.9997},
		{Kind: survey.FindingHump, Low: 9.1e6, High: 9.6e6, Strength: 6, Confidence: 0.9995},
		{Kind: survey.FindingNotch, Low: 10.1e6, High: 10.15e6, Strength: -9.5, Confidence: 1},
		{Kind: survey.FindingComb, Low: low, High: high, Spacing: 65012.04, Lines: 24, Mains: 50, Strength: 8.2, Confidence: 0.99987, Power: 1e-9, Sigma: 1e-11},
		{Kind: survey.FindingComb, Low: low, High: high, Spacing: 71300, Lines: 22, Strength: -3, Power: 1e-12, Sigma: 1e-11},
		{Kind: survey.FindingComb, Low: low, High: high, Spacing: 132450, Lines: 12, Envelope: 119.94, Mains: 60, Depth: 0.8, Sought: true, Strength: survey.DB(math.NaN()), Confidence: 0.999},
	}
	loop := survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40)}
	return result.Measure{Schema: result.SchemaMeasure, Recordings: []result.MeasuredRecording{
		result.NewMeasuredRecording("night-0412.sigmf-meta", loop, 0.5, []survey.Reading{loud}), result.NewMeasuredRecording("still.cu8", survey.Setup{}, 0.5, []survey.Reading{r})}}
}

func TestMeasureGolden(t *testing.T) {
	for name, width := range map[string]int{"measure.txt": Width, "measure-80.txt": 80} {
		var text bytes.Buffer
		if err := WriteMeasure(&text, measuredSample(), width); err != nil {
			t.Fatal(err)
		}
		golden(t, name, text.Bytes())
		checkWidth(t, name, text.String())
	}
	var document bytes.Buffer
	if err := result.WriteJSON(&document, measuredSample()); err != nil {
		t.Fatal(err)
	}
	golden(t, "measure.json", document.Bytes())
}

// Every finding has every field of the contract; what does not apply is null.
func TestFindingsHaveEveryField(t *testing.T) {
	all := []string{"kind", "spacing_hz", "lines", "envelope_hz", "mains_hz", "depth", "shape", "rate_hz", "rate_low_hz", "rate_high_hz", "regular", "strength_db", "low_hz", "high_hz", "confidence"}
	known := map[string]string{ // by kind, the fields of contract.md's examples that are not null
		survey.FindingComb: "kind spacing_hz lines mains_hz strength_db low_hz high_hz confidence", survey.FindingMains: "kind envelope_hz mains_hz depth shape low_hz high_hz confidence",
		"regular": "kind rate_hz regular strength_db confidence", survey.FindingImpulses: "kind rate_hz rate_low_hz rate_high_hz regular strength_db confidence", survey.FindingHump: "kind strength_db low_hz high_hz confidence", survey.FindingNotch: "kind strength_db low_hz high_hz confidence"}
	text, err := json.Marshal(measuredSample().Recordings[0].Findings[:6])
	if err != nil {
		t.Fatal(err)
	}
	var findings []map[string]any
	if err := json.Unmarshal(text, &findings); err != nil || len(findings) != 6 {
		t.Fatalf("%d findings, %v", len(findings), err)
	}
	for _, f := range findings {
		kind, got := f["kind"].(string), ""
		if f["regular"] == true { // a train has a period, and no interval by chance
			kind = "regular"
		}
		for _, field := range all {
			value, there := f[field]
			if !there {
				t.Errorf("%s lacks %s", kind, field)
			}
			if value != nil {
				got += " " + field
			}
		}
		if got != " "+known[kind] || len(f) != len(all) {
			t.Errorf("%s has%s, want %s", kind, got, known[kind])
		}
	}
}

// What is under the threshold is not listed.
func TestUnsureIsNotListed(t *testing.T) {
	for _, f := range measuredSample().Recordings[0].Findings {
		if f.Confidence < survey.Confident || f.Confidence >= 1 || f.Spacing != nil && *f.Spacing == 71300 {
			t.Errorf("%+v is listed", f)
		}
	}
}

// A recording in which nothing was judged does not say that nothing was there.
func TestOverloadedIsNotJudged(t *testing.T) {
	for _, test := range []struct {
		flags []string
		want  string
	}{{nil, "no interference found"}, {[]string{survey.FlagOverload}, "interference was not judged"}} {
		b := Sheet{Width: Width}
		if writeFindings(&b, nil, test.flags); !strings.Contains(b.String(), test.want) {
			t.Errorf("%v: %q, want %q", test.flags, b.String(), test.want)
		}
	}
}

// A recording of a constant has no floor since it has no noise, and not since stations fill it.
func TestWhyThereIsNoFloor(t *testing.T) {
	for flag, want := range map[string]string{survey.FlagLowDrive: "no floor: the converter was hardly driven,", survey.FlagCrowded: "no floor: too little is free of signals and their splatter,",
		survey.FlagFilterEdge: "no floor: the receiver's own filter leaves it out,"} {
		m := result.Measure{Recordings: []result.MeasuredRecording{{File: "a.cu8", Segments: []result.MeasuredSegment{{Name: "31 m"}}, Quality: result.MeasuredQuality{Flags: []string{flag}}}}}
		var b strings.Builder
		if err := WriteMeasure(&b, m, Width); err != nil || !strings.Contains(b.String(), want) {
			t.Errorf("%s: %v: %s", flag, err, b.String())
		}
	}
}

// Where the receiver's own filter cuts a recording it says what figures are of.
func TestAFilterEdgeIsSaid(t *testing.T) {
	for _, flags := range [][]string{{survey.FlagFilterEdge}, nil} {
		segment := result.MeasuredSegment{Name: "31 m"}
		if flags != nil {
			segment.HeardLow, segment.HeardHigh = new(9.4e6), new(9.6e6)
		}
		m := result.Measure{Recordings: []result.MeasuredRecording{{File: "a.cu8", Segments: []result.MeasuredSegment{segment}, Quality: result.MeasuredQuality{Flags: flags}}}}
		var b strings.Builder
		err := WriteMeasure(&b, m, 300)
		if strings.Contains(b.String(), "heard at 9.4–9.6 MHz: ") != (flags != nil) {
			t.Errorf("%v: %s", flags, b.String())
		}
		if said := strings.Contains(b.String(), "filter is narrower than the usable passband: floors"); err != nil || said != (flags != nil) {
			t.Errorf("%v: %v: %s", flags, err, b.String())
		}
	}
}

// What stands at the centre is told from a DC offset by nobody: the user reads what to do.
func TestALineAtTheCentre(t *testing.T) {
	for _, flags := range [][]string{{survey.FlagLineAtCentre}, nil} {
		m := result.Measure{Recordings: []result.MeasuredRecording{{File: "a.cu8", Centre: 9.65e6, Segments: []result.MeasuredSegment{{Name: "31 m"}}, Quality: result.MeasuredQuality{Flags: flags}}}}
		var b strings.Builder
		err := WriteMeasure(&b, m, 300)
		if said := strings.Contains(strings.Join(strings.Fields(b.String()), " "), "a strong line stands at the centre, 9.65 MHz: a station's carrier there cannot be told from the receiver's own DC offset, and is not listed; tune beside it"); err != nil || said != (flags != nil) {
			t.Errorf("%v: %v: %s", flags, err, b.String())
		}
	}
}
