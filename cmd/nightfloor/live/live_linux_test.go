package live

import (
	"fmt"
	"testing"

	"nightfloor/capture"
	"nightfloor/capture/turn/turntest"
	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// While a person is asked to change the antenna no line stands below the question.
func TestNoLineBelowAQuestion(t *testing.T) {
	for by, while := range map[string]string{plan.ByPerson: "", plan.ByCommand: "round 1 of 24  changing to loop@loft:110"} {
		p := turntest.OpenPTY(t)
		p.Columns(t, 80)
		l, _, clock := newLine(t, func(r *capture.Recorder) { r.Plan.Change.By = by })
		l.console = console.New(nil, nil, p.Terminal)
		printed := ""
		shows := func(when, want string) {
			fmt.Fprint(p.Terminal, "\x01")
			printed += p.Await(t, "\x01")
			lines := turntest.Screen(printed, 80)
			if last := lines[len(lines)-1]; last != want {
				t.Errorf("%s, %s: %q, want %q", by, when, last, want)
			}
		}
		l.hears(clock)
		shows("before", "round 3 of 24  loop@loft:110  49 m −96.0  overload on 49 m  ends ≈ 01:00 CET")
		l.Visiting(survey.Visit{Round: 1, Asked: loop}, false)
		clock.at = clock.at.Add(2 * drawInterval)
		l.Alive()
		shows("meanwhile", while)
		l.Visiting(survey.Visit{Round: 1, Asked: loop, Reached: loop}, true)
		shows("afterwards", "round 1 of 24  loop@loft:110  49 m −96.0  overload on 49 m  crowded on 25 m")
		l.End()
		shows("at the end", "")
	}
}
