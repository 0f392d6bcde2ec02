package reports

import (
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
)

// reportOf makes every result of what the options ask for.
func reportOf(in input.Input, opts input.Options) (*result.Report, []string, error) {
	s, err := input.Select(in, opts)
	if err != nil {
		return nil, s.Notes, err
	}
	return NewReport(s, nil, All, opts.Seed, reporttest.Zone), s.Notes, nil
}

// ranked ranks what the options ask for.
func ranked(t testing.TB, in input.Input, opts input.Options) result.Rank {
	t.Helper()
	r, _, err := reportOf(in, opts)
	if err != nil {
		t.Fatal(err)
	}
	return r.Rank
}
