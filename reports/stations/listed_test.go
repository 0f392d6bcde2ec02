package stations_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/matrix"
	"nightfloor/reports/stations"
	"nightfloor/survey"
)

// TestListedLines: the lines of a plan's list that are heard, and no others, though the receiver's clock moves
// them away from where they were measured by force.
func TestListedLines(t *testing.T) {
	const plan = `[[setup]]
antenna = "whip"
placement = "attic"
[[segment]]
band = "20 m amateur"
listed = ["14.1 MHz", "14.2 MHz", "14.3 MHz"]
[[segment]]
band = "31 m"
`
	for ppm, want := range map[float64][]float64{
		0: {14.1e6, 14.3e6}, 15: {14.1e6 * (1 + 15e-6), 14.3e6 * (1 + 15e-6)}, 30: nil,
	} {
		in := input.Input{Surveys: []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true, Plan: plan}}}
		random := rand.New(rand.NewPCG(7, 7))
		segment := survey.Segment{Name: "20 m amateur", Low: 14e6, High: 14.35e6}
		for n := range 8 {
			start := time.Date(2026, 11, 3, 18, 4*n, 0, 0, time.UTC)
			r := survey.Reading{Segment: segment, Start: start, Duration: time.Second / 2, BinWidth: 100, Resolution: 150,
				Floor: &survey.Floor{Density: -100}}
			add := func(f float64, level float64, detected bool) {
				r.Carriers = append(r.Carriers, survey.Carrier{Frequency: survey.Hz(f),
					Power: 1e-9 * (level + random.NormFloat64()), Sigma: 1e-9, Detected: detected})
			}
			for i, f := range []float64{14.1e6, 14.2e6, 14.3e6} {
				switch heard := i != 1; {
				case heard && ppm == 0:
					add(f, 20, true)
				case heard:
					add(f, 0, false)
					add(f*(1+ppm*1e-6), 20, true)
				default:
					add(f, 0, false)
				}
			}
			add(14.05e6, 40, true)
			in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Visit: n + 1, Start: start,
				Setup: survey.Setup{Antenna: "whip", Placement: "attic"}, Readings: []survey.Reading{r}})
		}
		m := matrix.New(in, segment)
		listed := in.Listed(segment.Name)
		if len(listed) != 3 || in.Listed("31 m") != nil {
			t.Fatalf("listed are %v, and of 31 m %v", listed, in.Listed("31 m"))
		}
		var lines []int
		for i, l := range stations.New(m, stations.Known{}).Listed(listed, []int{0, 1, 2, 3, 4, 5, 6, 7}) {
			heard := 0
			if l.Line >= 0 {
				lines, heard = append(lines, l.Line), 8
			}
			if l.Frequency != listed[i] || l.Heard < heard {
				t.Errorf("%v ppm: %+v, want %v heard in %d rounds", ppm, l, listed[i], heard)
			}
		}
		if len(lines) != len(want) {
			t.Fatalf("%v ppm: %d lines, want %d", ppm, len(lines), len(want))
		}
		for i, line := range lines {
			if math.Abs(m.Lines[line]-want[i]) > 1 {
				t.Errorf("%v ppm: line at %.0f Hz, want %.0f", ppm, m.Lines[line], want[i])
			}
		}
	}
}
