package plan

import (
	"fmt"
	"slices"
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
	value(found, "receiver.sample_rate", r.SampleRate, p.rate, &p.SampleRate)
	p.FrontEnd = survey.FrontEnd{Way: r.FrontEnd, Filter: r.Filter, Bias: r.BiasTee}
	value(found, "receiver.offset", r.Offset, frequencyAs(`"125 MHz"`), &p.FrontEnd.Offset)
	value(found, "receiver.high_pass", r.HighPass, frequencyAs(`"2 MHz"`), &p.FrontEnd.HighPass)
	p.readRejection(r.Rejection, "receiver", "", found)
	value(found, "receiver.clock_error", r.ClockError, clockError, &p.FrontEnd.PPM)
	p.checkFrontEnd(found)
}

// readRejection reads what the filter takes off at the images of a segment; segment "" stands
// for all of which it is not said.
func (p *Plan) readRejection(text, key, segment string, found *mistakes) {
	if key += ".filter_rejection"; text == "" {
		return
	}
	var rejection survey.DB
	value(found, key, text, amount, &rejection)
	found.when(p.FrontEnd.Filter == "", key, "of which filter? say filter = %q or %q in [receiver], or leave it out", survey.FilterLowPass, survey.FilterHighPass)
	if p.FrontEnd.Rejection == nil {
		p.FrontEnd.Rejection = map[string]survey.DB{}
	}
	p.FrontEnd.Rejection[segment] = rejection
}

// rate reads a sample rate that the receiver can run at.
func (p *Plan) rate(text string) (survey.Hz, error) {
	rate, err := survey.ParseRate(text, 0)
	switch {
	case err != nil:
		return 0, err
	case rate <= 0:
		return 0, fmt.Errorf("%q is no rate; write it as 2.4MHz", text)
	case p.dongle():
		return rate, survey.DongleRate(rate)
	}
	return rate, nil
}

// checkFrontEnd checks the front end part by part, so that each mistake is named
// in its own line.
func (p *Plan) checkFrontEnd(found *mistakes) {
	fe := p.FrontEnd
	known := fe.HasKnownWay()
	key := "receiver.front_end"
	if known && fe.Way != survey.WayUp {
		key = "receiver.offset"
	}
	found.add(key, survey.FrontEnd{Way: fe.Way, Offset: fe.Offset}.Check())
	wrong := survey.FrontEnd{Filter: fe.Filter}.Check()
	found.add("receiver.filter", wrong)
	found.when(wrong == nil && known && !fe.Direct() && fe.Filter != "",
		"receiver.filter", "it settles what direct sampling hears twice, and the front end is %q; leave it out", fe.Way)
	found.when(fe.HighPass < 0, "receiver.high_pass", "%v is no corner of a filter; write it as \"2 MHz\"", fe.HighPass)
	found.add("receiver.clock_error", survey.FrontEnd{PPM: fe.PPM}.Check())
}

// dongle tells whether the plan names a dongle as its receiver.
func (p *Plan) dongle() bool { return strings.HasPrefix(p.Receiver, "rtlsdr:") }

// clockError reads by how much a clock runs fast, ppm.
func clockError(text string) (float64, error) {
	ppm, err := survey.ParseNumber(text, "ppm", "1.5", false)
	if err != nil {
		err = fmt.Errorf("%q: %w", text, err)
	}
	return ppm, err
}

// decibels reads a gain, whose unit may be left out.
func decibels(text string) (survey.DB, error) {
	db, err := survey.ParseNumber(text, "dB", "20.7", true)
	if err != nil {
		err = fmt.Errorf("%q: %w", text, err)
	}
	return survey.DB(db), err
}

// amount reads a loss or a gain, of which the sign is not written.
func amount(text string) (survey.DB, error) {
	db, err := decibels(text)
	if db < 0 {
		err = fmt.Errorf("%q: a loss or a gain below 0 dB; give its amount", text)
	}
	return db, err
}

