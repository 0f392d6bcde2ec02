package capture

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/capture/force"
	"nightfloor/dsp/comb"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/stat"
	"nightfloor/survey"
)

// mostP is the P up to which a comb counts as found: its Confidence is survey.Confident then.
const mostP = (1 - survey.Confident) / interference.Kinds

// findCombs seeks combs in the passbands of one sweep together.
func findCombs(bands ...*heardPassband) []comb.Comb { return comb.Seek(viewsOf(bands), mostP) }

func viewsOf(bands []*heardPassband) []*comb.View {
	views := make([]*comb.View, len(bands))
	for i, p := range bands {
		views[i] = p.view
	}
	return views
}

// A combWatch holds the combs that were found through any setup in this and the last
// rounds. Through every other setup they are measured by force, as carriers are.
type combWatch struct {
	tracks []combTrack
}

// find seeks combs in the passbands of a sweep, and notes what it found. With
// all, every spacing is tried; else only those of the list, which takes less time and,
// since fewer are tried, less evidence.
func (w *combWatch) find(bands []*heardPassband, all bool, round int, at time.Time) []comb.Comb {
	var found []comb.Comb
	if all {
		found = findCombs(bands...)
	} else {
		found = comb.SeekAgain(viewsOf(bands), w.missing(nil, round, at), mostP)
	}
	w.note(found, round, at)
	return found
}

// A combTrack is one supply's comb as it was found time after time, in order of time.
type combTrack []sighting

type sighting struct {
	comb  comb.Comb
	at    time.Time
	round int
}

// watchGate is how far, as a share, a comb may be from where a track is due and belong to it: a
// spacing drifts by some 0.1 % as its supply warms (PHYSICS.md 8.1), and nothing may be seen of it
// for rounds. The gate is wide, twenty times what reports tell supplies apart by afterwards
// (reports/noise/track): a comb that is taken for another is still measured at the spacing that is
// nearest to it, one that is lost is not measured at all.
const watchGate = 0.002

// note puts combs found at one moment on the list. Each belongs to the track that is nearest; no
// two belong to one. They get the line width of the track's strongest sighting: all setups are
// measured over that one width, so that their powers compare.
func (w *combWatch) note(found []comb.Comb, round int, at time.Time) {
	of := w.match(found, at)
	for i, c := range found {
		c.Modulation = comb.Modulation{} // it holds for that time only
		if of[i] < 0 {
			of[i], w.tracks = len(w.tracks), append(w.tracks, nil)
		}
		t := &w.tracks[of[i]]
		*t = slices.Insert(*t, t.indexAt(at), sighting{c, at, round})
		found[i].Width = t.strongest().Width
	}
}

// forget drops sightings from more than some rounds ago.
func (w *combWatch) forget(round int) {
	for i, t := range w.tracks {
		w.tracks[i] = slices.DeleteFunc(t, func(s sighting) bool { return s.round < round-force.Rounds })
	}
	w.tracks = slices.DeleteFunc(w.tracks, func(t combTrack) bool { return len(t) == 0 })
}

// missing gives the combs that were found within force.Rounds of a round, but for those that are
// known, each with the spacing that it has at the time given.
func (w *combWatch) missing(known []comb.Comb, round int, at time.Time) []comb.Comb {
	var out []comb.Comb
	of := w.match(known, at)
	for i, t := range w.tracks {
		near := func(s sighting) bool { return max(s.round-round, round-s.round) <= force.Rounds }
		if !slices.Contains(of, i) && slices.ContainsFunc(t, near) {
			out = append(out, t.comb(at))
		}
	}
	return out
}

// combsOf gives the combs among the findings for which a function is true. The readings are of one sweep
// or one recording, so that findings with the same spacing are one comb, which is given once.
func combsOf(readings []survey.Reading, which func(survey.Finding) bool) []comb.Comb {
	var out []comb.Comb
	for _, r := range readings {
		for _, f := range r.Findings {
			c := comb.Comb{Spacing: float64(f.Spacing), Width: float64(f.Width), Lines: f.Lines, Strength: ratio(f.Strength)}
			same := func(d comb.Comb) bool { return d.Spacing == c.Spacing }
			if f.Kind == survey.FindingComb && which(f) && !slices.ContainsFunc(out, same) {
				out = append(out, c)
			}
		}
	}
	return out
}

// match gives the track of each comb, the nearest first, −1 where it has none.
func (w *combWatch) match(combs []comb.Comb, at time.Time) []int {
	spacings := make([]float64, len(w.tracks))
	for k, t := range w.tracks {
		spacings[k] = t.comb(at).Spacing
	}
	return stat.NearestPairs(len(combs), len(spacings), func(i, k int) float64 {
		off := math.Abs(combs[i].Spacing/spacings[k] - 1)
		if off > watchGate {
			return math.Inf(1)
		}
		return off
	})
}

// comb gives what the comb was, or is, at a moment: between two sightings in
// proportion, before and after all of them as it drifted then.
func (t combTrack) comb(at time.Time) comb.Comb {
	next := t.indexAt(at)
	c := t[min(next, len(t)-1)].comb
	switch {
	case next == 0:
		c.Spacing += t.drift(0, 1) * trustedSeconds(at.Sub(t[0].at))
	case next == len(t):
		c.Spacing += t.drift(len(t)-1, -1) * trustedSeconds(at.Sub(t[next-1].at))
	case at.Before(t[next].at):
		share := float64(at.Sub(t[next-1].at)) / float64(t[next].at.Sub(t[next-1].at))
		c.Spacing = (1-share)*t[next-1].comb.Spacing + share*c.Spacing
	}
	c.Width = t.strongest().Width
	return c
}

// indexAt gives the place of the first sighting that is not before a moment.
func (t combTrack) indexAt(at time.Time) int {
	i, _ := slices.BinarySearchFunc(t, at, func(s sighting, at time.Time) int { return s.at.Compare(at) })
	return i
}

// strongest gives the comb as it was found with the strongest lines.
func (t combTrack) strongest() comb.Comb {
	return slices.MaxFunc(t, func(a, b sighting) int { return cmp.Compare(a.comb.Strength, b.comb.Strength) }).comb
}

// A drift is measured between sightings that are far enough apart for it to show, and
// near enough for it to be steady; it is extrapolated by two minutes at most.
const (
	leastDriftTime = 20 * time.Second
	mostDriftTime  = 10 * time.Minute
	driftAhead     = 2 * time.Minute
)

// trustedSeconds gives a duration in seconds, limited to how far a drift is extrapolated.
func trustedSeconds(d time.Duration) float64 { return max(-driftAhead, min(driftAhead, d)).Seconds() }

// drift gives how fast the spacing moved at one end of the track, in Hz a second, from
// there to the nearest sighting that is far enough away; 0 where the two differ by no
// more than their errors.
func (t combTrack) drift(end, inwards int) float64 {
	for i := end + inwards; i >= 0 && i < len(t); i += inwards {
		apart := t[i].at.Sub(t[end].at)
		if away := apart.Abs(); away < leastDriftTime {
			continue
		} else if away > mostDriftTime {
			break
		}
		moved := t[i].comb.Spacing - t[end].comb.Spacing
		if math.Abs(moved) < 3*math.Hypot(t[i].comb.Sigma, t[end].comb.Sigma) {
			break
		}
		return moved / apart.Seconds()
	}
	return 0
}
