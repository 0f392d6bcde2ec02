package survey

import (
	"cmp"
	"fmt"
	"math"
	"strings"
)

// ParseSegment reads LOW-HIGH. Bare numbers are kHz, the trade's habit; a unit
// may be written behind each edge, and one behind the upper edge alone serves
// both. A segment whose edges are those of a named band bears its name.
func ParseSegment(text string) (Segment, error) {
	low, high, ok := strings.Cut(text, "-")
	if !ok {
		return Segment{}, fmt.Errorf("segment %q: no edges; write LOW-HIGH in kHz, as 9400-9900", text)
	}
	_, unit := cutUnit(high, frequencyUnits, 1e3)
	f1, err1 := ParseFrequency(low, unit)
	f2, err2 := ParseFrequency(high, unit)
	if err := cmp.Or(err1, err2); err != nil {
		return Segment{}, fmt.Errorf("segment %q: %w", text, err)
	}
	if f1 <= 0 || f2 <= f1 {
		return Segment{}, fmt.Errorf("segment %q: the lower edge must be above 0 and below the upper one; write LOW-HIGH in kHz, as 9400-9900", text)
	}
	return SegmentOf(f1, f2), nil
}

// SegmentsNamed reads LOW-HIGH as ParseSegment does, or the name of a band of region r, which
// may have two stretches.
func SegmentsNamed(text string, r Region) ([]Segment, error) {
	if strings.Contains(text, "-") {
		s, err := ParseSegment(text)
		return []Segment{s}, err
	}
	bands, err := BandsNamed(text, r)
	if err != nil {
		err = fmt.Errorf("segment %q: neither LOW-HIGH in kHz, as 9400-9900, nor a band; %w", text, err)
	}
	return bands, err
}

// SegmentOf gives the segment between two edges with the name of the band whose
// edges they are in any region, else LOW-HIGH kHz.
func SegmentOf(low, high Hz) Segment {
	for _, b := range bands {
		for _, e := range b.edges {
			if sameEdge(e.low, low) && sameEdge(e.high, high) {
				return Segment{Name: b.name, Low: e.low, High: e.high}
			}
		}
	}
	return Segment{Name: inKHz(low) + "-" + inKHz(high) + " kHz", Low: low, High: high}
}

// sameEdge tells whether two edges are one: arithmetic on MHz leaves them some 1e-9 Hz
// apart, and nobody sets an edge to a millihertz.
func sameEdge(f, g Hz) bool { return math.Abs(float64(f-g)) < 1e-3 }

// inKHz writes an edge for a name.
func inKHz(f Hz) string { return decimal(float64(written(f))/1e3, 3) }

// written gives an edge as it is written: whole hertz as they are, what comes out of a division, such as a
// third of a sample rate, to 0.1 kHz.
func written(f Hz) Hz {
	if sameEdge(f, Hz(math.Round(float64(f)))) {
		return f
	}
	return 100 * Hz(math.Round(float64(f)/100))
}

// Within gives the part of s between low and high under the same name, and the
// share of s that it covers; 0 where nothing is left.
func (s Segment) Within(low, high Hz) (part Segment, share float64) {
	part = Segment{Name: s.Name, Low: max(s.Low, low), High: min(s.High, high)}
	if part.High <= part.Low {
		return Segment{}, 0
	}
	return part, float64((part.High - part.Low) / (s.High - s.Low))
}
