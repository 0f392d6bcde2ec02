package onair

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/series"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

var worldsFlag = flag.Int("worlds", 12, "simulated worlds of TestTransmissions")

// A world is an amateur band with random transmissions, heard through two setups of which the
// second stands gain dB better over its noise. Transmissions last seconds; those in a visit are in
// no other. Simulated: spectra are made of slots of noise, with what is on the air in each.
type world struct {
	rounds, slots, readings int
	rate                    float64 // transmissions a minute
	level                   float64 // dB over a slot's noise, mean; scatters by 8 dB
	gain                    float64 // dB
	// shape gives the noise in a slot, in dB, through a setup in a round.
	shape func(setup, round int, slot float64) float64
	// house puts in what the house makes, in parts of the noise.
	house    func(setup, round, slot int) float64
	findings func(round int) []survey.Finding
}

// evening is the world by which the method is measured: 30 transmissions a minute in 50 kHz.
func evening() world {
	return world{rounds: 24, slots: 20, readings: 3, rate: 30, level: 12, gain: 6}
}

const (
	spacing    = 3.3 // s from one reading of a visit to the next
	lasting    = 8.0 // s, mean of a transmission
	binsInSlot = 8
	bin        = float64(SlotWidth) / binsInSlot
)

var testSetups = []survey.Setup{{Antenna: "whip", Placement: "attic"}, {Antenna: "loop", Placement: "attic"}}

func (w world) segment() survey.Segment {
	return survey.Segment{Name: "10 m amateur", Low: 28e6, High: 28e6 + SlotWidth*survey.Hz(w.slots)}
}

// air makes the world's rows and spectra and has them compared.
func (w world) air(seed uint64) (*Air, []input.RoundKey) {
	random := rand.New(rand.NewPCG(seed, 0x616972))
	in := input.Selection{Reference: testSetups[0]}
	in.Surveys = []survey.Survey{{ID: 1, Kind: survey.KindRecord, Simulated: true}}
	spectra := map[int64]*survey.Spectrum{}
	var rounds []input.RoundKey
	var activity, path float64
	var drift [2]float64
	visit, id := 0, int64(0)
	for n := range w.rounds {
		activity = 0.8*activity + 0.6*random.NormFloat64()
		path = 0.9*path + math.Sqrt(1-0.81)*3*random.NormFloat64()
		for k := range drift {
			drift[k] = 0.6*drift[k] + 0.8*0.5*random.NormFloat64()
		}
		rounds = append(rounds, input.RoundKey{Survey: 1, Round: n + 1})
		for _, k := range random.Perm(2) {
			visit++
			over := path - drift[k]
			if k == 1 {
				over += w.gain
			}
			for i, slots := range w.heard(random, w.rate*math.Exp(0.4*activity)/60, over) {
				id++
				at := time.Date(2026, 11, 3, 18, 4*n, 60*k+3*i, 0, time.UTC)
				r := survey.Reading{ID: id, Segment: w.segment(), Start: at, Duration: time.Second / 2, Floor: &survey.Floor{Density: -100}}
				if w.findings != nil {
					r.Findings = w.findings(n)
				}
				in.Sweeps = append(in.Sweeps, &survey.Sweep{Survey: 1, Round: n + 1, Visit: visit, Setup: testSetups[k], Start: at,
					Readings: []survey.Reading{r}})
				spectra[id] = w.spectrum(random, k, n, slots)
			}
		}
	}
	a := New(in)
	for i := range id {
		a.Add(i+1, spectra[i+1])
	}
	return a, rounds
}

// heard gives what a visit hears, by reading and slot, in parts of the noise: transmissions
// that are on when it begins and those that begin in it.
func (w world) heard(random *rand.Rand, rate, over float64) [][]float64 {
	whole := float64(w.readings) * spacing
	out := make([][]float64, w.readings)
	for i := range out {
		out[i] = make([]float64, w.slots)
	}
	begun := poisson(random, rate*lasting)
	for i := range begun + poisson(random, rate*whole) {
		start := 0.0
		if i >= begun {
			start = whole * random.Float64()
		}
		end := start + lasting*random.ExpFloat64()
		level := w.level + 8*random.NormFloat64() + over + 3*random.NormFloat64() // the last: its own fading
		slot := random.IntN(w.slots)
		for j := range out {
			if at := float64(j) * spacing; start <= at && at < end {
				out[j][slot] += stats.FromDecibel(level + 3*random.NormFloat64()) // speech
			}
		}
	}
	return out
}

