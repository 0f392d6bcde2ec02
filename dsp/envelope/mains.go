package envelope

// What tells that excesses come in step with the mains. inStepShare is the least coherence,
// |Σ e·exp(−iωt)|/Σ e for excess e: 1 for short bursts once a period, 1/2 for a cosine,
// 1/√n for n bursts at random.
const (
	inStepShare = 0.25
	// InStepSure is the least n times the coherence's square: by chance exp(−8) for each of
	// the 20 frequencies tried.
	InStepSure   = 8.0
	harmonicSure = 11.0 // the same for harmonics
)

// mainsRates are the frequencies at which noise follows the mains: once and
// twice a period, and the harmonics that pulses of more than one rectifier or
// phase make; ±1 %, in steps that half a second can tell apart.
var mainsRates = func() (rates []mainsRate) {
	for _, middle := range []float64{50, 60, 100, 120, 150, 180, 200, 240, 300, 360} {
		for _, off := range []float64{-0.01, -0.005, 0, 0.005, 0.01} {
			r := mainsRate{middle * (1 + off), InStepSure}
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
