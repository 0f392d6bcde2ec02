package judge

import (
	"fmt"
	"math"
	"slices"
	"time"

	"nightfloor/reports/noise/source"
	"nightfloor/reports/noise/track"
	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// Signs of combs: STATISTICS.md 8.6, PHYSICS.md 8.2 and 8.5; TestSignsOfCombs.
const (
	// A comb with fewer than linesFew lines in view may be chance.
	linesFew = 8
	// A spacing that settles by warmUpLeast or more, as a share, shows a supply that warms up: a
	// tenth of what supplies do.
	warmUpLeast = 1e-4
	// The spacing of a clocked device is a multiple of clockStep, since frames last 1 ms, and over
	// clockTime it changes by clockSteady at most, as a share: 30 parts in a million is much for
	// a crystal.
	clockSteady = 30e-6
	clockTime   = 3 * time.Hour
	clockStep   = 1000.0 // Hz
	// A lamp driver runs at 40 to 150 kHz.
	lampLow, lampHigh = 40e3, 150e3 // Hz
	// Where one in aliasOften detections or more was at another multiple of the spacing, that is said.
	aliasOften = 20
	// channelRaster is how far apart the broadcasters of shortwave stand.
	channelRaster = 5000.0 // Hz
	// A comb stands on the raster where its highest line is no further from it than rasterReach,
	// the width of a bin.
	rasterReach = 100.0 // Hz
)

// comb judges a comb: it is a supply's unless its lines may as well be stations' or a clock's, or
// there are too few of them and no other sign of a supply.
func (k *known) comb(v *Verdict, s *source.Source, h habits) {
	lines, spacing := s.LinesInView(k.Log), s.Comb.Spacing
	_, where := k.segments(s)
	v.supports("up to %d lines in view at whole multiples of %s, %s", lines, survey.Hz(spacing), where)
	raster := onRaster(s)
	modulated := k.modulationOfComb(v, s)
	warms := warms(v, s)
	clocked := clocked(v, s)
	switch {
	case k.receiversOwn(v, s):
		v.Likely = result.LikelyOwn
		return
	case clocked && !warms && !raster:
		v.Likely = result.LikelyClock
	case !modulated && !warms && (raster || lines < linesFew):
	case h.byDayOnly && h.withSun:
		v.Likely = result.LikelySolar
	case spacing >= lampLow && spacing <= lampHigh && h.byNightOnly && h.withDark:
		v.Likely = result.LikelyLamp
	default:
		v.Likely = result.LikelySupply
	}
	if raster {
		v.contradicts("all its lines stand on the broadcasters' 5 kHz raster")
	}
	if lines < linesFew {
		v.contradicts("only %s in view; to be sure takes %d", survey.Count(lines, "line"), linesFew)
	}
	if m := s.Comb.Lines; !modulated && s.Comb.Noise == nil && m.Of > 0 {
		v.contradicts("no modulation by the mains was found to go with it, though its lines were strong enough to show it in %s", survey.Count(m.Of, "moment"))
	}
	if aliases := len(s.Track) - len(s.Fundamental()); aliasOften*aliases >= len(s.Track) {
		v.contradicts("in %d of %s it was found at another multiple of its spacing, which may be the true one", aliases, survey.Count(len(s.Track), "detection"))
	}
}

// onRaster tells whether all of a comb's lines in view stand on the raster: the highest is the
// furthest from it.
func onRaster(s *source.Source) bool {
	_, high, ok := s.Band()
	return ok && math.Abs(math.Remainder(s.Comb.Spacing, channelRaster))*float64(high)/s.Comb.Spacing <= rasterReach
}

// modulationOfComb tells whether modulation by the mains goes with a comb: that of its own
// lines, or else of noise that comes with it.
func (k *known) modulationOfComb(v *Verdict, s *source.Source) bool {
	if m := s.Comb.Lines; m.Found() {
		v.supports("its lines are modulated at %s Hz, twice the mains frequency, in %d of %s", wording.Number(m.Envelope, 0), m.With, survey.Count(m.Of, "moment"))
		return true
	}
	m := s.Comb.Noise
	if m == nil {
		return false
	}
	if len(m.Among) > 1 {
		var ids []string
		for i, other := range k.all {
			if slices.Contains(m.Among, other) {
				ids = append(ids, fmt.Sprint(i+1))
			}
		}
		v.supports("noise modulated at %s Hz comes with it; which of %s makes it cannot be told", wording.Number(m.Envelope, 0), wording.List(ids))
		return false
	}
	text := fmt.Sprintf("noise is modulated at %s Hz, twice the mains frequency, in %d of %s with it", wording.Number(m.Envelope, 0), m.With, survey.Count(m.Of, "round"))
	switch {
	case m.OffOf > 0 && 4*m.Without <= m.OffOf:
		text += fmt.Sprintf(" and %d of %d without", m.Without, m.OffOf)
	case m.Shown() && stats.Finite(m.Rise):
		text += fmt.Sprintf(", %s dB more than while it is off and all other combs are as they are", wording.Number(m.Rise, 1))
	}
	v.supports("%s", text)
	switch {
	case m.Switchings == 1:
		v.contradicts("that the modulation is its own was seen at one switching alone: another device that is switched in that round looks the same")
	case m.Shown():
	case s.Switched:
		v.contradicts("it was off too briefly, or others were switched with it, to show that the modulation is its own")
	default:
		v.contradicts("it was not heard off and on while all else stayed: that the modulation is its own is not shown")
	}
	return true
}

// warms tells whether the spacing was seen to settle after the source came on.
func warms(v *Verdict, s *source.Source) bool {
	d := s.Comb.Drift
	if d.WarmUpTimes == 0 || math.Abs(d.WarmUp) < warmUpLeast {
		return false
	}
	if d.Straight { // a line has no beginning
		if d.Known {
			v.supports("its spacing moves evenly, by %s Hz an hour, for as long as it is on", wording.Number(d.Slope, 1))
		}
		return false
	}
	where := "above"
	if d.WarmUp < 0 {
		where = "below"
	}
	v.supports("its spacing begins %s %% %s what it settles at, as that of a supply does while it warms (seen %s)",
		wording.Number(100*math.Abs(d.WarmUp), 2), where, survey.Count(d.WarmUpTimes, "time"))
	return true
}

// clocked tells whether the spacing is a crystal's: a multiple of 1 kHz that stays.
func clocked(v *Verdict, s *source.Source) bool {
	all := s.Fundamental().Spacings()
	slices.Sort(all)
	change := stats.Quantile(all, 0.9)/stats.Quantile(all, 0.1) - 1
	step := clockStep * math.Round(s.Comb.Spacing/clockStep)
	if s.Longest() < clockTime || len(all) < roundsFew || change > clockSteady || track.RelativeDifference(step, s.Comb.Spacing) > clockSteady {
		return false
	}
	v.supports("its spacing is a multiple of 1 kHz and stays within %.0f parts in a million for %s, as a crystal's does", math.Ceil(1e6*change), wording.Duration(s.Longest()))
	return true
}
