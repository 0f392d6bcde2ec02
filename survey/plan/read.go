package plan

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
	"nightfloor/survey/sun"
)

var surroundings = []string{"city", "residential", "rural", "quiet rural"}

func (p *Plan) readSite(file *document, found *mistakes) {
	p.Site = survey.Site{Name: file.Site.Name, Locator: file.Site.Locator, Surroundings: file.Site.Surroundings}
	if file.Site.Mains != "" {
		mains, err := survey.ParseFrequency(file.Site.Mains, 0)
		if err == nil && mains != 50 && mains != 60 {
			err = fmt.Errorf("%v is neither 50 Hz nor 60 Hz", mains)
		}
		if err != nil {
			found.add("site.mains", err)
		}
		p.Site.MainsHz = mains
	}
	if file.Site.Locator != "" {
		if _, _, err := sun.ParseLocator(file.Site.Locator); err != nil {
			found.add("site.locator", err)
		}
	}
	if s := file.Site.Surroundings; s != "" && !slices.Contains(surroundings, s) {
		found.add("site.surroundings", fmt.Errorf("%q is not known; choose one of %s", s, strings.Join(surroundings, ", ")))
	}
	if d := file.Site.Declination; d != nil {
		if p.Declination = d; !(*d >= -180 && *d <= 180) {
			found.add("site.declination", fmt.Errorf("%v is not within ±180 degrees; east is positive", *d))
		}
	}
	if file.Site.Region < 0 || file.Site.Region > 3 {
		found.add("site.region", fmt.Errorf("%d is no region of the Radio Regulations; choose 1, 2 or 3", file.Site.Region))
	}
}

func (p *Plan) readTurns(file *document, found *mistakes) {
	p.Dwell, p.Sweeps = DefaultDwell, DefaultSweeps
	found.duration("turns.dwell", file.Turns.Dwell, &p.Dwell)
	found.duration("turns.every", file.Turns.Every, &p.Every)
	if p.Until = file.Turns.Until; p.Until != "" {
		if _, err := time.Parse("15:04", p.Until); err != nil {
			found.add("turns.until", fmt.Errorf("%q is no local time; write it as 06:30", p.Until))
		}
	}
	p.Order = cmp.Or(file.Turns.Order, OrderShuffled)
	if p.Order != OrderShuffled && p.Order != OrderABBA {
		found.add("turns.order", fmt.Errorf("%q is not known; choose %q, or %q: there and back again within each round", p.Order, OrderShuffled, OrderABBA))
	}
	if p.Dwell < leastDwell || p.Dwell > mostDwell {
		found.add("turns.dwell", fmt.Errorf("%v is not from %v to %v; set sweeps to hear a setup for longer", p.Dwell, leastDwell, mostDwell))
	}
	if file.Turns.Sweeps != nil {
		p.Sweeps = *file.Turns.Sweeps
	}
	if p.Sweeps < 1 {
		found.add("turns.sweeps", fmt.Errorf("%d; a visit needs 1 sweep or more", p.Sweeps))
	}
	if file.Turns.Rounds != nil {
		if p.Rounds = *file.Turns.Rounds; p.Rounds < 1 {
			found.add("turns.rounds", fmt.Errorf("%d; give 1 or more, or leave it out to go on until stopped", p.Rounds))
		}
	}
}

// chooseSweeps gives visits their length where the plan does not say it.
func (p *Plan) chooseSweeps(file *document) {
	if file.Turns.Sweeps == nil && len(p.Setups) > 1 && len(p.Segments) > 0 {
		p.Sweeps = max(DefaultSweeps, int(defaultVisit/(time.Duration(len(p.Segments))*(p.Dwell+retuning))))
	}
}

