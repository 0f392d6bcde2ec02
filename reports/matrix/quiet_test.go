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
						case line == 3 && stored(23): // by the Alpha of the other half
							if math.Abs(got/want-1) > 1e-9 {
								t.Errorf("setup %d, round %d, strong line: %.3f Hz, want %.3f", k, n, got, want)
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

// A line that is strong in every cell, of which nothing but sigma is stored, gets the quiet error that
// its sigma and the Alpha of the other lines give: that of 10 Hz here, as the line that is heard now and
// then has it, whose power of 400 Hz has sigma √(10² + 0.5·10·400) = 45.8 Hz.
func TestQuietOfStrongLines(t *testing.T) {
	sigma := func(snr float64) float64 { return math.Sqrt(100 + 0.5*10*max(0, snr)) }
	m := &Matrix{Lines: make([]float64, 2), Cells: make([][]*Cell, 1)}
	for _, snr := range [][2]float64{{-5, 900}, {-1, 3000}, {400, 300}, {300, 50000}, {-7, 800}} {
		m.Cells[0] = append(m.Cells[0], &Cell{Snr: snr[:], Sigma: []float64{sigma(snr[0]), sigma(snr[1])}, Quiet: []float64{math.NaN(), math.NaN()}, times: []int{1, 1}})
	}
	m.guessQuiet()
	for n, c := range m.Cells[0] {
		if math.Abs(c.Quiet[0]/10-1) > 1e-9 || math.Abs(c.Quiet[1]/10-1) > 1e-9 {
			t.Errorf("round %d: %.4f and %.4f Hz, want 10", n, c.Quiet[0], c.Quiet[1])
		}
	}
	if got := m.Alpha(); math.Abs(got-0.5) > 1e-9 {
		t.Errorf("alpha %.4f, want 0.5", got)
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