// spectrum makes the spectrum of a reading, with the scatter of its noise.
func (w world) spectrum(random *rand.Rand, setup, round int, slots []float64) *survey.Spectrum {
	s := &survey.Spectrum{First: 28e6 + survey.Hz(bin)/2, Step: survey.Hz(bin), Density: make([]float32, binsInSlot*w.slots)}
	for b := range s.Density {
		noise := 1.0
		if w.shape != nil {
			noise = stats.FromDecibel(w.shape(setup, round, float64(b)/binsInSlot))
		}
		part := 1 + slots[b/binsInSlot]
		if w.house != nil {
			part += w.house(setup, round, b/binsInSlot)
		}
		// A slot of half a second has 1,200 looks, a bin of ours 150 that do not depend on its neighbours'.
		part *= 1 + random.NormFloat64()/math.Sqrt(0.5*bin)
		s.Density[b] = float32(-100 + stats.Decibel(noise*max(part, 1e-3)))
	}
	return s
}

func poisson(random *rand.Rand, mean float64) (n int) {
	for at := random.ExpFloat64(); at < mean; at += random.ExpFloat64() {
		n++
	}
	return n
}

// compared gives the advantage with half of its 95 % interval, as a ranking of two setups does.
func compared(c Comparison) (mean, half float64) {
	y := series.Series{Values: c.ByRound, Stratum: make([]int, len(c.ByRound))}
	for i := range c.ByRound {
		y.Times = append(y.Times, float64(i))
	}
	f := series.Of(y)
	m := f.By(series.Pool([]*series.Fit{f}, 2), nil)
	low, high, ok := m.Interval()
	if !ok {
		return m.Mean, math.NaN()
	}
	return m.Mean, (high - low) / 2
}

// A tally counts answers over worlds.
type tally struct{ answered, held, claimed, wrong, bias, half float64 }

func (w world) tally(worlds int) (t tally) {
	for seed := range worlds {
		a, rounds := w.air(uint64(seed))
		c, _ := a.Compare(w.segment(), rounds, testSetups[1], testSetups[0])
		if c.ByRound == nil {
			continue
		}
		mean, half := compared(c)
		t.answered++
		t.bias, t.half = t.bias+mean-w.gain, t.half+half
		if math.Abs(mean-w.gain) <= half {
			t.held++
		}
		if math.Abs(mean) > half {
			t.claimed++
			if mean*w.gain <= 0 {
				t.wrong++
			}
		}
	}
	return t
}

// TestTransmissions: two antennas 6 dB apart are told to be so by random short
// transmissions. With -worlds 95 it is what the README and STATISTICS.md state.
func TestTransmissions(t *testing.T) {
	with := func(change func(w *world)) world {
		w := evening()
		change(&w)
		return w
	}
	n := *worldsFlag
	if testing.Short() { // the race detector takes ten times as long
		n = min(n, 2)
	}
	for _, test := range []struct {
		name        string
		world       world
		least, most float64 // share of the worlds: the truth held, and answered
		mostClaimed float64
	}{
		{"30 a minute, 20 slots", evening(), 90.0 / 95, 1, 1},
		{"the same, 80 slots", with(func(w *world) { w.slots = 80 }), 90.0 / 95, 1, 1},
		{"10 readings a visit", with(func(w *world) { w.readings = 10 }), 90.0 / 95, 1, 1},
		{"12 rounds", with(func(w *world) { w.rounds = 12 }), 90.0 / 95, 1, 1},
		{"60 rounds", with(func(w *world) { w.rounds = 60 }), 90.0 / 95, 1, 1},
		{"90 a minute", with(func(w *world) { w.rate = 90 }), 90.0 / 95, 1, 1},
		{"9 dB weaker", with(func(w *world) { w.level = 3 }), 90.0 / 95, 1, 1},
		{"equal antennas", with(func(w *world) { w.gain = 0 }), 90.0 / 95, 1, 3.0 / 95},
		{"10 a minute", with(func(w *world) { w.rate = 10 }), 0, 0.5, 1},
		{"10 a minute, 10 readings", with(func(w *world) { w.rate, w.readings = 10, 10 }), 0.8, 1, 1},
	} {
		got := test.world.tally(n)
		t.Logf("%-26s answered %2.0f of %d, held in %2.0f, bias %+.2f dB, half width %.1f dB, told apart %2.0f, wrong way %.0f", test.name, got.answered, n,
			got.held, got.bias/got.answered, got.half/got.answered, got.claimed, got.wrong)
		// Of few worlds one more may miss than their share.
		all := float64(n)
		if got.held < math.Floor(test.least*all)-slack(n) || got.answered-got.held > 0.06*all+slack(n) || got.answered > test.most*all+slack(n) ||
			got.claimed > test.mostClaimed*all+slack(n) || got.wrong > 0.02*all {
			t.Errorf("%s: %+v", test.name, got)
		}
	}
}

