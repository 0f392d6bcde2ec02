package interference

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"nightfloor/dsp/envelope"
	"nightfloor/dsp/stat"
)

// Figures of the search for noise modulated by the mains (METHODS.md 9.1); chosen, but for
// what is said.
const (
	mainsStep      = 0.25    // Hz from trial to trial: half a second loses 1.3 % of the power between two
	mainsShortest  = 0.05    // s: five periods of 100 Hz; a shorter stretch tells nothing
	mainsBlock     = 0.85e-3 // s over which the power is averaged first
	FewestChannels = 4       // fewer cannot tell the house's noise from one station's hum
	mainsStands    = 1e-3    // P up to which the modulation is measured at its own frequency

	// What stands at the modulation's frequency is compared with what stands beside it, at
	// frequencies half a resolution apart, save those within besideReach resolutions of the
	// mains' harmonics. Where one of these has besideShare of the power, the modulation is
	// one of a row of lines, not the mains'.
	besideLow, besideHigh = 20.0, 400.0 // Hz
	besideReach           = 1.2
	besideShare           = 0.8
)

// A mainsDetector seeks noise modulated by the mains, in all free channels of the passband
// together (METHODS.md 9.1).
//
// c = mean(p·exp(−iωt)), p a channel's power over its mean, is half the depth of a cosine.
// It is a stat.Phasor for each channel, but Rayleigh's test of it would take the hum of one
// station for noise of the house. So the power that all channels share is held against what
// differs between them, F distributed with 2 and 2(K−1) degrees of freedom; and, for what
// makes all channels swing at once but not with the mains, against the power at frequencies
// beside. Stretches add up without regard to the phase, for the mains wander.
type mainsDetector struct {
	trials    []mainsTrial
	beside    []besideLine
	stretches int
	seconds   float64 // of the stretches
	spread    float64 // Σ (K−1)
	channels  float64 // Σ seconds·K
	low, high int     // columns

	blocks  []float64 // channel by channel
	average []float64 // over channels
	turning []complex128
	swings  []complex128 // c by channel
	sorted  []float64
}

// A besideLine is a frequency beside the modulation's.
type besideLine struct {
	rate   float64 // Hz
	power  float64 // Σ seconds·|c|²
	square float64 // Σ seconds·|c|²·(mean density)²
}

// A mainsTrial is a frequency at which modulation is sought.
type mainsTrial struct {
	mains, rate float64 // Hz: nominal; of the modulation
	power       float64 // Σ seconds·|mean c|²
	between     float64 // Σ seconds·K·|mean c|²
	within      float64 // Σ seconds·Σ|c − mean c|²
	turn        complex128
	square      float64 // Σ seconds·|mean of c·density|²
	scatter     float64 // of it noise's, by the spread between channels
	wave        wave
}

// newMainsDetector readies the trials for the mains frequency, 0 for both.
func newMainsDetector(mains float64) *mainsDetector {
	d := &mainsDetector{}
	for _, nominal := range envelope.MainsNominal {
		if mains != 0 && mains != nominal {
			continue
		}
		steps := math.Floor(2 * nominal * envelope.MainsOff / mainsStep)
		for i := -steps; i <= steps; i++ {
			d.trials = append(d.trials, mainsTrial{mains: nominal, rate: 2*nominal + i*mainsStep})
		}
	}
	return d
}

// reset forgets the recording.
func (d *mainsDetector) reset() {
	for i := range d.trials {
		d.trials[i] = mainsTrial{mains: d.trials[i].mains, rate: d.trials[i].rate}
	}
	d.beside, d.stretches, d.seconds, d.spread, d.channels = d.beside[:0], 0, 0, 0, 0
}

// add takes in a stretch.
func (d *mainsDetector) add(c *envelope.Channels) {
	seconds := c.Seconds()
	if seconds < mainsShortest {
		return
	}
	length := envelope.BlockLength(c.Rate, mainsBlock)
	d.fill(c, length)
	rate := c.Rate / float64(length)
	if d.stretches == 0 {
		d.low, d.high = c.Low, c.High
		d.placeBeside(seconds)
	}
	d.low, d.high = min(d.low, c.Low), max(d.high, c.High)
	d.stretches++
	d.seconds += seconds
	d.spread += float64(c.Count() - 1)
	d.channels += seconds * float64(c.Count())
	start := c.Start + (float64(length)-1)/2/c.Rate // of the middle of the first block
	density := c.MeanDensity()
	for i := range d.beside {
		b := &d.beside[i]
		d.turn(len(d.average), b.rate, rate, start)
		power := seconds * stat.SquaredAbs(stat.Dot(d.average, d.turning))
		b.power += power
		b.square += power * density * density
	}
	for i := range d.trials {
		d.try(&d.trials[i], c, rate, start)
	}
}

