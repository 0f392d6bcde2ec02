package rank

import (
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/noise"
	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
)

// mustRank ranks what the options ask for.
func mustRank(t testing.TB, in input.Input, opts input.Options) result.Rank {
	t.Helper()
	s, err := input.Select(in, opts)
	if err != nil {
		t.Fatal(err)
	}
	return Of(s, House{Found: noise.Find(readlog.New(s.Input))}, opts.Seed)
}