func (p *Plan) readAntennas(file *document, found *mistakes) {
	used, seen := file.antennas(), map[string]bool{}
	for i, a := range file.Antenna {
		key := fmt.Sprintf("antenna[%d]", i)
		found.when(a.Name == "", key, "no name; give the one that the setups use")
		found.when(a.Kind != "" && !slices.Contains(survey.AntennaKinds, a.Kind),
			key+".kind", "%q is not known; choose one of %s", a.Kind, strings.Join(survey.AntennaKinds, ", "))
		out := survey.Antenna{Name: a.Name, Kind: a.Kind, Active: a.Active, Of: a.Of, Removed: a.Removed, At: a.At}
		checkCondition(found, key, out, used)
		var tuned survey.Segment
		value(found, key+".tuned", a.Tuned, survey.ParseSegment, &tuned)
		out.TunedLow, out.TunedHigh = tuned.Low, tuned.High
		value(found, key+".cable_loss", a.CableLoss, amount, &out.CableLoss)
		value(found, key+".amplifier", a.Amplifier, amount, &out.Amplifier)
		var factor survey.DB
		if value(found, key+".antenna_factor", a.AntennaFactor, decibels, &factor) {
			out.Factor = &factor
		}
		found.when(seen[a.Name], key, "%s stands in the plan twice; leave one out", a.Name)
		seen[a.Name] = true
		found.when(a.Name != "" && !used[a.Name], key, "no setup uses %s; add a [[setup]] with it, or leave it out", a.Name)
		p.Antennas = append(p.Antennas, out)
	}
}

// checkCondition checks what the plan says of the condition that an antenna is in.
func checkCondition(found *mistakes, key string, a survey.Antenna, used map[string]bool) {
	found.when(a.Of != "" && a.Of == a.Name, key+".of", "%s cannot be another condition of itself; name the antenna that it is otherwise, or leave it out", a.Name)
	found.when(a.Of != "" && !used[a.Of], key+".of", "the plan has no setup with %s%s", a.Of, didYouMean(a.Of, used))
	found.when(a.Kind == survey.KindReplaced && a.Of == "", key+".kind", `%s needs the antenna whose amplifier is measured; write of = "whip", with its name`, a.Kind)
	for i, gone := range a.Removed {
		found.when(gone == a.Name || gone == a.Of, key+".removed", "%s is what is measured; name others that are taken away meanwhile", gone)
		found.when(!used[gone], key+".removed", "the plan has no setup with %s%s", gone, didYouMean(gone, used))
		found.when(slices.Contains(a.Removed[:i], gone), key+".removed", "%s stands in it twice; leave one out", gone)
	}
	found.when(a.At != "" && a.At != survey.AtAntenna && a.At != survey.AtReceiver,
		key+".at", "%q is not known; choose %s or %s", a.At, survey.AtAntenna, survey.AtReceiver)
	found.when(a.At != "" && a.Kind != survey.KindTerminator,
		key+".at", "it says at which end of the feed line a terminator is; add kind = %q, or leave it out", survey.KindTerminator)
}

// antennas gives the antennas that setups have.
func (file *document) antennas() map[string]bool {
	used := map[string]bool{}
	for _, s := range file.Setup {
		used[s.Antenna] = true
	}
	return used
}

func (p *Plan) readGains(file *document, found *mistakes) {
	heard := file.antennas()
	for i, g := range file.Gain {
		key := fmt.Sprintf("gain[%d]", i)
		if bands, err := survey.BandsNamed(g.Segment, p.Region); err == nil && len(bands) == 1 && p.segmentKeys[g.Segment] == "" {
			g.Segment = bands[0].Name // 31m is 31 m
		}
		db, err := decibels(g.Gain)
		found.unreadable(key+".gain", err)
		found.when(g.Segment != "" && p.segmentKeys[g.Segment] == "", key+".segment", "the plan has no segment %s", g.Segment)
		found.when(g.Antenna != "" && !heard[g.Antenna], key+".antenna", "the plan has no setup with %s%s", g.Antenna, didYouMean(g.Antenna, heard))
		p.Gains = append(p.Gains, FixedGain{Antenna: g.Antenna, Placement: g.Placement, Segment: g.Segment, Gain: db})
	}
}

// checkTuned names tuned antennas that no segment is measured through.
func (p *Plan) checkTuned(found *mistakes) {
	for i, a := range p.Antennas {
		found.when(a.TunedHigh > 0 && len(p.Segments) > 0 && !slices.ContainsFunc(p.Segments, a.Measures), fmt.Sprintf("antenna[%d].tuned", i),
			"no segment lies wholly in %v to %v: nothing would be measured through %s; widen it, or add such a segment", a.TunedLow, a.TunedHigh, a.Name)
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
	found.add(key, first)
}
