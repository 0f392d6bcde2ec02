package envelope

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Envelopes for tests of bursts: 12 channels of 10 kHz, 20,000 samples a second, half a second.
const (
	burstRate        = 20e3
	burstIndependent = 6 // powers in a sample
	burstSamples     = 10000
	burstHalf        = 250 // samples in half a frame of 25 ms
)

// noisePower is the power of a sample of noise of mean 1.
func noisePower(r *rand.Rand) (power float64) {
	for range burstIndependent {
		power += r.ExpFloat64() / burstIndependent
	}
	return power
}

// steadyPower makes the summed envelope of steady noise.
func steadyPower(r *rand.Rand) []float64 {
	power := make([]float64, burstSamples)
	for i := range power {
		power[i] = noisePower(r)
	}
	return power
}

// addBurst adds noise so many times as strong from at on, for so many seconds.
func addBurst(power []float64, r *rand.Rand, at, seconds, over float64) {
	for i := int(at * burstRate); i < min(len(power), int((at+seconds)*burstRate)); i++ {
		power[i] += over * noisePower(r)
	}
}

// burstsIn looks for bursts in an envelope.
func burstsIn(power []float64) burstSums {
	var b burstDetector
	return b.add(power, burstRate, burstIndependent, burstHalf, make([]bool, burstSamples/burstHalf+2))
}

// foreign tells whether bursts were set apart.
func (s burstSums) foreign() bool { return s.keptCount < s.allCount }

// Bursts at random are set apart, and the floor is what it is without them.
func TestForeignBursts(t *testing.T) {
	taken := 0
	const trials = 100
	for seed := range uint64(trials) {
		r := rand.New(rand.NewPCG(seed, 1))
		power := steadyPower(r)
		for range 60 {
			addBurst(power, r, 0.5*r.Float64(), 0.5e-3, 100)
		}
		got := burstsIn(power)
		if !got.foreign() {
			continue
		}
		taken++
		// 9,000 samples of 6 powers scatter by 0.4 %; what is left is doubtful by 1 % of
		// the bursts' power, here 5 times the noise's.
		floor := got.kept / got.keptCount
		if math.Abs(floor-1) > 0.02 {
			t.Errorf("seed %d: %.3f of the noise's power", seed, floor)
		}
	}
	// Of 20 frequencies each is passed with exp(−8), of 30 with exp(−11), of 1500 with exp(−16):
	// one in 130 is taken for noise.
	if taken < trials-4 {
		t.Errorf("%d of %d sets of bursts are foreign", taken, trials)
	}
}

// Bursts that come with the mains count, also those that come so only more often at one time
// of its period: for a rate that goes as 1 + cos, coherence is a half, and of 60 bursts
// n·coherence² is 15 give or take some 6; for harmonics as well.
func TestBurstsWithTheMains(t *testing.T) {
	for _, hz := range []float64{50, 59.6, 100, 302.4} {
		foreign := 0
		for seed := range uint64(20) {
			r := rand.New(rand.NewPCG(seed, 2))
			power := steadyPower(r)
			for n := 0; n < 70; {
				at := 0.5 * r.Float64()
				if 2*r.Float64() < 1+math.Cos(2*math.Pi*hz*at) {
					addBurst(power, r, at, 0.2e-3, 100)
					n++
				}
			}
			if burstsIn(power).foreign() {
				foreign++
			}
		}
		if foreign > 4 {
			t.Errorf("%v Hz: %d of 20 sets of bursts are foreign", hz, foreign)
		}
	}
}

