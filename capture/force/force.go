// Package force measures carriers where they were heard before, heard now or not.
//
// A Watch keeps those that a plan lists and those that were heard through any setup in the last rounds, and says
// which of them a reading has no carrier for. Measure then measures these in the reading's spectrum by force.
package force

import (
	"cmp"
	"math"
	"slices"

	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A Watch holds the carriers that were heard through any setup in this and
// the last rounds, by segment. Through every other setup they are measured by
// force; otherwise weak stations would exist only where they were heard, and
// the poorer antenna would look better than it is.
type Watch map[string][]watched

type watched struct {
	frequency survey.Hz
	round     int  // the last in which it was detected
	listed    bool // by the plan: it stays, and where it is
}

// New gives a list with what a plan lists, which is measured in every reading.
func New(p plan.Plan) Watch {
	w := Watch{}
	for segment, frequencies := range p.Listed {
		for _, f := range frequencies {
			w[segment] = append(w[segment], watched{frequency: f, listed: true})
		}
	}
	return w
}

// Rounds is how many rounds a carrier, or a comb, stays on a list unheard.
const Rounds = 3

// Note puts the detected carriers of a reading on the list. A carrier within one bin
// of the nearest on the list is the same carrier, and renews it.
func (w Watch) Note(r *survey.Reading, round int) {
	list := w[r.Segment.Name]
	for _, c := range r.Carriers {
		if !c.Detected {
			continue
		}
		if at := nearest(list, c.Frequency); at >= 0 && distance(list[at].frequency, c.Frequency) <= r.BinWidth {
			if !list[at].listed {
				list[at] = watched{frequency: c.Frequency, round: round} // so that the list follows a slow drift
			}
			continue
		}
		list = append(list, watched{frequency: c.Frequency, round: round})
	}
	slices.SortFunc(list, func(a, b watched) int { return cmp.Compare(a.frequency, b.frequency) })
	w[r.Segment.Name] = list
}

// Forget drops what was not heard for some rounds.
func (w Watch) Forget(round int) {
	for name, list := range w {
		w[name] = slices.DeleteFunc(list, func(c watched) bool { return !c.listed && c.round < round-Rounds })
	}
}

// Missing gives the frequencies on the list that the reading has no carrier
// for, and that lie within its spectrum.
func (w Watch) Missing(r *survey.Reading) []survey.Hz {
	var out []survey.Hz
	for _, c := range w[r.Segment.Name] {
		if c.frequency < r.Segment.Low || c.frequency > r.Segment.High {
			continue
		}
		if !slices.ContainsFunc(r.Carriers, func(have survey.Carrier) bool { return distance(have.Frequency, c.frequency) <= r.BinWidth }) {
			out = append(out, c.frequency)
		}
	}
	return out
}

// nearest gives the index of the entry nearest to f, −1 in an empty list.
func nearest(list []watched, f survey.Hz) int {
	at := -1
	for i := range list {
		if at < 0 || distance(list[i].frequency, f) < distance(list[at].frequency, f) {
			at = i
		}
	}
	return at
}

func distance(f, g survey.Hz) survey.Hz { return survey.Hz(math.Abs(float64(f - g))) }

// Measure measures lines at frequencies in the reading's spectrum, whether they
// can be told from the noise or not, and appends them to its carriers. It does
// nothing for a reading without floor or spectrum.
func Measure(r *survey.Reading, frequencies []survey.Hz) {
	if r.Floor == nil || r.Spectrum == nil || len(frequencies) == 0 {
		return
	}
	linear := Linear(r.Spectrum)
	floor := r.Floor.Density.Linear()
	for _, f := range frequencies {
		power, sigma, quiet := linear.Line(float64(f), floor)
		if math.IsNaN(power) || math.IsNaN(sigma) {
			continue
		}
		r.Carriers = append(r.Carriers, survey.Carrier{Frequency: f, Power: power, Sigma: sigma, Quiet: quiet})
	}
}

// Linear gives a stored spectrum in linear density.
func Linear(s *survey.Spectrum) spectrum.PowerSpectrum {
	linear := make([]float32, len(s.Density))
	for i, d := range s.Density {
		linear[i] = float32(math.Exp(float64(d) * (math.Ln10 / 10))) // a fifth of the time of 10^x
	}
	return spectrum.PowerSpectrum{First: float64(s.First), Step: float64(s.Step), ENBW: s.ENBW, Looks: s.Looks, Density: linear}
}
