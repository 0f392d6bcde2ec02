package noise

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// What a source likely is. The signs are those of trade notes 6.1 and 6.2; where they
// fit several families as well, none is named.

const (
	// fewLines is under how many lines in view a comb is not sure (trade notes, 6.3).
	fewLines = 8
	// warmUpSeen is what the spacing must change by, as a share, to show a supply that
	// warms; clockSteady under what change over clockTime it is a crystal's, which 30
	// parts in a million is already much for.
	warmUpSeen  = 1e-4
	clockSteady = 30e-6
	clockTime   = 3 * time.Hour
	// clockStep is what the spacings of clocked devices are multiples of: frames of 1 ms.
	clockStep = 1000.0 // Hz
	// enoughRounds is from how many rounds by day, or by night, silence there tells.
	enoughRounds = 4
	// A lamp driver runs at 40 to 150 kHz.
	lampLow, lampHigh = 40e3, 150e3
	// A fence clicks about once in 1.0 to 1.5 s, wider here for a rate that is counted.
	fenceLow, fenceHigh = 1 / 1.7, 1 / 0.6 // a second
	// aliasOften is one in how many detections at another multiple of the spacing is worth a
	// word.
	aliasOften = 20
	// allTheTime is the share of the rounds from which a source counts as never off.
	allTheTime = 0.9
)

// Shapes of a mains period, as detectors store them.
const (
	oneSpike  = "one spike"
	twoSpikes = "two spikes"
)

// A likelihood is what a source is taken for, and why.
type likelihood struct {
	likely            string
	evidence, against []string
}

func (v *likelihood) speaks(format string, args ...any) {
	v.evidence = append(v.evidence, fmt.Sprintf(format, args...))
}

func (v *likelihood) contradicts(format string, args ...any) {
	v.against = append(v.against, fmt.Sprintf(format, args...))
}

// A judge weighs what speaks for and against a source.
type judge struct {
	*noiseLog
	all      []*noiseSource
	zone     *time.Location // of the clock hours it tells
	controls map[survey.Setup]bool
	own      []survey.OwnLine
	crossed  map[string][]crossing // by sunrise and sunset
}

func (l *noiseLog) newJudge(all []*noiseSource, zone *time.Location) *judge {
	own, _ := l.calibrated()
	return &judge{l, all, zone, l.In.Controls(), own, map[string][]crossing{sunset: l.crossings(false), sunrise: l.crossings(true)}}
}

func (j *judge) judge(s *noiseSource, out *result.NoiseSource) likelihood {
	v := likelihood{likely: result.LikelyNotKnown, evidence: []string{}, against: []string{}}
	h, d := j.habits(s), j.daylight(s)
	switch s.kind {
	case survey.FindingComb:
		j.comb(&v, s, out, h, d)
	case survey.FindingMains:
		j.mains(&v, s, out, d)
	case survey.FindingImpulses:
		j.impulses(&v, s, out, d)
	case survey.FindingHump:
		j.hump(&v, s)
	case survey.FindingNotch:
		j.notch(&v, s)
	}
	j.time(&v, h, d)
	j.common(&v, s, out)
	return v
}

// comb weighs a comb: it is a supply's unless its lines may as well be stations' or a
// clock's, or there are too few to tell and nothing else speaks for it.
func (j *judge) comb(v *likelihood, s *noiseSource, out *result.NoiseSource, h habits, d daylight) {
	v.speaks("up to %d lines in view at whole multiples of %s, %s", *out.Lines, *out.Spacing, j.segmentsText(s))
	onRaster := s.onRaster()
	beats := j.beatsWith(v, s)
	warms := j.warms(v, s)
	clocked := j.clocked(v, s)
	switch {
	case j.owned(v, s):
		v.likely = result.LikelyOwn
		return
	case clocked && !warms && !onRaster:
		v.likely = result.LikelyClock
	case !beats && !warms && (onRaster || *out.Lines < fewLines):
	case d.daylightOnly() && (h.onRise.often() || h.offSet.often()):
		v.likely = result.LikelySolar
	case s.spacing >= lampLow && s.spacing <= lampHigh && d.darkOnly() && (h.onSet.often() || h.offRise.often()):
		v.likely = result.LikelyLamp
	default:
		v.likely = result.LikelySupply
	}
	if onRaster {
		v.contradicts("all its lines stand on the broadcasters' 5 kHz raster")
	}
	if *out.Lines < fewLines {
		v.contradicts("only %s in view; to be sure takes %d", wording.Count(*out.Lines, "line"), fewLines)
	}
	if b := s.lineBeat(); !beats && s.mains == nil && b.of > 0 {
		v.contradicts("no beat with the mains was found to go with it, though its lines were strong enough to show one in %s", wording.Count(b.of, "moment"))
	}
	aliases := 0
	for _, o := range s.obs {
		if o.harmonicAlias {
			aliases++
		}
	}
	if aliasOften*aliases >= len(s.obs) {
		v.contradicts("in %d of %s it was found at another multiple of its spacing, which may be the true one", aliases, wording.Count(len(s.obs), "detection"))
	}
}

