package noise

import (
	"fmt"
	"slices"

	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A lineBeat is the beat of a comb's own lines with the mains, over its epochs.
type lineBeat struct {
	with, of               int // epochs in which it was found; in which lines were strong enough to show one
	envelope, depth, mains float64
}

// beatOften is of how many epochs that could show a beat one must, for it to be the comb's:
// chance alone gives one in 5,000.
const beatOften = 10

// found tells whether the lines beat.
func (b lineBeat) found() bool { return b.with > 0 && beatOften*b.with >= b.of }

func (b lineBeat) text() string {
	return fmt.Sprintf("its lines beat at %s Hz, twice the mains frequency, in %d of %s", wording.Number(b.envelope, 0), b.with, wording.Count(b.of, "moment"))
}

// lineBeat gathers what the comb's detected findings tell.
func (s *noiseSource) lineBeat() (b lineBeat) {
	mains := map[float64]int{}
	for i := range s.obs {
		o := &s.obs[i]
		if o.harmonicAlias || !slices.ContainsFunc(o.found, func(g findingAt) bool { return g.Sought }) {
			continue
		}
		b.of++
		if at := slices.IndexFunc(o.found, func(g findingAt) bool { return g.Envelope != 0 }); at >= 0 {
			b.with++
			mains[mainsOf(o.found[at].Finding)]++
		}
	}
	b.mains = 50
	if mains[60] > mains[50] {
		b.mains = 60
	}
	own := func(figure func(f *survey.Finding) float64) float64 {
		return middleOf(s.findings(), func(f *survey.Finding) float64 {
			if f.Envelope == 0 || mainsOf(f) != b.mains {
				return 0
			}
			return figure(f)
		})
	}
	b.envelope = own(func(f *survey.Finding) float64 { return float64(f.Envelope) })
	b.depth = own(func(f *survey.Finding) float64 { return f.Depth })
	return b
}
