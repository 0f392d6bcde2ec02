package survey

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
)

// A Plan is what is to be done, written ahead.
type Plan struct {
	Title      string
	Text       string // the file as it was read
	Site       Site
	Receiver   string // URI, "" where the command line names it
	SampleRate Hz     // 0: the receiver's own
	Setups     []Setup
	Segments   []Segment
	Dwell      time.Duration // of one reading
	Sweeps     int           // in a visit
	Rounds     int           // 0: until stopped
	Every      time.Duration // from one visit's start to the next; 0: at once
	Seed       uint64        // of the shuffled rounds
}

// Defaults of a plan. A dwell of 0.5 s holds 25 periods of 50 Hz mains.
const (
	DefaultDwell  = 500 * time.Millisecond
	DefaultSweeps = 3
)

// planFile is the plan as TOML has it.
type planFile struct {
	Title string `toml:"title"`
	Site  struct {
		Name         string `toml:"name"`
		Locator      string `toml:"locator"`
		Mains        string `toml:"mains"`
		Surroundings string `toml:"surroundings"`
		Region       int    `toml:"region"`
	} `toml:"site"`
	Receiver struct {
		URI        string `toml:"uri"`
		SampleRate string `toml:"sample_rate"`
	} `toml:"receiver"`
	Turns struct {
		Dwell  string `toml:"dwell"`
		Sweeps *int   `toml:"sweeps"`
		Rounds int    `toml:"rounds"`
		Every  string `toml:"every"`
		Seed   uint64 `toml:"seed"`
	} `toml:"turns"`
	Setups []struct {
		Antenna   string    `toml:"antenna"`
		Placement string    `toml:"placement"`
		Bearings  []float64 `toml:"bearings"`
	} `toml:"setup"`
	Segments []struct {
		Band string `toml:"band"`
		Name string `toml:"name"`
		Low  string `toml:"low"`
		High string `toml:"high"`
	} `toml:"segment"`
}

// ParsePlan reads a plan. The error joins every mistake found (errors.Join);
// unknown keys come with their place.
func ParsePlan(text []byte) (Plan, error) {
	var file planFile
	d := toml.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&file); err != nil {
		return Plan{}, planSyntax(err)
	}
	p := Plan{Title: file.Title, Text: string(text), Receiver: file.Receiver.URI, Rounds: file.Turns.Rounds, Seed: file.Turns.Seed}
	err := errors.Join(p.readSite(&file), p.readTurns(&file), p.readSetups(&file), p.readSegments(&file))
	return p, err
}

// planSyntax words what the TOML library found.
func planSyntax(err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) {
		var all []error
		for _, e := range unknown.Errors {
			row, column := e.Position()
			all = append(all, fmt.Errorf("line %d, column %d: unknown key %s; see the plan section of the README for the keys there are", row, column, strings.Join(e.Key(), ".")))
		}
		return errors.Join(all...)
	}
	var wrong *toml.DecodeError
	if errors.As(err, &wrong) {
		row, column := wrong.Position()
		return fmt.Errorf("line %d, column %d: %s", row, column, strings.TrimPrefix(wrong.Error(), "toml: "))
	}
	return err
}

func (p *Plan) readSite(file *planFile) error {
	var errs []error
	p.Site = Site{Name: file.Site.Name, Locator: file.Site.Locator, Surroundings: file.Site.Surroundings}
	if file.Site.Mains != "" {
		mains, err := ParseFrequency(file.Site.Mains, 0)
		if err == nil && mains != 50 && mains != 60 {
			err = fmt.Errorf("%v is neither 50 Hz nor 60 Hz", mains)
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("site.mains: %w", err))
		}
		p.Site.MainsHz = mains
	}
	if file.Site.Locator != "" {
		if _, _, err := ParseLocator(file.Site.Locator); err != nil {
			errs = append(errs, fmt.Errorf("site.locator: %w", err))
		}
	}
	if known := []string{"", "city", "residential", "rural", "quiet rural"}; !slices.Contains(known, file.Site.Surroundings) {
		errs = append(errs, fmt.Errorf("site.surroundings: %q is not known; choose city, residential, rural or quiet rural", file.Site.Surroundings))
	}
	if file.Site.Region < 0 || file.Site.Region > 3 {
		errs = append(errs, fmt.Errorf("site.region: %d is no region of the Radio Regulations; choose 1, 2 or 3", file.Site.Region))
	}
	return errors.Join(errs...)
}

