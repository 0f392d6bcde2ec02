package rank

import (
	"math"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/reports/rank/ranktest"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// halved lets the wiring of a night go from one to another after half of its rounds. does tells by how much it lifts signals and floor
// through a setup, dB, in either half.
func halved(n *ranktest.Night, first, second survey.Wiring, does func(k, half int) (signal, floor float64)) {
	for _, s := range n.Input.Sweeps {
		half, wiring := 0, first
		if s.Round > n.Rounds/2 {
			half, wiring = 1, second
		}
		n.Input.Visits = append(n.Input.Visits, survey.Visit{Survey: s.Survey, Number: s.Visit, Round: s.Round, Asked: s.Setup, Reached: s.Setup, Start: s.Start, Wiring: wiring})
		for k := range n.Setups {
			if s.Setup != ranktest.Setup(k) {
				continue
			}
			signal, floor := does(k, half)
			for i := range s.Readings {
				r := &s.Readings[i]
				r.Floor.Density += survey.DBFSPerHz(floor)
				for c := range r.Carriers {
					r.Carriers[c].Power *= stats.FromDecibel(signal)
					r.Carriers[c].Sigma *= stats.FromDecibel(signal)
					r.Carriers[c].Quiet *= stats.FromDecibel(floor)
				}
			}
		}
	}
}

var (
	straight = survey.Wiring{FeedLines: "straight", Idle: "50 ohm"}
	crossed  = survey.Wiring{FeedLines: "crossed", Idle: "50 ohm"}
	open     = survey.Wiring{FeedLines: "straight", Idle: "open"}
)

// halvesOf ranks a night and gives what the change did to the setups, by index.
func halvesOf(n *ranktest.Night) (h result.Halves, of []result.HalvesSetup) {
	s := rankNight(n)
	if len(s.Halves) != 1 {
		return h, nil
	}
	of = make([]result.HalvesSetup, n.Setups)
	for _, x := range s.Halves[0].Setups {
		for k := range of {
			if x.Setup == ranktest.Setup(k) {
				of[k] = x
			}
		}
	}
	return s.Halves[0], of
}

// truths counts how often intervals hold what was put in, and how far means are off.
type truths struct {
	held share
	off  float64
}

func (s *truths) add(e *result.Estimate, truth float64) {
	if e == nil || e.Low == nil {
		s.held.add(false)
		return
	}
	s.held.add(float64(*e.Low) <= truth && truth <= float64(*e.High))
	s.off += float64(*e.DB) - truth
}

func (s *truths) check(t *testing.T, what string, sd float64) {
	t.Helper()
	mean := s.off / s.held.of
	t.Logf("%s: held in %.3f of %.0f nights, %+.2f dB off", what, s.held.value(), s.held.of, mean)
	if s.held.value() < 0.92-3*s.held.error(0.08) {
		t.Errorf("%s: held in %.3f", what, s.held.value())
	}
	if math.Abs(mean) > 3*sd/math.Sqrt(s.held.of) {
		t.Errorf("%s: %+.2f dB off", what, mean)
	}
}

func nightsOr(quick int) int {
	if n := ranktest.Nights(); n > 0 {
		return n
	}
	return quick
}

// Port 2 has 3 dB more loss: what comes through it is weaker by 3 dB, its floor, in part the receiver's, by
// 1.8 dB, so that the antenna there stands 1.2 dB worse. Rounds taken together say half of each; the halves say what the
// antennas do, 0 dB more or less than without, and what the ports.
func TestPortWithMoreLoss(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	w := ranktest.Like(func(w *ranktest.World) { w.Setups = 2 })
	type found struct {
		antennas, lines, floor, own *result.Estimate
		truth                       float64
	}
	nights := ranktest.Each(w, reporttest.SeedFor(t), nightsOr(40), func(n *ranktest.Night) found {
		truth := n.Truth(1)
		halved(n, straight, crossed, func(k, half int) (signal, floor float64) {
			if k == half { // the reference in the first half, the other in the second
				return -3, -1.8
			}
			return 0, 0
		})
		h, of := halvesOf(n)
		if h.Changed != survey.KeyFeedLines || h.First != "straight" || h.Second != "crossed" || h.RoundsFirst != 12 || h.RoundsSecond != 12 || of[0].Antennas != nil {
			panic(h)
		}
		return found{of[1].Antennas, of[1].Lines, of[1].Floor, of[1].OwnFloor, truth}
	})
	var antennas, lines, floor truths
	for _, n := range nights {
		antennas.add(n.antennas, n.truth)
		lines.add(n.lines, 1.2)
		floor.add(n.floor, -3.6)
	}
	// Half a difference of two halves of 12 rounds: half widths of 0.8 dB, a standard error of 0.4.
	antennas.check(t, "antennas", 0.4)
	lines.check(t, "lines and ports", 0.4)
	floor.check(t, "floors against the reference", 0.45)
}

// Idle antennas at open ends draw 2 dB of signal from one of three loops.
func TestIdleAntennaThatDraws(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	var advantage, signal, others truths
	for _, of := range ranktest.Each(ranktest.Plain(), reporttest.SeedFor(t), nightsOr(40), func(n *ranktest.Night) []result.HalvesSetup {
		halved(n, straight, open, func(k, half int) (signal, floor float64) {
			if k == 2 && half == 1 {
				return -2, 0
			}
			return 0, 0
		})
		_, of := halvesOf(n)
		return of
	}) {
		advantage.add(of[2].Advantage, -2)
		signal.add(of[2].Signal, -2)
		others.add(of[1].Advantage, 0)
		if of[2].Antennas != nil || of[2].Lines != nil {
			t.Errorf("%+v: nothing was crossed", of[2])
		}
	}
	advantage.check(t, "advantage", 0.8)
	signal.check(t, "signal", 0.8)
	others.check(t, "another's advantage", 0.8)
}

// A change that does nothing is seen to do nothing in 95 % of nights, in worlds that drift and fade in different ways.
//
//	go test ./reports/rank -run ChangesThatDoNothing -nights 150 -v -timeout 1h
//
// prints the table of STATISTICS.md 4.12.
func TestChangesThatDoNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
	for _, w := range simulatedWorlds() {
		if ranktest.Nights() == 0 && w.name != "plain" {
			continue
		}
		t.Run(w.name, func(t *testing.T) {
			var advantage, floor, own share
			count := func(s *share, e *result.Estimate) {
				if e != nil && e.Low != nil {
					s.add(e != nil && e.Low != nil && e.High != nil && (*e.Low > 0 || *e.High < 0))
				}
			}
			for _, of := range ranktest.Each(w.World, reporttest.SeedFor(t), nightsOr(40), func(n *ranktest.Night) []result.HalvesSetup {
				halved(n, straight, crossed, func(int, int) (float64, float64) { return 0, 0 })
				_, of := halvesOf(n)
				return of
			}) {
				for _, x := range of {
					count(&advantage, x.Advantage)
					count(&floor, x.Floor)
					count(&own, x.OwnFloor)
				}
			}
			t.Logf("| %s | %.1f %% of %.0f | %.1f %% of %.0f | %.1f %% of %.0f |", w.name, 100*advantage.value(), advantage.of, 100*floor.value(), floor.of, 100*own.value(), own.of)
			// The setups of a night share the reference, and are worth half as many. 0.08 stands for what the worst of the worlds do.
			if limit := 0.08 + 3*math.Sqrt2*advantage.error(0.08); !w.slow && w.Rounds >= 12 && (advantage.value() > limit || floor.value() > limit) {
				t.Errorf("seen in %.3f, of floors in %.3f; want up to %.3f", advantage.value(), floor.value(), limit)
			}
		})
	}
}