// fill averages the power over blocks of length samples, less its mean.
func (d *mainsDetector) fill(c *envelope.Channels, length int) {
	n := c.Length / length
	d.average = slices.Grow(d.average[:0], n)[:n]
	clear(d.average)
	d.blocks = d.blocks[:0]
	for k := range c.Count() {
		power := c.Of(k)
		for b := range n {
			sum := float32(0)
			for _, p := range power[b*length : (b+1)*length] {
				sum += p
			}
			v := float64(sum)/float64(length) - 1
			d.blocks = append(d.blocks, v)
			d.average[b] += v / float64(c.Count())
		}
	}
}

// placeBeside chooses the frequencies beside for stretches of so many seconds.
func (d *mainsDetector) placeBeside(seconds float64) {
	reach := besideReach / seconds
	for rate := besideLow; rate <= besideHigh; rate += 0.5 / seconds {
		apart := true
		for _, mains := range envelope.MainsNominal {
			harmonic := math.Round(rate/mains) * mains
			apart = apart && math.Abs(rate-harmonic) > max(reach, harmonic*envelope.MainsOff)
		}
		if apart {
			d.beside = append(d.beside, besideLine{rate: rate})
		}
	}
}

// turn fills turning for n blocks, rate of them a second, the first at start seconds: with
// exp(−iωt)/n, so that stat.Dot gives a mean.
func (d *mainsDetector) turn(n int, hz, rate, start float64) {
	d.turning = slices.Grow(d.turning[:0], n)[:n]
	stat.Turns(d.turning, 1/float64(n), hz*start, hz/rate)
}

