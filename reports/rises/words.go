package rises

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"nightfloor/reports/readlog"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

func speaks(r *result.Rise, format string, args ...any) {
	r.Evidence = append(r.Evidence, fmt.Sprintf(format, args...))
}

func contradicts(r *result.Rise, format string, args ...any) {
	r.Against = append(r.Against, fmt.Sprintf(format, args...))
}

// setupsWith counts the setups that show a rise.
func setupsWith(r *result.Rise) int {
	setups := map[survey.Setup]bool{}
	for _, x := range r.Strength {
		setups[x.Setup] = true
	}
	return len(setups)
}

// stepDoubts says what else a step may be than a device that was switched.
func stepDoubts(r *result.Rise, d device, all ensemble) {
	shown := setupsWith(r)
	switch {
	case len(r.Sources) > 0: // no change of an antenna makes one come or go
	case shown == 1:
		contradicts(r, "seen through one setup only: a change of that antenna or its amplifier looks the same")
	case shown == all.setups && all.controls == 0:
		contradicts(r, "seen through every setup, and no terminator was listened through: a change of the receiver looks the same")
	}
	if r.Measured == 2 {
		contradicts(r, "only two segments were measured")
	}
	if d.over != nil {
		contradicts(r, "its own going off was not seen: when another device went off the floor was down again")
	}
}

// nameSources finds the noise sources that came on or went off with the rise, each within a round
// of it. That a survey begins or ends is neither. Where one did both, those that did only one
// of them are left out: they are of other houses.
func nameSources(l *readlog.Log, r *result.Rise, sources []result.NoiseSource, on, off *switching) {
	const comesAndGoes = "comes on and goes off"
	round, whole := l.Usual, l.Whole(cmp.Or(on, off).Survey)
	near := func(t time.Time, s *switching) bool {
		if s == nil || t.Sub(s.Seen).Abs() > round+s.Seen.Sub(s.Unseen).Abs() || t.Sub(whole.First) <= round || whole.Last.Sub(t) <= round {
			return false
		}
		between := s.Between()
		return !t.Before(between.First.Add(-round)) && !t.After(between.Last.Add(round))
	}
	verbs, both := make([]string, len(sources)), false
	for i := range sources {
		hours := joined(sources[i].Hours, round*3/2)
		comes := slices.ContainsFunc(hours, func(h result.NoiseHours) bool { return near(h.From, on) })
		goes := slices.ContainsFunc(hours, func(h result.NoiseHours) bool { return near(h.To, off) })
		switch {
		case comes && goes:
			verbs[i], both = comesAndGoes, true
		case comes:
			verbs[i] = "comes on"
		case goes:
			verbs[i] = "goes off"
		}
	}
	for i := range sources {
		s, verb := &sources[i], verbs[i]
		if verb == "" || both && verb != comesAndGoes {
			continue
		}
		r.Sources = append(r.Sources, s.ID)
		speaks(r, "source %d (%s) %s with it", s.ID, s, verb)
	}
}

// joined joins hours with no more than a gap between them: a source that was not heard for a round, as one whose lines
// fade, was not switched then. TestNoCulpritIsHeardBefore fails when this is not done.
func joined(hours []result.NoiseHours, gap time.Duration) (all []result.NoiseHours) {
	for _, h := range hours {
		if n := len(all); n > 0 && h.From.Sub(all[n-1].To) <= gap {
			all[n-1].To = h.To
			continue
		}
		all = append(all, h)
	}
	return all
}

// signWords says which signs of interference go with raised stretches, and how often they
// are there without.
func signWords(group []stretch) (words []string) {
	for sign, what := range []string{"noise is modulated by the mains", "a comb is there", fmt.Sprintf("Vd is over %.1f dB", impulsive)} {
		var up, ups, down, downs int
		for _, x := range group {
			if x.sign == sign {
				n, _ := x.series.signAt(sign, x.points)
				up, ups = up+n, ups+len(x.points)
				down, downs = down+x.series.quiet.signs[sign], downs+x.series.quiet.points
			}
		}
		switch {
		case ups == 0:
		case 2*down*ups <= up*downs: // as explains asks for
			words = append(words, fmt.Sprintf("%s in %d of %d floors of a round that are raised, in %d of %d that are not", what, up, ups, down, downs))
		case sign != signVd:
			if more := growthOf(sign, group); more > 0 {
				words = append(words, fmt.Sprintf("%s all the time, %s dB stronger while the floor is raised", what, wording.Number(more, 1)))
			}
		}
	}
	return words
}

// growthOf gives by how many dB a sign is stronger while the floor is raised than otherwise, the
// median over stretches that it explains so; 0 where it does of none.
func growthOf(sign int, group []stretch) float64 {
	var all []float64
	for _, x := range group {
		if x.sign != sign {
			continue
		}
		_, up := x.series.signAt(sign, x.points)
		if down := x.series.quiet.power[sign]; x.series.quiet.points > 0 && down > 0 && up >= growth[sign]*down {
			all = append(all, stats.Decibel(up/down))
		}
	}
	if len(all) == 0 {
		return 0
	}
	if sign == signMains { // squares
		return stats.Median(all) / 2
	}
	return stats.Median(all)
}

// broadbandWords says why a raised floor is interference.
func broadbandWords(r *result.Rise, l *readlog.Log, group []stretch) {
	r.Evidence = append(r.Evidence, signWords(group)...)
	var bursts []float64
	pulses := true
	for i := range group {
		x := &group[i]
		pulses = pulses && x.sign == signVd && x.dark(l, surelyDark)
		for _, n := range x.points {
			for _, at := range x.series.points[n].readings {
				if f := l.Readings[at].Floor; stats.Finite(float64(f.Quiet)) {
					bursts = append(bursts, float64(f.Density.Over(f.Quiet)))
				}
			}
		}
	}
	if lower := stats.Median(bursts); lower >= 1 {
		speaks(r, "it comes in bursts: between them the floor is %s dB lower", wording.Number(lower, 1))
	}
	if pulses {
		contradicts(r, "lightning far away raises Vd too, and comes with the ionosphere in the dark")
	}
}

// nightWords says why a raised floor is none of the house's doing.
func nightWords(r *result.Rise, setups int) []string {
	return []string{fmt.Sprintf("raised in the dark through %d of %s, and no modulation by the mains, comb or raised Vd goes with it: noise and stations come from far away by the ionosphere then",
		setupsWith(r), survey.Count(setups, "setup")), "not counted as interference"}
}