func (p *Plan) readTurns(file *planFile) error {
	var errs []error
	p.Dwell, p.Sweeps = DefaultDwell, DefaultSweeps
	duration := func(key, text string, into *time.Duration) {
		if text == "" {
			return
		}
		d, err := time.ParseDuration(strings.ReplaceAll(text, " ", ""))
		if err == nil && d <= 0 {
			err = errors.New("must be longer than nothing")
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("turns.%s: %q: %w; write it as 500ms, 0.5s or 10m", key, text, err))
			return
		}
		*into = d
	}
	duration("dwell", file.Turns.Dwell, &p.Dwell)
	duration("every", file.Turns.Every, &p.Every)
	if file.Turns.Sweeps != nil {
		p.Sweeps = *file.Turns.Sweeps
	}
	if p.Sweeps < 1 {
		errs = append(errs, fmt.Errorf("turns.sweeps: %d; a visit needs 1 sweep or more", p.Sweeps))
	}
	if p.Rounds < 0 {
		errs = append(errs, fmt.Errorf("turns.rounds: %d; give 1 or more, or leave it out to go on until stopped", p.Rounds))
	}
	if text := file.Receiver.SampleRate; text != "" {
		rate, err := ParseFrequency(text, 0)
		if err != nil {
			errs = append(errs, fmt.Errorf("receiver.sample_rate: %w", err))
		}
		p.SampleRate = rate
	}
	return errors.Join(errs...)
}

func (p *Plan) readSetups(file *planFile) error {
	var errs []error
	seen := map[Setup]bool{}
	add := func(s Setup) {
		if seen[s] {
			errs = append(errs, fmt.Errorf("setup %v: stands in the plan twice; leave one out", s))
		}
		seen[s] = true
		p.Setups = append(p.Setups, s)
	}
	for i, s := range file.Setups {
		if s.Antenna == "" || s.Placement == "" {
			errs = append(errs, fmt.Errorf("setup %d: antenna or placement is missing; name both", i+1))
			continue
		}
		if strings.ContainsAny(s.Antenna, "@:") || strings.ContainsAny(s.Placement, "@:") {
			errs = append(errs, fmt.Errorf("setup %d: a name must not hold @ or :; they part antenna, placement and bearing on the command line", i+1))
			continue
		}
		if len(s.Bearings) == 0 {
			add(Setup{Antenna: s.Antenna, Placement: s.Placement})
		}
		for _, deg := range s.Bearings {
			if deg < 0 || deg >= 360 {
				errs = append(errs, fmt.Errorf("setup %d: bearing %v is not in 0 ≤ bearing < 360", i+1, deg))
				continue
			}
			add(Setup{Antenna: s.Antenna, Placement: s.Placement, Bearing: BearingOf(deg)})
		}
	}
	if len(file.Setups) == 0 {
		errs = append(errs, errors.New("no [[setup]]: nothing to listen through; add one with antenna and placement"))
	}
	return errors.Join(errs...)
}

func (p *Plan) readSegments(file *planFile) error {
	var errs []error
	region := Region(file.Site.Region)
	if region < 1 || region > 3 {
		region = 1
	}
	for i, s := range file.Segments {
		found, err := segmentsOf(s.Band, s.Name, s.Low, s.High, region)
		if err != nil {
			errs = append(errs, fmt.Errorf("segment %d: %w", i+1, err))
		}
		for _, f := range found {
			if slices.ContainsFunc(p.Segments, func(q Segment) bool { return q.Name == f.Name }) {
				errs = append(errs, fmt.Errorf("segment %d: the name %s is taken; give it another name", i+1, f.Name))
			}
			p.Segments = append(p.Segments, f)
		}
	}
	if len(file.Segments) == 0 {
		errs = append(errs, errors.New("no [[segment]]: nothing to measure; add one with band = \"31 m\", or with low and high"))
	}
	return errors.Join(errs...)
}

// segmentsOf reads one [[segment]]: a band, or two edges and perhaps a name.
func segmentsOf(band, name, low, high string, region Region) ([]Segment, error) {
	if band != "" {
		if low != "" || high != "" || name != "" {
			return nil, errors.New("has a band besides name, low or high; give one or the other")
		}
		return BandsNamed(band, region)
	}
	f1, err1 := ParseFrequency(low, 0)
	f2, err2 := ParseFrequency(high, 0)
	if err := errors.Join(err1, err2); err != nil {
		return nil, err
	}
	if f1 <= 0 || f2 <= f1 {
		return nil, errors.New("the lower edge must be above 0 and below the upper one")
	}
	s := SegmentOf(f1, f2)
	if name != "" {
		s.Name = name
	}
	return []Segment{s}, nil
}
