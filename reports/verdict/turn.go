package verdict

import (
	"cmp"
	"fmt"
	"slices"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Falls says what turning to the null of the floor or of a noise source is worth, "" where no such null
// is claimed: "source 1 falls by 16.6 dB (16.2 … 17.1), the floor by 2.0 dB (1.5 … 2.5)".
func Falls(p *result.Pattern) string {
	what := "the floor"
	switch {
	case p.Fall == nil || p.Of == result.OfCarrier:
		return ""
	case p.Source != nil:
		what = fmt.Sprintf("source %d", *p.Source)
	}
	words := what + " falls by " + fall(p.Fall)
	switch f := p.FloorFall; {
	case f == nil:
	case f.High != nil && *f.High < 0:
		back := func(x *survey.DB) *survey.DB { return result.DB(-float64(*x)) }
		words += ", the floor rises by " + fall(&result.Fall{DB: back(f.DB), Low: back(f.High), High: back(f.Low)})
	case f.Low != nil && *f.Low <= 0 && f.High != nil:
		words += fmt.Sprintf(", no fall of the floor seen (%s … %s dB)", wording.Figure(f.Low, 1), wording.Figure(f.High, 1))
	default:
		words += ", the floor by " + fall(f)
	}
	return words
}

// fall writes a fall with its interval: 16.6 dB (16.2 … 17.1), or more than 14.2 dB.
func fall(f *result.Fall) string {
	switch {
	case f.DB == nil:
		return "more than " + wording.Figure(f.Low, 1) + " dB"
	case f.High == nil:
		return wording.Figure(f.DB, 1) + " dB (> " + wording.Figure(f.Low, 1) + ")"
	}
	return fmt.Sprintf("%s dB (%s … %s)", wording.Figure(f.DB, 1), wording.Figure(f.Low, 1), wording.Figure(f.High, 1))
}

// turns says where to turn an antenna so that a noise source falls and the floor with it: for each
// antenna and source in the segment where the floor falls the most.
func turns(r *result.Report) (out []Advice) {
	var best []*result.Pattern
	for i := range r.Bearings.Patterns {
		p := &r.Bearings.Patterns[i]
		if p.Of != result.OfNoiseSource || p.Source == nil || p.Null == nil || p.Fall == nil || !floorFalls(p) {
			continue
		}
		k := slices.IndexFunc(best, func(q *result.Pattern) bool { return q.Turned() == p.Turned() && *q.Source == *p.Source })
		switch {
		case k < 0:
			best = append(best, p)
		case *p.FloorFall.Low > *best[k].FloorFall.Low:
			best[k] = p
		}
	}
	slices.SortStableFunc(best, func(p, q *result.Pattern) int { return cmp.Compare(*q.FloorFall.Low, *p.FloorFall.Low) })
	for _, p := range best[:min(most, len(best))] {
		out = append(out, Advice{Text: fmt.Sprintf("Turn %s to %s: on %s %s, against the mean over all bearings%s.", name(p.Turned()), wording.BothWays(*p.Null),
			wording.Printable(p.Segment), Falls(p), better(r, p))})
	}
	return out
}

// better says which other setups hear better in the pattern's segment than the antenna in any bearing measured; ""
// where that is not known.
func better(r *result.Report, p *result.Pattern) string {
	for i := range r.Rank.Segments {
		s := &r.Rank.Segments[i]
		if !s.Headline() || s.Segment != p.Segment || s.Low != p.Low || s.Verdict == nil {
			continue
		}
		turned := func(x survey.Setup) bool {
			return x.Antenna == p.Antenna && x.Placement == p.Placement && x.State == p.State
		}
		switch v := s.Verdict; {
		case v.Kind != result.VerdictBest && v.Kind != result.VerdictTie || slices.ContainsFunc(v.Setups, turned):
		case !slices.ContainsFunc(s.Setups[:ranked(s)], func(x result.RankSetup) bool { return turned(x.Setup) }):
		case len(v.Setups) == 1:
			return "; " + name(v.Setups[0]) + " hears better there even so"
		case len(v.Setups) > most:
			return fmt.Sprintf("; one of %d other setups hears better there even so", len(v.Setups))
		default:
			return "; one of " + names(v.Setups) + " hears better there even so"
		}
	}
	return ""
}

// floorFalls tells whether the floor falls, too, where a source has its null.
func floorFalls(p *result.Pattern) bool {
	return p.FloorFall != nil && p.FloorFall.Low != nil && *p.FloorFall.Low > 0
}
