package noise

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

// Combs become sources by their spacing. A supply that warms up drifts by some 0.1 %,
// exponentially and within an hour (trade notes, 6.1), so that a track follows it from
// moment to epoch with little freedom; tracks are put together where a supply was off, or
// unheard, and came back.

const (
	// sameSpacing is by how much, as a share, spacings found at one epoch may differ
	// and be one.
	sameSpacing = 1e-4
	// trackTolerance and trackDrift are how far a spacing may stand from where it was last: an
	// error of both, and what warming changes in an hour, at its fastest.
	trackTolerance, trackDrift = 2e-4, 2e-3
	trackToleranceMost         = 6e-4
	// slopeFew and slopeMost are of how many detections the slope of a track is told, slopeHolds
	// for how many times as long as they last it holds: of four, that scatter by σ, it is then
	// wrong by 3·σ·√(12/4).
	slopeFew, slopeMost, slopeHolds = 4, 20, 3
	// A supply comes back within settledTolerance once it is warm, within coldTolerance while it is
	// not, which it is after warmAfter.
	settledTolerance, coldTolerance = 5e-4, 1.5e-3
	warmAfter                       = 30 * time.Minute
	// aliasMost bounds the ratios p/q of spacings that one source may be found at.
	aliasMost, aliasTolerance = 4, 3e-4
	// combsAgree is the probability that two combs of chance, found anywhere between 15
	// and 500 kHz, lie within coldTolerance of each other: 2·0.0015/ln(500/15).
	combsAgree = 1e-3
	// aliasAgree is the same for one of the ten ratios between spacings that one source may be
	// found at, to aliasTolerance and what an hour of its drift adds: 10·2·8e-4/ln(500/15).
	aliasAgree = 5e-3
)

// A combTrack is a comb followed through time.
type combTrack []detection

func (t combTrack) first() *detection   { return &t[0] }
func (t combTrack) last() *detection    { return &t[len(t)-1] }
func (t combTrack) long() time.Duration { return t.last().at.Sub(t.first().at) }

// near gives the detection nearest in time.
func (t combTrack) near(at time.Time) *detection {
	return t.beside(t.from(at), at)
}

// from gives the place of the first detection at an instant or after it.
func (t combTrack) from(at time.Time) int {
	i, _ := slices.BinarySearchFunc(t, at, func(o detection, at time.Time) int { return o.at.Compare(at) })
	return i
}

// beside gives the detection nearest to an instant, of which from gave the place i.
func (t combTrack) beside(i int, at time.Time) *detection {
	switch {
	case i == len(t):
		return &t[i-1]
	case i > 0 && at.Sub(t[i-1].at) < t[i].at.Sub(at):
		return &t[i-1]
	}
	return &t[i]
}

// away gives how far b stands from a, as a share.
func away(a, b float64) float64 { return math.Abs(b/a - 1) }

// tolerance gives how far a track's spacing may stand from where it was last, as a share.
func tolerance(since time.Duration) float64 {
	return min(trackToleranceMost, trackTolerance+trackDrift*math.Abs(since.Hours()))
}

// combs gives the sources of combs. Alone counts those of which chance is not ruled out.
func (l *noiseLog) combs() (sources []*noiseSource, alone int) {
	obs := l.observe(survey.FindingComb, func(a, b *survey.Finding) bool {
		return away(float64(a.Spacing), float64(b.Spacing)) > sameSpacing
	})
	groups := l.joinAliases(l.joinTracks(l.follow(obs)))
	var tracks []combTrack
	for _, g := range groups {
		s := l.newNoiseSource(survey.FindingComb, g, combsAgree)
		if !l.shows(s) {
			alone++
			continue
		}
		l.measureDetected(s)
		sources = append(sources, s)
		tracks = append(tracks, slices.DeleteFunc(slices.Clone(g), func(o detection) bool { return o.harmonicAlias }))
	}
	l.forced(sources, tracks)
	return sources, alone
}

// ahead gives the spacing that is due at an instant after a track's last detection, on the line
// of least squares through its latest, found apart from other tracks, of an hour; that line is
// known for a few times as long as they last. The spacing of fewer stays.
func (t combTrack) ahead(at time.Time) float64 {
	recent, last := t.apart(), t.last()
	if len(recent) < slopeFew {
		return last.spacing
	}
	end := recent.last()
	n, hours, spacing := float64(len(recent)), 0.0, 0.0
	for _, o := range recent {
		hours, spacing = hours+o.at.Sub(end.at).Hours()/n, spacing+(o.spacing-end.spacing)/n
	}
	square, product := 0.0, 0.0
	for _, o := range recent {
		x := o.at.Sub(end.at).Hours() - hours
		square, product = square+x*x, product+x*(o.spacing-end.spacing)
	}
	if square == 0 {
		return last.spacing
	}
	return end.spacing + spacing + product/square*(min(at.Sub(end.at), slopeHolds*recent.long()).Hours()-hours)
}

