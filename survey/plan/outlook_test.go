package plan

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

func TestOutlook(t *testing.T) {
	p := Plan{Setups: make([]survey.Setup, 3), Segments: make([]survey.Segment, 4), Dwell: 500 * time.Millisecond, Sweeps: 10, Rounds: 20}
	o := p.Outlook(3, 0)
	// A sweep of 3 · 0.55 s, a visit of 10 of them and 1 s, a round of 3 visits.
	if o.Sweep != 1650*time.Millisecond || o.Visit != 17500*time.Millisecond || o.Round != 52500*time.Millisecond || o.Total != 17*time.Minute+30*time.Second {
		t.Errorf("%+v", o)
	}
	if o.Sweeps != 600 || o.Readings != 2400 || o.PerSetup != 100*time.Second || o.Bytes != 2400*4600 {
		t.Errorf("%+v", o)
	}
	// Simulated 1.89 dB by fading (TestFadingIsAsSimulated), and 0.52 by floors: 1.96 dB, so 14.8 + 2 rounds.
	if o.Scatter < 1.93 || o.Scatter > 2.0 || o.Needed != 17 {
		t.Errorf("scatter %.3f dB, %d rounds", o.Scatter, o.Needed)
	}
	if o := p.Outlook(3, 10*time.Minute); o.Rounds != 11 || o.Total != 11*52500*time.Millisecond {
		t.Errorf("in ten minutes: %+v", o)
	}
	// A person takes half a minute in place of a second.
	p.Change.By = ByPerson
	if o := p.Outlook(3, 0); o.Visit != 46500*time.Millisecond {
		t.Errorf("by hand: %+v", o)
	}
	// Two minutes to another placement: of three setups in two placements 4 of 6 pairs lie apart, so that a change
	// takes (2 · 30 + 4 · 120)/6 = 90 s.
	rooms := p
	rooms.Setups = []survey.Setup{{Antenna: "whip", Placement: "study"}, {Antenna: "loop", Placement: "study"}, {Antenna: "whip", Placement: "loft"}}
	if o := rooms.Outlook(3, 0); o.Visit != 106500*time.Millisecond {
		t.Errorf("by hand in two placements: %+v", o)
	}
	if said := rooms.Describe(rooms.Outlook(3, 0), 3, 0, nil); !strings.Contains(said, "half a minute is reckoned for each change by hand, two minutes to another placement (some 40 of 60)\n") {
		t.Errorf("%s", said)
	}
	p.Change.By = ""
	// A rotator takes a quarter of a minute beside that: 10 s a visit where it turns two of three setups.
	turned := p
	turned.Change.Rotator = &Rotator{Antennas: []string{"loop"}}
	turned.Setups = []survey.Setup{{Antenna: "loop", Bearing: survey.BearingOf(0)}, {Antenna: "loop", Bearing: survey.BearingOf(90)}, {Antenna: "whip"}}
	if o := turned.Outlook(3, 0); o.Visit != 27500*time.Millisecond {
		t.Errorf("by a rotator: %+v", o)
	}
	p.Rounds = 0
	if o := p.Outlook(3, 0); o.Rounds != 0 || o.Total != 0 || o.Bytes != 0 {
		t.Errorf("without end: %+v", o)
	}
	p.Every = 5 * time.Minute
	if o := p.Outlook(3, 10*time.Hour); o.Visit != 5*time.Minute || o.Busy != 17500*time.Millisecond || o.Rounds != 40 {
		t.Errorf("every five minutes: %+v", o)
	}
}

// Of 8 rounds the interval is by Student's t a fifth wider than many rounds would make it
// (2.36 in place of 1.96), which is doubted; of 20 it is by a fifteenth (2.09).
func TestFewRounds(t *testing.T) {
	for rounds, doubted := range map[int]bool{8: true, 20: false} {
		p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 1), Dwell: 500 * time.Millisecond, Sweeps: 100, Rounds: rounds}
		if doubts := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n"); strings.Contains(doubts, "shorten the visits or record longer") != doubted {
			t.Errorf("%d rounds: %s", rounds, doubts)
		}
	}
}

