package plan

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"nightfloor/survey"
)

// Antenna gives what the plan says of an antenna beyond its name, which alone
// tells a terminator where it says nothing.
func (p Plan) Antenna(name string) survey.Antenna {
	if i := slices.IndexFunc(p.Antennas, func(a survey.Antenna) bool { return a.Name == name }); i >= 0 {
		return p.Antennas[i]
	}
	if name == survey.KindTerminator {
		return survey.Antenna{Name: name, Kind: survey.KindTerminator}
	}
	return survey.Antenna{Name: name}
}

// A FixedGain is a gain that the plan prescribes; what is empty fits all.
type FixedGain struct {
	Antenna, Placement, Segment string
	Gain                        survey.DB
}

// FixedGain gives what the plan prescribes for a setup and a segment; the last
// that fits wins.
func (p Plan) FixedGain(s survey.Setup, segment string) (gain survey.DB, ok bool) {
	for _, g := range p.Gains {
		if (g.Antenna == "" || g.Antenna == s.Antenna) && (g.Placement == "" || g.Placement == s.Placement) && (g.Segment == "" || g.Segment == segment) {
			gain, ok = g.Gain, true
		}
	}
	return gain, ok
}

func (p *Plan) readReceiver(file *document, found *mistakes) {
	r := file.Receiver
	if r.SampleRate != "" {
		rate, err := survey.ParseFrequency(r.SampleRate, 0)
		switch {
		case err == nil && rate <= 0:
			err = fmt.Errorf("%q is no rate; write it as 2.4MHz", r.SampleRate)
		case err == nil && p.dongle():
			err = survey.DongleRate(rate)
		}
		if err != nil {
			found.add("receiver.sample_rate", err)
		}
		p.SampleRate = rate
	}
	p.FrontEnd = survey.FrontEnd{Way: r.FrontEnd, Filter: r.Filter, Bias: r.BiasTee}
	offsetRead := true
	if r.Offset != "" {
		offset, err := survey.ParseFrequency(r.Offset, 0)
		if err != nil {
			found.add("receiver.offset", err)
			offsetRead = false
		}
		p.FrontEnd.Offset = offset
	}
	if r.ClockError != "" {
		ppm, err := parseUnit(r.ClockError, "ppm", "1.5 ppm")
		if err != nil {
			found.add("receiver.clock_error", err)
		}
		p.FrontEnd.PPM = ppm
	}
	p.checkFrontEnd(offsetRead, found)
}

// checkFrontEnd checks the front end part by part, so that each mistake is named
// in its own line.
func (p *Plan) checkFrontEnd(offsetRead bool, found *mistakes) {
	fe := p.FrontEnd
	known := fe.HasKnownWay()
	if err := (survey.FrontEnd{Way: fe.Way, Offset: fe.Offset}).Check(); err != nil && offsetRead {
		key := "receiver.front_end"
		if known && fe.Way != survey.WayUp {
			key = "receiver.offset"
		}
		found.add(key, err)
	}
	if err := (survey.FrontEnd{Filter: fe.Filter}).Check(); err != nil {
		found.add("receiver.filter", err)
	} else if known && !fe.Direct() && fe.Filter != "" {
		found.add("receiver.filter", fmt.Errorf("it settles what direct sampling hears twice, and the front end is %q; leave it out", fe.Way))
	}
	if err := (survey.FrontEnd{PPM: fe.PPM}).Check(); err != nil {
		found.add("receiver.clock_error", err)
	}
}

// dongle tells whether the plan names a dongle as its receiver.
func (p *Plan) dongle() bool { return strings.HasPrefix(p.Receiver, "rtlsdr:") }

// parseUnit reads a number with its one unit.
func parseUnit(text, unit, example string) (float64, error) {
	number, ok := strings.CutSuffix(strings.TrimSpace(text), unit)
	x, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if !ok || err != nil || x != x || x-x != 0 {
		return 0, fmt.Errorf("%q: not a number with the unit %s; write it as %q", text, unit, example)
	}
	return x, nil
}

