package page

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"nightfloor/reports/result"
	"nightfloor/reports/stats"
	"nightfloor/reports/text"
	"nightfloor/reports/wording"
	"nightfloor/survey"
)

// A turnView is what one antenna at one placement heard by bearing in one segment.
type turnView struct {
	Antenna, Segment, Range string
	Picture                 *polar            // of the floor; nil where there is no pattern of it
	Nulls                   []*result.Pattern // those in which one is claimed
	Carriers                bool              // one of them is of a carrier
	Points                  []result.PatternPoint
	Worth                   []string // what a turn is worth
	Doubts                  []string
}

// A polar is the picture of a pattern, in units of its view box of 360 by 360: north
// is up, level goes outwards.
type polar struct {
	Alt, Words string
	Rings      []ring
	Spokes     []spoke
	Curve      string // path; "" where none is fitted
	Null       []string
	NullAreas  []string
	Bars       []bar
	Dots       []dot
}

// A length is written to a tenth of a unit.
type length float64

func (x length) String() string { return fmt.Sprintf("%.1f", float64(x)) }

// A spot is a place in the picture, written as paths name it.
type spot struct{ X, Y length }

func (s spot) String() string { return s.X.String() + " " + s.Y.String() }

type (
	// A ring is a level with its name, a spoke a bearing with its name.
	ring struct {
		Radius, Y length
		Name      string
	}
	spoke struct {
		End, Label spot
		Name       string
	}
	// A bar is an interval, a dot a level; Mirror ones stand opposite to what was measured.
	bar struct {
		From, To spot
		Mirror   bool
	}
	dot struct {
		spot
		Mirror bool
	}
)

const (
	polarMiddle = 180.0
	polarRadius = 140.0
	// The picture spans so many dB: less would make scatter look like a pattern, more
	// would press all else to the rim for one deep null. TestPolarScale fails when they move.
	leastSpan, mostSpan = 10.0, 30.0
)

// turnsOf gives the patterns, an antenna at a placement and a segment each, and a sentence for each
// antenna that was turned too little to tell any.
func turnsOf(r *result.Report) (turns []turnView, silent []string) {
	told, few := text.Silent(r.Bearings.Patterns)
	for i := range few {
		silent = append(silent, few[i].String())
	}
	for len(told) > 0 {
		n := 1
		for n < len(told) && told[n].SameTurns(&told[0]) {
			n++
		}
		turns = append(turns, turnOf(told[:n]))
		told = told[n:]
	}
	return turns, silent
}

// SaysFalls tells whether it is said of any turn what it is worth, HasCarrierNulls whether any null is a carrier's.
func (v *view) SaysFalls() bool {
	return slices.ContainsFunc(v.Turns, func(t turnView) bool { return len(t.Worth) > 0 })
}

func (v *view) HasCarrierNulls() bool {
	return slices.ContainsFunc(v.Turns, func(t turnView) bool { return t.Carriers })
}

// turnOf gives the patterns of one antenna in one segment.
func turnOf(patterns []result.Pattern) turnView {
	first := &patterns[0]
	v := turnView{Antenna: first.Turned().String(), Segment: wording.Printable(first.Segment), Range: survey.Edges(first.Low, first.High, " to ")}
	for i := range patterns {
		p := &patterns[i]
		if p.Null != nil {
			v.Nulls = append(v.Nulls, p)
			v.Carriers = v.Carriers || p.Of == result.OfCarrier
		}
		if p.Of == result.OfFloor {
			v.Picture = polarOf(p, &v)
			v.Points = append(v.Points, p.Points...)
		}
		if words := text.TurnWords(p); words != "" {
			v.Worth = append(v.Worth, unbroken(upper(words)))
		}
	}
	for _, r := range text.Remarks(patterns) {
		v.Doubts = append(v.Doubts, upper(wording.Printable(r.String())))
	}
	return v
}

