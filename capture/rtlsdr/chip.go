package rtlsdr

import (
	"math"

	"nightfloor/survey"
)

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
