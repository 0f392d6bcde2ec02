package capture

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp"
	"nightfloor/dsp/comb"
	"nightfloor/dsp/interference"
	"nightfloor/survey"
)

// A passband is what one tuning of a sweep, or one recording, gave. Findings are sought
// over the whole of it; its readings share them.
type passband struct {
	readings  []survey.Reading
	visit     int              // of the recorder
	low, high survey.Hz        // of the usable passband
	findings  []survey.Finding // of which combs come last
	combs     []comb.Comb      // those among them
	view      *comb.View       // nil: no findings were sought, or it is not kept any more
	mains     survey.Hz        // that its noise beats with, 0: with none
	floor     float64          // FS²/Hz, mean over its segments; 0: none is known
	width     survey.Hz        // noise bandwidth of a bin
}

// seek gives what is known ahead of interference at a site: its mains frequency (0:
// unknown), and its region's amateur bands (of region 0: of all), which devices leave
// out of what they radiate.
func seek(mains survey.Hz, region survey.Region) *interference.Options {
	return &interference.Options{Mains: float64(mains), Quiet: bandsOf(survey.AmateurBands(region))}
}

// newPassband gathers what a measurement gave, but for combs.
func newPassband(m dsp.Measurement, c Conditions) *passband {
	p := &passband{readings: Readings(m, c), view: m.View, width: survey.Hz(m.Resolution)}
	p.low, p.high = UsablePassband(c.Centre, c.SampleRate)
	floors := 0
	for _, b := range m.Bands {
		if b.Floor != nil {
			p.floor, floors = p.floor+b.Floor.Density, floors+1
		}
	}
	p.floor /= float64(max(1, floors))
	if m.Findings != nil {
		p.take(m.Findings)
	}
	if slices.ContainsFunc(p.readings, func(r survey.Reading) bool {
		return r.Quality.Has(survey.FlagOverload) || r.Quality.Has(survey.FlagLowDrive)
	}) {
		p.distrust()
	}
	if c.Dropped > 0 { // where samples are missing every line breaks off
		p.findings = slices.DeleteFunc(p.findings, func(f survey.Finding) bool { return f.Kind == survey.FindingImpulses })
	}
	return p
}

// distrust takes back what a converter that is driven over, or hardly at all, cannot tell:
// it makes pulses, lines and beats of what it hears. What beats with the mains stays as measured by force.
func (p *passband) distrust() {
	p.view, p.mains = nil, 0
	p.findings = slices.DeleteFunc(p.findings, func(f survey.Finding) bool { return f.Kind != survey.FindingMains })
	for i := range p.findings {
		p.findings[i].Confidence = 0
	}
}

// take takes over what was found. What nothing speaks for is left out, but for noise
// that beats with the mains: as that compares between setups, it is kept always.
func (p *passband) take(found *interference.Findings) {
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

// detected keeps a finding that its evidence speaks for.
func (p *passband) detected(f survey.Finding, chance float64) {
	if f.Confidence = interference.Confidence(chance); f.Detected() {
		p.findings = append(p.findings, f)
	}
}

// decibels gives a ratio of powers in dB, NaN where it is none.
func decibels(ratio float64) survey.DB {
	if !(ratio > 0) {
		return survey.DB(math.NaN())
	}
	return survey.DB(10 * math.Log10(ratio))
}

// linear gives a level as a ratio of powers, 0 where it is not known.
func linear(level survey.DB) float64 {
	if math.IsNaN(float64(level)) {
		return 0
	}
	return math.Pow(10, float64(level)/10)
}

// measure measures the lines of a comb in the passband, whatever its own evidence.
// Nothing comes of it where none of its lines is in view.
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
		f.Sought, f.Envelope, f.Depth = c.Beat.Sought, survey.Hz(c.Beat.Envelope), c.Beat.Depth
		f.Mains = cmp.Or(survey.Hz(c.Beat.Mains), f.Mains)
	}
	p.findings = append(p.findings, f)
	p.combs = append(p.combs, c)
}

// alone takes over a comb that was found in this passband alone, which says more of it
// than force can.
func (p *passband) alone(c comb.Comb) {
	had := len(p.findings)
	p.measure(c, interference.Confidence(c.P))
	for i := range p.findings[had:] {
		f := &p.findings[had+i]
		f.Lines, f.Strength = c.Lines, decibels(c.Strength)
	}
}

// forceCombs measures by force the combs of the list that were not measured yet, and
// gives what came of it.
func (p *passband) forceCombs(w *combWatch, round int) []survey.Finding {
	had := len(p.findings)
	for _, c := range w.missing(p.combs, round, p.readings[0].Start) {
		p.measure(c, 0)
	}
	return p.findings[had:]
}

// share gives the findings to all readings, once combs were sought.
func (p *passband) share() {
	if p.view != nil {
		p.view.Spent()
	}
	for i := range p.readings {
		p.readings[i].Findings = p.findings
	}
}
