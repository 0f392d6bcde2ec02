package source

import (
	"math"
	"testing"

	"nightfloor/reports/noise/track"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
)

// Two findings of chance agree more easily where ten ratios are allowed than where they must
// share a spacing. Of 2,880 epochs two are chosen in 4.1 million ways, six times that for other
// numbers tried: where each is wrong once in 10,000 times, 4.1e6·6·1e-8·1e-3 = 2.5e-4 is left for
// one spacing, and for aliases, at 10·2·8e-4/ln(500/15) = 4.6e-3, more than the 1e-3 that is allowed.
func TestAliasesAgreeByChance(t *testing.T) {
	l := readlog.New(reporttest.NewDin(1).Input())
	found := track.Track{{Doubt: 1e-4, Round: 0}, {Doubt: 1e-4, Round: 30}}
	if got := doubtOf(l, found, combsAgree); math.Abs(got/2.5e-4-1) > 0.02 {
		t.Errorf("of one spacing: %.2g, want 2.5e-4", got)
	}
	found[1].HarmonicAlias = true
	if got := doubtOf(l, found, combsAgree); got < 1.1e-3 || got > 1.3e-3 {
		t.Errorf("of aliases: %.2g, want 1.1e-3 to 1.3e-3", got)
	}
}
