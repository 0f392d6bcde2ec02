package text

import (
	"strings"
	"testing"

	"nightfloor/reports/result"
	"nightfloor/reports/simulated"
	"nightfloor/survey"
)

// What was built in stands beside what was found, and is counted.
func TestBuiltRank(t *testing.T) {
	found := result.RankSetup{Setup: survey.Setup{Antenna: "whip", Placement: "loft"}, SNRAdvantage: result.DB(5.5), Low: result.DB(4), High: result.DB(7)}
	v := simulated.RankVerdict{Segment: "31 m", Found: found, Built: 6, Claims: true, Right: true, Holds: true}
	var b strings.Builder
	if err := WriteBuiltRank(&b, []simulated.RankVerdict{v}, 80); err != nil || !strings.Contains(b.String(), "whip@loft            +6.0  (+5.5, +4.0 … +7.0)\n") ||
		!strings.Contains(b.String(), "1 of 1 differences") {
		t.Errorf("%v:%s", err, b.String())
	}
	checkWidth(t, "built-80.txt", b.String())
}