// A choke taken off lets noise onto the feed line: its terminator tells, though it shows little but the receiver's own noise.
func TestChokesOfAFeedLine(t *testing.T) {
	w := reporttest.NewWorld(7)
	w.Fade, w.FloorSD = 0.3, 0.05
	w.Gain, w.Floor = []float64{0, 3, -40, -50}, []float64{-98, -101, -111.5, -112}
	in := w.Input()
	in.Surveys[0].Plan = "[[antenna]]\nname = \"antenna C\"\nkind = \"terminator\"\n[[antenna]]\nname = \"antenna D\"\nkind = \"terminator\"\nat = \"receiver\"\n"
	for _, s := range in.Sweeps {
		wiring := survey.Wiring{Chokes: "in"}
		if s.Round > w.Rounds/2 {
			wiring.Chokes = "out"
			if s.Setup == w.Setup(2) {
				s.Readings[0].Floor.Density += 2
			}
		}
		in.Visits = append(in.Visits, survey.Visit{Survey: 1, Number: s.Visit, Round: s.Round, Reached: s.Setup, Wiring: wiring})
	}
	for _, x := range mustRank(t, in, input.Options{}).Segments[0].Halves[0].Setups {
		change := 0.0
		if x.Setup == w.Setup(2) {
			change = 2
		}
		if x.OwnFloor == nil {
			t.Errorf("%s: its own floor is not told", x.Setup.String())
			continue
		}
		reporttest.Near(t, x.Setup.String(), x.OwnFloor.DB, change, 0.1)
	}
}
