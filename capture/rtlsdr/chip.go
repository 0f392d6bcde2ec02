package rtlsdr

import (
	"math"

	"nightfloor/survey"
)

// The chip's decimation filter is a symmetrical FIR of 32 taps at 28.8 MHz,
// whatever the output rate; these are the first 16, as the driver loads them
// [librtlsdr:0.6, fir_default]. A further decimator adds to it, by how much is
// not published.
var taps = [16]float64{-54, -36, -41, -40, -32, -14, 14, 53, 101, 156, 215, 273, 327, 372, 404, 421}

const filterRate = 28.8e6

// droop gives the filter's power response at an offset from the centre, 1 at
// the centre: −0.06 dB at 0.5 MHz, −0.6 at 0.8, −1.5 at 1.0, −3.0 at 1.2.
func droop(offset survey.Hz) float64 {
	sum, at0 := 0.0, 0.0
	for i, tap := range taps {
		distance := 15.5 - float64(i) // from the middle
		sum += tap * math.Cos(2*math.Pi*distance*float64(offset)/filterRate)
		at0 += tap
	}
	return sum * sum / (at0 * at0)
}

// ncoStep is the resolution of the chip's own down-conversion, 28.8 MHz / 2^22
// [librtlsdr:0.6, rtlsdr_set_if_freq]; the driver cuts off what is below.
const ncoStep = 28.8e6 / (1 << 22)

// tuning gives what the driver is to be set to for the centre to stand in the
// middle, and where the middle then is. A fast clock tunes too high, by its
// share of the frequency that is tuned, that of an up-converter included.
//
// In direct sampling the centre is put onto the chip's raster, so that what the
// driver cuts off is less than a hertz. A tuner's own steps, some 55 Hz, depend
// on the driver and are not known here: lines may stand off by half as much.
func tuning(fe survey.FrontEnd, centre survey.Hz) (set float64, realised survey.Hz) {
	clock := 1 + fe.PPM*1e-6
	want := float64(centre+fe.Offset) / clock
	if fe.Direct() {
		on := math.Round(want/ncoStep) * ncoStep
		return math.Ceil(on), survey.Hz(on * clock)
	}
	set = math.Round(want)
	return set, survey.Hz(set*clock) - fe.Offset
}
