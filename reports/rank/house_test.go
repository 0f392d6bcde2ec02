package rank

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

var worlds = flag.Int("worlds", 12, "houses of chance whose lines are ranked")

// skipShort leaves long arithmetic of one goroutine out of short runs.
func skipShort(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: long arithmetic of one goroutine")
	}
}

// houseSegments are two bands without a raster and one with.
var houseSegments = []survey.Segment{{Name: "30 m amateur", Low: 10.1e6, High: 10.15e6}, {Name: "31 m", Low: 9.4e6, High: 9.9e6}, {Name: "20 m amateur", Low: 14e6, High: 14.35e6}}

// rankHouse ranks a house, imported instead of recorded in each third world, and counts the verdicts of
// its segments, whole and by period. None says which setup hears best.
func rankHouse(t *testing.T, world int, h reporttest.House, count map[string]int) []result.RankSegment {
	in := h.Input()
	if world%3 == 2 {
		in.Surveys[0].Kind = survey.KindImport
	}
	r := mustRank(t, in, input.Options{})
	for _, s := range r.Segments {
		k := s.Verdict.Kind
		if count[k]++; k == result.VerdictBest || k == result.VerdictTie {
			t.Errorf("house %d, %s, %s: %s by %d lines; %q", world, s.Segment, s.Period, k, s.Setups[0].Carriers, s.Doubts)
		}
	}
	return r.Segments
}

// Where there is no station nothing is ranked: no line of three supplies is taken for one, found
// or measured by force, and no clock in the house, which keeps its frequency and stands still.
func TestHouseLines(t *testing.T) {
	skipShort(t)
	count := map[string]int{}
	for world := range *worlds {
		h := reporttest.NewHouse(uint64(world), houseSegments...)
		for _, s := range houseSegments {
			h.Lines = append(h.Lines, reporttest.Line{Frequency: float64(s.Low) + 21.3e3, Level: []float64{25, 10, 20}})
		}
		rankHouse(t, world, h, count)
	}
	t.Logf("%d houses: %v", *worlds, count)
	if len(count) != 1 || count[result.VerdictNoStations] == 0 {
		t.Errorf("verdicts %v, want %s alone", count, result.VerdictNoStations)
	}
}

// One station among the lines of three supplies ranks by itself, and there is no verdict. In each second
// house that of the broadcast band stands at a multiple of the first supply's spacing. Of 300 houses 1 % of
// the stations are taken for a comb's line, or have one beside them.
func TestOneStationAmongHouseLines(t *testing.T) {
	skipShort(t)
	count := map[string]int{}
	var advantages []float64
	for world := range *worlds {
		h := reporttest.NewHouse(uint64(world), houseSegments...)
		random := rand.New(rand.NewPCG(uint64(world), 23))
		for _, s := range houseSegments {
			station := reporttest.Line{Frequency: float64(s.Low) + 5e3*float64(1+random.IntN(int(s.High-s.Low)/5000-1)), Fade: 3, Level: []float64{25, 29, 20}}
			if r := &h.Radiators[0]; world%2 == 1 && s.Broadcast() {
				r.Spacing = station.Frequency / math.Round(station.Frequency/r.Spacing)
			}
			h.Lines = append(h.Lines, station)
		}
		for _, s := range rankHouse(t, world, h, count) {
			x := reporttest.Find(t, s, h.Setups[1])
			if s.Period == result.PeriodAll && x.Carriers == 1 && s.Verdict.Kind == result.VerdictFewCarriers {
				advantages = append(advantages, float64(*x.SNRAdvantage))
			}
		}
	}
	mean, variance := stats.MeanVariance(advantages)
	t.Logf("%d houses: the station by itself in %d of %d, advantage %.2f ± %.2f dB; %v", *worlds, len(advantages), *worlds*len(houseSegments), mean, math.Sqrt(variance), count)
	if all := *worlds * len(houseSegments); float64(len(advantages)) < 0.95*float64(all) {
		t.Errorf("the station by itself in %d of %d, want 95 %%", len(advantages), all)
	}
	// Each setup fades by 3 dB of its own, 0.3 from round to round: 3·√2·√(1.3/0.7/24) = 1.2 dB in 24 rounds.
	if math.Abs(mean-4) > 4*1.2/math.Sqrt(float64(len(advantages))) {
		t.Errorf("advantage %.2f dB, want 4", mean)
	}
}
