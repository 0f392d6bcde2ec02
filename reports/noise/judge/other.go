package judge

import (
	"cmp"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"nightfloor/reports/noise/presence"
	"nightfloor/reports/noise/source"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

const (
	// A fence clicks about once in 1.0 to 1.5 s, wider here for a rate that is counted (PHYSICS.md
	// 8.2); TestSignsOfFences.
	fenceLow, fenceHigh = 1 / 1.7, 1 / 0.6 // a second
	// Clicks come evenly where evenFew or more are so even that those by chance would be with a
	// probability under evenChance (STATISTICS.md 8.3); TestSignsOfFences.
	evenFew, evenChance = 20, 1e-3
	// Arcing is on for arcingTime or longer, in arcingSegments or more; TestSignsOfArcing.
	arcingTime, arcingSegments = 20 * time.Hour, 3
	// Shapes of a mains period, as detectors store them.
	oneSpike, twoSpikes = "one spike", "two spikes"
)

// modulated judges modulation by the mains that goes with no comb.
func (k *known) modulated(v *Verdict, s *source.Source, h habits) {
	m := s.Modulation()
	segments, where := k.segments(s)
	text := "noise is modulated at " + wording.Number(m.Envelope, 1) + " Hz, twice the mains frequency, " + where
	if m.Shape != "" {
		text += ": " + m.Shape + " a mains period"
	}
	v.supports("%s", text)
	low, high, known := s.Band()
	always := s.ShareOfRounds() >= allTheTime && h.day >= roundsFew && h.night >= roundsFew && s.Longest() >= arcingTime
	switch {
	case m.Shape == twoSpikes:
		v.Likely = result.LikelyDimmer
		v.contradicts("arcing looks the same where it strikes at the peaks of the voltage")
	case len(segments) >= arcingSegments && known && high >= 2*low && always && m.Shape != oneSpike && m.Shape != twoSpikes:
		v.Likely = result.LikelyArcing
		v.supports("all day and night over more than an octave")
		v.contradicts("a supply whose lines have merged looks the same")
	default:
		v.contradicts("supplies whose lines have merged, motors and arcing are all modulated by the mains: nothing tells them apart here")
	}
}

// impulses judges impulses by their rate and how evenly they come.
func (k *known) impulses(v *Verdict, s *source.Source, h habits) {
	n := s.Impulses
	if n.Few() && n.Time > 0 {
		low, high := n.RateInterval()
		v.supports("%s: too few to tell a rate but that it is %s to %s", wording.Pulses(n.Impulses, n.Time), wording.Rate(low), wording.Rate(high))
	} else if n.Few() {
		v.supports("%s: too few to tell a rate", wording.Pulses(n.Impulses, n.Time))
	} else {
		v.supports("%s: %s", wording.Rate(n.Rate()), wording.Pulses(n.Impulses, n.Time))
	}
	switch track.ImpulsesOf(s.Finding()) {
	case track.MainsPulses:
		if s.Finding().Rate > 90 {
			v.Likely = result.LikelyDimmer
			v.supports("they come twice a mains period")
		} else {
			v.supports("they come once a mains period")
		}
		v.contradicts("arcing, and any rectifier without a filter, make pulses with the mains too")
	case track.Clicks:
		clicks(v, n, h)
	default:
		v.contradicts("motors, arcs, pulse-width control and data all come in such rows")
	}
}

// clicks judges single ones: a fence's come evenly, day and night.
func clicks(v *Verdict, n presence.ImpulseCount, h habits) {
	// Of clicks by chance the scatter is chi-squared; of even ones it is less.
	pValue := distuv.ChiSquared{K: float64(max(1, n.Epochs-1))}.CDF(n.Scatter)
	fits := !n.Few() && n.Rate() >= fenceLow && n.Rate() <= fenceHigh
	switch {
	case fits && n.Impulses >= evenFew && pValue < evenChance:
		v.Likely = result.LikelyFence
		v.supports("they come evenly: counts differ less from reading to reading than those of clicks by chance")
		if h.day < roundsFew || h.night < roundsFew {
			v.contradicts("a fence clicks day and night, of which only one was heard")
		} else if min(float64(h.dayOn)/float64(h.day), float64(h.nightOn)/float64(h.night)) < allTheTime/2 {
			v.Likely = result.LikelyNotKnown
			v.contradicts("at the rate of a fence, which does not rest by day or night as this does")
		}
	case fits:
		v.contradicts("at the rate of an electric fence, but whether they come evenly is not known")
	default:
		v.contradicts("switches, thermostats and lightning all click: nothing tells them apart here")
	}
}

// hump judges a hump, and names the combs that it comes and goes with.
func (k *known) hump(v *Verdict, s *source.Source) {
	low, high, _ := s.Band()
	v.supports("the floor rises over its smooth curve at %s", wording.Edges(low, high))
	for _, comb := range k.all {
		if comb.Kind() != survey.FindingComb {
			continue
		}
		both, either := 0, 0
		for n := range s.On {
			if s.Listened[n] && comb.Listened[n] && (s.On[n] || comb.On[n]) {
				either++
				if s.On[n] && comb.On[n] {
					both++
				}
			}
		}
		if 5*both >= 4*either && both >= roundsFew {
			v.supports("it comes and goes with the comb of %s: lines of a supply that merge make such humps", survey.Hz(comb.Comb.Spacing))
		}
	}
	v.contradicts("merged lines of a supply, resonances of wiring and wide data signals all make humps")
}

// notch judges notches: only devices that must spare amateurs leave out just their bands.
func (k *known) notch(v *Verdict, s *source.Source) {
	all := slices.SortedStableFunc(s.Findings(), func(a, b track.Finding) int { return cmp.Or(cmp.Compare(a.Low, b.Low), cmp.Compare(a.High, b.High)) })
	var names []string
	for _, f := range all {
		if name := wording.Edges(f.Low, f.High); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	v.Likely = result.LikelyNetwork
	v.supports("the floor is raised, but for %s", wording.List(names[:min(len(names), 6)]))
	v.contradicts("a VDSL line leaves the same bands out where its operator sets it so")
	if len(names) == 1 {
		v.contradicts("one band only")
	}
}
