package reports

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/survey"
)

// A simulated survey does not mark a real one, whether or not something was recorded
// in it: it is left out, and the doubts say so.
func TestOnlySweepsAreSimulated(t *testing.T) {
	w := reporttest.Still()
	in := w.Input()
	in.Surveys[0].Simulated = false
	in.Surveys = append(in.Surveys, survey.Survey{ID: 2, Kind: survey.KindRecord, Simulated: true, Start: w.Start.Add(-time.Hour), First: w.Setup(2)})
	r, _, err := reportOf(in, input.Options{})
	if err != nil || r.Simulated || r.Rank.Reference != w.Setup(0) {
		t.Errorf("simulated %v, reference %v, %v", r.Simulated, r.Rank.Reference, err)
	}
	last := *in.Sweeps[len(in.Sweeps)-1]
	last.Survey = 2
	in.Sweeps = append(in.Sweeps, &last)
	r, _, err = reportOf(in, input.Options{})
	if err != nil || r.Simulated || !strings.Contains(fmt.Sprint(r.Doubts), "survey 2 is simulated and left out") {
		t.Errorf("simulated %v, doubts %q, %v", r.Simulated, r.Doubts, err)
	}
}