// onRaster tells whether all of a comb's lines in view stand on the raster: its spacing
// does, to less than the width of a bin at the highest.
func (s *noiseSource) onRaster() bool {
	_, high, ok := s.stretch()
	const bin = 100.0 // Hz
	return ok && math.Abs(math.Remainder(s.spacing, channelRaster))*float64(high)/s.spacing <= bin
}

// beatsWith tells whether mains modulation goes with a comb: its own lines', or else noise's
// that comes with it.
func (j *judge) beatsWith(v *likelihood, s *noiseSource) bool {
	if b := s.lineBeat(); b.found() {
		v.speaks("%s", b.text())
		return true
	}
	p := s.mains
	if p == nil {
		return false
	}
	if len(p.among) > 1 {
		var ids []string
		for i, c := range j.all {
			if slices.Contains(p.among, c) {
				ids = append(ids, fmt.Sprint(i+1))
			}
		}
		v.speaks("noise beats at %s Hz with it; which of %s makes it cannot be told", wording.Number(p.envelope, 0), wording.List(ids))
		return false
	}
	text := fmt.Sprintf("noise beats at %s Hz, twice the mains frequency, in %d of %s with it", wording.Number(p.envelope, 0), p.with, wording.Count(p.of, "round"))
	switch {
	case p.offOf > 0 && 4*p.without <= p.offOf:
		text += fmt.Sprintf(" and %d of %d without", p.without, p.offOf)
	case p.shown && stats.Finite(p.rise):
		text += fmt.Sprintf(", %s dB more than while it is off and all other combs are as they are", wording.Number(p.rise, 1))
	}
	v.speaks("%s", text)
	switch {
	case p.turns == 1:
		v.contradicts("that the beat is its own was seen at one switching alone: another device that is switched in that round looks the same")
	case p.shown:
	case s.switched:
		v.contradicts("it was off too briefly, or others were switched with it, to show that the beat is its own")
	default:
		v.contradicts("it was not heard off and on while all else stayed: that the beat is its own is not shown")
	}
	return true
}

// warms tells whether the spacing was seen to settle after the source came on.
func (j *judge) warms(v *likelihood, s *noiseSource) bool {
	share, times := j.warmUp(s)
	if times == 0 || math.Abs(share) < warmUpSeen {
		return false
	}
	if s.brief { // a line has no beginning
		if s.drifts {
			v.speaks("its spacing moves evenly, by %s Hz an hour, for as long as it is on", wording.Number(s.drift, 1))
		}
		return false
	}
	where := "above"
	if share < 0 {
		where = "below"
	}
	v.speaks("its spacing begins %s %% %s what it settles at, as that of a supply does while it warms (seen %s)",
		wording.Number(100*math.Abs(share), 2), where, wording.Count(times, "time"))
	return true
}

// clocked tells whether the spacing is a crystal's: a multiple of 1 kHz that stays.
func (j *judge) clocked(v *likelihood, s *noiseSource) bool {
	var all []float64
	long := time.Duration(0)
	for _, o := range s.obs {
		if !o.harmonicAlias {
			all = append(all, o.spacing)
		}
	}
	for _, p := range s.spans {
		long = max(long, p.Last.Sub(p.First))
	}
	slices.Sort(all)
	low, high := stats.Quantile(all, 0.1), stats.Quantile(all, 0.9)
	step := clockStep * math.Round(s.spacing/clockStep)
	if long < clockTime || len(all) < enoughRounds || high/low-1 > clockSteady || away(step, s.spacing) > clockSteady {
		return false
	}
	v.speaks("its spacing is a multiple of 1 kHz and stays within %.0f parts in a million for %s, as a crystal's does", math.Ceil(1e6*(high/low-1)), wording.Duration(long))
	return true
}