// A person who is asked 100 times is not doubted.
func TestChangesByHand(t *testing.T) {
	for setups, doubted := range map[int]bool{4: false, 5: true} { // 96 and 105
		p := Plan{Setups: make([]survey.Setup, setups), Segments: make([]survey.Segment, 1), Dwell: 500 * time.Millisecond, Sweeps: 100, Rounds: map[int]int{4: 24, 5: 21}[setups], Change: Change{By: ByPerson}}
		if doubts := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n"); strings.Contains(doubts, "a person is asked up to") != doubted {
			t.Errorf("%d setups: %s", setups, doubts)
		}
	}
}

// Under six rounds there is no interval, however long the visits, and eight
// carriers never take more than one.
func TestRoundsNeeded(t *testing.T) {
	for sweeps := 1; sweeps <= 1e6; sweeps *= 3 {
		p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 1), Dwell: 500 * time.Millisecond, Sweeps: sweeps}
		if o := p.Outlook(1, 0); o.Needed < 6 || o.NeededOnEight < 6 || o.NeededOnEight > o.Needed {
			t.Errorf("%d sweeps: %d rounds, on eight carriers %d", sweeps, o.Needed, o.NeededOnEight)
		}
	}
	// Snapshots: (1.96 · 7.9)² = 239.8 and 1 by floors; of eight carriers 239.8/8 + 1 = 31.0; two more for both.
	p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 1), Dwell: 20 * time.Millisecond, Sweeps: 1}
	if o := p.Outlook(1, 0); o.Needed < 241 || o.Needed > 246 || o.NeededOnEight < 32 || o.NeededOnEight > 34 {
		t.Errorf("%d rounds, on eight carriers %d", o.Needed, o.NeededOnEight)
	}
}

// What fades by Rayleigh's law with a Gaussian Doppler spectrum of 0.5 Hz (two-sided, 2 sigma) is listened to
// as visits do; the difference of two visits that fade apart scatters as plans reckon. A continuous half
// minute: 6.14·√(0.564/(0.5·30)) = 1.19 dB. So long visits as new plans ask for come near to it.
func TestFadingIsAsSimulated(t *testing.T) {
	const trials = 3000 // counting error 1.3 %
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name         string
		sweeps       int
		dwell, sweep float64
		want         float64 // dB, of 20,000 trials
		within       float64 // a share
	}{
		{"a continuous half minute", 1, 30, 30, 1.19, 0.04},
		{"14 sweeps of four tunings", 14, 0.5, 2.2, 1.59, 0.04},
		{"28 sweeps of two", 28, 0.5, 1.1, 1.20, 0.04},
		{"10 sweeps of three", 10, 0.5, 1.65, 1.89, 0.04},
		{"3 sweeps of two", 3, 0.5, 1.1, 3.73, 0.06},
		{"a snapshot", 1, 0.02, 0.07, 7.88, 0.04},
	} {
		got := fadingScatter(fadingVariance(c.sweeps, c.dwell, c.sweep))
		simulated := math.Sqrt2 * fadedSpread(rng, trials, c.sweeps, c.dwell, c.sweep)
		if math.Abs(got/c.want-1) > c.within || math.Abs(simulated/c.want-1) > 0.05 {
			t.Errorf("%s: %.3f dB, simulated %.3f, want %.2f", c.name, got, simulated, c.want)
		}
	}
}

