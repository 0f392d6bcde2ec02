package waterfall

import (
	"slices"
	"strings"

	"nightfloor/reports/doubt"
	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/survey"
)

// Pictures makes the pictures of time against frequency, one a segment and setup,
// of spectra handed in one by one. Their levels are referred to the gain to which the
// segment's floors are (input.SegmentGains).
type Pictures struct {
	readings map[int64]*survey.Reading
	pictures map[int64]*picture // by reading
	order    []*picture
}

type picture struct {
	builder *Builder
	gains   input.GainTally
	to      survey.Gain
	left    int // spectra left out
}

// NewPictures prepares pictures of the readings of a selection, which bear the numbers
// under which they are stored.
func NewPictures(in input.Selection) *Pictures {
	type key struct {
		segment survey.Segment
		setup   survey.Setup
	}
	p := &Pictures{readings: map[int64]*survey.Reading{}, pictures: map[int64]*picture{}}
	of := map[key]*picture{}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			k := key{r.Segment, s.Setup}
			if of[k] == nil {
				of[k] = &picture{builder: NewBuilder(k.segment, k.setup)}
				p.order = append(p.order, of[k])
			}
			of[k].gains.Add(r.Gain)
			p.readings[r.ID], p.pictures[r.ID] = r, of[k]
		}
	}
	gains := in.SegmentGains()
	for k, x := range of {
		x.to = x.gains.Common(gains[k.segment.Name])
		x.builder.picture.Gain = input.GainOf(x.to, gains[k.segment.Name])
	}
	return p
}

// Add takes the spectrum of a reading, in any order. Spectra of readings that were
// not asked for are passed over.
func (p *Pictures) Add(reading int64, s *survey.Spectrum) {
	r, x := p.readings[reading], p.pictures[reading]
	if r == nil || s == nil {
		return
	}
	lower, ok := input.Refer(r.Gain, x.to)
	if !ok {
		x.left++
		return
	}
	x.builder.Add(r.Start, r.Duration, s, lower)
}

// Made gives the pictures that have something to show, and what speaks against
// them. No more spectra can be added after it.
func (p *Pictures) Made() (pictures []result.Waterfall, doubts []doubt.Doubt) {
	for _, x := range p.order {
		made := x.builder.Picture()
		if len(made.Times) > 0 {
			pictures = append(pictures, made)
		}
		if x.left > 0 {
			doubts = append(doubts, doubt.New(doubt.LeftOutOfPicture, made.Segment, doubt.Count{N: x.left, Noun: "spectrum"}, made.Setup))
		}
	}
	slices.SortFunc(doubts, func(a, b doubt.Doubt) int { return strings.Compare(a.String(), b.String()) })
	return pictures, doubts
}
