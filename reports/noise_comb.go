package reports

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

// Combs become sources by their spacing. A supply that warms up drifts by some 0.1 %,
// exponentially and within an hour (trade notes, 6.1), so that a course follows it from
// moment to moment with little freedom; courses are put together where a supply was off, or
// unheard, and came back.

const (
	// sameSpacing is by how much, as a share, spacings found at one moment may differ
	// and be one.
	sameSpacing = 1e-4
	// courseSlip and courseDrift are how far a spacing may stand from where it was last: an
	// error of both, and what warming changes in an hour, at its fastest.
	courseSlip, courseDrift = 2e-4, 2e-3
	courseMost              = 6e-4
	// A supply comes back within settledSlip once it is warm, within coldSlip while it is
	// not, which it is after warmAfter.
	settledSlip, coldSlip = 5e-4, 1.5e-3
	warmAfter             = 30 * time.Minute
	// kinMost bounds the ratios p/q of spacings that one source may be found at.
	kinMost, kinSlip = 4, 3e-4
	// combsAgree is the probability that two combs of chance, found anywhere between 15
	// and 500 kHz, lie within coldSlip of each other: 2·0.0015/ln(500/15).
	combsAgree = 1e-3
	// kinAgree is the same for one of the ten ratios between spacings that one source may be
	// found at, to kinSlip and what an hour of its drift adds: 10·2·8e-4/ln(500/15).
	kinAgree = 5e-3
)

// A course is a comb followed through time.
type course []witness

func (t course) first() *witness     { return &t[0] }
func (t course) last() *witness      { return &t[len(t)-1] }
func (t course) long() time.Duration { return t.last().at.Sub(t.first().at) }