// polarOf draws a pattern; nil where no point has a level.
func polarOf(p *result.Pattern, v *turnView) *polar {
	s, ok := polarScale(p)
	if !ok {
		return nil
	}
	out := &polar{Words: polarWords(p)}
	out.Alt = fmt.Sprintf("Polar picture: the floor on %s through %s by the bearing of its plane. %s The table below holds the same figures.", v.Segment, v.Antenna, out.Words)
	for level := s.top; level > s.bottom; level -= s.step {
		r := s.radius(level)
		out.Rings = append(out.Rings, ring{length(r), length(polarMiddle - r + 12), wording.Number(level, 0) + " dB"})
	}
	for deg := 0.0; deg < 360; deg += 30 {
		label := spotAt(deg, polarRadius+18)
		label.Y += 4
		out.Spokes = append(out.Spokes, spoke{spotAt(deg, polarRadius), label, fmt.Sprintf("%.0f°", deg)})
	}
	if p.Curve != nil {
		out.Curve = s.curve(*p.Curve)
	}
	if p.Null != nil {
		high := *p.NullHigh
		if high < *p.NullLow { // across 0°
			high += 180
		}
		for _, half := range []float64{0, 180} {
			out.Null = append(out.Null, fmt.Sprintf("M%vL%v", spot{polarMiddle, polarMiddle}, spotAt(*p.Null+half, polarRadius+6)))
			out.NullAreas = append(out.NullAreas, sector(*p.NullLow+half, high+half))
		}
	}
	measured := map[float64]bool{}
	for _, x := range p.Points {
		measured[x.Bearing] = true
	}
	for _, x := range p.Points {
		out.mark(s, x, x.Bearing, false)
		if opposite := survey.BearingOf(x.Bearing + 180).Deg; !measured[opposite] {
			out.mark(s, x, opposite, true)
		}
	}
	return out
}

// mark draws a point and its interval at a bearing. Without a level there is only the bar,
// up to the bound.
func (p *polar) mark(s polarAxis, x result.PatternPoint, deg float64, mirror bool) {
	if x.OwnHigh != nil {
		low := s.bottom
		if x.OwnLow != nil {
			low = float64(*x.OwnLow)
		}
		p.Bars = append(p.Bars, bar{spotAt(deg, s.radius(low)), spotAt(deg, s.radius(float64(*x.OwnHigh))), mirror})
	}
	if x.Level != nil {
		p.Dots = append(p.Dots, dot{spotAt(deg, s.radius(float64(*x.Level))), mirror})
	}
}

// polarWords says what the picture shows.
func polarWords(p *result.Pattern) string {
	if p.Null == nil {
		return "No null is claimed."
	}
	interval := strings.Replace(text.NullInterval(p), " … ", " to ", 1)
	words := fmt.Sprintf("The null lies at %s (95\u00a0%% interval %s), ", strings.Replace(wording.BothWays(*p.Null), " / ", " and ", 1), interval)
	return words + text.DepthWords(p) + "."
}

// A polarAxis is the scale of levels from the middle to the rim, dB.
type polarAxis struct{ bottom, top, step float64 }

// polarScale chooses a scale that holds the points and their intervals.
func polarScale(p *result.Pattern) (s polarAxis, ok bool) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range p.Points {
		for _, level := range []*survey.DB{x.OwnLow, x.Level, x.OwnHigh} {
			if level != nil && stats.Finite(float64(*level)) {
				low, high, ok = min(low, float64(*level)), max(high, float64(*level)), true
			}
		}
	}
	s.step = 5
	s.top = s.step * math.Ceil(high/s.step)
	s.bottom = s.step * math.Floor((low-1)/s.step)
	s.bottom = max(min(s.bottom, s.top-leastSpan), s.top-mostSpan)
	return s, ok
}

// radius gives how far from the middle a level stands.
func (s polarAxis) radius(level float64) float64 {
	return polarRadius * max(0, min(1, (level-s.bottom)/(s.top-s.bottom)))
}

// curve gives the path of a fitted pattern, a point every 2°.
func (s polarAxis) curve(c result.Curve) string {
	var spots []string
	for deg := 0.0; deg < 360; deg += 2 {
		level := stats.Decibel(max(0, c.At(deg)))
		spots = append(spots, spotAt(deg, s.radius(level)).String())
	}
	return "M" + strings.Join(spots, "L") + "Z"
}

// sector gives the path of the area between two bearings, clockwise.
func sector(from, to float64) string {
	return fmt.Sprintf("M%vL%vA%v 0 0 1 %vZ", spot{polarMiddle, polarMiddle}, spotAt(from, polarRadius), spot{polarRadius, polarRadius}, spotAt(to, polarRadius))
}

// spotAt gives where a bearing stands at a radius.
func spotAt(deg, radius float64) spot {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return spot{length(polarMiddle + radius*sin), length(polarMiddle - radius*cos)}
}