// sincOf gives sin(πx)/(πx).
func sincOf(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// try takes a stretch in at one frequency.
func (d *mainsDetector) try(t *mainsTrial, c *envelope.Channels, rate, start float64) {
	n, seconds, channels := len(d.average), c.Seconds(), float64(c.Count())
	d.turn(n, t.rate, rate, start)
	keeps := complex(sincOf(t.rate/rate), 0) // of a swing, by a block's mean
	d.swings = d.swings[:0]
	var mean, density complex128
	for k := range c.Count() {
		swing := stat.Dot(d.blocks[k*n:(k+1)*n], d.turning) / keeps
		d.swings = append(d.swings, swing)
		mean += swing / complex(channels, 0)
		density += swing * complex(c.Density[k]/channels, 0)
	}
	within, scatter := 0.0, 0.0
	for k, swing := range d.swings {
		within += stat.SquaredAbs(swing - mean)
		scatter += stat.SquaredAbs(swing*complex(c.Density[k], 0) - density)
	}
	t.power += seconds * stat.SquaredAbs(mean)
	t.between += seconds * channels * stat.SquaredAbs(mean)
	t.within += seconds * within
	t.square += seconds * stat.SquaredAbs(density)
	t.scatter += seconds * scatter / (channels - 1) / channels
	t.turn += cmplx.Conj(stat.Dot(d.average[:n/2], d.turning[:n/2])) * stat.Dot(d.average[n/2:], d.turning[n/2:])
	t.wave.add(c, t.rate/2)
}

// pValue gives the probability that noise gives a trial's evidence, at one
// frequency tried: the greater of that by the spread between channels and that by
// the frequencies beside.
func (d *mainsDetector) pValue(t *mainsTrial) float64 {
	if d.channels < FewestChannels*d.seconds || len(d.beside) < 2 || !(t.within > 0) {
		return 1
	}
	var sums, counts [2]float64 // below the frequency tried and above it
	most := 0.0
	for _, b := range d.beside {
		side := 0
		if b.rate > t.rate {
			side = 1
		}
		sums[side], counts[side] = sums[side]+b.power, counts[side]+1
		most = max(most, b.power)
	}
	if most > besideShare*t.power {
		return 1
	}
	// Swings fall or rise over frequency: what is between the two sides is no more than
	// the higher of them. Neighbours half a resolution apart count half.
	level := max(sums[0]/max(1, counts[0]), sums[1]/max(1, counts[1]))
	n, count := float64(d.stretches), (counts[0]+counts[1])/2
	return max(stat.RatioTail(n, t.between, d.spread, t.within), stat.RatioTail(n, t.power, n*count, level*count))
}

// besideMedian gives what noise has at the frequency tried, as the median of the frequencies
// beside tells: the modulation itself leaks into some.
func (d *mainsDetector) besideMedian(of func(b besideLine) float64) float64 {
	d.sorted = d.sorted[:0]
	for _, b := range d.beside {
		d.sorted = append(d.sorted, of(b))
	}
	if len(d.sorted) == 0 {
		return 0
	}
	n := float64(d.stretches)
	return stat.Select(d.sorted, len(d.sorted)/2) * n / stat.GammaQuantile(n, 0.5)
}

// noiseBy gives what is noise's by the spread between channels, or by the frequencies
// beside where that is clearly more: all channels swing at once. (The greater of both
// would be too much of noise alone.)
func (d *mainsDetector) noiseBy(spread, beside float64) float64 {
	if beside > spread*(1+3/math.Sqrt(d.spread)) {
		return beside
	}
	return spread
}

// noise gives the mean |mean c|² of noise.
func (d *mainsDetector) noise(t *mainsTrial) float64 {
	spread := t.within / d.spread * float64(d.stretches) * d.seconds / d.channels
	return d.noiseBy(spread, d.besideMedian(func(b besideLine) float64 { return b.power })) / d.seconds
}

// strongest gives the trial with the strongest modulation, and the probability that noise makes its
// evidence at any of the frequencies tried.
func (d *mainsDetector) strongest() (_ *mainsTrial, p float64) {
	most := slices.MaxFunc(d.trials, func(a, b mainsTrial) int { return cmp.Compare(a.power, b.power) })
	return &most, min(1, float64(len(d.trials))*d.pValue(&most))
}

// ownFrequency gives the modulation's own frequency, by how its phase goes on within the stretches.
func (d *mainsDetector) ownFrequency(t *mainsTrial) float64 {
	off := cmplx.Phase(t.turn) / math.Pi / (d.seconds / float64(d.stretches))
	nominal := 2 * t.mains
	return max(nominal*(1-envelope.MainsOff), min(nominal*(1+envelope.MainsOff), t.rate+off))
}

// result gives what was found, at the frequencies that hz gives columns; nil where nothing
// could be watched.
func (d *mainsDetector) result(hz func(column int) float64) *MainsModulation {
	if d.stretches == 0 {
		return nil
	}
	best, p := d.strongest()
	out := &MainsModulation{Mains: best.mains, Envelope: best.rate, P: p, Low: hz(d.low), High: hz(d.high - 1)}
	if p > mainsStands {
		// The greatest of many would read high where there is nothing.
		best = d.nominal(best.mains)
		out.Envelope = best.rate
	} else {
		out.Envelope = d.ownFrequency(best)
	}
	power, noise := best.power/d.seconds, d.noise(best)
	out.Square, out.Sigma = d.square(best)
	if p > mainsStands {
		out.Depth = min(1, 2*math.Sqrt(max(0, power-noise)))
		return out
	}
	course := best.wave.course(d.seconds, power, noise, true)
	out.Depth, out.Shape = course.depth(), course.shape(1/best.mains)
	return out
}

// square gives MainsModulation's Square and Sigma.
//
// A cosine of amplitude a swings by c = a/2. Of noise with variance v, |c + noise|² is
// |c|² + v with the variance 2|c|²v + v².
func (d *mainsDetector) square(t *mainsTrial) (value, sigma float64) {
	v := d.noiseBy(t.scatter, d.besideMedian(func(b besideLine) float64 { return b.square })) / d.seconds
	c := t.square/d.seconds - v
	return 4 * c, 4 * math.Sqrt((2*max(0, c)*v+v*v)/float64(d.stretches))
}

// nominal gives the trial at twice the nominal mains frequency.
func (d *mainsDetector) nominal(mains float64) *mainsTrial {
	return &d.trials[slices.IndexFunc(d.trials, func(t mainsTrial) bool { return t.rate == 2*mains })]
}