// apart gives a track's latest detections that were not found as one with another, of an hour
// and no more than a line needs.
func (t combTrack) apart() (recent combTrack) {
	for i := len(t) - 1; i >= 0 && len(recent) < slopeMost; i-- {
		if len(recent) > 0 && recent[0].at.Sub(t[i].at) > time.Hour {
			break
		}
		if !t[i].shared {
			recent = append(recent, t[i])
		}
	}
	slices.Reverse(recent)
	return recent
}

// withoutLent gives a track up to where it was last found by itself.
func (t combTrack) withoutLent() combTrack {
	end := len(t)
	for t[end-1].lent { // the first never is
		end--
	}
	return t[:end]
}

// follow makes tracks of detections in order of time. Those of one epoch go to different
// tracks, the nearest to what is due first; where two tracks meet, what is found of both as
// one goes to both.
func (l *noiseLog) follow(obs []detection) (tracks []combTrack) {
	var live []int
	for i := 0; i < len(obs); {
		end := i + 1
		for end < len(obs) && obs[end].epoch == obs[i].epoch {
			end++
		}
		live = slices.DeleteFunc(live, func(t int) bool { return obs[i].at.Sub(tracks[t].apart().last().at) > l.Longest })
		due := make([]float64, len(live))
		for k, n := range live {
			due[k] = tracks[n].ahead(obs[i].at)
		}
		gave := map[int]detection{} // by track
		given := make([]bool, end-i)
		for {
			best, o, t := math.Inf(1), -1, -1
			for k := range given {
				for at, n := range live {
					last := tracks[n].last()
					d := away(due[at], obs[i+k].spacing)
					_, taken := gave[n]
					if !given[k] && !taken && d < best && min(d, away(last.spacing, obs[i+k].spacing)) <= tolerance(obs[i].at.Sub(last.at)) {
						best, o, t = d, k, n
					}
				}
			}
			if o < 0 {
				break
			}
			given[o], gave[t] = true, obs[i+o]
			tracks[t] = append(tracks[t], obs[i+o])
		}
		l.lend(tracks, live, due, gave)
		for k, done := range given {
			if !done {
				live = append(live, len(tracks))
				tracks = append(tracks, combTrack{obs[i+k]})
			}
		}
		i = end
	}
	for n, t := range tracks {
		tracks[n] = t.withoutLent()
	}
	return tracks
}

// lend gives what was found of one track at an epoch to another that was not found then, but
// was a round or two ago, and is due so near that the two are one: it keeps to where it is due.
// Gave are the detections of tracks that were found.
func (l *noiseLog) lend(tracks []combTrack, live []int, due []float64, gave map[int]detection) {
	for i, n := range live {
		if _, found := gave[n]; found || len(tracks[n]) < slopeFew {
			continue
		}
		for k, m := range live {
			o, found := gave[m]
			if found && o.at.Sub(tracks[n].last().at) <= 2*l.Usual && away(due[k], due[i]) <= sameSpacing && away(o.spacing, due[i]) <= sameSpacing {
				tracks[m].last().shared = true
				o.spacing, o.shared, o.lent = due[i], true, true
				tracks[n] = append(tracks[n], o)
				break
			}
		}
	}
}

// joinTracks puts together tracks of one supply.
func (l *noiseLog) joinTracks(tracks []combTrack) []combTrack {
	for _, some := range inReach(tracks) {
		near := make([]combTrack, len(some))
		for i, at := range some {
			near[i] = tracks[at]
		}
		l.joinNear(near)
		for i, at := range some {
			tracks[at] = near[i]
		}
	}
	return slices.DeleteFunc(tracks, func(t combTrack) bool { return t == nil })
}

// inReach parts tracks where between their last spacings lies more than two of one supply
// may be apart. Joined tracks end as one of them did, so that they stay within their part.
func inReach(tracks []combTrack) (parts [][]int) {
	order := make([]int, len(tracks))
	for i := range order {
		order[i] = i
	}
	last := func(i int) float64 { return tracks[i].last().spacing }
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(last(a), last(b)) })
	for k, i := range order {
		if k == 0 || away(last(i), last(order[k-1])) > 2*coldTolerance {
			parts = append(parts, nil)
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], i)
	}
	for _, p := range parts {
		slices.Sort(p)
	}
	return parts
}

