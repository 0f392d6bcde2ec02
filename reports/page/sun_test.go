package page

import (
	"testing"
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// TestSunPeriods: a night at JO51AA in November goes from dusk through night to
// dawn without a gap. By hand: on 3 November the sun's declination is −15.0° and
// the equation of time 16.4 min, so that true noon at 10° E is 12:00 − 40 min −
// 16.4 min = 11:03.6 UTC. At 51° N the sun stands at −6° at the hour angle H with
// cos H = (sin −6° − sin 51° sin −15°) / (cos 51° cos −15°) = 0.159: H = 80.9°,
// 5 h 23.4 min, at 16:27 UTC; ± 3 min for the figures' rounding.
func TestSunPeriods(t *testing.T) {
	p := placeOf(smallNight())
	to := nightStart.Add(16 * time.Hour)
	got := p.periods(nightStart, to)
	var names []string
	for i, s := range got {
		names = append(names, s.Period)
		if i > 0 && s.From != got[i-1].To {
			t.Errorf("%s begins at %d, %s ends at %d", s.Period, s.From, got[i-1].Period, got[i-1].To)
		}
	}
	if len(names) != 4 || names[0] != "dusk" || names[1] != "night" || names[2] != "dawn" || names[3] != "day" {
		t.Fatalf("periods %v, want dusk, night, dawn, day", names)
	}
	want := time.Date(2026, 11, 3, 16, 27, 0, 0, time.UTC)
	if begins := time.UnixMilli(got[1].From); begins.Sub(want).Abs() > 3*time.Minute {
		t.Errorf("night begins at %v, want %v ± 3 min", begins.UTC(), want)
	}
	if got[0].From != nightStart.UnixMilli() || got[3].To != to.UnixMilli() {
		t.Error("the periods do not cover the survey")
	}
}

// TestNoSun: without a locator, or with two, no sun is drawn.
func TestNoSun(t *testing.T) {
	for name, r := range map[string]*result.Report{
		"no locator":   {},
		"two locators": {Surveys: []survey.Survey{{Site: survey.Site{Locator: "JO51AA"}}, {Site: survey.Site{Locator: "JN58TD"}}}},
	} {
		if p := placeOf(r); p != nil || p.words() != "" || len(p.periods(nightStart, nightStart.Add(time.Hour))) > 0 {
			t.Errorf("%s: a sun all the same", name)
		}
	}
}