// owned tells whether a comb is the receiver's.
func (j *judge) owned(v *likelihood, s *noiseSource) bool {
	own := false
	for _, why := range []string{j.throughTerminator(s, j.controls), j.calibratedComb(s, j.own)} {
		if why != "" {
			own = true
			v.speaks("%s", why)
		}
	}
	return own
}

// mains weighs a beat that goes with no comb.
func (j *judge) mains(v *likelihood, s *noiseSource, out *result.NoiseSource, d daylight) {
	shape := ""
	if out.Shape != nil {
		shape = *out.Shape
	}
	text := fmt.Sprintf("noise beats at %s Hz, twice the mains frequency, %s", wording.Number(float64(*out.Envelope), 1), j.segmentsText(s))
	if shape != "" {
		text += ": " + shape + " a mains period"
	}
	v.speaks("%s", text)
	segments := map[string]bool{}
	for g := range s.findings() {
		segments[j.Readings[g.reading].Segment.Name] = true
	}
	wide := out.Low != nil && *out.High >= 2**out.Low
	always := s.share() >= allTheTime && d.day >= enoughRounds && d.night >= enoughRounds && s.longest() >= 20*time.Hour
	switch {
	case shape == twoSpikes:
		v.likely = result.LikelyDimmer
		v.contradicts("arcing beats the same way where it strikes at the peaks of the voltage")
	case len(segments) >= 3 && wide && always && shape != oneSpike && shape != twoSpikes:
		v.likely = result.LikelyArcing
		v.speaks("all day and night over more than an octave")
		v.contradicts("a supply whose lines have merged looks the same")
	default:
		v.contradicts("supplies whose lines have merged, motors and arcing all beat with the mains: nothing tells them apart here")
	}
}

// longest gives the longest stretch of time in which the source was on.
func (s *noiseSource) longest() (long time.Duration) {
	for _, p := range s.spans {
		long = max(long, p.Last.Sub(p.First))
	}
	return long
}

// impulses weighs impulses by their rate and how evenly they come.
func (j *judge) impulses(v *likelihood, s *noiseSource, out *result.NoiseSource, d daylight) {
	c := j.pulseCount(s)
	if c.few() {
		v.speaks("%s: too few to tell a rate", wording.Pulses(c.pulses, c.time))
	} else {
		v.speaks("%s: %s", wording.Rate(c.rate()), wording.Pulses(c.pulses, c.time))
	}
	switch pulseClass(s.obs[0].found[0].Finding) {
	case mainsPulses:
		if rate := float64(s.obs[0].found[0].Rate); rate > 90 {
			v.likely = result.LikelyDimmer
			v.speaks("they come twice a mains period")
		} else {
			v.speaks("they come once a mains period")
		}
		v.contradicts("arcing, and any rectifier without a filter, make pulses with the mains too")
	case clicks:
		j.clicks(v, c, d)
	default:
		v.contradicts("motors, arcs, pulse-width control and data all come in such rows")
	}
}

// clicks weighs single ones: a fence's come evenly, day and night.
func (j *judge) clicks(v *likelihood, c pulseCount, d daylight) {
	// Of clicks by pValue the scatter is chi-squared; of even ones it is less.
	pValue := distuv.ChiSquared{K: float64(max(1, c.counted-1))}.CDF(c.scatter)
	even := c.pulses >= 20 && pValue < 1e-3
	fits := !c.few() && c.rate() >= fenceLow && c.rate() <= fenceHigh
	switch {
	case even && fits:
		v.likely = result.LikelyFence
		v.speaks("they come evenly: counts differ less from reading to reading than those of clicks by chance")
		if d.day < enoughRounds || d.night < enoughRounds {
			v.contradicts("a fence clicks day and night, of which only one was heard")
		} else if min(float64(d.dayOn)/float64(d.day), float64(d.nightOn)/float64(d.night)) < allTheTime/2 {
			v.likely = result.LikelyNotKnown
			v.contradicts("at the rate of a fence, which does not rest by day or night as this does")
		}
	case fits:
		v.contradicts("at the rate of an electric fence, but whether they come evenly is not known")
	default:
		v.contradicts("switches, thermostats and lightning all click: nothing tells them apart here")
	}
}

