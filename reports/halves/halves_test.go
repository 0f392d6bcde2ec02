package halves

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/input"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/series"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// crossing gives visits of a survey whose feed lines were crossed after some of its rounds.
func crossing(id int64, first, second string, after, rounds int) (visits []survey.Visit, keys []input.RoundKey) {
	for round := 1; round <= rounds; round++ {
		state := first
		if round > after {
			state = second
		}
		keys = append(keys, input.RoundKey{Survey: id, Round: round})
		for n := range 2 {
			visits = append(visits, survey.Visit{Survey: id, Number: 2*round + n, Round: round, Reached: survey.Setup{Antenna: "whip"},
				Wiring: survey.Wiring{FeedLines: state, Idle: "50 ohm"}})
		}
	}
	return visits, keys
}

// values gives a series of two halves with some scatter that adds up to nothing in each.
func values(first, second float64, rounds int) series.Series {
	s := series.Series{}
	for i := range rounds {
		y := first
		if i >= rounds/2 {
			y = second
		}
		s.Values = append(s.Values, y+[]float64{0.1, -0.1}[i%2])
		s.Times, s.Stratum = append(s.Times, float64(i)), append(s.Stratum, 0)
	}
	return s
}

// The crossover's arithmetic: 5.6 dB straight and 4.4 crossed are 5.0 dB of antennas and 0.6 dB of
// lines and ports.
func TestCrossover(t *testing.T) {
	visits, keys := crossing(1, "straight", "crossed", 10, 20)
	changes := Of(input.Input{Visits: visits}, keys)
	if len(changes) != 1 || changes[0].Part.Key != survey.KeyFeedLines || changes[0].States != [2]string{"straight", "crossed"} ||
		changes[0].Rounds(0) != 10 || changes[0].Rounds(1) != 10 {
		t.Fatalf("%+v", changes)
	}
	split := changes[0].Split(values(5.6, 4.4, 20))
	w := Pool([]*Split{nil, split})
	for _, c := range []struct{ first, second, want float64 }{{1, 0, 5.6}, {0, 1, 4.4}, {0.5, 0.5, 5.0}, {0.5, -0.5, 0.6}, {-1, 1, -1.2}} {
		m := split.Mean(w, c.first, c.second)
		low, high, ok := m.Interval()
		if math.Abs(m.Mean-c.want) > 0.03 || !ok || low > c.want || high < c.want || high-low > 0.3 {
			t.Errorf("%v of the first and %v of the second: %.2f (%.2f … %.2f), want %.1f", c.first, c.second, m.Mean, low, high, c.want)
		}
	}
	// What the mean of carriers hides is in the means, and not in their difference.
	hidden := values(5.6, 4.4, 20)
	hidden.Hidden = 1
	split = changes[0].Split(hidden)
	half := func(first, second float64) float64 {
		low, high, _ := split.Mean(w, first, second).Interval()
		return (high - low) / 2
	}
	if half(1, 0) < 1.9 || half(-1, 1) > 0.15 {
		t.Errorf("half widths %.2f of the mean, %.2f of the difference", half(1, 0), half(-1, 1))
	}
}

// Rounds count where their visits agree, a survey where it has both states; another night begins
// with the other one.
func TestSidesOfRounds(t *testing.T) {
	first, keys := crossing(1, "straight", "crossed", 2, 4)
	first[2].Wiring.FeedLines = "crossed"                               // in the midst of round 2
	first[0].Wiring, first[0].Reached = survey.Wiring{}, survey.Setup{} // not in place
	second, more := crossing(2, "crossed", "straight", 1, 3)
	still, others := crossing(3, "straight", "straight", 1, 2)
	none, silent := crossing(4, "", "", 1, 2)
	keys = slices.Concat(keys, more, others, silent)
	got := Of(input.Input{Visits: slices.Concat(first, second, still, none)}, keys)
	if want := []int{0, -1, 1, 1, 1, 0, 0, -1, -1, -1, -1}; len(got) != 1 || !slices.Equal(got[0].Side, want) {
		t.Errorf("%+v, want %v", got, want)
	}
	if got := Of(input.Input{Visits: still}, others); got != nil {
		t.Errorf("%+v of a night without a change", got)
	}
}

