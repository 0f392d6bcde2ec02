package capture

import (
	"cmp"
	"math"
	"slices"
	"time"

	"nightfloor/dsp"
	"nightfloor/dsp/comb"
	"nightfloor/dsp/interference"
	"nightfloor/survey"
)

// A passband is what one tuning of a sweep, or one recording, gave. The lines of combs can be
// measured in it, also of those that are found elsewhere later.
type passband struct {
	readings []survey.Reading
	findings []survey.Finding // over the whole passband; its readings have them once share was called
	combs    []comb.Comb      // that were measured in it

	low, high survey.Hz  // of the usable passband
	view      *comb.View // nil: none was made, or it cannot be trusted or is not kept any more
	mains     survey.Hz  // 50 or 60: its noise is modulated with that mains; 0: with none
	floor     float64    // FS²/Hz, mean over its segments; 0: none is known
	width     survey.Hz  // noise bandwidth of a bin
	visit     int        // of the recorder
}

// seekOptions gives what is known ahead of interference at a site: its mains frequency (0:
// unknown), and its region's amateur bands (of region 0: of all), which devices leave
// out of what they radiate.
func seekOptions(mains survey.Hz, region survey.Region) *interference.Options {
	return &interference.Options{Mains: float64(mains), Quiet: bandsOf(survey.AmateurBands(region))}
}

// newPassband gathers what a measurement gave, before combs are sought in it.
func newPassband(m dsp.Measurement, c conditions) *passband {
	p := &passband{readings: readingsOf(m, c), view: m.View, width: survey.Hz(m.Resolution)}
	p.low, p.high = UsablePassband(c.centre, c.rate)
	floors := 0
	for _, b := range m.Bands {
		if b.Floor != nil {
			p.floor, floors = p.floor+b.Floor.Density, floors+1
		}
	}
	p.floor /= float64(max(1, floors))
	if m.Findings != nil {
		p.gather(m.Findings)
	}
	if slices.ContainsFunc(p.readings, func(r survey.Reading) bool {
		return r.Quality.Has(survey.FlagOverload) || r.Quality.Has(survey.FlagLowDrive)
	}) {
		p.distrust()
	}
	if c.dropped > 0 { // where samples are missing every line breaks off
		p.findings = slices.DeleteFunc(p.findings, func(f survey.Finding) bool { return f.Kind == survey.FindingImpulses })
	}
	return p
}

// distrust takes back what cannot be told from a converter that is overloaded, or moves
// hardly a code: it makes pulses, lines and modulation of its own. Noise modulated with
// the mains stays, as if it had been measured by force.
func (p *passband) distrust() {
	p.view, p.mains = nil, 0
	p.findings = slices.DeleteFunc(p.findings, func(f survey.Finding) bool { return f.Kind != survey.FindingMains })
	for i := range p.findings {
		p.findings[i].Confidence = 0
	}
}

// gather makes findings of what a measurement found. Those without enough evidence are
// left out, but for noise that is modulated with the mains: it is compared between
// setups, and so it is kept always.
func (p *passband) gather(found *interference.Findings) {
	if m := found.Mains; m != nil {
		f := survey.Finding{Kind: survey.FindingMains, Low: survey.Hz(m.Low), High: survey.Hz(m.High), Envelope: survey.Hz(m.Envelope), Mains: survey.Hz(m.Mains),
			Depth: m.Depth, Shape: m.Shape, Confidence: interference.Confidence(m.P), Power: m.Square, Sigma: m.Sigma}
		p.findings = append(p.findings, f)
		if f.Detected() {
			p.mains = f.Mains
		}
	}
	if i := found.Impulses; i != nil {
		p.detected(survey.Finding{Kind: survey.FindingImpulses, Low: p.low, High: p.high, Rate: survey.Hz(i.Rate), Regular: i.Regular, Strength: decibels(i.Strength)}, i.P)
	}
	for _, h := range found.Humps {
		p.detected(survey.Finding{Kind: survey.FindingHump, Low: survey.Hz(h.Low), High: survey.Hz(h.High), Strength: decibels(h.Strength)}, h.P)
	}
	for _, n := range found.Notches {
		p.detected(survey.Finding{Kind: survey.FindingNotch, Low: survey.Hz(n.Low), High: survey.Hz(n.High), Strength: decibels(n.Strength)}, n.P)
	}
}

// detected keeps a finding if its evidence suffices.
func (p *passband) detected(f survey.Finding, pValue float64) {
	if f.Confidence = interference.Confidence(pValue); f.Detected() {
		p.findings = append(p.findings, f)
	}
}

// measure measures the lines of a comb in the passband, whatever its own evidence, and keeps
// what comes of it as a finding. It does nothing where none of its lines is in view.
func (p *passband) measure(c comb.Comb, confidence float64) {
	if p.view == nil {
		return
	}
	power, sigma, lines := p.view.Lines(c)
	if lines == 0 {
		return
	}
	strength := survey.DB(math.NaN())
	if p.floor > 0 {
		strength = decibels(power / (p.floor * float64(p.width)))
	}
	f := survey.Finding{Kind: survey.FindingComb, Low: p.low, High: p.high, Spacing: survey.Hz(c.Spacing), Width: survey.Hz(c.Width), Lines: lines,
		Mains: p.mains, Strength: strength, Confidence: confidence, Power: power, Sigma: sigma}
	if f.Detected() {
		f.Sought, f.Envelope, f.Depth = c.Modulation.Sought, survey.Hz(c.Modulation.Envelope), c.Modulation.Depth
		f.Mains = cmp.Or(survey.Hz(c.Modulation.Mains), f.Mains)
	}
	p.findings, p.combs = append(p.findings, f), append(p.combs, c)
}

// measureFound measures combs that were found.
func (p *passband) measureFound(found []comb.Comb) {
	for _, c := range found {
		p.measure(c, interference.Confidence(c.P))
	}
}

// force measures by force the combs of the list that were not measured yet, where they are at
// the moment given, and gives what came of it.
func (p *passband) force(w *combWatch, round int, at time.Time) []survey.Finding {
	had := len(p.findings)
	for _, c := range w.missing(p.combs, round, at) {
		p.measure(c, 0)
	}
	return p.findings[had:]
}

// share gives all findings to all readings, and lets go of what only the search for combs needs.
func (p *passband) share() {
	for i := range p.readings {
		p.readings[i].Findings = p.findings
	}
	if p.view != nil {
		p.view.Release()
	}
}

// decibels gives a ratio of powers in dB, NaN where it is none.
func decibels(ratio float64) survey.DB {
	if !(ratio > 0) {
		return survey.DB(math.NaN())
	}
	return survey.DB(10 * math.Log10(ratio))
}

// ratio gives a level as a ratio of powers, 0 where it is not known.
func ratio(level survey.DB) float64 {
	if math.IsNaN(float64(level)) {
		return 0
	}
	return math.Pow(10, float64(level)/10)
}
