package plan

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"nightfloor/survey"
	"nightfloor/survey/sun"
)

var surroundings = []string{"city", "residential", "rural", "quiet rural"}

func (p *Plan) readSite(file *document, found *mistakes) {
	s := file.Site
	p.Site = survey.Site{Name: s.Name, Locator: s.Locator, Surroundings: s.Surroundings}
	found.add("site.name", survey.CheckPrintable(s.Name))
	read := value(found, "site.mains", s.Mains, frequencyAs(`"50 Hz"`), &p.Site.MainsHz)
	found.when(read && p.Site.MainsHz != 50 && p.Site.MainsHz != 60, "site.mains", "%v is neither 50 Hz nor 60 Hz", p.Site.MainsHz)
	if s.Locator != "" {
		_, _, err := sun.ParseLocator(s.Locator)
		found.add("site.locator", err)
	}
	found.when(s.Surroundings != "" && !slices.Contains(surroundings, s.Surroundings),
		"site.surroundings", "%q is not known; choose one of %s", s.Surroundings, strings.Join(surroundings, ", "))
	if p.Declination = s.Declination; p.Declination != nil {
		found.when(!(math.Abs(*s.Declination) <= 180), "site.declination", "%v is not within ±180 degrees; east is positive", *s.Declination)
	}
	found.when(s.Region < 0 || s.Region > 3, "site.region", "%d is no region of the Radio Regulations; choose 1, 2 or 3", s.Region)
}

// frequencyAs gives what reads a frequency with its unit.
func frequencyAs(example string) func(text string) (survey.Hz, error) {
	return func(text string) (survey.Hz, error) { return survey.ParseFrequencyAs(text, 0, example) }
}

// duration reads a length of time above 0.
func duration(text string) (time.Duration, error) {
	d, err := survey.ParseDuration(text)
	if err == nil && d <= 0 {
		err = errors.New("must be longer than nothing; write it as 500ms, 0.5s or 10m")
	}
	if err != nil {
		err = fmt.Errorf("%q: %w", text, err)
	}
	return d, err
}

