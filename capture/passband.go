package capture

import (
	"cmp"
	"math"

	"nightfloor/dsp/comb"
	"nightfloor/dsp/interference"
	"nightfloor/survey"
)

// A passband is the stretch of spectrum that one tuning of a sweep, or one recording,
// gave, as far as the lines of combs can be measured in it.
type passband struct {
	low, high survey.Hz  // of the usable passband
	view      *comb.View // nil: none was made, or it cannot be trusted or is not kept any more
	mains     survey.Hz  // 50 or 60: its noise is modulated with that mains; 0: with none
	floor     float64    // FS²/Hz, mean over its segments; 0: none is known
	width     survey.Hz  // noise bandwidth of a bin
}

// A measuredComb is a comb with the finding that it makes in one passband.
type measuredComb struct {
	comb    comb.Comb
	finding survey.Finding
}

// measure measures the lines of a comb in the passband, whatever its own evidence. ok is
// false where none of its lines is in view.
func (p *passband) measure(c comb.Comb, confidence float64) (m measuredComb, ok bool) {
	if p.view == nil {
		return m, false
	}
	power, sigma, lines := p.view.Lines(c)
	if lines == 0 {
		return m, false
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
	return measuredComb{c, f}, true
}

// measureFound measures combs that were found.
func (p *passband) measureFound(found []comb.Comb) (all []measuredComb) {
	for _, c := range found {
		if m, ok := p.measure(c, interference.Confidence(c.P)); ok {
			all = append(all, m)
		}
	}
	return all
}

// measureForced measures combs by force.
func (p *passband) measureForced(known []comb.Comb) (all []measuredComb) {
	for _, c := range known {
		if m, ok := p.measure(c, 0); ok {
			all = append(all, m)
		}
	}
	return all
}

// combsIn lists the combs that were measured.
func combsIn(all []measuredComb) (combs []comb.Comb) {
	for _, m := range all {
		combs = append(combs, m.comb)
	}
	return combs
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
