package matrix

import (
	"math"
	"math/rand/v2"
	"testing"

	"nightfloor/reports/input"
	"nightfloor/survey"
)

// night makes readings of lines of so many hertz of SNR, two sweeps a visit, whose powers scatter as
// METHODS.md 6.5 says: the noise by itself makes 17 Hz, and lines widen it by alpha. stored tells which
// rounds have Quiet stored.
func night(alpha float64, rounds int, snr []float64, stored func(round int) bool) input.Input {
	const quiet = 17.0
	random := rand.New(rand.NewPCG(5, 5))
	in := input.Input{Surveys: []survey.Survey{{ID: 1}}}
	for n := range rounds {
		for k, setup := range []survey.Setup{{Antenna: "loop"}, {Antenna: "whip"}} {
			floor := survey.DBFSPerHz(-100 + 7*float64(k)) // the noise rises with the floor
			for range 2 {
				r := survey.Reading{Segment: survey.Segment{Name: "x", Low: 8e6, High: 8.2e6}, Resolution: 110, Floor: &survey.Floor{Density: floor}}
				for line, power := range snr {
					sigma := func(power float64) float64 { return quiet * math.Sqrt(1+alpha*max(0, power)/quiet) }
					measured := power + sigma(power)*random.NormFloat64()
					c := survey.Carrier{Frequency: survey.Hz(8.01e6 + 1e4*float64(line)), Power: measured * floor.Linear(), Sigma: sigma(measured) * floor.Linear()}
					if stored(n) {
						c.Quiet = quiet * floor.Linear()
					}
					r.Carriers = append(r.Carriers, c)
				}
				in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Setup: setup, Readings: []survey.Reading{r}})
			}
		}
	}
	return in
}

// Two readings of 17 Hz each make 17/√2 = 12.02 Hz, whatever the line's power.
func TestQuiet(t *testing.T) {
	const want = 17 / math.Sqrt2
	snr := []float64{0, 20, 40, 1000} // nothing; a line under the noise; one over it now and then; one strong everywhere
	for name, stored := range map[string]func(round int) bool{
		"stored":         func(int) bool { return true },
		"stored by half": func(round int) bool { return round >= 12 },
		"not stored":     func(int) bool { return false },
	} {
		t.Run(name, func(t *testing.T) {
			in := night(0.7, 24, snr, stored)
			m := New(in, in.Sweeps[0].Readings[0].Segment)
			for k := range m.Cells {
				for n, c := range m.Cells[k] {
					for line := range snr {
						got, sigma := c.Quiet[line], c.Sigma[line]
						switch {
						case stored(n):
							if math.Abs(got/want-1) > 1e-9 {
								t.Errorf("setup %d, round %d, line %d: %.3f Hz, want %.3f as stored", k, n, line, got, want)
							}
						case line == 3 && stored(23): // what the other half of the rounds knows
							if math.Abs(got/want-1) > 1e-9 {
								t.Errorf("setup %d, round %d, strong line: %.3f Hz, want %.3f as in the other rounds", k, n, got, want)
							}
						case line == 3:
							if got != sigma {
								t.Errorf("setup %d, round %d, strong line: %.3f Hz, want sigma, %.3f", k, n, got, sigma)
							}
						case c.Snr[line] <= 0 && got != sigma:
							t.Errorf("setup %d, round %d, line %d: %.3f Hz with nothing there, want sigma, %.3f", k, n, line, got, sigma)
						case got > sigma || got < want*(1-1e-9) || got > 1.3*want:
							// A cell that is Sigma strong has Sigma²/Quiet² = 1 + 0.7/√2·Sigma/Quiet,
							// so that Sigma is 1.28 times Quiet; weaker ones less.
							t.Errorf("setup %d, round %d, line %d: %.3f Hz of sigma %.3f, want %.3f", k, n, line, got, sigma, want)
						}
					}
				}
			}
		})
	}
}

func TestAlpha(t *testing.T) {
	snr := []float64{0, 20, 60, 1000, 400}
	always, never := func(int) bool { return true }, func(int) bool { return false }
	for _, alpha := range []float64{0, 0.2, 0.7} {
		of := func(snr []float64, stored func(int) bool) float64 {
			in := night(alpha, 24, snr, stored)
			return New(in, in.Sweeps[0].Readings[0].Segment).Alpha()
		}
		// Two readings have 1/√2 of one's, since Quiet falls by √2 and the line does not.
		if got, want := of(snr, always), alpha/math.Sqrt2; math.Abs(got-want) > 1e-9 {
			t.Errorf("of %.1f a reading: %.4f, want %.4f", alpha, got, want)
		}
		if got := of(snr, never); got != 0 {
			t.Errorf("of lines of which nothing but sigma is known: %.4f, want 0", got)
		}
		if got := of(snr[:2], always); got != 0 {
			t.Errorf("of weak lines: %.4f, want 0", got)
		}
	}
}

// A cell counts for Alpha from 16 times Quiet on.
func TestPowerThatTellsAlpha(t *testing.T) {
	cell := func(u float64, sigma float64) *Cell {
		return &Cell{Snr: []float64{10 * u}, Sigma: []float64{10 * sigma}, Quiet: []float64{10}}
	}
	m := &Matrix{Cells: [][]*Cell{{cell(15.5, 9), nil, cell(16.5, math.Sqrt(1+0.5*16.5))}}}
	if got := m.Alpha(); math.Abs(got-0.5) > 1e-9 {
		t.Errorf("%.3f, want 0.5 of the stronger cell alone", got)
	}
}
