// Package passband knows what a receiver's own filters take off, over the offset from the centre of
// its passband: as a dongle's chip does by its published taps, and as a calibration measured it.
// Responses are powers, 1 at the centre.
package passband

import (
	"math"
	"slices"
	"strings"

	"nightfloor/survey"
)

// A dongle's decimation filter is a symmetrical FIR of 32 taps at 28.8 MHz,
// whatever the output rate; these are the first 16, as the driver loads them
// [librtlsdr:0.6, fir_default]. A further decimator adds to it, by how much is
// not published.
var taps = [16]float64{-54, -36, -41, -40, -32, -14, 14, 53, 101, 156, 215, 273, 327, 372, 404, 421}

const filterRate = 28.8e6

// Decimation gives the filter's power response at an offset from the centre, 1 at
// the centre: −0.06 dB at 0.5 MHz, −0.6 at 0.8, −1.5 at 1.0, −3.0 at 1.2.
func Decimation(offset survey.Hz) float64 {
	sum, at0 := 0.0, 0.0
	for i, tap := range taps {
		distance := 15.5 - float64(i) // from the middle
		sum += tap * math.Cos(2*math.Pi*distance*float64(offset)/filterRate)
		at0 += tap
	}
	return sum * sum / (at0 * at0)
}

// Response gives a curve as a power response, 1 at the centre: straight in dB between points, and
// the last point's beyond. It is nil without a curve.
func Response(curve []survey.Droop) func(offset survey.Hz) float64 {
	if len(curve) == 0 {
		return nil
	}
	return func(offset survey.Hz) float64 {
		i, _ := slices.BinarySearchFunc(curve, offset, func(d survey.Droop, at survey.Hz) int {
			return int(math.Copysign(1, float64(d.Offset-at)))
		})
		after := curve[min(i, len(curve)-1)]
		before := curve[max(i-1, 0)]
		share := 0.0
		if after.Offset > before.Offset {
			share = math.Min(1, float64((offset-before.Offset)/(after.Offset-before.Offset)))
		}
		return math.Pow(10, (float64(before.Response)+share*float64(after.Response-before.Response))/10)
	}
}

// Known gives what is known of the filter of a receiver, as surveys name it, at a sample rate: of a dongle
// the decimation filter's response, of the simulated house the same, that of 2.4 MS/s stretched to its rate, of a recording
// that nothing is taken off.
func Known(receiver string, rate survey.Hz) func(offset survey.Hz) float64 {
	switch {
	case strings.Contains(receiver, "rtlsdr:"):
		return Decimation
	case strings.Contains(receiver, "scene:"):
		return func(offset survey.Hz) float64 { return Decimation(offset * 2.4e6 / rate) }
	}
	return func(survey.Hz) float64 { return 1 }
}

// steps is in how many steps Apart goes through a stretch: a curve's points lie 50 kHz apart at 2.4 MS/s, and
// its segments are mostly under 1 MHz wide. Chosen.
const steps = 100

// Apart gives by how much two responses differ at the most between two offsets.
func Apart(a, b func(offset survey.Hz) float64, low, high survey.Hz) (most survey.DB) {
	for i := range steps + 1 {
		offset := low + (high-low)*survey.Hz(i)/steps
		most = max(most, survey.DB(math.Abs(10*math.Log10(a(offset)/b(offset)))))
	}
	return most
}