// A noise source that was on through most of one half and raised one floor is no change of the wiring: like is
// compared with like. Where it was never in one state on both sides what it did is in the change, and that is told.
func TestSourceInOneHalf(t *testing.T) {
	visits, keys := crossing(1, "straight", "crossed", 10, 20)
	change := Of(input.Input{Visits: visits}, keys)[0]
	s := values(5, 5, 20)
	for i := 12; i < 20; i++ {
		s.Values[i], s.Stratum[i] = s.Values[i]-9, 1
	}
	split := change.Split(s)
	if m := split.Mean(Pool([]*Split{split}), -1, 1); math.Abs(m.Mean) > 0.1 || !split.Alike {
		t.Errorf("a change of %.2f dB, want none", m.Mean)
	}
	for i := 10; i < 20; i++ {
		s.Stratum[i] = 1
	}
	for i := 10; i < 12; i++ {
		s.Values[i] -= 9
	}
	split = change.Split(s)
	if m := split.Mean(Pool([]*Split{split}), -1, 1); math.Abs(m.Mean+9) > 0.1 || split.Alike {
		t.Errorf("a change of %.2f dB, want −9 and a word about it", m.Mean)
	}
	for i := range 10 {
		s.Values[i] = math.NaN()
	}
	if change.Split(s) != nil {
		t.Error("nothing is known of one side")
	}
	if (*Split)(nil).Mean(nil, 1, 0) != nil {
		t.Error("nothing has a mean")
	}
}

// The jump at half time goes, whatever was on in one round there; what a device does elsewhere, and another survey's
// floors, stay.
func TestLevel(t *testing.T) {
	visits, keys := crossing(1, "straight", "crossed", 6, 12)
	still, others := crossing(2, "crossed", "crossed", 1, 2)
	changes := Of(input.Input{Visits: slices.Concat(visits, still)}, slices.Concat(keys, others))
	floors := []float64{-100, -100, -90, math.NaN(), -100, -82, -96, -95.8, -84, -96.2, -86, -96, -70, -70}
	got := Level(changes, slices.Concat(keys, others), floors)
	// Medians of −90, −100, −82 and of −96, −95.8, −84: −90 and −95.8. Without the round at −82 it is −100.
	want := slices.Clone(floors)
	for i := 6; i < 12; i++ {
		want[i] += 5.8
	}
	same := func(a, b float64) bool { return math.Abs(a-b) < 1e-9 || math.IsNaN(a) && math.IsNaN(b) }
	if !slices.EqualFunc(got, want, same) {
		t.Errorf("%v, want %v", got, want)
	}
	floors[2] = -100
	for i := 6; i < 12; i++ {
		want[i] = floors[i] - 4.2
	}
	want[2] = -100
	if got := Level(changes, slices.Concat(keys, others), floors); !slices.EqualFunc(got, want, same) {
		t.Errorf("%v, want %v", got, want)
	}
}

// A change that does nothing is seen to do something in 5 % of nights, which drift by 0.7 dB with a correlation of 0.6 from
// round to round and fade by 0.9 dB without one. Welch's t, for which rounds are independent, sees it three times as often.
func TestWelchSeesTooMuch(t *testing.T) {
	visits, keys := crossing(1, "straight", "crossed", 12, 24)
	change := Of(input.Input{Visits: visits}, keys)[0]
	random := rand.New(rand.NewPCG(reporttest.SeedFor(t), 1))
	n := reporttest.TrialsOr(150)
	seen, welch := 0.0, 0.0
	for range n {
		// Three setups share what is known of the correlation, as in a ranking.
		var splits []*Split
		for range 3 {
			s := values(0, 0, 24)
			for i, drift := range reporttest.Wander(random, 24, 0.7, 0.6) {
				s.Values[i] = drift + 0.9*random.NormFloat64()
			}
			splits = append(splits, change.Split(s))
			a, va := stats.MeanVariance(s.Values[:12])
			b, vb := stats.MeanVariance(s.Values[12:])
			freedom := (va + vb) * (va + vb) / ((va*va + vb*vb) / 11)
			if math.Abs(a-b) > math.Sqrt((va+vb)/12)*(distuv.StudentsT{Sigma: 1, Nu: freedom}).Quantile(0.975) {
				welch += 1 / float64(3*n)
			}
		}
		w := Pool(splits)
		for _, split := range splits {
			if low, high, ok := split.Mean(w, -1, 1).Interval(); ok && (low > 0 || high < 0) {
				seen += 1 / float64(3*n)
			}
		}
	}
	t.Logf("%d nights: seen in %.3f, by Welch's t in %.3f", n, seen, welch)
	if slack := 3 * math.Sqrt(0.06*0.94/float64(3*n)); seen > 0.06+slack || welch < 2*0.06 {
		t.Errorf("seen in %.3f, by Welch's t in %.3f", seen, welch)
	}
}
