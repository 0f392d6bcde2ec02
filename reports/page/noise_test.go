package page

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/reports"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// TestNoiseLead: how many were found is said, and none found is told from none sought,
// which is asked of the statistics themselves.
func TestNoiseLead(t *testing.T) {
	all := nightNoise()
	with := func(sources []result.NoiseSource, lines []result.OwnLine) result.NoiseSources {
		return result.NoiseSources{Schema: result.SchemaNoiseSources, Sources: sources, OwnLines: lines}
	}
	held := func(f ...survey.Finding) result.NoiseSources {
		sweep := &survey.Sweep{Survey: 1, Round: 1, Setup: whipStudy, Start: nightStart, Readings: []survey.Reading{{
			Segment: nightSegments[0], Start: nightStart, Duration: time.Second, Floor: &survey.Floor{Density: -100}, Findings: f}}}
		s, err := input.Select(input.Input{Surveys: []survey.Survey{{ID: 1}}, Sweeps: []*survey.Sweep{sweep}}, input.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return reports.NewReport(s, nil, reports.Asked{Noise: true}, 0, time.UTC).Noise
	}
	for _, test := range []struct {
		name  string
		noise result.NoiseSources
		want  string
	}{
		{"three and the receiver's", all, "3 noise sources were found."},
		{"one", with(all.Sources[:1], nil), "1 noise source was found."},
		{"more than are shown", with(slices.Repeat(all.Sources[:1], shownSources+5), nil), fmt.Sprint(shownSources+5) + " noise sources were found."},
		{"the receiver's alone", with(all.Sources[2:3], nil), "No noise source was found, only lines of the receiver's own."},
		{"its lines alone", with(nil, all.OwnLines), "No noise source was found, only lines of the receiver's own."},
		{"none", held(survey.Finding{Kind: survey.FindingMains, Envelope: 100, Mains: 50}), "No noise source was found."},
		{"none sought", held(), "Of noise sources nothing is known: no reading holds a finding. Findings were not sought by the version that recorded it, or no channel was free of signals."},
	} {
		if got := noiseOf(test.noise, namesOf(&result.Report{Noise: test.noise})).Lead; got != test.want {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
	if noiseOf(result.NoiseSources{}, &names{}) != nil {
		t.Error("a report that was not asked for noise sources speaks of them")
	}
}

// TestReceiversOwnStandsApart: what is the receiver's own is neither counted nor drawn as
// a noise source.
func TestReceiversOwnStandsApart(t *testing.T) {
	r := smallNight()
	v := noiseOf(r.Noise, namesOf(r))
	if len(v.Own) != 1 || v.Own[0].ID != 3 || len(v.OwnLines) != 2 {
		t.Errorf("the receiver's own: %d combs and %d lines, want comb 3 and 2 lines", len(v.Own), len(v.OwnLines))
	}
	if got := ownPlace(v.OwnLines[1]); got != "33.3 kHz under the tuning" {
		t.Errorf("a line at −33.3 kHz from the tuning is said to stand %q", got)
	}
	line := timelineOf(r, nil)
	for _, row := range line.Rows {
		if row.Label == "3" {
			t.Error("the receiver's own comb is drawn among the noise sources")
		}
	}
	r.Noise.Sources, r.Noise.Rises = r.Noise.Sources[2:3], nil
	if timelineOf(r, nil) != nil {
		t.Error("a timeline is drawn of the receiver's own alone")
	}
}

// TestHoursOn: three stretches are named one by one; of more their number, the first and
// the last moment, and a list that ends with how many are left.
func TestHoursOn(t *testing.T) {
	many := func(n int) (hours []result.NoiseHours) {
		for i := range n {
			hours = append(hours, hoursFrom(2*float64(i), 2*float64(i)+1))
		}
		return hours
	}
	for _, test := range []struct{ hours, told, all, more int }{{1, 1, 0, 0}, {3, 3, 0, 0}, {4, 1, 4, 0}, {shownHours + 2, 1, shownHours, 2}} {
		v := hoursOn(many(test.hours))
		if len(v.Told) != test.told || len(v.All) != test.all || v.More != test.more || v.Times != test.hours {
			t.Errorf("%d stretches: %d told, %d listed, %d more, %d times", test.hours, len(v.Told), len(v.All), v.More, v.Times)
		}
	}
	// The fourth began at 22:00 UTC and lasted an hour.
	if v := hoursOn(many(4)); v.Told[0].From.Format("15:04") != "16:00" || v.Told[0].To.Format("15:04") != "23:00" {
		t.Errorf("four stretches are told as %+v", v.Told)
	}
	// Of surveys beside each other the stretch that begins last may end first.
	if v := hoursOn(append([]result.NoiseHours{hoursFrom(0, 9)}, many(4)[1:]...)); v.Told[0].To.Format("15:04") != "01:00" {
		t.Errorf("stretches of which the first ends at 01:00 end at %s", v.Told[0].To.Format("15:04"))
	}
	if v := spanOf(hoursFrom(1, 1)); v.To != nil {
		t.Error("a moment has an end")
	}
	if !spanOf(hoursFrom(0, 30)).Long || spanOf(hoursFrom(0, 12)).Long {
		t.Error("what lasted for 30 hours needs a date at its end, what lasted for 12 does not")
	}
}

// TestStrongest: the best setup in its best segment, and the worst one there, be it by a
// bound.
func TestStrongest(t *testing.T) {
	under := strengthThrough(dipole, 0, 0, 0)
	under.Level, under.Low, under.High = nil, nil, db(-6)
	for _, test := range []struct {
		name     string
		strength []result.NoiseStrength
		want     string
	}{
		{"none", nil, ""},
		{"one", []result.NoiseStrength{strengthThrough(dipole, 0, 3, 1)}, "Strongest on 49 m through dipole@loft:90: 3.0 dB."},
		{"another segment", []result.NoiseStrength{strengthThrough(dipole, 0, 3, 1), strengthThrough(whipLoft, 2, 4, 1), strengthThrough(whipStudy, 2, -1, 1), strengthThrough(loopLoft, 0, -9, 1)},
			"Strongest on 31 m through whip@loft: 4.0 dB; there weakest through whip@study: −1.0 dB."},
		{"bound", []result.NoiseStrength{strengthThrough(whipLoft, 0, 4, 1), strengthThrough(whipStudy, 0, -1, 1), under},
			"Strongest on 49 m through whip@loft: 4.0 dB; there weakest through dipole@loft:90: less than −6.0 dB."},
		{"bounds alone", []result.NoiseStrength{under}, ""},
	} {
		if got := strongest(result.NoiseSource{Kind: survey.FindingComb, Strength: test.strength}); got != test.want {
			t.Errorf("%s:\n got %s\nwant %s", test.name, got, test.want)
		}
	}
}

// TestStrengthCells: a level with its interval, without one, and as a bound.
func TestStrengthCells(t *testing.T) {
	r := night(1, 1)
	v := noiseOf(r.Noise, namesOf(r)).Sources[0]
	if len(v.Strengths) != 1 || len(v.Strengths[0].Rows) != len(allSetups) {
		t.Fatalf("%+v, want one table of %d setups", v.Strengths, len(allSetups))
	}
	at := map[string]cell{}
	for _, row := range v.Strengths[0].Rows {
		at[row.Setup] = row.Cells[0]
	}
	for setup, want := range map[string]cell{
		"whip@study": {"8.2", "(7.6 to 8.8)"}, "loop@loft:130": {"−0.8", "(no interval)"}, "whip@loft": {"< −7.5", ""}} {
		if at[setup] != want {
			t.Errorf("%s: %+v, want %+v", setup, at[setup], want)
		}
	}
	s := r.Noise.Sources[0]
	for i := range 2 * shownSegments {
		x := strengthThrough(dipole, 0, 1, 0.1)
		x.Segment = fmt.Sprint("more ", i)
		s.Strength = append(s.Strength, x)
	}
	if got := strengthsOf(s, namesOf(r)); len(got) != 3 || len(got[2].Segments) != len(nightSegments) || len(got[2].Rows) != 1 {
		t.Errorf("16 segments make %d tables: %+v", len(got), got)
	}
}

// TestTimelineSpan: the timeline holds the floors' time and that of every source, and
// marks when nothing was measured: gaps, and the time between surveys.
func TestTimelineSpan(t *testing.T) {
	at := func(h float64) time.Time { return hoursFrom(h, h).From }
	r := smallNight()
	r.Noise.Sources[0].Hours = []result.NoiseHours{hoursFrom(3, 4), hoursFrom(4.001, 5), hoursFrom(26, 27)}
	first, last := at(20), at(30)
	r.Quality.Surveys = append(r.Quality.Surveys, result.QualitySurvey{Survey: 2, First: &first, Last: &last})
	line := timelineOf(r, map[string]floorBox{"floor-0": {From: at(-1).UnixMilli(), To: at(2).UnixMilli()}})
	if line.From != at(-1).UnixMilli() || line.To != at(27).UnixMilli() {
		t.Errorf("from %d h to %d h after the start, want −1 to 27", (line.From-nightStart.UnixMilli())/3600e3, (line.To-nightStart.UnixMilli())/3600e3)
	}
	// 3.6 s between two stretches are less than a pixel of 28 h, 50 s.
	if want := []stretchBox{{4 * 3600, 6 * 3600}, {27 * 3600, 28 * 3600}}; !slices.Equal(line.Rows[0].Spans, want) {
		t.Errorf("spans %v s, want %v", line.Rows[0].Spans, want)
	}
	// The gap of nightQuality, then from its last reading to the second survey's first.
	if want := []stretchBox{{9 * 3600, 10 * 3600}, {13 * 3600, 21 * 3600}}; !slices.Equal(line.Silent, want) {
		t.Errorf("silent %v s, want %v", line.Silent, want)
	}
	if !strings.Contains(line.words(), "3 noise sources") {
		t.Errorf("the timeline is told as %q", line.words())
	}
}
