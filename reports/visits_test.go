package reports

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/quality"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/text"
	"nightfloor/survey"
)

// Quality tells visits that reached another setup, or none, by their reasons.
func TestVisitsThatDidNotReachTheirSetup(t *testing.T) {
	w := reporttest.NewWorld(1)
	in := w.Input()
	at := w.Start
	for i, v := range []survey.Visit{
		{Asked: w.Setup(0), Reached: w.Setup(0)},
		{Asked: w.Setup(1), Said: "the relay\x1b sticks"},
		{Asked: w.Setup(1), Said: "the relay\x1b sticks"},
		{Asked: w.Setup(1), Reached: w.Setup(0), Said: "nobody answered"},
		{Asked: w.Setup(0), Reached: w.Setup(0), Said: survey.SaidUnconfirmed + " since nobody answered"},
	} {
		v.Survey, v.Number, v.Start = 1, i+1, at.Add(time.Duration(i)*time.Hour)
		in.Visits = append(in.Visits, v)
	}
	q := quality.Of(reporttest.Selected(in, input.Options{}))
	got := q.Surveys[0].Visits
	if got.Asked != 5 || got.Missed != 2 || got.Elsewhere != 1 || got.Unconfirmed != 1 || len(got.Why) != 2 {
		t.Fatalf("%+v", got)
	}
	var b bytes.Buffer
	if err := text.WriteTable(&b, q, time.UTC, text.Width); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"2 visits of 5 missed, nothing measured, 3 Nov 19:00 UTC to 3 Nov 20:00 UTC: the relay\\x1b sticks",
		"1 visit of 5 reached another setup than asked for, 3 Nov 21:00 UTC: nobody answered", "1 visit of 5 to what was in place before"} {
		if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	in.Visits = nil
	if got := quality.Of(reporttest.Selected(in, input.Options{})).Surveys[0].Visits; got != nil {
		t.Errorf("%+v of a survey that keeps none", got)
	}
}