// hump weighs a hump, and names the combs that it comes and goes with.
func (j *judge) hump(v *likelihood, s *noiseSource) {
	low, high, _ := s.stretch()
	v.speaks("the floor rises over its smooth curve at %s", wording.Edges(low, high))
	for _, c := range j.all {
		if c.kind != survey.FindingComb {
			continue
		}
		both, either := 0, 0
		for n := range s.on {
			if s.listened[n] && c.listened[n] && (s.on[n] || c.on[n]) {
				either++
				if s.on[n] && c.on[n] {
					both++
				}
			}
		}
		if 5*both >= 4*either && both >= enoughRounds {
			v.speaks("it comes and goes with the comb of %s: lines of a supply that merge make such humps", survey.Hz(c.spacing))
		}
	}
	v.contradicts("merged lines of a supply, resonances of wiring and wide data signals all make humps")
}

// notch weighs notches: only devices that must spare amateurs leave exactly their bands
// out.
func (j *judge) notch(v *likelihood, s *noiseSource) {
	all := slices.Collect(s.findings())
	slices.SortStableFunc(all, func(a, b findingAt) int { return cmp.Or(cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High)) })
	var names []string
	for _, g := range all {
		if name := wording.Edges(g.Low, g.High); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	v.likely = result.LikelyNetwork
	v.speaks("the floor is raised, but for %s", wording.List(names[:min(len(names), 6)]))
	v.contradicts("a VDSL line leaves the same bands out where its operator sets it so")
	if len(names) == 1 {
		v.contradicts("one band only")
	}
}

// daylightOnly and darkOnly tell whether rounds enough, by day and by night, show the
// source in one of the two alone.
func (d daylight) daylightOnly() bool {
	return d.nightOn == 0 && d.night >= enoughRounds && d.dayOn >= enoughRounds
}

func (d daylight) darkOnly() bool {
	return d.dayOn == 0 && d.day >= enoughRounds && d.nightOn >= enoughRounds
}

// time says when the source is on.
func (j *judge) time(v *likelihood, h habits, d daylight) {
	for _, words := range h.words {
		v.speaks("%s", words)
	}
	switch {
	case d.daylightOnly():
		v.speaks("on by day only: in %d of %d rounds by day, in none of %d by night", d.dayOn, d.day, d.night)
	case d.darkOnly():
		v.speaks("on in the dark only: in %d of %d rounds by night, in none of %d by day", d.nightOn, d.night, d.day)
	}
}

// common says what speaks against any source.
func (j *judge) common(v *likelihood, s *noiseSource, out *result.NoiseSource) {
	if len(s.obs) == 1 {
		v.contradicts("seen once")
	}
	heard, there := map[survey.Setup]bool{}, map[survey.Setup]bool{}
	for _, o := range s.obs {
		for _, g := range o.found {
			heard[j.Readings[g.reading].Sweep.Setup] = true
		}
	}
	measured, missed := 0, 0
	for i := range j.Readings {
		h := &j.Readings[i]
		if s.at(h.Sweep.Survey, h.Start) {
			there[h.Sweep.Setup] = true
			if s.kind == survey.FindingComb && heard[h.Sweep.Setup] {
				measured++
				if s.measured[i] == nil {
					missed++
				}
			}
		}
	}
	v.speaks("stood out by itself at %s, through %d of %s", wording.Count(len(s.obs), "moment"), len(heard), wording.Count(len(there), "setup"))
	if len(heard) == 1 && len(there) > 1 {
		v.contradicts("heard through one setup only")
	}
	if 5*missed > measured {
		v.contradicts("%d of %s while it was on hold no measure of it: levels may read high", missed, wording.Count(measured, "reading"))
	}
	if s.neverOff() && len(s.obs) > 1 {
		v.contradicts("it was never heard off: its hours tell nothing of it")
	}
}

// segmentsText names the segments in which the source was detected.
func (j *judge) segmentsText(s *noiseSource) string {
	seen := map[string]bool{}
	var names []string
	for g := range s.findings() {
		if name := j.Readings[g.reading].Segment.Name; !seen[name] {
			seen[name] = true
			names = append(names, wording.Printable(name))
		}
	}
	if len(names) > 4 {
		return fmt.Sprintf("in %d segments", len(names))
	}
	return "on " + wording.List(names)
}
