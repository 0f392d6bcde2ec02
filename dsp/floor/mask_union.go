package floor

import (
	"nightfloor/dsp/fft"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// strongExcess is how many standard errors an excess takes in one half that
// noise cannot have made: the choice of it does not bias the mean.
const strongExcess = 6.5

// unionCells is how finely, in cells of the baseline, an excess is looked at.
const unionCells = 10

// unite takes in both halves the columns that only one took where the excess is
// strong. A packet of some 20 ms may lie within the turn of one half, which finds
// it while the other, whose choice counts, does not. A marginal excess stays
// where it is, for fluctuations must not be chosen by themselves.
func (m *Masker) unite(a *spectrum.Averages) {
	for h := range 2 {
		own, other := m.mask.taken[h], m.mask.taken[1-h]
		for b := 0; b < len(own); {
			if !own[b] || other[b] {
				b++
				continue
			}
			from, sum, noise := b, 0.0, 0.0
			for b < len(own) && own[b] && !other[b] && b-from < unionCells*m.line.CellWidth {
				sum, noise = sum+a.Halves[h][b], noise+m.mask.noise[h][b]
				b++
			}
			if sum > noise*stat.NoiseQuantile(a.Looks*float64(b-from)/fft.BinExcess, strongExcess) {
				m.toUnite = append(m.toUnite, [2]int{from, b})
			}
		}
		m.united[h] = append(m.united[h][:0], m.toUnite...)
		m.toUnite = m.toUnite[:0]
	}
	for h, runs := range m.united {
		for _, r := range runs {
			for b := r[0]; b < r[1]; b++ {
				m.mask.taken[1-h][b] = true
			}
		}
	}
}
