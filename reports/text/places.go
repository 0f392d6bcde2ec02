package text

import "nightfloor/reports/result"

// Places gives the decimals of all differences in one ranking, so that a column has
// one precision: tenths of a dB, or hundredths where every interval but the reference's
// own, 0 to 0, is narrower than a tenth.
func Places(setups []result.RankSetup) int {
	narrow := false
	for _, s := range setups {
		if s.Low == nil || s.High == nil || *s.Low == *s.High {
			continue
		}
		if *s.High-*s.Low >= 0.1 {
			return 1
		}
		narrow = true
	}
	if narrow {
		return 2
	}
	return 1
}