// slack is one world where there are few.
func slack(worlds int) float64 {
	if worlds < 95 {
		return 1
	}
	return 0
}

// none are worlds without any transmission.
func none(change func(w *world)) world {
	w := evening()
	w.rate, w.gain = 0, 0
	change(&w)
	return w
}

// What is noise through both setups, however it is shaped, is no transmission, nor is what the
// house makes.
func TestNothingOnTheAir(t *testing.T) {
	for name, w := range map[string]world{
		"noise":       none(func(w *world) {}),
		"400 slots":   none(func(w *world) { w.slots = 400 }),
		"14 readings": none(func(w *world) { w.readings = 14 }),
		"one reading": none(func(w *world) { w.readings = 1 }),
		"falls by 5 dB/MHz": none(func(w *world) {
			w.slots, w.readings, w.shape = 150, 6, func(_, _ int, slot float64) float64 { return -0.012 * slot }
		}),
		"rises in half of the rounds": none(func(w *world) {
			w.slots, w.shape = 150, func(k, n int, slot float64) float64 { return float64(n%2) * 4 * slot / 150 }
		}),
		"ripple of 3 dB, 500 kHz": none(func(w *world) {
			w.slots, w.shape = 400, func(_, _ int, slot float64) float64 { return 1.5 * math.Sin(slot*2.4/500*2*math.Pi) }
		}),
		"a steep antenna": none(func(w *world) {
			w.shape = func(k, _ int, slot float64) float64 { return -float64(k) * (slot - 10) * (slot - 10) / 20 }
		}),
		"a steady line in two slots": none(func(w *world) {
			w.house = func(_, _, slot int) float64 { return map[int]float64{4: 30, 13: 5}[slot] }
		}),
		"a faint steady line": none(func(w *world) {
			w.readings, w.house = 14, func(_, _, slot int) float64 { return map[int]float64{6: 0.1}[slot] }
		}),
		"a line in one slot of both, on in a third of the rounds": none(func(w *world) {
			w.house = func(_, n, slot int) float64 { return map[bool]float64{true: 10}[n%3 == 0 && slot == 6] }
		}),
	} {
		for seed := range uint64(2) {
			if testing.Short() && seed > 0 {
				break
			}
			a, rounds := w.air(seed)
			if c, ok := a.Compare(w.segment(), rounds, testSetups[1], testSetups[0]); !ok || c.ByRound != nil {
				t.Errorf("%s, seed %d: %d quantiles of %d slots count in %d rounds", name, seed, c.Quantiles, c.Slots, c.Rounds)
			}
		}
	}
}

// errorOf gives by how much the mean advantage over some worlds is off, and its standard error.
func (w world) errorOf(worlds int) (bias, sigma float64) {
	var all []float64
	for seed := range worlds {
		a, rounds := w.air(uint64(100 + seed))
		if c, _ := a.Compare(w.segment(), rounds, testSetups[1], testSetups[0]); c.ByRound != nil {
			mean, _ := compared(c)
			all = append(all, mean-w.gain)
		}
	}
	bias, variance := stats.MeanVariance(all)
	return bias, math.Sqrt(variance / float64(len(all)))
}

// A noise that is not level over the band, or changes its course, moves no advantage.
func TestUnevenNoise(t *testing.T) {
	w := evening()
	w.slots, w.readings = 150, 4
	w.rate = 200
	w.shape = func(k, n int, slot float64) float64 { return 3*math.Sin(slot/30+float64(n)) - float64(k)*slot/50 }
	if testing.Short() {
		t.Skip("-short: long arithmetic of one goroutine")
	}
	if bias, sigma := w.errorOf(8); !(math.Abs(bias) < 3*sigma) || sigma > 0.5 {
		t.Errorf("off by %.2f ± %.2f dB", bias, sigma)
	}
}

// The lines of a comb that one antenna picks up do not count, in the rounds in which it was found.
func TestCombLinesDoNotCount(t *testing.T) {
	const comb = 9.7e3 // Hz: a line in every fourth slot
	w := evening()
	w.slots, w.readings, w.gain = 40, 10, 0
	w.rate = 60
	on := func(n int) bool { return n%2 == 0 }
	lines := func(k, n, slot int) float64 {
		low := 28e6 + float64(SlotWidth)*float64(slot)
		for line := math.Ceil(28e6/comb) * comb; line < 28.1e6; line += comb {
			// Sidebands of twice and four times the mains frequency reach over a slot's edge.
			for _, f := range []float64{line - 200, line, line + 200} {
				if k == 1 && on(n) && f >= low && f < low+float64(SlotWidth) {
					return 300
				}
			}
		}
		return 0
	}
	w.house = lines
	w.findings = func(n int) []survey.Finding {
		return []survey.Finding{{Kind: survey.FindingComb, Spacing: comb, Confidence: map[bool]float64{true: 0.9999}[on(n)]}}
	}
	a, rounds := w.air(1)
	c, _ := a.Compare(w.segment(), rounds, testSetups[1], testSetups[0])
	mean, half := compared(c)
	if !(math.Abs(mean) < half) || c.Quantiles == 0 || c.Slots != 32 {
		t.Errorf("%.1f ± %.1f dB by %d slots, want 0 by 32: 24 in half of the rounds and 40 in the others", mean, half, c.Slots)
	}
	w.findings = nil
	a, rounds = w.air(1)
	c, _ = a.Compare(w.segment(), rounds, testSetups[1], testSetups[0])
	if mean, half = compared(c); mean < half {
		t.Errorf("%.1f ± %.1f dB where nothing was found: the world is no test", mean, half)
	}
}

