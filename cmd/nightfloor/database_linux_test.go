package main

import (
	"strings"
	"testing"

	"nightfloor/capture/turn/turntest"
	"nightfloor/cmd/nightfloor/console"
)

// At a terminal somebody is asked before a survey is removed, and yes alone removes it.
func TestRemoveSurveyAsks(t *testing.T) {
	database := twoNights(t)
	for _, test := range []struct {
		typed  string
		status int
		left   int
	}{{"no\n", 1, 3}, {"\n", 1, 3}, {"y\n", 1, 3}, {"yes\n", 0, 2}} {
		p := turntest.OpenPTY(t)
		p.Types(t, test.typed)
		var out strings.Builder
		status := run(t.Context(), console.New(p.Terminal, &out, p.Terminal), []string{"database", "remove-survey", "first night", "--db", database})
		p.Await(t, `Remove survey 2 "first night" (imports, 3 Nov 2026`)
		if n := len(storedSurveys(t, database)); status != test.status || n != test.left {
			t.Errorf("%q typed: status %d, %d surveys, want %d and %d: %s", test.typed, status, n, test.status, test.left, out.String())
		}
	}
}