func (p *Plan) readTurns(file *document, found *mistakes) {
	t := file.Turns
	p.Dwell, p.Sweeps = DefaultDwell, DefaultSweeps
	value(found, "turns.dwell", t.Dwell, duration, &p.Dwell)
	found.when(p.Dwell < leastDwell || p.Dwell > mostDwell,
		"turns.dwell", "%v is not from %v to %v; set sweeps to hear a setup for longer", p.Dwell, leastDwell, mostDwell)
	value(found, "turns.every", t.Every, duration, &p.Every)
	if p.Until = t.Until; p.Until != "" {
		_, err := time.Parse("15:04", p.Until)
		found.when(err != nil, "turns.until", "%q is no local time; write it as 06:30", p.Until)
	}
	p.Order = cmp.Or(t.Order, OrderShuffled)
	found.when(p.Order != OrderShuffled && p.Order != OrderABBA,
		"turns.order", "%q is not known; choose %q, or %q: there and back again within each round", p.Order, OrderShuffled, OrderABBA)
	if t.Sweeps != nil {
		p.Sweeps = *t.Sweeps
	}
	found.when(p.Sweeps < 1, "turns.sweeps", "%d; a visit needs 1 sweep or more", p.Sweeps)
	if t.Rounds != nil {
		p.Rounds = *t.Rounds
		found.when(p.Rounds < 1, "turns.rounds", "%d; give 1 or more, or leave it out to go on until stopped", p.Rounds)
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
	for i, s := range file.Setup {
		key := fmt.Sprintf("setup[%d]", i)
		add := func(bearing survey.Bearing) {
			s := survey.Setup{Antenna: s.Antenna, Placement: s.Placement, Bearing: bearing}
			found.when(seen[s], key, "%v stands in the plan twice; leave one out", s)
			seen[s] = true
			p.Setups = append(p.Setups, s)
		}
		if s.Antenna == "" || s.Placement == "" {
			found.add(key, errors.New("antenna or placement is missing; name both"))
			continue
		}
		p.antennaKeys[s.Antenna] = cmp.Or(p.antennaKeys[s.Antenna], key+".antenna")
		found.add(key+".antenna", survey.CheckPrintable(s.Antenna))
		found.add(key+".placement", survey.CheckPrintable(s.Placement))
		if strings.ContainsAny(s.Antenna+s.Placement, "@:") {
			found.add(key, errors.New("a name must not hold @ or :; they part antenna, placement and bearing on the command line"))
			continue
		}
		if len(s.Bearings)+len(s.MagneticBearings) == 0 {
			add(survey.Bearing{})
		}
		addAll := func(key string, bearings []float64, declination float64) {
			for _, deg := range bearings {
				if !(deg >= 0 && deg < 360) { // nor is nan, which TOML can write
					found.add(key, fmt.Errorf("%v is not in 0 ≤ bearing < 360", deg))
					continue
				}
				add(survey.BearingOf(deg + declination))
			}
		}
		addAll(key+".bearings", s.Bearings, 0)
		if p.Declination != nil {
			addAll(key+".magnetic_bearings", s.MagneticBearings, *p.Declination)
		} else if len(s.MagneticBearings) > 0 {
			found.add(key+".magnetic_bearings", errors.New("they need declination = …, in [site]: how far magnetic north lies east of true north, degrees"))
		}
	}
	found.when(len(file.Setup) == 0, "setup", "none: nothing to listen through; add [[setup]] with antenna and placement")
}

func (p *Plan) readSegments(file *document, found *mistakes) {
	if p.Region = survey.Region(file.Site.Region); p.Region < 1 || p.Region > 3 {
		p.Region = 1
	}
	for i, s := range file.Segment {
		key := fmt.Sprintf("segment[%d]", i)
		segments, err := s.segments(p.Region)
		if s.bandAlone() {
			found.unreadable(key+".band", err)
		} else {
			found.unreadable(key, err)
		}
		for _, f := range segments {
			found.when(p.segmentKeys[f.Name] != "", key, "the name %s is taken; give it another name", f.Name)
			p.segmentKeys[f.Name] = cmp.Or(p.segmentKeys[f.Name], key)
			p.Segments = append(p.Segments, f)
			p.readRejection(s.Rejection, key, f.Name, found)
		}
		p.readListed(s.Listed, segments, key+".listed", found)
		if len(p.Segments) > mostSegments {
			found.add(key, fmt.Errorf("more than %d segments: a sweep would take minutes; name fewer, or wider ones", mostSegments))
			break
		}
	}
	found.when(len(file.Segment) == 0, "segment", "none: nothing to measure; add [[segment]] with band = \"31 m\", or with low and high")
}

// Bounds of what a segment lists: two lines within Hann's main lobe of each other, two of the widest
// bins to either side, are one, and each is a row in every reading. mostListed is chosen.
const (
	listedApart = 300.0 // Hz
	mostListed  = 50
)

// readListed reads the frequencies that a [[segment]] lists; segments is what it stands for.
func (p *Plan) readListed(listed []string, segments []survey.Segment, key string, found *mistakes) {
	if len(listed) > mostListed {
		found.add(key, fmt.Errorf("%d frequencies, of which each is stored with every reading; list %d at most", len(listed), mostListed))
		return
	}
	var names []string
	for _, s := range segments {
		names = append(names, s.Name)
	}
	for _, text := range listed {
		f, err := survey.ParseFrequencyAs(text, 0, `"14.1 MHz"`)
		if found.unreadable(key, err); err != nil || len(segments) == 0 {
			continue
		}
		within := slices.IndexFunc(segments, func(s survey.Segment) bool { return s.Low <= f && f <= s.High })
		if within < 0 {
			found.add(key, fmt.Errorf("%v lies outside %s; list it with a segment that holds it", f, strings.Join(names, " and ")))
			continue
		}
		name := names[within]
		near := slices.IndexFunc(p.Listed[name], func(o survey.Hz) bool { return math.Abs(float64(o-f)) < listedApart })
		switch {
		case near >= 0 && p.Listed[name][near] == f:
			found.add(key, fmt.Errorf("%v is named twice; list it once", f))
			continue
		case near >= 0:
			found.add(key, fmt.Errorf("%v and %v are less than %v apart and cannot be told from each other; list one", p.Listed[name][near], f, survey.Hz(listedApart)))
			continue
		}
		p.Listed[name] = append(p.Listed[name], f)
	}
	for _, name := range names {
		slices.Sort(p.Listed[name])
	}
}

// bandAlone tells whether the table names a band and neither edges nor a name.
func (s segmentTable) bandAlone() bool {
	return s.Band != "" && s.Name == "" && s.Low == "" && s.High == ""
}

// segments gives what one [[segment]] stands for: a band, or two edges and perhaps a name.
func (s segmentTable) segments(region survey.Region) ([]survey.Segment, error) {
	switch {
	case s.bandAlone():
		return survey.BandsNamed(s.Band, region)
	case s.Band != "":
		return nil, errors.New("has a band besides name, low or high; give one or the other")
	case s.Low == "" && s.High == "":
		return nil, errors.New("neither a band nor edges; give band = \"31 m\", or low and high")
	case s.Low == "":
		return nil, errors.New("high and no low; give both edges, as low = \"9.4 MHz\"")
	case s.High == "":
		return nil, errors.New("low and no high; give both edges, as high = \"9.9 MHz\"")
	}
	low, err1 := survey.ParseFrequency(s.Low, 0)
	high, err2 := survey.ParseFrequency(s.High, 0)
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	if low <= 0 || high <= low {
		return nil, errors.New("the lower edge must be above 0 and below the upper one")
	}
	segment := survey.SegmentOf(low, high)
	segment.Name = cmp.Or(s.Name, segment.Name)
	if err := survey.CheckPrintable(segment.Name); err != nil {
		return nil, err
	}
	return []survey.Segment{segment}, nil
}