// joinNear puts together tracks of one supply, those nearest in spacing first, and leaves nil
// in the place of one that was joined to another. Two that are there at one epoch are two.
func (l *noiseLog) joinNear(tracks []combTrack) {
	apart := make([][]float64, len(tracks)) // by pair, the later first; +Inf: two supplies
	compare := func(i, j int) {
		d, ok := l.same(tracks[i], tracks[j])
		if !ok {
			d = math.Inf(1)
		}
		apart[max(i, j)][min(i, j)] = d
	}
	for i := range tracks {
		apart[i] = make([]float64, i)
		for j := range i {
			compare(i, j)
		}
	}
	least := make([]int, len(tracks)) // by row of apart, where it is least; −1: all are two supplies
	for i := range least {
		least[i] = leastOf(apart[i])
	}
	for {
		a, b := -1, -1
		for i, j := range least {
			if j >= 0 && (b < 0 || apart[i][j] < apart[b][a]) {
				a, b = j, i
			}
		}
		if a < 0 {
			return
		}
		tracks[a], tracks[b] = merged(tracks[a], tracks[b]), nil
		for i, t := range tracks {
			if i != b {
				apart[max(i, b)][min(i, b)] = math.Inf(1)
			}
			if i != a && t != nil {
				compare(a, i)
			}
		}
		for i, j := range least {
			switch {
			case i == a || i == b || j == a || j == b:
				least[i] = leastOf(apart[i])
			case i > a && apart[i][a] < math.Inf(1) && (j < 0 || apart[i][a] < apart[i][j] || apart[i][a] == apart[i][j] && a < j):
				least[i] = a
			}
		}
	}
}

// leastOf gives the first place of the least of some distances, −1 where none is finite.
func leastOf(distances []float64) int {
	at := -1
	for j, d := range distances {
		if d < math.Inf(1) && (at < 0 || d < distances[at]) {
			at = j
		}
	}
	return at
}

func merged(a, b combTrack) combTrack {
	all := append(slices.Clone(a), b...)
	slices.SortStableFunc(all, func(x, y detection) int { return x.at.Compare(y.at) })
	return all
}

// same tells whether two tracks may be of one supply, and how far they stand apart.
func (l *noiseLog) same(a, b combTrack) (d float64, ok bool) {
	if away(a.last().spacing, b.last().spacing) > 2*coldTolerance { // far apart, whatever the rest says
		return 0, false
	}
	if b.first().at.Before(a.first().at) {
		a, b = b, a
	}
	if b.first().at.After(a.last().at) {
		return l.cameBack(a, b)
	}
	return interleaved(a, b)
}

// cameBack judges tracks of which b begins after a ended. Over a pause they meet warm,
// or either is too short to be warm.
func (l *noiseLog) cameBack(a, b combTrack) (d float64, ok bool) {
	ends, warm := away(a.last().spacing, b.first().spacing), away(a.last().spacing, b.last().spacing)
	pause := b.first().at.Sub(a.last().at)
	switch {
	case pause <= l.Longest && ends <= tolerance(pause):
		return ends, true
	case a.segmentLong() && b.segmentLong():
		return warm, warm <= settledTolerance
	}
	least := min(ends, warm)
	return least, max(ends, warm) <= 2*coldTolerance && least <= coldTolerance
}

// segmentLong tells whether the track's last stretch without a pause is long enough for a
// supply to be warm at its end.
func (t combTrack) segmentLong() bool {
	for n := len(t) - 1; n > 0 && t[n].at.Sub(t[n-1].at) <= time.Hour; n-- {
		if t.last().at.Sub(t[n-1].at) >= warmAfter {
			return true
		}
	}
	return false
}

// interleaved judges tracks that overlap in time: they must never share an epoch, and
// agree wherever they are neighbours.
func interleaved(a, b combTrack) (d float64, ok bool) {
	if len(a) < len(b) {
		a, b = b, a
	}
	i := 0
	for k := range b {
		o := &b[k]
		if i < len(a) && a[i].at.Before(o.at) {
			i += a[i:].from(o.at)
		}
		n := a.beside(i, o.at)
		if n.epoch == o.epoch {
			return 0, false
		}
		apart := away(n.spacing, o.spacing)
		limit := tolerance(o.at.Sub(n.at))
		if since := o.at.Sub(n.at).Abs(); since > time.Hour {
			limit = coldTolerance
		}
		if apart > limit {
			return 0, false
		}
		d = max(d, apart)
	}
	return d, true
}