func (p *Plan) readSetups(file *document, found *mistakes) {
	seen := map[survey.Setup]bool{}
	for i, s := range file.Setups {
		key := fmt.Sprintf("setup[%d]", i)
		add := func(s survey.Setup) {
			if seen[s] {
				found.add(key, fmt.Errorf("%v stands in the plan twice; leave one out", s))
			}
			seen[s] = true
			p.Setups = append(p.Setups, s)
		}
		if s.Antenna == "" || s.Placement == "" {
			found.add(key, errors.New("antenna or placement is missing; name both"))
			continue
		}
		if strings.ContainsAny(s.Antenna, "@:") || strings.ContainsAny(s.Placement, "@:") {
			found.add(key, errors.New("a name must not hold @ or :; they part antenna, placement and bearing on the command line"))
			continue
		}
		if len(s.Bearings)+len(s.Magnetic) == 0 {
			add(survey.Setup{Antenna: s.Antenna, Placement: s.Placement})
		}
		addAll := func(key string, bearings []float64, declination float64) {
			for _, deg := range bearings {
				if !(deg >= 0 && deg < 360) { // nor is nan, which TOML can write
					found.add(key, fmt.Errorf("%v is not in 0 ≤ bearing < 360", deg))
					continue
				}
				add(survey.Setup{Antenna: s.Antenna, Placement: s.Placement, Bearing: survey.BearingOf(deg + declination)})
			}
		}
		addAll(key+".bearings", s.Bearings, 0)
		if p.Declination != nil {
			addAll(key+".magnetic_bearings", s.Magnetic, *p.Declination)
		} else if len(s.Magnetic) > 0 {
			found.add(key+".magnetic_bearings", errors.New("they need declination = …, in [site]: how far magnetic north lies east of true north, degrees"))
		}
	}
	if len(file.Setups) == 0 {
		found.add("setup", errors.New("none: nothing to listen through; add [[setup]] with antenna and placement"))
	}
}

func (p *Plan) readSegments(file *document, found *mistakes) {
	if p.Region = survey.Region(file.Site.Region); p.Region < 1 || p.Region > 3 {
		p.Region = 1
	}
	for i, s := range file.Segments {
		key := fmt.Sprintf("segment[%d]", i)
		segments, err := segmentsOf(s.Band, s.Name, s.Low, s.High, p.Region)
		if err != nil && s.Band != "" && s.Low+s.High+s.Name == "" {
			found.add(key+".band", err)
		} else if err != nil {
			found.add(key, err)
		}
		for _, f := range segments {
			if slices.ContainsFunc(p.Segments, func(q survey.Segment) bool { return q.Name == f.Name }) {
				found.add(key, fmt.Errorf("the name %s is taken; give it another name", f.Name))
			}
			p.Segments = append(p.Segments, f)
		}
	}
	if len(file.Segments) == 0 {
		found.add("segment", errors.New("none: nothing to measure; add [[segment]] with band = \"31 m\", or with low and high"))
	}
}

// segmentsOf reads one [[segment]]: a band, or two edges and perhaps a name.
func segmentsOf(band, name, low, high string, region survey.Region) ([]survey.Segment, error) {
	if band != "" {
		if low != "" || high != "" || name != "" {
			return nil, errors.New("has a band besides name, low or high; give one or the other")
		}
		return survey.BandsNamed(band, region)
	}
	switch {
	case low == "" && high == "":
		return nil, errors.New("neither a band nor edges; give band = \"31 m\", or low and high")
	case low == "":
		return nil, errors.New("high and no low; give both edges, as low = \"9.4 MHz\"")
	case high == "":
		return nil, errors.New("low and no high; give both edges, as high = \"9.9 MHz\"")
	}
	f1, err1 := survey.ParseFrequency(low, 0)
	f2, err2 := survey.ParseFrequency(high, 0)
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	if f1 <= 0 || f2 <= f1 {
		return nil, errors.New("the lower edge must be above 0 and below the upper one")
	}
	s := survey.SegmentOf(f1, f2)
	if name != "" {
		s.Name = name
	}
	return []survey.Segment{s}, nil
}