// near gives the witness nearest in time.
func (t course) near(at time.Time) *witness {
	i, _ := slices.BinarySearchFunc(t, at, func(o witness, at time.Time) int { return o.at.Compare(at) })
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

// slip gives how far a course's spacing may stand from where it was last, as a share.
func slip(since time.Duration) float64 {
	return min(courseMost, courseSlip+courseDrift*math.Abs(since.Hours()))
}

// combs gives the sources of combs. Alone counts those of which chance is not ruled out.
func (l *noiseLog) combs() (sources []*noiseSource, alone int) {
	obs := l.observe(survey.FindingComb, func(a, b *survey.Finding) bool {
		return away(float64(a.Spacing), float64(b.Spacing)) > sameSpacing
	})
	groups := l.joinKin(l.joinCourses(l.follow(obs)))
	var courses []course
	for _, g := range groups {
		s := l.newNoiseSource(survey.FindingComb, g, combsAgree)
		if !l.shows(s) {
			alone++
			continue
		}
		sources = append(sources, s)
		courses = append(courses, slices.DeleteFunc(slices.Clone(g), func(o witness) bool { return o.kin }))
	}
	l.forced(sources, courses)
	return sources, alone
}

// follow makes courses of witnesses in order of time. Those of one moment go to
// different courses, the nearest pairs first.
func (l *noiseLog) follow(obs []witness) (courses []course) {
	var live []int
	for i := 0; i < len(obs); {
		end := i + 1
		for end < len(obs) && obs[end].moment == obs[i].moment {
			end++
		}
		live = slices.DeleteFunc(live, func(t int) bool { return obs[i].at.Sub(courses[t].last().at) > l.longest })
		taken := map[int]bool{}
		given := make([]bool, end-i)
		for {
			best, o, t := math.Inf(1), -1, -1
			for k := range given {
				for _, n := range live {
					last := courses[n].last()
					d := away(last.spacing, obs[i+k].spacing)
					if !given[k] && !taken[n] && d < best && d <= slip(obs[i].at.Sub(last.at)) {
						best, o, t = d, k, n
					}
				}
			}
			if o < 0 {
				break
			}
			given[o], taken[t] = true, true
			courses[t] = append(courses[t], obs[i+o])
		}
		for k, done := range given {
			if !done {
				live = append(live, len(courses))
				courses = append(courses, course{obs[i+k]})
			}
		}
		i = end
	}
	return courses
}

// joinCourses puts together courses of one supply, those nearest in spacing first. Two that
// are there at one moment are two.
func (l *noiseLog) joinCourses(courses []course) []course {
	apart := make([][]float64, len(courses)) // by pair, the later first; +Inf: two supplies
	compare := func(i, j int) {
		d, ok := l.same(courses[i], courses[j])
		if !ok {
			d = math.Inf(1)
		}
		apart[max(i, j)][min(i, j)] = d
	}
	for i := range courses {
		apart[i] = make([]float64, i)
		for j := range i {
			compare(i, j)
		}
	}
	for {
		best, a, b := math.Inf(1), -1, -1
		for i := range apart {
			for j, d := range apart[i] {
				if d < best {
					best, a, b = d, j, i
				}
			}
		}
		if a < 0 {
			return slices.DeleteFunc(courses, func(t course) bool { return t == nil })
		}
		courses[a], courses[b] = merged(courses[a], courses[b]), nil
		for i, t := range courses {
			if i != b {
				apart[max(i, b)][min(i, b)] = math.Inf(1)
			}
			if i != a && t != nil {
				compare(a, i)
			}
		}
	}
}

func merged(a, b course) course {
	all := append(slices.Clone(a), b...)
	slices.SortStableFunc(all, func(x, y witness) int { return x.at.Compare(y.at) })
	return all
}

// same tells whether two courses may be of one supply, and how far they stand apart.
func (l *noiseLog) same(a, b course) (d float64, ok bool) {
	if away(a.last().spacing, b.last().spacing) > 2*coldSlip { // far apart, whatever the rest says
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

// cameBack judges courses of which b begins after a ended. Over a pause they meet warm,
// or either is too short to be warm.
func (l *noiseLog) cameBack(a, b course) (d float64, ok bool) {
	ends, warm := away(a.last().spacing, b.first().spacing), away(a.last().spacing, b.last().spacing)
	pause := b.first().at.Sub(a.last().at)
	switch {
	case pause <= l.longest && ends <= slip(pause):
		return ends, true
	case a.segmentLong() && b.segmentLong():
		return warm, warm <= settledSlip
	}
	least := min(ends, warm)
	return least, max(ends, warm) <= 2*coldSlip && least <= coldSlip
}

// segmentLong tells whether the course's last stretch without a pause is long enough for a
// supply to be warm at its end.
func (t course) segmentLong() bool {
	first := len(t) - 1
	for first > 0 && t[first].at.Sub(t[first-1].at) <= time.Hour {
		first--
	}
	return t.last().at.Sub(t[first].at) >= warmAfter
}

// interleaved judges courses that overlap in time: they must never share a moment, and
// agree wherever they are neighbours.
func interleaved(a, b course) (d float64, ok bool) {
	if len(a) < len(b) {
		a, b = b, a
	}
	for _, o := range b {
		n := a.near(o.at)
		if n.moment == o.moment {
			return 0, false
		}
		apart := away(n.spacing, o.spacing)
		limit := slip(o.at.Sub(n.at))
		if since := o.at.Sub(n.at).Abs(); since > time.Hour {
			limit = coldSlip
		}
		if apart > limit {
			return 0, false
		}
		d = max(d, apart)
	}
	return d, true
}

// joinKin puts a comb that is found at another multiple of a source's spacing, in its
// hours, with the source: the one with the greater evidence counts.
func (l *noiseLog) joinKin(courses []course) []course {
	weight := func(t course) (sum float64) {
		for _, o := range t {
			sum -= math.Log10(o.doubt)
		}
		return sum
	}
	slices.SortStableFunc(courses, func(a, b course) int { return cmp.Compare(weight(b), weight(a)) })
	var out []course
	for _, t := range courses {
		at := slices.IndexFunc(out, func(o course) bool { return o.kin(t) })
		if at < 0 {
			out = append(out, t)
			continue
		}
		for i := range t {
			t[i].kin = true
		}
		out[at] = merged(out[at], t)
	}
	for i := range out { // a moment counts once
		out[i] = oncePerMoment(out[i])
	}
	return out
}

// oncePerMoment leaves out kin of a moment at which the source itself was found.
func oncePerMoment(t course) course {
	own := map[moment]bool{}
	for _, o := range t {
		if !o.kin {
			own[o.moment] = true
		}
	}
	seen := map[moment]bool{}
	return slices.DeleteFunc(t, func(o witness) bool {
		drop := o.kin && (own[o.moment] || seen[o.moment])
		seen[o.moment] = true
		return drop
	})
}

// kin tells whether most of u was found at one small ratio of the course's spacing, at
// times when the course was there.
func (t course) kin(u course) bool {
	var own course
	for _, o := range t {
		if !o.kin {
			own = append(own, o)
		}
	}
	for p := 1; p <= kinMost; p++ {
		for q := 1; q <= kinMost; q++ {
			ratio, fits := float64(p)/float64(q), 0
			for _, o := range u {
				n := own.near(o.at)
				if since := o.at.Sub(n.at).Abs(); since <= time.Hour && away(n.spacing*ratio, o.spacing) <= kinSlip+courseDrift/4*since.Hours() {
					fits++
				}
			}
			if p != q && gcd(p, q) == 1 && 4*fits >= 3*len(u) {
				return true
			}
		}
	}
	return false
}

func gcd(a, b int) int {
	for b > 0 {
		a, b = b, a%b
	}
	return a
}

// forced gives each source what was measured of it by force: a comb at the spacing that
// it has near that time.
func (l *noiseLog) forced(sources []*noiseSource, courses []course) {
	for i := range l.readings {
		h := &l.readings[i]
		for j := range h.Findings {
			f := &h.Findings[j]
			if f.Kind != survey.FindingComb || f.Detected() {
				continue
			}
			best, of := coldSlip, -1
			for k, t := range courses {
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