// joinAliases puts a comb that is found at another multiple of a source's spacing, in its
// hours, with the source: the one with the greater evidence counts.
func (l *noiseLog) joinAliases(tracks []combTrack) []combTrack {
	weight := func(t combTrack) (sum float64) {
		for _, o := range t {
			sum -= math.Log10(o.doubt)
		}
		return sum
	}
	slices.SortStableFunc(tracks, func(a, b combTrack) int { return cmp.Compare(weight(b), weight(a)) })
	var out []combTrack
	var ranges []spacings // of each
	for _, t := range tracks {
		own, at := t.spacings(), -1
		for i := 0; i < len(out) && at < 0; i++ {
			if ratios := ranges[i].ratios(own); len(ratios) > 0 && out[i].hasAlias(t, ratios) {
				at = i
			}
		}
		if at < 0 {
			out, ranges = append(out, t), append(ranges, own)
			continue
		}
		for i := range t {
			t[i].harmonicAlias = true
		}
		out[at] = merged(out[at], t)
	}
	for i := range out { // an epoch counts once
		out[i] = oncePerEpoch(out[i])
	}
	return out
}

// oncePerEpoch leaves out aliases of an epoch at which the source itself was found.
func oncePerEpoch(t combTrack) combTrack {
	own := map[epoch]bool{}
	for _, o := range t {
		if !o.harmonicAlias {
			own[o.epoch] = true
		}
	}
	seen := map[epoch]bool{}
	return slices.DeleteFunc(t, func(o detection) bool {
		drop := o.harmonicAlias && (own[o.epoch] || seen[o.epoch])
		seen[o.epoch] = true
		return drop
	})
}

// Spacings are those of a track, from the least to the greatest.
type spacings struct{ low, high float64 }

func (t combTrack) spacings() spacings {
	r := spacings{math.Inf(1), math.Inf(-1)}
	for i := range t {
		r.low, r.high = min(r.low, t[i].spacing), max(r.high, t[i].spacing)
	}
	return r
}

// ratios gives the small ratios at which others can lie to these, with twice the tolerance that an alias
// is allowed within an hour.
func (r spacings) ratios(others spacings) (all []float64) {
	const tolerance = 2 * (aliasTolerance + trackDrift/4)
	for p := 1; p <= aliasMost; p++ {
		for q := 1; q <= aliasMost; q++ {
			ratio := float64(p) / float64(q)
			if p != q && gcd(p, q) == 1 && others.low <= r.high*ratio*(1+tolerance) && others.high >= r.low*ratio*(1-tolerance) {
				all = append(all, ratio)
			}
		}
	}
	return all
}

// hasAlias tells whether most of u was found at one of some ratios of the track's spacing, at
// times when the track was there.
func (t combTrack) hasAlias(u combTrack, ratios []float64) bool {
	var own combTrack
	for _, o := range t {
		if !o.harmonicAlias {
			own = append(own, o)
		}
	}
	return slices.ContainsFunc(ratios, func(ratio float64) bool {
		fits := 0
		for _, o := range u {
			n := own.near(o.at)
			if since := o.at.Sub(n.at).Abs(); since <= time.Hour && away(n.spacing*ratio, o.spacing) <= aliasTolerance+trackDrift/4*since.Hours() {
				fits++
			}
		}
		return 4*fits >= 3*len(u)
	})
}

func gcd(a, b int) int {
	for b > 0 {
		a, b = b, a%b
	}
	return a
}

// forced gives each source what was measured of it by force: a comb at the spacing that
// it has near that time.
func (l *noiseLog) forced(sources []*noiseSource, tracks []combTrack) {
	for i := range l.Readings {
		h := &l.Readings[i]
		for j := range h.Findings {
			f := &h.Findings[j]
			if f.Kind != survey.FindingComb || f.Detected() {
				continue
			}
			best, of := coldTolerance, -1
			for k, t := range tracks {
				if d := away(t.near(h.Start).spacing, float64(f.Spacing)); d < best {
					best, of = d, k
				}
			}
			if of >= 0 && sources[of].measured[i] == nil {
				sources[of].measured[i] = f
			}
		}
	}
}
