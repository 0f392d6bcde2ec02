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

// The null of a supply stands beside the one that was found, and those that hold are counted.
func TestBuiltNulls(t *testing.T) {
	at := func(x float64) *float64 { return &x }
	p := result.Pattern{Of: result.OfNoiseSource, Null: at(127.8), NullLow: at(127.2), NullHigh: at(128.4), Depth: result.DB(19), DepthLow: result.DB(18), DepthHigh: result.DB(19.9)}
	lamp := simulated.NullVerdict{Supply: "lamp driver", Turned: survey.Setup{Antenna: "loop", Placement: "study"}, Segment: "49 m", Null: 128, Depth: 20, Found: &p}
	charger := lamp
	charger.Supply, charger.Found = "charger", nil
	var b, none strings.Builder
	if err := WriteBuiltNulls(&b, []simulated.NullVerdict{lamp, charger}, 80); err != nil ||
		!strings.Contains(b.String(), "  loop@study, 49 m\n    lamp driver  128.0°  20.0 dB  (127.8°, 127° … 129°; 19.0 dB, 18.0 … 19.9)\n    charger      128.0°  20.0 dB  (no null found)\n") ||
		!strings.Contains(b.String(), "Of 2 nulls 1 were found; of these 1 lie within 5°") {
		t.Errorf("%v:%s", err, b.String())
	}
	checkWidth(t, "nulls-80.txt", b.String())
	if err := WriteBuiltNulls(&none, nil, 80); err != nil || none.Len() > 0 {
		t.Errorf("of nothing: %q, %v", none.String(), err)
	}
}
