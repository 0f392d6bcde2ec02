package capture

import (
	"slices"

	"nightfloor/dsp"
	"nightfloor/dsp/interference"
	"nightfloor/survey"
)

// A heardPassband is what one tuning of a sweep, or one recording, gave, before combs were sought
// in it: its readings have no findings yet. hold makes a heldPassband of it.
type heardPassband struct {
	passband
	readings []survey.Reading
	findings []survey.Finding // over the whole passband, all kinds but combs
}

// seekOptions gives what is known ahead of interference at a site: its mains frequency (0:
// unknown), and its region's amateur bands (of region 0: of all), which devices leave
// out of what they radiate.
func seekOptions(mains survey.Hz, region survey.Region) *interference.Options {
	return &interference.Options{Mains: float64(mains), Quiet: bandsOf(survey.AmateurBands(region))}
}

// raiseToRounding holds floors to no less than rounding to codes adds: under it codes hardly move, and what seems
// to be the floor follows from where they lie. By as much as it was less the floor is in doubt. METHODS.md 13.4.
func raiseToRounding(m dsp.Measurement, c conditions) {
	least := c.codes.Rounding() / float64(c.rate)
	for _, b := range m.Bands {
		if f := b.Floor; f != nil && f.Density < least {
			f.Sigma = max(f.Sigma, float64(survey.DensityOf(least).Over(survey.DensityOf(f.Density))))
			f.Density, f.Quiet = least, max(f.Quiet, least)
		}
	}
}

// newHeardPassband gathers what a measurement gave.
func newHeardPassband(m dsp.Measurement, c conditions) *heardPassband {
	raiseToRounding(m, c)
	p := &heardPassband{readings: readingsOf(m, c), passband: passband{view: m.View, width: survey.Hz(m.Resolution)}}
	p.low, p.high = survey.Hz(m.Heard.Low), survey.Hz(m.Heard.High)
	floors := 0
	for _, b := range m.Bands {
		if b.Floor != nil {
			p.floor, floors = p.floor+b.Floor.Density, floors+1
		}
	}
	p.floor /= float64(max(1, floors))
	flagged := func(flag string) bool {
		return slices.ContainsFunc(p.readings, func(r survey.Reading) bool { return r.Quality.Has(flag) })
	}
	overload, low := flagged(survey.FlagOverload), flagged(survey.FlagLowDrive)
	if m.Findings != nil {
		if i := m.Findings.Impulses; i != nil && overload {
			m.Findings.Impulses = i.Outside(overloaded(c))
		}
		p.gather(m.Findings)
	}
	if overload || low {
		p.distrust()
	}
	if c.dropped > 0 || low { // where samples are missing every line breaks off
		p.findings = slices.DeleteFunc(p.findings, func(f survey.Finding) bool { return f.Kind == survey.FindingImpulses })
	}
	return p
}

// overloaded gives when the converter clipped, in seconds into the reading.
func overloaded(c conditions) []interference.Span {
	var spans []interference.Span
	for _, r := range c.codes.ClippedRuns() {
		spans = append(spans, interference.Span{From: float64(r.From) / float64(c.rate), To: float64(r.To) / float64(c.rate)})
	}
	return spans
}

// distrust takes back what cannot be told from a converter that is overloaded, or moves
// hardly a code: it makes lines and modulation of its own. Noise modulated with the mains stays, as if it had
// been measured by force, and impulses, which are of the time in which it was not overloaded.
func (p *heardPassband) distrust() {
	p.view, p.mains = nil, 0
	p.findings = slices.DeleteFunc(p.findings, func(f survey.Finding) bool { return f.Kind != survey.FindingMains && f.Kind != survey.FindingImpulses })
	for i, f := range p.findings {
		if f.Kind == survey.FindingMains {
			p.findings[i].Confidence = 0
		}
	}
}

// gather makes findings of what a measurement found. Those without enough evidence are
// left out, but for noise that is modulated with the mains: it is compared between
// setups, and so it is kept always.
func (p *heardPassband) gather(found *interference.Findings) {
	if m := found.Mains; m != nil {
		f := survey.Finding{Kind: survey.FindingMains, Low: survey.Hz(m.Low), High: survey.Hz(m.High), Envelope: survey.Hz(m.Envelope), Mains: survey.Hz(m.Mains),
			Depth: m.Depth, Shape: m.Shape, Confidence: interference.Confidence(m.P), Power: m.Square, Sigma: m.Sigma}
		p.findings = append(p.findings, f)
		if f.Detected() {
			p.mains = f.Mains
		}
	}
	if i := found.Impulses; i != nil {
		p.detected(survey.Finding{Kind: survey.FindingImpulses, Low: p.low, High: p.high, Rate: survey.Hz(i.Rate), RateLow: survey.Hz(i.Low), RateHigh: survey.Hz(i.High),
			Regular: i.Regular, Strength: decibels(i.Strength)}, i.P)
	}
	for _, h := range found.Humps {
		p.detected(survey.Finding{Kind: survey.FindingHump, Low: survey.Hz(h.Low), High: survey.Hz(h.High), Strength: decibels(h.Strength)}, h.P)
	}
	for _, n := range found.Notches {
		p.detected(survey.Finding{Kind: survey.FindingNotch, Low: survey.Hz(n.Low), High: survey.Hz(n.High), Strength: decibels(n.Strength)}, n.P)
	}
}

// detected keeps a finding if its evidence suffices.
func (p *heardPassband) detected(f survey.Finding, pValue float64) {
	if f.Confidence = interference.Confidence(pValue); f.Detected() {
		p.findings = append(p.findings, f)
	}
}

// hold gives all findings to all readings, as they share the passband, and lets go of what
// only the search for combs needs.
func (p *heardPassband) hold(combs []measuredComb) *heldPassband {
	out := &heldPassband{passband: p.passband, readings: p.readings, combs: combsIn(combs)}
	findings := p.findings
	for _, m := range combs {
		findings = append(findings, m.finding)
	}
	for i := range out.readings {
		out.readings[i].Findings = findings
	}
	if p.view != nil {
		p.view.Release()
	}
	return out
}
