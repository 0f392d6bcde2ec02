package survey

import (
	"fmt"
	"slices"
	"strings"
)

// A Region is one of the three regions of the Radio Regulations: 1 Europe,
// Africa and northern Asia, 2 the Americas, 3 southern Asia and Oceania.
type Region int

// BroadcastRaster is the spacing of the frequencies on which broadcasters stand
// [RR Appendix 11].
const BroadcastRaster Hz = 5e3

type edges struct{ low, high Hz }

// band is a named stretch of shortwave. edges holds one pair for all regions,
// or one a region; a region whose pair is zero does not have the band.
type band struct {
	name    string
	general string // the name that a plan may use for all its stretches
	edges   []edges
}

func kHz(low, high Hz) edges { return edges{low * 1e3, high * 1e3} }

// bands are those of Radio Regulations Article 5: broadcasting with the
// extensions in use, and the amateur bands. 60 m broadcasting has two stretches
// on either side of the standard-frequency guard at 5 MHz.
var bands = []band{
	{name: "160 m amateur", edges: []edges{kHz(1810, 2000), kHz(1800, 2000), kHz(1800, 2000)}},
	{name: "120 m", edges: []edges{kHz(2300, 2498), kHz(2300, 2495), kHz(2300, 2495)}},
	{name: "90 m", edges: []edges{kHz(3200, 3400)}},
	{name: "80 m amateur", edges: []edges{kHz(3500, 3800), kHz(3500, 4000), kHz(3500, 3900)}},
	{name: "75 m", edges: []edges{kHz(3950, 4000), {}, kHz(3900, 4000)}},
	{name: "60 m lower", general: "60 m", edges: []edges{kHz(4750, 4995)}},
	{name: "60 m upper", general: "60 m", edges: []edges{kHz(5005, 5060)}},
	{name: "60 m amateur", edges: []edges{kHz(5351.5, 5366.5)}},
	{name: "49 m", edges: []edges{kHz(5900, 6200)}},
	{name: "40 m amateur", edges: []edges{kHz(7000, 7200), kHz(7000, 7300), kHz(7000, 7200)}},
	{name: "41 m", edges: []edges{kHz(7200, 7450), kHz(7300, 7400), kHz(7200, 7450)}},
	{name: "31 m", edges: []edges{kHz(9400, 9900)}},
	{name: "30 m amateur", edges: []edges{kHz(10100, 10150)}},
	{name: "25 m", edges: []edges{kHz(11600, 12100)}},
	{name: "22 m", edges: []edges{kHz(13570, 13870)}},
	{name: "20 m amateur", edges: []edges{kHz(14000, 14350)}},
	{name: "19 m", edges: []edges{kHz(15100, 15800)}},
	{name: "16 m", edges: []edges{kHz(17480, 17900)}},
	{name: "17 m amateur", edges: []edges{kHz(18068, 18168)}},
	{name: "15 m", edges: []edges{kHz(18900, 19020)}},
	{name: "15 m amateur", edges: []edges{kHz(21000, 21450)}},
	{name: "13 m", edges: []edges{kHz(21450, 21850)}},
	{name: "12 m amateur", edges: []edges{kHz(24890, 24990)}},
	{name: "11 m", edges: []edges{kHz(25670, 26100)}},
	{name: "10 m amateur", edges: []edges{kHz(28000, 29700)}},
}

// in gives the band as it is in region r; ok is false where it has none there.
func (b band) in(r Region) (s Segment, ok bool) {
	e := b.edges[0]
	if len(b.edges) > 1 {
		e = b.edges[r-1]
	}
	return Segment{Name: b.name, Low: e.low, High: e.high}, e.high > 0
}

// amateur tells whether the band is one of the amateur service's.
func (b band) amateur() bool { return strings.HasSuffix(b.name, "amateur") }

// Broadcast tells whether half of the segment or more lies in a broadcasting band of any
// region, where carriers stand on multiples of 5 kHz [RR Appendix 11].
func (s Segment) Broadcast() bool {
	return s.halfIn(func(b band) bool { return !b.amateur() })
}

// Amateur tells whether half of the segment or more lies in an amateur band of any region,
// where transmissions last seconds and minutes and stand nowhere in particular, and it is no
// broadcasting band in another.
func (s Segment) Amateur() bool { return s.halfIn(band.amateur) && !s.Broadcast() }

// halfIn tells whether half of the segment or more lies in one of the bands that are meant.
func (s Segment) halfIn(meant func(band) bool) bool {
	half := func(e edges) bool { _, share := s.Within(e.low, e.high); return share >= 0.5 }
	return slices.ContainsFunc(bands, func(b band) bool { return meant(b) && slices.ContainsFunc(b.edges, half) })
}

// Bands gives the named bands of region r (1, 2 or 3), rising in frequency.
func Bands(r Region) []Segment {
	return bandsWhere(func(band) bool { return true }, r)
}

// AmateurBands gives the amateur bands of region r, rising in frequency; where r is 0,
// those of all regions.
func AmateurBands(r Region) []Segment {
	if r == 0 {
		return bandsWhere(band.amateur, 1, 2, 3)
	}
	return bandsWhere(band.amateur, r)
}

// bandsWhere gives those of the bands of some regions that are meant, each once.
func bandsWhere(meant func(band) bool, regions ...Region) []Segment {
	var out []Segment
	for _, b := range bands {
		for _, r := range regions {
			s, ok := b.in(r)
			if ok && meant(b) && !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// BandsNamed gives the segments that name stands for in region r: one, or two
// for a band in two stretches. Spaces and capitals do not matter: 31m is 31 m. The error names the
// bands there are.
func BandsNamed(name string, r Region) ([]Segment, error) {
	same := func(a string) bool { return folded(a) == folded(name) }
	out := bandsWhere(func(b band) bool { return same(b.name) || b.general != "" && same(b.general) }, r)
	if len(out) == 0 {
		var known []string
		for _, b := range Bands(r) {
			if folded(b.Name) == folded(name)+"amateur" {
				return nil, fmt.Errorf("band %q: no broadcasting band of region %d; for that of radio amateurs write %q", name, r, b.Name)
			}
			known = append(known, b.Name)
		}
		return nil, fmt.Errorf("band %q: not known in region %d; known are %s", name, r, strings.Join(known, ", "))
	}
	return out, nil
}

// folded gives a name without spaces and capitals.
func folded(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), "")) }

// BandsWithin gives the parts of region r's named bands between low and high;
// where no band reaches in, the whole stretch as one segment.
func BandsWithin(low, high Hz, r Region) []Segment {
	var out []Segment
	for _, b := range Bands(r) {
		if part, share := b.Within(low, high); share > 0 {
			out = append(out, part)
		}
	}
	if len(out) == 0 {
		out = append(out, SegmentOf(low, high))
	}
	return out
}
