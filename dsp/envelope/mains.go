package envelope

// MainsNominal are the nominal frequencies of the world's mains, Hz.
var MainsNominal = []float64{50, 60}

// MainsOff is by which share the mains may be off their nominal frequency: more than a grid
// strays. Chosen.
const MainsOff = 0.01

// mainsFundamentals are the frequencies once and twice a mains period, mainsHarmonics those
// that pulses of more than one rectifier or phase make. All cover MainsOff in steps that half
// a second can tell apart.
var (
	mainsFundamentals = mainsRates(1, 2)
	mainsHarmonics    = mainsRates(3, 4, 6)
)

// mainsRates gives the multiples of the mains frequencies.
func mainsRates(multiples ...float64) (rates []float64) {
	for _, nominal := range MainsNominal {
		for _, k := range multiples {
			for step := -2; step <= 2; step++ {
				rates = append(rates, nominal*k*(1+MainsOff*float64(step)/2))
			}
		}
	}
	return rates
}

// Powers of a Phasor (stat.Phasor.Power) from which events come with a frequency. By chance
// they pass each frequency tried with exp(−power), all that are tried with a few in 1000.
const (
	fundamentalPower = 8.0  // 20 frequencies: 0.007
	harmonicPower    = 11.0 // 30 frequencies: 0.0005
	anyPower         = 16.0 // of any frequency, some 1500: 0.0002
)
