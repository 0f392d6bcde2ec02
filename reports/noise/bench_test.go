package noise

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/readlog"
	"nightfloor/reports/reporttest"
	"nightfloor/reports/rises"
	"nightfloor/survey"
)

// A season is ten-hour nights, a hundred rounds each, in a house with four supplies that go
// on and off eight times a night, one of which raises the floor, clicks, and the ionosphere.
type season struct {
	nights   int
	one      bool // survey; else each night is one
	sweeps   int  // a visit
	segments int  // the din's, over and over
}

func (y season) input() (in input.Input) {
	for night := range y.nights {
		own, id := y.night(night), int64(night+1)
		if y.one {
			id = 1
		}
		own.Surveys[0].ID = id
		for _, s := range own.Sweeps {
			s.Survey = id
			if y.one {
				s.Round += 100 * night
				s.Visit += 1000 * night
			}
		}
		if night == 0 || !y.one {
			in.Surveys = append(in.Surveys, own.Surveys...)
		}
		in.Sweeps = append(in.Sweeps, own.Sweeps...)
	}
	return in
}

func (y season) night(night int) input.Input {
	const rounds, times = 100, 8
	var supplies []reporttest.Radiator
	for k, spacing := range []float64{65.013e3, 48.617e3, 113.29e3, 81.77e3} {
		r := reporttest.Radiator{Spacing: spacing, Drift: 3e-4, Warming: 0.3, Level: []float64{6, 3, 0}, Swing: []float64{0.3, 0.2, 0.1}}
		for n := range times {
			on := float64(n)*9.5/times + 0.1*float64(k) + 0.013*float64(night%17)
			r.Hours = append(r.Hours, reporttest.HourSpan{From: on, To: on + 0.65*9.5/times})
		}
		supplies = append(supplies, r)
	}
	d := reporttest.NewDin(uint64(night), supplies...)
	d.Rounds, d.FalseRate = 0, 1e-3
	d.Start = d.Start.AddDate(0, 0, night)
	in := d.Input()
	random, heard := rand.New(rand.NewPCG(uint64(night), 17)), slices.Repeat([]int{-100}, len(supplies))
	pace := reporttest.DinRound / time.Duration(y.sweeps*len(d.Setups))
	for n := range rounds {
		for place, k := range random.Perm(len(d.Setups)) {
			for sweep := range y.sweeps {
				at := d.Start.Add(time.Duration(n)*reporttest.DinRound + time.Duration(y.sweeps*place+sweep)*pace)
				s := d.Sweep(random, heard, n, k, n*len(d.Setups)+place+1, at)
				_, raised := supplies[0].Since(at.Sub(d.Start).Hours())
				y.widen(random, s, raised, 5*max(0, min(1, (at.Sub(d.Start).Hours()-5.8)/2))) // dusk at 6.8 hours
				in.Sweeps = append(in.Sweeps, s)
			}
		}
	}
	return in
}

// widen makes as many segments of a sweep's as are asked for, raises their floors, and lets
// it click.
func (y season) widen(random *rand.Rand, s *survey.Sweep, raised bool, more float64) {
	own := s.Readings
	for i := len(own); i < y.segments; i++ {
		r, shift := own[i%len(own)], survey.Hz(1e6*(i/len(own)))
		r.Segment = survey.Segment{Name: fmt.Sprintf("%s %d", r.Segment.Name, i), Low: r.Segment.Low + shift, High: r.Segment.High + shift}
		r.Start, r.Centre = s.Start.Add(time.Duration(i)*time.Second), r.Centre+shift
		floor := *r.Floor
		r.Floor, r.Findings = &floor, append([]survey.Finding(nil), r.Findings...)
		s.Readings = append(s.Readings, r)
	}
	if raised {
		more += 4
	}
	for i := range s.Readings {
		s.Readings[i].Floor.Density += survey.DBFSPerHz(more + 0.2*random.NormFloat64())
	}
	if random.Float64() < 0.1 {
		r := &s.Readings[0]
		r.Findings = append(r.Findings, survey.Finding{Kind: survey.FindingImpulses, Rate: 2, Strength: 20, Confidence: 0.9998})
	}
}

// BenchmarkNinetyNights makes noise sources, and rises, of 10 and of 90 nights of 600 sweeps
// in three segments. held-MB is what lives besides the input when a report is done.
func BenchmarkNinetyNights(b *testing.B) {
	for _, y := range []season{{10, false, 2, 3}, {90, false, 2, 3}, {10, true, 2, 3}, {90, true, 2, 3}} {
		form := "surveys"
		if y.one {
			form = "nights-of-one-survey"
		}
		in := reporttest.Selected(y.input(), input.Options{}).Input
		before := heapMB()
		l := readlog.New(in)
		found := Find(l)
		out := found.Result(reporttest.Zone).Sources
		held := math.Max(0, heapMB()-before)
		b.Run(fmt.Sprintf("sources/%d-%s", y.nights, form), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Find(readlog.New(in)).Result(reporttest.Zone)
			}
			b.ReportMetric(held, "held-MB")
		})
		b.Run(fmt.Sprintf("rises/%d-%s", y.nights, form), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				rises.Of(l, out)
			}
			b.ReportMetric(float64(len(rises.Of(l, out))), "rises")
		})
		runtime.KeepAlive(found)
	}
}

// heapMB gives what is alive, in MB.
func heapMB() float64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc) / 1e6
}
