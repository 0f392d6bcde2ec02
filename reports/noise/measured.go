package noise

import (
	"iter"

	"nightfloor/reports/readlog"
	"nightfloor/survey"
)

// Measured is what was measured of one source while it was on, in order of time: of a comb
// its lines' power, of noise that beats with the mains the square of its amplitude.
type Measured struct {
	Spacing  *survey.Hz // nil: no comb
	Envelope *survey.Hz // of the mains modulation; nil: none
	Squared  bool       // powers are squares
	WhileOn  iter.Seq2[*readlog.Reading, *survey.Finding]
}

// Measured gives the combs and the beats with the mains, the surest first: the sources that
// are measured by force, so that no reading of them is chosen for its strength.
func (f *Found) Measured() (all []Measured) {
	for _, s := range f.sources {
		m := Measured{WhileOn: f.log.whileOn(s)}
		switch s.kind {
		case survey.FindingComb:
			m.Spacing = hertz(s.spacing)
			if b := s.lineBeat(); b.found() {
				m.Envelope = hertz(b.envelope)
			} else if s.mains != nil {
				m.Envelope = hertz(s.mains.envelope)
			}
		case survey.FindingMains:
			envelope, _, _ := beatFigures(s.findings())
			m.Envelope, m.Squared = hertz(envelope), true
		default:
			continue
		}
		all = append(all, m)
	}
	return all
}

// whileOn gives the readings in which a source was measured while it was on.
func (l *noiseLog) whileOn(s *noiseSource) iter.Seq2[*readlog.Reading, *survey.Finding] {
	return func(yield func(*readlog.Reading, *survey.Finding) bool) {
		for i := range l.Readings {
			h, found := &l.Readings[i], s.measured[i]
			if found != nil && s.at(h.Sweep.Survey, h.Start) && !yield(h, found) {
				return
			}
		}
	}
}
