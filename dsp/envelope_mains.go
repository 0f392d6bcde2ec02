package dsp

// mainsRates are the frequencies at which noise follows the mains: once and
// twice a period, and the harmonics that pulses of more than one rectifier or
// phase make; ±1 %, in steps that half a second can tell apart.
var mainsRates = func() (rates []mainsRate) {
	for _, middle := range []float64{50, 60, 100, 120, 150, 180, 200, 240, 300, 360} {
		for _, off := range []float64{-0.01, -0.005, 0, 0.005, 0.01} {
			r := mainsRate{middle * (1 + off), inStepSure}
			if len(rates) >= fundamentals {
				r.sure = harmonicSure
			}
			rates = append(rates, r)
		}
	}
	return rates
}()

// fundamentals is how many of the mainsRates are once and twice a period.
const fundamentals = 20

type mainsRate struct{ rate, sure float64 }