func (p *Plan) readAntennas(file *document, found *mistakes) {
	for i, a := range file.Antennas {
		key := fmt.Sprintf("antenna[%d]", i)
		if a.Name == "" {
			found.add(key, errors.New("no name; give the one that the setups use"))
		}
		if a.Kind != "" && !slices.Contains(survey.AntennaKinds, a.Kind) {
			found.add(key+".kind", fmt.Errorf("%q is not known; choose one of %s", a.Kind, strings.Join(survey.AntennaKinds, ", ")))
		}
		out := survey.Antenna{Name: a.Name, Kind: a.Kind}
		if a.Tuned != "" {
			stretch, err := survey.ParseSegment(a.Tuned)
			if err != nil {
				found.add(key+".tuned", err)
			}
			out.TunedLow, out.TunedHigh = stretch.Low, stretch.High
		}
		for _, f := range []struct {
			key, text string
			into      *survey.DB
		}{{"cable_loss", a.CableLoss, &out.CableLoss}, {"amplifier", a.Amplifier, &out.Amplifier}} {
			if f.text == "" {
				continue
			}
			db, err := parseUnit(f.text, "dB", "1.2 dB")
			if err == nil && db < 0 {
				err = fmt.Errorf("%q: a loss or a gain below 0 dB; give its amount", f.text)
			}
			if err != nil {
				found.add(key+"."+f.key, err)
			}
			*f.into = survey.DB(db)
		}
		if slices.ContainsFunc(p.Antennas, func(o survey.Antenna) bool { return o.Name == a.Name }) {
			found.add(key, fmt.Errorf("%s stands in the plan twice; leave one out", a.Name))
		}
		p.Antennas = append(p.Antennas, out)
	}
	for i, a := range p.Antennas {
		if a.Name != "" && !slices.ContainsFunc(file.Setups, func(s setupTable) bool { return s.Antenna == a.Name }) {
			found.add(fmt.Sprintf("antenna[%d]", i), fmt.Errorf("no setup uses %s; add a [[setup]] with it, or leave it out", a.Name))
		}
	}
}

func (p *Plan) readGains(file *document, found *mistakes) {
	for i, g := range file.Gains {
		key := fmt.Sprintf("gain[%d]", i)
		db, err := parseUnit(g.Gain, "dB", "28 dB")
		if err != nil {
			found.add(key+".gain", err)
		}
		if g.Segment != "" && !slices.ContainsFunc(p.Segments, func(s survey.Segment) bool { return s.Name == g.Segment }) {
			found.add(key+".segment", fmt.Errorf("the plan has no segment %s", g.Segment))
		}
		if g.Antenna != "" && !slices.ContainsFunc(p.Setups, func(s survey.Setup) bool { return s.Antenna == g.Antenna }) {
			found.add(key+".antenna", fmt.Errorf("the plan has no setup with %s", g.Antenna))
		}
		p.Gains = append(p.Gains, FixedGain{Antenna: g.Antenna, Placement: g.Placement, Segment: g.Segment, Gain: survey.DB(db)})
	}
}

// checkTuned names tuned antennas that no segment is measured through.
func (p *Plan) checkTuned(found *mistakes) {
	for i, a := range p.Antennas {
		if a.TunedHigh > 0 && len(p.Segments) > 0 && !slices.ContainsFunc(p.Segments, a.Measures) {
			found.add(fmt.Sprintf("antenna[%d].tuned", i), fmt.Errorf("no segment lies wholly in %v to %v: nothing would be measured through %s; widen it, or add such a segment", a.TunedLow, a.TunedHigh, a.Name))
		}
	}
}

// checkReach names the segments that a dongle does not receive, those with one
// reason in one line; other receivers know their own limits.
func (p *Plan) checkReach(found *mistakes) {
	fe := p.FrontEnd
	if low := survey.TunerLowest - fe.Offset; fe.Way == survey.WayUp && fe.Offset > 0 {
		p.refuseSegments(found, "receiver.offset", func(s survey.Segment) error {
			if s.Low >= low {
				return nil
			}
			return fmt.Errorf("segment %s: %v above an offset of %v is %v, and a dongle's tuner begins at %v; give the up-converter's oscillator, as offset = \"125 MHz\"",
				s.Name, s.Low, fe.Offset, s.Low+fe.Offset, survey.TunerLowest)
		})
	}
	if known := fe.HasKnownWay(); p.dongle() && (known || fe.Way == "") {
		key := "receiver"
		if known {
			key = "receiver.front_end"
		}
		p.refuseSegments(found, key, fe.Reach)
	}
}

// refuseSegments names the first segment that a check refuses with its reason, and the
// others after it.
func (p *Plan) refuseSegments(found *mistakes, key string, check func(survey.Segment) error) {
	var first error
	var others []string
	for _, s := range p.Segments {
		switch err := check(s); {
		case err == nil:
		case first == nil:
			first = err
		default:
			others = append(others, s.Name)
		}
	}
	if others != nil {
		first = fmt.Errorf("%w (likewise %s)", first, strings.Join(others, ", "))
	}
	if first != nil {
		found.add(key, first)
	}
}
