package reports

import (
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
)

func mustRank(t testing.TB, in input.Input, opts input.Options) result.Rank {
	t.Helper()
	s, err := input.Select(in, opts)
	if err != nil {
		t.Fatal(err)
	}
	return RankOf(s, opts.Seed)
}