// Noise that is raised now and then passes the limit by its own scatter, here 70 times: only
// where a tenth of what passes stands out of stillness are there foreign bursts.
func TestRaisedNoiseIsNoBursts(t *testing.T) {
	for _, test := range []struct {
		alone   int
		foreign bool
	}{{7, false}, {40, true}} {
		r := rand.New(rand.NewPCG(6, 3))
		power := steadyPower(r)
		raised := []float64{0.013, 0.117, 0.181, 0.335, 0.427} // no row of any frequency
		for _, at := range raised {
			addBurst(power, r, at, 20e-3, 1.7) // some samples pass the limit
		}
		for n := 0; n < test.alone; {
			at := 0.5 * r.Float64()
			if !slices.ContainsFunc(raised, func(from float64) bool { return at > from-5e-3 && at < from+25e-3 }) {
				addBurst(power, r, at, 0.3e-3, 8)
				n++
			}
		}
		var b burstDetector
		got := b.add(power, burstRate, burstIndependent, burstHalf, make([]bool, burstSamples/burstHalf+2))
		if b.withMains() || b.periodic() {
			t.Fatal("bursts come with a frequency")
		}
		if got.foreign() != test.foreign {
			t.Errorf("%d of %d bursts stand alone beside raised noise: foreign %v", b.alone, len(b.bursts), got.foreign())
		}
	}
}

// In steady noise all bursts stand out of stillness: of the blocks beside 93 in 100 are within
// 1.5 standard errors of the level, of which three tenths are asked.
func TestBurstsInSteadyNoise(t *testing.T) {
	bursts, alone := 0, 0
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 4))
		power := steadyPower(r)
		for k := range 40 {
			addBurst(power, r, 0.005+0.012*float64(k), 0.3e-3, 100)
		}
		var b burstDetector
		b.add(power, burstRate, burstIndependent, burstHalf, make([]bool, burstSamples/burstHalf+2))
		bursts, alone = bursts+len(b.bursts), alone+b.alone
	}
	if bursts < 780 || alone < bursts {
		t.Errorf("%d of %d bursts stand alone", alone, bursts)
	}
}

// Bursts recur with a period where three tenths of them come with it, however many they are.
func TestPeriodOfManyBursts(t *testing.T) {
	for _, test := range []struct {
		swing    float64 // of their rate: twice the coherence
		periodic bool
	}{{0.4, false}, {0.9, true}} {
		r := rand.New(rand.NewPCG(8, 5))
		var b burstDetector
		for k := range 5000 {
			b.times = append(b.times, float64(k)*burstBlock)
			if 5*r.Float64() < 1+test.swing*math.Cos(2*math.Pi*73*b.times[k]) {
				b.bursts = append(b.bursts, Event{First: k, Last: k})
			}
		}
		if got := b.periodic(); got != test.periodic {
			t.Errorf("%d bursts whose rate swings by %v: periodic %v", len(b.bursts), test.swing, got)
		}
	}
}

// What the channels' filter makes of a burst for 0.4 ms on either side goes with it, and no
// more: of 200 bursts in half a second those blocks are a good third of the time.
func TestSkirtOfBursts(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 6))
	power := steadyPower(r)
	for range 200 {
		at := 0.5 * r.Float64()
		addBurst(power, r, at, 0.2e-3, 100)
		addBurst(power, r, max(0, at-0.35e-3), 0.9e-3, 0.5)
	}
	got := burstsIn(power)
	// 6,000 samples of 6 powers scatter by 0.5 %.
	if floor := got.kept / got.keptCount; !got.foreign() || math.Abs(floor-1) > 0.02 {
		t.Errorf("foreign %v, %.3f of the noise's power", got.foreign(), floor)
	}
}

// Of 1,200 bursts a second the wide skirts would take more than 60 % of the time: with narrow
// ones the floor is still what it is between them, 10 dB lower than the mean.
func TestNarrowSkirtOfBursts(t *testing.T) {
	for seed := range uint64(5) {
		r := rand.New(rand.NewPCG(seed, 7))
		power := steadyPower(r)
		for range 600 {
			addBurst(power, r, 0.5*r.Float64(), 0.1e-3, 100)
		}
		got := burstsIn(power)
		// 5,000 samples of 6 powers scatter by 0.6 %.
		if floor := got.kept / got.keptCount; !got.foreign() || math.Abs(floor-1) > 0.02 {
			t.Errorf("seed %d: foreign %v, %.3f of the noise's power", seed, got.foreign(), floor)
		}
	}
}
