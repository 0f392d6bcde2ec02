package verdict

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Advice is something to do that the figures speak for. What it says of a stretch of time stands
// in three parts, since a page shows times by the reader's clock; else Text is the whole.
type Advice struct {
	Before   string
	From, To *time.Time // either is nil where it is not known; both where no time is spoken of
	Text     string
}

// In writes the advice, times in the given zone.
func (a Advice) In(zone *time.Location) string {
	const moment = "2 Jan 2006 15:04 MST"
	switch {
	case a.From != nil && a.To != nil:
		return a.Before + " " + wording.Span(*a.From, *a.To, zone) + " " + a.Text
	case a.From != nil:
		return a.Before + " " + a.From.In(zone).Format(moment) + " " + a.Text
	case a.To != nil:
		return a.Before + " " + a.To.In(zone).Format(moment) + " " + a.Text
	}
	return a.Text
}

// Advise says what to do, as far as the results carry it.
func Advise(r *result.Report) []Advice {
	return slices.Concat(uses(r), turns(r), costs(r), moreRounds(r))
}

// uses says which setup to use where one hears best: segments with the same one in a sentence.
func uses(r *result.Report) (out []Advice) {
	var winners []survey.Setup
	where := map[survey.Setup][]string{}
	for i := range r.Rank.Segments {
		s := &r.Rank.Segments[i]
		if !s.Headline() || s.Verdict == nil || s.Verdict.Kind != result.VerdictBest {
			continue
		}
		winner, use := s.Setups[0].Setup, ""
		if where[winner] == nil {
			winners, use = append(winners, winner), " use "+name(winner)
		}
		text := "on " + wording.Printable(s.Segment) + use
		if lead := ahead(s); lead != "" {
			text += ": " + strings.TrimPrefix(lead, ", ")
		}
		where[winner] = append(where[winner], text)
	}
	for _, winner := range winners {
		out = append(out, Advice{Text: "O" + strings.Join(where[winner], "; ")[1:] + "."})
	}
	return out
}

// costs says by how much what was switched raised the floor: so much SNR comes back with it off.
// Of rises by the same noise sources only the highest is told.
func costs(r *result.Report) (out []Advice) {
	steps := slices.DeleteFunc(slices.Clone(r.Noise.Rises), func(x result.Rise) bool {
		return x.Kind != result.RiseStep || x.Level == nil || len(raised(r, &x)) == 0
	})
	slices.SortStableFunc(steps, func(a, b result.Rise) int { return cmp.Compare(*b.Level, *a.Level) })
	said := map[string]bool{}
	for i := range steps {
		x := &steps[i]
		by := fmt.Sprint(x.Sources)
		if len(x.Sources) > 0 && said[by] {
			continue
		}
		if said[by] = true; len(out) == most {
			break
		}
		before := "What ran"
		switch {
		case x.From == nil:
			before = "What ran until"
		case x.To == nil:
			before = "What has run since"
		}
		out = append(out, Advice{before, x.From, x.To, culprits(r, x.Sources) + "costs " + strings.Join(raised(r, x), "; ") + ": by so much it raises the floor."})
	}
	return out
}

// raised says by how much the floor rose: through which setup, and there in which segments. A segment is
// told through the setup that hears best there where the rise through it is known, else through the one
// that the rise is strongest through.
func raised(r *result.Report, x *result.Rise) (out []string) {
	known := slices.DeleteFunc(slices.Clone(x.Strength), func(s result.NoiseStrength) bool { return s.Level == nil || s.Low == nil || s.High == nil })
	var setups []survey.Setup
	told := map[survey.Setup][]string{}
	for i, s := range known {
		if slices.ContainsFunc(known[:i], func(before result.NoiseStrength) bool { return before.Segment == s.Segment }) {
			continue
		}
		best := s
		for _, other := range known[i:] {
			if other.Segment == s.Segment && (hearsBest(r, other) || *other.Level > *best.Level && !hearsBest(r, best)) {
				best = other
			}
		}
		if told[best.Setup] == nil {
			setups = append(setups, best.Setup)
		}
		told[best.Setup] = append(told[best.Setup], fmt.Sprintf("%s dB on %s (%s … %s)", wording.Figure(best.Level, 1), wording.Printable(best.Segment),
			wording.Figure(best.Low, 1), wording.Figure(best.High, 1)))
	}
	for _, s := range setups {
		out = append(out, wording.List(told[s])+" through "+name(s))
	}
	return out
}

// hearsBest tells whether a strength is through the setup that came first in its segment.
func hearsBest(r *result.Report, x result.NoiseStrength) bool {
	return slices.ContainsFunc(r.Rank.Segments, func(s result.RankSegment) bool {
		return s.Headline() && s.Segment == x.Segment && s.Low == x.SegmentLow && len(s.Setups) > 0 && s.Setups[0].Setup == x.Setup
	})
}

