// Package droop measures how much a receiver's own filters take off over its passband, with
// noise that is as strong everywhere, and says how much that is at an offset.
//
// With a terminator at its input, or a noise source, a receiver delivers white noise through
// all its filters, the tuner's included. A Passband takes looks at it, at several gains and
// tunings; its Curve is relative to the centre, with the scatter between looks as its error.
// Newest finds the curve of a receiver among its calibrations.
package droop

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"nightfloor/dsp/fft"
	"nightfloor/survey"
)

const (
	// points of the curve lie a 48th of the sample rate apart, 50 kHz at 2.4 MS/s: straight lines
	// between them err by 0.003 dB where the filter bends by 10 dB/MHz², as at the edges of the
	// usable passband (TestMeasuredDroop).
	points = 48
	// usedPoints on either side of the centre reach one beyond the usable passband, the
	// central two thirds.
	usedPoints = points/3 + 1
	// frame is in samples. Each point is the median over the 85 bins about it, which spurious
	// lines and the spike at the centre hardly move (TestLinesInThePassband).
	frame = 4096
	// alike is how many points on either side scatter as one does. The scatter of some ten looks
	// alone is known to a quarter of itself, and 90 of 100 points would lie within two standard
	// errors (TestMeasuredDroop).
	alike = 2
	// centrePoints on either side of the centre make its 0 dB.
	centrePoints = 2
)

const (
	// LeastOver is how far noise stands over rounding, which passes no filter, at the least: an
	// error of that by a tenth of itself is then one of 0.04 dB (TestRoundingIsNoDroop).
	LeastOver survey.DB = 10
	// leastLooks and leastSamples make the error known, and some 0.03 dB: 4.34 dB by the
	// root of bandwidth times time, a 48th of the samples (TestMeasuredDroop).
	leastLooks   = 8
	leastSamples = 1e6
	// mostSigma is the most that a point may be uncertain by (TestPoorLooks).
	mostSigma survey.DB = 0.1
	// mostDroop is more than filters take off within the usable passband, unless they are
	// narrower than it; nothing is measured in what they leave (TestPoorLooks).
	mostDroop survey.DB = 10
	// mostRise is by how much noise may be stronger than at the centre: a tuner's filter may lie off the
	// passband's centre, and more is noise from outside, of an antenna that was left on. Chosen (TestPoorLooks).
	mostRise survey.DB = 3
)

// A Passband is what several looks showed of the noise over a receiver's passband.
type Passband struct {
	rate     survey.Hz
	rounding float64 // density, full-scale units per hertz
	samples  int
	looks    [][]float64 // dB relative to the centre, by point
}

// New makes a Passband of which nothing is known. Rounding is the noise density that
// rounding to codes adds behind the filters, in full-scale units per hertz.
func New(rate survey.Hz, rounding float64) *Passband {
	return &Passband{rate: rate, rounding: rounding}
}

// Done tells whether there are looks enough for a curve.
func (p *Passband) Done() bool { return len(p.looks) >= leastLooks && p.samples >= leastSamples }

// Look takes the 8-bit I/Q of noise that passes the filters, at one gain and tuning. It is of
// no use, and false, where the noise does not stand over rounding.
func (p *Passband) Look(iq []byte) bool {
	power := make([]float32, frame)
	frames := 0.0
	fft.NewFramer(fft.Hann(frame), frame/2).WriteU8(iq, func(re, im []float32) {
		fft.AddPowers(power, re, im)
		frames++
	})
	bin := float64(p.rate) / frame * fft.HannENBW * frames
	look := make([]float64, 2*usedPoints+1)
	for i := range look {
		look[i] = median(power, i-usedPoints)/bin - p.rounding
	}
	centre := stat.Mean(look[usedPoints-centrePoints:usedPoints+centrePoints+1], nil)
	if !(centre > p.rounding*math.Pow(10, float64(LeastOver)/10)) {
		return false
	}
	for i, density := range look {
		look[i] = 10 * math.Log10(max(density/centre, 1e-3))
	}
	p.looks, p.samples = append(p.looks, look), p.samples+len(iq)/2
	return true
}

// median gives the median power of the bins about a point, counted from the centre.
func median(power []float32, point int) float64 {
	var near []float64
	const half = frame / points / 2
	for bin := point*frame/points - half; bin <= point*frame/points+half; bin++ {
		near = append(near, float64(power[(bin+frame)%frame]))
	}
	slices.Sort(near)
	return near[len(near)/2]
}

// Curve gives the mean of the looks, lowest offset first, or why there is none.
func (p *Passband) Curve() (curve []survey.Droop, why string) {
	if !p.Done() {
		return nil, "own noise does not stand 10 dB over the converter's steps at any gain"
	}
	responses, variances := make([]float64, 2*usedPoints+1), make([]float64, 2*usedPoints+1)
	for i := range responses {
		var at []float64
		for _, look := range p.looks {
			at = append(at, look[i])
		}
		responses[i], variances[i] = stat.MeanVariance(at, nil)
	}
	for i := -usedPoints; i <= usedPoints; i++ {
		at := i + usedPoints
		response, around := responses[at], variances[max(0, at-alike):min(len(variances), at+alike+1)]
		d := survey.Droop{Offset: p.rate * survey.Hz(i) / points, Response: survey.DB(response), Sigma: survey.DB(stat.StdErr(math.Sqrt(stat.Mean(around, nil)), float64(len(p.looks))))}
		switch {
		case d.Sigma > mostSigma:
			return nil, fmt.Sprintf("%v from the centre looks differ by ± %.2f dB", d.Offset, float64(d.Sigma))
		case d.Response > mostRise:
			return nil, fmt.Sprintf("%v from the centre the noise is %.0f dB stronger than at the centre, and filters take off: is a terminator connected, and not an antenna?", d.Offset, response)
		case d.Response < -mostDroop:
			return nil, fmt.Sprintf("%v from the centre the noise is %.0f dB weaker than at the centre", d.Offset, -response)
		}
		curve = append(curve, d)
	}
	return curve, ""
}

// Uncertain gives how uncertain a floor between two offsets is by the curve that was taken out: by
// that of its points, and of those that make the 0 dB.
func Uncertain(curve []survey.Droop, low, high survey.Hz) survey.DB {
	sum, n := 0.0, 0.0
	for _, d := range curve {
		if d.Offset >= low && d.Offset <= high {
			sum += float64(d.Sigma)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return survey.DB(sum / n * math.Sqrt(1/n+1.0/(2*centrePoints+1)))
}

// Newest gives the newest of a receiver's calibrations that has a curve and was not removed, nil where
// none has.
func Newest(all []survey.Calibration, receiver string) (newest *survey.Calibration) {
	for i, c := range all {
		if c.Receiver == receiver && len(c.Droop) > 0 && c.Kind != survey.CalibratePassband && (newest == nil || c.At.After(newest.At)) {
			newest = &all[i]
		}
	}
	return newest
}
