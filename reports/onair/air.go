package onair

import (
	"math"
	"slices"

	"nightfloor/reports/input"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// An Air holds what the spectra of a selection's amateur bands say of what is on the air.
type Air struct {
	bands  []*band
	places map[int64]place // by reading
}

// A place is what a reading was taken in.
type place struct {
	band    *band
	reading *survey.Reading
	visit   visitKey
}

// A visitKey names a stay at a setup in a round.
type visitKey struct {
	cellKey
	visit int
}

// A cellKey names a setup in a round.
type cellKey struct {
	setup survey.Setup
	round input.RoundKey
}

// New finds the amateur bands of a selection and the readings in them. Overloaded readings are
// left out, and so are those without a floor, as carriers' are.
func New(in input.Selection) *Air {
	a := &Air{places: map[int64]place{}}
	for _, segment := range in.Ranked() {
		if segment.Amateur() {
			a.bands = append(a.bands, newBand(segment))
		}
	}
	for _, s := range in.Sweeps {
		for i := range s.Readings {
			r := &s.Readings[i]
			b := a.bandOf(r.Segment)
			if b == nil || r.Quality.Has(survey.FlagOverload) || r.Floor == nil {
				continue
			}
			key := cellKey{s.Setup, input.RoundKey{Survey: s.Survey, Round: s.Round}}
			a.places[r.ID] = place{b, r, visitKey{key, s.Visit}}
			b.leaveOut(key.round, r)
		}
	}
	return a
}

// bandOf gives the band that a reading's segment covers, nil where it is none.
func (a *Air) bandOf(s survey.Segment) *band {
	i := slices.IndexFunc(a.bands, func(b *band) bool {
		return b.segment.Name == s.Name && s.Low <= b.segment.Low && s.High >= b.segment.High
	})
	if i < 0 {
		return nil
	}
	return a.bands[i]
}

// Segments names the segments whose spectra Add wants.
func (a *Air) Segments() (names []string) {
	for _, b := range a.bands {
		if !slices.Contains(names, b.segment.Name) {
			names = append(names, b.segment.Name)
		}
	}
	return names
}

// Add takes the spectrum of a reading. Those of a visit come one after another, as the store
// gives them; readings that were not asked for are passed over.
func (a *Air) Add(reading int64, s *survey.Spectrum) {
	at, ok := a.places[reading]
	if !ok || s == nil {
		return
	}
	if density := at.reading.Floor.Density.Linear(); stats.Finite(density) && density > 0 {
		at.band.add(at.visit, slotsOf(s, at.band.segment, density), at.reading.Duration.Seconds())
	}
}

// SlotWidth is the width of a slot: that of a voice, into which some ten narrow
// transmissions fit.
const SlotWidth survey.Hz = 2400

// slotCount gives how many whole slots a segment has, from its lower edge on.
func slotCount(s survey.Segment) int { return int((s.High - s.Low) / SlotWidth) }

// slotsOf gives the mean density in each slot of a segment over a density; nil where the
// spectrum is too coarse or does not cover it.
func slotsOf(s *survey.Spectrum, segment survey.Segment, density float64) []float64 {
	slots := make([]float64, slotCount(segment))
	for i := range slots {
		low := segment.Low + SlotWidth*survey.Hz(i)
		from := max(0, int(math.Ceil(float64((low-s.First)/s.Step))))
		to := min(len(s.Density), int(math.Ceil(float64((low+SlotWidth-s.First)/s.Step))))
		// A bin may be missing at either edge of the segment.
		if from >= to || float64(to-from+1) < float64(SlotWidth/s.Step)-1 {
			return nil
		}
		var sum float64
		for _, d := range s.Density[from:to] {
			sum += math.Exp(float64(d) * (math.Ln10 / 10)) // a fifth of the time of 10^x
		}
		if slots[i] = sum / float64(to-from) / density; !stats.Finite(slots[i]) {
			return nil
		}
	}
	return slots
}
