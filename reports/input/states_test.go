package input

import (
	"testing"
	"time"

	"nightfloor/survey"
)

// Names tell as much of the time as is needed to tell the states apart.
func TestNamesOfStates(t *testing.T) {
	first := time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC)
	for _, test := range []struct {
		second time.Time
		want   string
	}{
		{first, "3 Nov 21.04"},
		{first.Add(time.Minute), "3 Nov 21.04"},
		{first.AddDate(1, 0, 0), "3 Nov 2026 21.04"},
		{first.Add(20 * time.Second), "3 Nov 2026 21.04.10"},
		{first.Add(20 * time.Millisecond), "3 Nov 2026 21.04.10.000"},
	} {
		in := Input{Events: []survey.Event{{At: first, Repeaked: "loop"}, {At: first.Add(time.Second), Text: "kettle on"}, {At: test.second, Repeaked: "whip"}}}
		if got := first.Format(in.stateForm()); got != test.want {
			t.Errorf("beside %v: %q, want %q", test.second, got, test.want)
		}
	}
}