// fadedSpread gives the standard deviation in dB of the mean power of visits: white noise filtered to a
// Gaussian spectrum whose sigma is half of fadingSpread, its power taken in the dwells.
func fadedSpread(rng *rand.Rand, trials, sweeps int, dwell, sweep float64) float64 {
	step := min(0.1, dwell/5)
	sigma := 1 / (math.Sqrt2 * math.Pi * fadingSpread) / step // of the filter's response, steps
	half := int(4 * sigma)
	filter := make([]float64, 2*half+1)
	energy := 0.0
	for i := range filter {
		x := float64(i-half) / sigma
		filter[i] = math.Exp(-x * x / 2)
		energy += filter[i] * filter[i]
	}
	inDwell := int(math.Round(dwell / step))
	noise := make([]complex128, int(float64(sweeps)*sweep/step)+inDwell+len(filter))
	var sum, squares float64
	for range trials {
		for i := range noise {
			noise[i] = complex(rng.NormFloat64(), rng.NormFloat64())
		}
		power := 0.0
		for s := range sweeps {
			begin := int(math.Round(float64(s) * sweep / step))
			for at := begin; at < begin+inDwell; at++ {
				var h complex128
				for i, w := range filter {
					h += noise[at+i] * complex(w, 0)
				}
				power += real(h)*real(h) + imag(h)*imag(h)
			}
		}
		db := 10 * math.Log10(power/energy)
		sum += db
		squares += db * db
	}
	n := float64(trials)
	return math.Sqrt(squares/n - sum/n*sum/n)
}

// What the plan gives comes first; a plan without so many rounds is told what it takes.
func TestWhatRoundsGive(t *testing.T) {
	for rounds, want := range map[int]string{
		24: "24 rounds tell two antennas apart to ±0.7 dB on one carrier, ±0.3 dB on eight; ±1 dB takes 13 and 6 (fading of 0.5 Hz, floors that drift by half a dB; what lasts takes more)\n",
		4:  "to tell two antennas apart to ±1 dB takes 13 rounds on one carrier, 6 on eight (fading of",
	} {
		p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 4), Dwell: 500 * time.Millisecond, Sweeps: 14, Rounds: rounds}
		if said := p.Describe(p.Outlook(4, 0), 4, 0, nil); !strings.Contains(said, want) {
			t.Errorf("%d rounds: %s", rounds, said)
		}
	}
}

// A minus sign is one, and no hyphen.
func TestRoundingHasAMinusSign(t *testing.T) {
	p := Plan{Setups: make([]survey.Setup, 1), FrontEnd: survey.FrontEnd{Way: survey.WayDirectQ}}
	if said := strings.Join(p.Doubts(p.Outlook(1, 0), 0), "\n"); !strings.Contains(said, "8 bits, −113.7 dBFS/Hz") {
		t.Errorf("%s", said)
	}
}

// However many carriers there are, they share the floors: eight of them in visits so long that no fading is
// left still differ by what floors do, 0.52 dB, and what is promised of them is no better.
func TestFloorsAreSharedByCarriers(t *testing.T) {
	p := Plan{Setups: make([]survey.Setup, 2), Segments: make([]survey.Segment, 1), Dwell: 500 * time.Millisecond, Sweeps: 1000}
	o := p.Outlook(1, 0)
	if o.OnEight < 0.51 || o.OnEight > 0.56 || o.Scatter < o.OnEight {
		t.Errorf("%.3f dB, on eight carriers %.3f", o.Scatter, o.OnEight)
	}
	// 96 rounds: 1.96 · 0.53 / √94 = 0.11 dB.
	if h := within(96, o.OnEight); h < 0.10 || h > 0.115 {
		t.Errorf("±%.3f dB", h)
	}
}

// Pairs by the formula of PHYSICS.md 9.3, before two are added for Student's t.
func TestPairsFor(t *testing.T) {
	for _, c := range []struct {
		h, s survey.DB
		want int
	}{{0.5, 1.5, 35}, {1, 3, 35}, {2, 3, 9}, {1, 8, 246}, {0.5, 6, 553}, {1, 4, 61}} {
		// These are rounded; pairsFor rounds up.
		if got := pairsFor(c.h, c.s) - 2; got != c.want && got != c.want+1 {
			t.Errorf("s %v, h %v: %d, want %d", c.s, c.h, got, c.want)
		}
	}
}