// What Compare says of segments, rounds and slots.
func TestWhatIsCompared(t *testing.T) {
	w := evening()
	w.slots, w.rate, w.readings = 40, 120, 6
	a, rounds := w.air(3)
	if _, ok := a.Compare(survey.Segment{Name: "31 m", Low: 9.4e6, High: 9.9e6}, rounds, testSetups[1], testSetups[0]); ok {
		t.Error("a broadcasting band is compared")
	}
	if got := a.Segments(); !slices.Equal(got, []string{"10 m amateur"}) {
		t.Errorf("wants spectra of %v", got)
	}
	some := append([]input.RoundKey{{Survey: 7, Round: 1}}, rounds[3:9]...)
	c, ok := a.Compare(w.segment(), some, testSetups[1], testSetups[0])
	back, _ := a.Compare(w.segment(), some, testSetups[0], testSetups[1])
	if !ok || len(c.ByRound) != 7 || c.Rounds != 6 || !math.IsNaN(c.ByRound[0]) || c.Quantiles < 3 || c.Slots < 30 {
		t.Fatalf("%+v, %v", c, ok)
	}
	for i := 1; i < 7; i++ {
		if math.Abs(c.ByRound[i]+back.ByRound[i]) > 1e-9 || math.Abs(c.ByRound[i]) > 30 {
			t.Errorf("round %d: %v there, %v back", i, c.ByRound[i], back.ByRound[i])
		}
	}
	if c, ok := a.Compare(w.segment(), rounds, survey.Setup{Antenna: "wire"}, testSetups[0]); !ok || c.ByRound != nil || c.Rounds != 0 {
		t.Errorf("a setup that was never in place: %+v, %v", c, ok)
	}
	for slots, want := range map[int]bool{4: false, 5: true} {
		w.slots = slots
		a, rounds = w.air(3)
		if c, _ := a.Compare(w.segment(), rounds, testSetups[1], testSetups[0]); (c.ByRound != nil) != want {
			t.Errorf("%d slots: %+v, want compared: %v", slots, c, want)
		}
	}
}

// Faint transmissions count as far as they stand out of the noise, and slots whose noise is a little
// off that about them stay.
func TestWhichSlotsAndQuantilesCount(t *testing.T) {
	for name, test := range map[string]struct {
		change    func(w *world)
		slots     float64 // least, of 100
		quantiles float64 // least, mean over the worlds
	}{
		"faint":             {func(w *world) { w.level, w.readings = -8, 6 }, 98, 1.5},
		"long visits":       {func(w *world) { w.readings, w.shape = 30, ripple(0.2, 60) }, 98, 5},
		"ripple of 300 kHz": {func(w *world) { w.shape = ripple(1, 300) }, 95, 2},
		"crowded":           {func(w *world) { w.rate = 400 }, 95, 4},
	} {
		w := evening()
		w.slots, w.rate, w.rounds = 100, 100, 12
		test.change(&w)
		var slots, quantiles float64
		const seeds = 2
		for seed := range uint64(seeds) {
			a, rounds := w.air(seed)
			c, _ := a.Compare(w.segment(), rounds, testSetups[1], testSetups[0])
			slots, quantiles = slots+float64(c.Slots)/seeds, quantiles+float64(c.Quantiles)/seeds
		}
		t.Logf("%s: %.1f slots, %.2f quantiles", name, slots, quantiles)
		if slots < test.slots || quantiles < test.quantiles {
			t.Errorf("%s: %.1f slots, %.2f quantiles count, want %v, %v or more", name, slots, quantiles, test.slots, test.quantiles)
		}
	}
}

// ripple is noise that goes up and down by so many dB in all with a period in kHz.
func ripple(height, period float64) func(setup, round int, slot float64) float64 {
	return func(_, _ int, slot float64) float64 { return height / 2 * math.Sin(slot*2.4/period*2*math.Pi) }
}
