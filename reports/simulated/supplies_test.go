package simulated

import (
	"testing"
	"time"

	"nightfloor/reports/result"
	"nightfloor/survey"
)

// oneSupply is a house with one switching supply, in which every setup is 6 dB better than
// the reference.
type oneSupply struct{}

func (oneSupply) Advantage(_, _ survey.Setup, _, _ survey.Hz, _, _ time.Time) (survey.DB, int, error) {
	return 6, 4, nil
}

func (oneSupply) Supplies(from, to time.Time) []Supply {
	return []Supply{{Name: "lamp", Spacing: 65e3, Hours: []result.NoiseHours{{From: from, To: to}}}}
}

// Its lamp has a null at 1°, 20 dB deep.
func (oneSupply) SupplyNull(string, survey.Setup, survey.Hz) (float64, survey.DB, error) {
	return 1, 20, nil
}

// The null of a supply is held against the pattern of its comb, also across north; a segment in
// which its comb was not heard has none.
func TestCompareNulls(t *testing.T) {
	at := func(x float64) *float64 { return &x }
	db := func(x survey.DB) *survey.DB { return &x }
	spacing := survey.Hz(65.01e3)
	r := &result.Report{Bearings: result.Bearings{Patterns: []result.Pattern{
		{Antenna: "loop", Segment: "49 m", Of: result.OfFloor},
		{Antenna: "loop", Segment: "49 m", Of: result.OfNoiseSource, Spacing: &spacing, Null: at(179.5), NullLow: at(178), NullHigh: at(1.5), DepthLow: db(18)},
		{Antenna: "loop", Segment: "31 m", Of: result.OfFloor},
		{Antenna: "loop", Segment: "25 m", Of: result.OfNoiseSource, Spacing: &spacing, Null: at(4), NullLow: at(2), NullHigh: at(6), DepthLow: db(10), DepthHigh: db(15)},
	}}}
	verdicts, err := CompareNulls(oneSupply{}, r)
	if err != nil || len(verdicts) != 3 {
		t.Fatalf("%+v, %v", verdicts, err)
	}
	for i, want := range []struct {
		off        float64
		null, deep bool
	}{{1.5, true, true}, {90, false, false}, {3, false, false}} {
		if v := verdicts[i]; v.Off() != want.off || v.NullHolds() != want.null || v.DepthHolds() != want.deep {
			t.Errorf("%s: %.1f° off, held %v and %v", v.Segment, v.Off(), v.NullHolds(), v.DepthHolds())
		}
	}
}

// A comb within 0.1 % of a supply's spacing is that supply's, another belongs to none.
func TestCompareSupplies(t *testing.T) {
	near, far := survey.Hz(65.05e3), survey.Hz(65.1e3)
	r := &result.Report{Noise: result.NoiseSources{Sources: []result.NoiseSource{
		{Kind: survey.FindingComb, Spacing: &far}, {Kind: survey.FindingComb, Spacing: &near}, {Kind: survey.FindingMains}}}}
	verdicts, others := CompareSupplies(oneSupply{}, r)
	if len(verdicts) != 1 || verdicts[0].Found == nil || *verdicts[0].Found.Spacing != near {
		t.Errorf("%+v", verdicts)
	}
	if len(others) != 1 || *others[0].Spacing != far {
		t.Errorf("beside it: %+v", others)
	}
}

// An interval claims a difference where it leaves out 0, and is right where the built-in
// one has that sign.
func TestCompareRank(t *testing.T) {
	reference, loft := survey.Setup{Antenna: "whip", Placement: "study"}, survey.Setup{Antenna: "whip", Placement: "loft"}
	db := func(x survey.DB) *survey.DB { return &x }
	for _, c := range []struct {
		low, middle, high    survey.DB
		claims, right, holds bool
	}{{4, 5.5, 7, true, true, true}, {-1, 3, 7, false, false, true}, {-4, -3, -2, true, false, false}, {1, 2, 3, true, true, false}} {
		r := &result.Report{Rank: result.Rank{Reference: reference, Segments: []result.RankSegment{{Segment: "31 m", Period: result.PeriodAll,
			Setups: []result.RankSetup{{Setup: loft, SNRAdvantage: db(c.middle), Low: db(c.low), High: db(c.high)}}}}}}
		verdicts, err := CompareRank(oneSupply{}, r)
		if err != nil || len(verdicts) != 1 {
			t.Fatalf("%+v, %v", verdicts, err)
		}
		if v := verdicts[0]; v.Claims != c.claims || v.Right != c.right || v.Holds != c.holds {
			t.Errorf("%v … %v: %+v", c.low, c.high, v)
		}
	}
}