// culprits names the sources that were switched with a rise, and what each looks like:
// "(source 2, which looks like a switching supply) "; "" of none.
func culprits(r *result.Report, ids []int) string {
	var all []string
	for _, id := range ids {
		text := fmt.Sprintf("source %d", id)
		for i := range r.Noise.Sources {
			if s := &r.Noise.Sources[i]; s.ID == id && s.Likely != result.LikelyNotKnown {
				text += ", which " + wording.Printable(s.LooksLike())
			}
		}
		all = append(all, text)
	}
	if len(all) == 0 {
		return ""
	}
	return "(" + wording.List(all) + ") "
}

// matters is the difference in dB under which it does not matter which of two setups is used. Chosen: two setups of
// which the one is known to lead by no more are heard alike. TestTiesWithoutRounds fails when it moves.
const matters = 1.0

// moreRounds says what further rounds would tell of ties, and where they are needed to tell anything.
func moreRounds(r *result.Report) (out []Advice) {
	var ties, alike, drifting []string
	var lacks []int // rounds that lack, in the order in which they come
	where := map[int][]string{}
	for i := range r.Rank.Segments {
		s := &r.Rank.Segments[i]
		if !s.Headline() || s.Verdict == nil || ranked(s) < 2 && s.Verdict.MoreRounds == nil {
			continue
		}
		segment := wording.Printable(s.Segment)
		switch more := s.Verdict.MoreRounds; {
		case s.Verdict.Kind == result.VerdictTie:
			told, same := decides(r, s)
			ties, alike = append(ties, told...), append(alike, same...)
		case s.Verdict.Kind != result.VerdictFewRounds:
		case more == nil:
			drifting = append(drifting, segment)
		default:
			if where[*more] == nil {
				lacks = append(lacks, *more)
			}
			where[*more] = append(where[*more], segment)
		}
	}
	for _, n := range lacks {
		out = append(out, Advice{Text: fmt.Sprintf("At least %s to tell anything on %s.", survey.Count(n, "more round"), wording.List(where[n]))})
	}
	if len(drifting) > 0 {
		out = append(out, Advice{Text: fmt.Sprintf("Record other nights: these rounds tell nothing on %s, and more of the same night may not.", wording.List(drifting))})
	}
	if len(ties) > 0 {
		out = append(out, Advice{Text: "More rounds like these: " + wording.List(ties) + "."})
	}
	if len(alike) > 0 {
		out = append(out, Advice{Text: "No difference that matters was seen between " + wording.List(alike) + "."})
	}
	return out
}

// within gives how far the first two setups are apart at most, where that is known and does not matter.
func within(s *result.RankSegment) (most float64, alike bool) {
	v := s.Verdict
	if v.Low == nil || v.High == nil || ranked(s) < 2 {
		return 0, false
	}
	most = float64(max(-*v.Low, *v.High))
	return max(0.1, math.Ceil(10*most-1e-9)/10), most <= matters
}

// decides says by how little a tie's first two differ, where that does not matter; else how many further rounds would tell
// them apart, over all hours or, where no number of them is known to, in a period; else how well more rounds would know it.
func decides(r *result.Report, tie *result.RankSegment) (ties, alike []string) {
	if most, same := within(tie); same {
		return nil, []string{fmt.Sprintf("%s and %s on %s (within ±%s dB)", name(tie.Setups[0].Setup), name(tie.Setups[1].Setup), wording.Printable(tie.Segment), wording.Number(most, 1))}
	}
	for i := range r.Rank.Segments {
		s := &r.Rank.Segments[i]
		if v := s.Verdict; s.SameSegment(tie) && s.State == nil && v != nil && v.Kind == result.VerdictTie && v.MoreRounds != nil && ranked(s) > 1 {
			if _, same := within(s); same {
				continue
			}
			hours := ""
			if !s.Headline() {
				hours = " " + when[s.Period]
			}
			ties = append(ties, fmt.Sprintf("about %d%s would tell %s from %s on %s", *v.MoreRounds, hours, name(s.Setups[0].Setup), name(s.Setups[1].Setup), wording.Printable(s.Segment)))
			if s.Headline() {
				return ties, nil
			}
		}
	}
	v := tie.Verdict
	if len(ties) > 0 || v.Low == nil || v.High == nil || ranked(tie) < 2 {
		return ties, nil
	}
	first, second, segment := name(tie.Setups[0].Setup), name(tie.Setups[1].Setup), wording.Printable(tie.Segment)
	half := float64(*v.High-*v.Low) / 4 // an interval narrows with the root of the rounds
	return []string{fmt.Sprintf("about %d would tell by how much %s and %s differ on %s to ±%s dB", 3*tie.Setups[0].Rounds, first, second, segment, wording.Number(half, 1))}, nil
}
