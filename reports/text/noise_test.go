package text

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // Europe/Berlin, wherever the test runs

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// sampleNoise is a night with three supplies, clicks, a line of the receiver's own, one
// finding of chance and a name that means ill.
func sampleNoise() input.Input {
	d := reporttest.NewDin(4, reporttest.Evening()...)
	d.Setups[2].Antenna = "wire\x1b[31m under the roof of the neighbour"
	in := d.Input()
	for i, s := range in.Sweeps {
		if i%9 == 0 {
			s.Readings[0].Findings = append(s.Readings[0].Findings, survey.Finding{Kind: survey.FindingImpulses, Rate: 2, Strength: 20, Confidence: 0.9998})
		}
		for k := range s.Readings {
			s.Readings[k].Carriers = []survey.Carrier{{Frequency: s.Readings[k].Centre + 33300, Power: 1e-7, Sigma: 1e-9, Detected: true}}
		}
		if i == 500 {
			s.Readings[0].Findings = append(s.Readings[0].Findings, survey.Finding{Kind: survey.FindingComb, Spacing: 21e3, Lines: 9, Confidence: 0.9991})
		}
	}
	return in
}

func TestGoldenNoiseSources(t *testing.T) {
	found := noiseIn(sampleNoise(), input.Options{})
	for name, write := range map[string]func(b *bytes.Buffer) error{
		"noise-sources.txt":    func(b *bytes.Buffer) error { return WriteTable(b, found, reporttest.Zone, Width) },
		"noise-sources-80.txt": func(b *bytes.Buffer) error { return WriteTable(b, found, reporttest.Zone, 80) },
		"noise-sources.json":   func(b *bytes.Buffer) error { return result.WriteJSON(b, found) },
		"noise-sources.csv":    func(b *bytes.Buffer) error { return WriteCSV(b, found) },
		"noise-sources-summary.txt": func(b *bytes.Buffer) error {
			return WriteSummary(b, result.Report{Noise: found}, reporttest.Zone, Width)
		},
		"noise-sources-summary-80.txt": func(b *bytes.Buffer) error { return WriteSummary(b, result.Report{Noise: found}, reporttest.Zone, 80) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		golden(t, name, b.Bytes())
		if strings.ContainsRune(b.String(), '\x1b') && !strings.HasSuffix(name, ".json") {
			t.Errorf("%s carries an escape character", name)
		}
		if !strings.Contains(strings.ToLower(b.String()), "simulated") {
			t.Errorf("%s does not say that it is simulated", name)
		}
		checkWidth(t, name, b.String())
	}
}

// Every field of the contract is there, null where it does not apply, and no confidence is
// written as 1.
func TestNoiseSourcesJSONIsWhole(t *testing.T) {
	var b bytes.Buffer
	if err := result.WriteJSON(&b, noiseIn(sampleNoise(), input.Options{})); err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	if doc["schema"] != "nightfloor/noise-sources/1" {
		t.Errorf("schema %v", doc["schema"])
	}
	for _, x := range doc["sources"].([]any) {
		s := x.(map[string]any)
		for _, field := range []string{"id", "kind", "spacing_hz", "envelope_hz", "mains_hz", "first", "last", "share_of_rounds", "hours",
			"drift_hz_per_hour", "likely", "evidence", "against", "confidence", "strength", "rate_hz", "rate_low_hz", "rate_high_hz", "depth", "shape", "low_hz", "high_hz"} {
			if _, ok := s[field]; !ok {
				t.Errorf("%v: no field %s", s["kind"], field)
			}
		}
		if (s["kind"] == survey.FindingComb) != (s["spacing_hz"] != nil) || (s["kind"] == survey.FindingImpulses) != (s["rate_hz"] != nil) {
			t.Errorf("%v: spacing %v, rate %v", s["kind"], s["spacing_hz"], s["rate_hz"])
		}
		if c := s["confidence"].(float64); c >= 1 || c < survey.Confident {
			t.Errorf("%v: confidence %v", s["kind"], c)
		}
		for _, x := range s["strength"].([]any) {
			x := x.(map[string]any)
			for _, field := range []string{"antenna", "placement", "bearing_deg", "segment", "level_db", "low_db", "high_db"} {
				if _, ok := x[field]; !ok {
					t.Errorf("%v: a strength without %s", s["kind"], field)
				}
			}
		}
	}
	for _, x := range doc["own_lines"].([]any) {
		l := x.(map[string]any)
		if f, ok := l["frequency_hz"]; !ok || f != nil || l["offset_hz"] == nil || l["why"] == "" {
			t.Errorf("own line %v", l)
		}
	}
	if len(doc["own_lines"].([]any)) != 1 {
		t.Errorf("%d own lines", len(doc["own_lines"].([]any)))
	}
}

func TestNumbersJustUnderOne(t *testing.T) {
	for number, want := range map[string]string{"0.99996": "0.99996", "0.9999": "0.9999", "0.999999": "0.999999", "0.98765": "0.9877",
		"0.99999999999": "1", "-0.99996": "-0.99996", "1.00004": "1"} {
		if got := result.RoundNumber(number); got != want {
			t.Errorf("%s is written %s, want %s", number, got, want)
		}
	}
}

// tangle makes surveys of anything that readings may hold: setups and segments that come late,
// overlap or are missing, findings of all kinds with and without power, gains that do not
// compare, floors that are not known.
func tangle(seed uint64) (in input.Input) {
	random := rand.New(rand.NewPCG(seed, 1))
	for id := range 1 + random.IntN(3) {
		d := reporttest.NewDin(seed)
		kind, locator := []string{survey.KindRecord, survey.KindImport}[random.IntN(2)], []string{"JN58td", "", "KP99xx"}[random.IntN(3)]
		d.Setups, d.Rounds, d.Start = d.Setups[:1+random.IntN(3)], 1+random.IntN(25), d.Start.Add(time.Duration(random.IntN(3))*10*time.Hour)
		one := d.Input()
		one.Surveys[0].Kind, one.Surveys[0].Site.Locator = kind, locator
		if random.IntN(2) == 0 {
			one.Surveys[0].Plan = "[[antenna]]\nname = \"wire\"\nkind = \"terminator\"\n"
		}
		only, segments := random.IntN(4), 1+random.IntN(3) // the setup that hears anything; 3: all
		often := []float64{0.01, 0.2, 0.8}[random.IntN(3)]
		for _, s := range one.Sweeps {
			s.Readings = s.Readings[:segments]
			for i := range s.Readings {
				r := &s.Readings[i]
				r.Start, r.Findings = s.Start.Add(time.Duration(i*random.IntN(5))*time.Second), nil
				tangleReading(random, r)
				for range 3 {
					if (only == 3 || s.Setup == reporttest.NewDin(0).Setups[only]) && random.Float64() < often {
						r.Findings = append(r.Findings, tangleFinding(random, r.Segment))
					}
				}
			}
		}
		in = reporttest.WithSurvey(in, one, int64(id+1))
	}
	return in
}

func tangleReading(random *rand.Rand, r *survey.Reading) {
	r.Gain = survey.Gain{Known: random.IntN(5) > 0, Exact: random.IntN(2) == 0, DB: survey.DB(10 * random.IntN(3))}
	r.Occupancy = 0.3
	level := survey.DBFSPerHz(reporttest.DinFloor + 3*random.NormFloat64())
	switch random.IntN(40) {
	case 0, 1, 2, 3, 4, 5:
		r.Floor = nil
	case 6:
		r.Floor = &survey.Floor{Density: level, Sigma: 0.05, Quiet: survey.DBFSPerHz(math.NaN())}
	default:
		r.Floor = &survey.Floor{Density: level, Sigma: 0.05, Quiet: level}
	}
	if random.IntN(3) > 0 {
		vd := survey.DB(1 + random.Float64())
		r.Vd = &vd
	}
}

func tangleFinding(random *rand.Rand, segment survey.Segment) survey.Finding {
	f := survey.Finding{Low: segment.Low, High: segment.High, Confidence: []float64{0, 0.9992, 0.99999999}[random.IntN(3)],
		Power: 1e-8 * random.NormFloat64(), Sigma: 1e-9 * float64(random.IntN(2)), Strength: survey.DB(8 * random.NormFloat64())}
	if random.IntN(10) == 0 {
		f.Strength = survey.DB(math.NaN())
	}
	mains := []survey.Hz{50, 60}[random.IntN(2)]
	switch random.IntN(5) {
	case 0:
		f.Kind, f.Lines, f.Mains = survey.FindingComb, random.IntN(12), mains
		f.Spacing = survey.Hz([]float64{65013, 130026, 65000, 48617}[random.IntN(4)] * (1 + 2e-5*random.NormFloat64()))
	case 1:
		f.Kind, f.Envelope, f.Mains, f.Depth = survey.FindingMains, 2*mains, mains, random.Float64()
		f.Shape = []string{"", "two humps", "two spikes"}[random.IntN(3)]
	case 2:
		f.Kind, f.Rate = survey.FindingImpulses, []survey.Hz{2, 4, 100, 430}[random.IntN(4)]
	case 3:
		f.Kind = survey.FindingHump
	case 4:
		f.Kind = survey.FindingNotch
	}
	return f
}

// Whatever readings hold, sources and rises can be written, no figure is none, and what may be
// a list is one.
func TestTangledSurveys(t *testing.T) {
	for seed := range uint64(reporttest.TrialsOr(400)) {
		opts := input.Options{}
		if seed%4 == 0 {
			opts.Segment = reporttest.DinSegments[seed%3].Name
		}
		found := noiseIn(tangle(seed), opts)
		var b bytes.Buffer
		for _, err := range []error{result.WriteJSON(&b, found), WriteTable(&b, found, reporttest.Zone, Width), WriteCSV(&b, found), WriteSummary(&b, result.Report{Noise: found}, reporttest.Zone, Width)} {
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
		}
		for _, bad := range []string{"NaN", "Inf", "%!", `"sources": null`, `"hours": null`, `"evidence": null`, `"against": null`, `"segments": null`, `"strength": null`, `"events": null`} {
			if at := strings.Index(b.String(), bad); at >= 0 {
				t.Fatalf("seed %d: %s in %q", seed, bad, b.String()[max(0, at-200):min(b.Len(), at+100)])
			}
		}
	}
}

// The CSV holds the figures of the result, a row a strength.
func TestNoiseSourcesCSV(t *testing.T) {
	found := noiseIn(sampleNoise(), input.Options{})
	var b bytes.Buffer
	if err := WriteCSV(&b, found); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := 1
	for _, s := range found.Sources {
		want += max(1, len(s.Strength))
	}
	if len(rows) != want {
		t.Fatalf("%d rows, want %d", len(rows), want)
	}
	level := slices.Index(rows[0], "strength_level_db")
	if got := rows[1][level]; got != plainNumber(float64(*found.Sources[0].Strength[0].Level)) {
		t.Errorf("level %s, want %v", got, *found.Sources[0].Strength[0].Level)
	}
}

// Where nothing was found that is said, and that nothing was sought is said, too.
func TestNoNoiseSource(t *testing.T) {
	quiet := reporttest.NewDin(1)
	quiet.Rounds = 3
	for _, test := range []struct {
		in    input.Input
		doubt bool
	}{{quiet.Input(), false}, {reporttest.NewWorld(1).Input(), true}} {
		r := reportIn(test.in, input.Options{})
		var table, summary, doc bytes.Buffer
		for b, err := range map[*bytes.Buffer]error{&table: WriteTable(&table, r.Noise, reporttest.Zone, Width), &summary: WriteSummary(&summary, *r, reporttest.Zone, Width), &doc: result.WriteJSON(&doc, r.Noise)} {
			if err != nil {
				t.Fatal(err, b.String())
			}
		}
		if !strings.Contains(table.String(), "no noise source was found\n") || !strings.Contains(summary.String(), "Noise sources: none was found\n") {
			t.Errorf("%s\n%s", table.String(), summary.String())
		}
		if !strings.Contains(doc.String(), `"sources": []`) || !strings.Contains(doc.String(), `"own_lines": []`) {
			t.Error(doc.String())
		}
		if got := strings.Contains(table.String(), "none was sought"); got != test.doubt {
			t.Errorf("said that none was sought: %t", got)
		}
	}
}

func TestStrengthInWords(t *testing.T) {
	for _, test := range []struct {
		level, low, high *survey.DB
		want             string
	}{
		{result.DB(8.2), result.DB(7.66), result.DB(8.8), "8.2 ± 0.6"},
		{result.DB(8.2), result.DB(3), result.DB(9.5), "≈ 8.2"},
		{result.DB(8.2), nil, result.DB(10), "≈ 8.2"},
		{result.DB(8.2), nil, nil, "≈ 8.2"},
		{nil, nil, result.DB(1.3), "< 1.3"},
		{nil, nil, nil, wording.None},
	} {
		if got := StrengthText((result.NoiseStrength{Level: test.level, Low: test.low, High: test.high})); got != test.want {
			t.Errorf("%q, want %q", got, test.want)
		}
	}
}

// Hours are told by the day on which they begin, in the zone of the reader.
func TestHoursInWords(t *testing.T) {
	at := func(day, hour, minute int) time.Time {
		return time.Date(2026, 11, day, hour, minute, 0, 0, reporttest.Zone).UTC()
	}
	for _, test := range []struct {
		hours []result.NoiseHours
		want  string
	}{
		{[]result.NoiseHours{{From: at(3, 19, 2), To: at(3, 23, 41)}}, "on 19:02–23:41 CET"},
		{[]result.NoiseHours{{From: at(3, 19, 2), To: at(4, 3, 41)}, {From: at(4, 5, 50), To: at(4, 5, 50)}}, "on 19:02–03:41, 05:50 CET"},
		{[]result.NoiseHours{{From: at(3, 19, 2), To: at(6, 3, 41)}}, "on 3 Nov 2026 19:02 – 6 Nov 03:41 CET"},
		{[]result.NoiseHours{{From: at(3, 19, 2), To: at(3, 23, 41)}, {From: at(4, 19, 0), To: at(4, 23, 41)}, {From: at(5, 19, 1), To: at(5, 22, 0)}}, "on 3 times on 3 days, 3 Nov 2026 19:02 – 5 Nov 22:00 CET"},
	} {
		if got := hoursText(test.hours, reporttest.Zone); got != test.want {
			t.Errorf("%q, want %q", got, test.want)
		}
	}
}

// In the night of 25 October 2026 clocks in Berlin go back from 3:00 CEST to 2:00 CET: the same
// time on the clock is 25 hours apart, and 22:00 to 2:30 lasts five and a half hours.
func TestHoursOverAClockChange(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	hours := []result.NoiseHours{{From: time.Date(2026, 10, 24, 20, 0, 0, 0, time.UTC), To: time.Date(2026, 10, 25, 1, 30, 0, 0, time.UTC)}}
	if got, want := hoursText(hours, berlin), "on 22:00 CEST–02:30 CET"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	b := Sheet{Width: Width}
	if hoursBlock(&b, hours, berlin); !strings.Contains(b.String(), "24 Oct 2026  22:00 CEST–02:30 CET\n") {
		t.Errorf("%q", b.String())
	}
	// Of hours that overlap the end is the latest, not the last one's.
	hours = []result.NoiseHours{{From: hours[0].From, To: hours[0].From.AddDate(0, 0, 4)}, {From: hours[0].From.Add(time.Hour), To: hours[0].To}}
	if got := hoursText(hours, berlin); !strings.HasSuffix(got, "– 28 Oct 21:00 CET") {
		t.Errorf("%q, want its end on 28 Oct", got)
	}
}
