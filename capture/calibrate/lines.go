package calibrate

import (
	"context"

	"nightfloor/survey"
)

// A LinesFound is what was heard without an antenna.
type LinesFound struct {
	Lines  []survey.OwnLine   // lowest frequency first
	Floors []survey.SelfNoise // one a segment that has a floor
	// Doubtful names the segments where so few codes move that the converter makes
	// lines of its own.
	Doubtful []string
	// Broadcasters is how many of the lines stand on the raster of 5 kHz as a band
	// of stations does; 0 where they do not.
	Broadcasters int
}

// OwnLines listens in several sweeps, at the gains that a pilot finds, and keeps
// the lines that are in half of them or more. An up-converter's offset is needed
// to tell broadcasters.
func (k *Calibrator) OwnLines(ctx context.Context, sweeps int, offset survey.Hz) (found LinesFound, err error) {
	h, err := k.Hear(ctx, sweeps)
	if err != nil {
		return found, err
	}
	var all []clockLine
	for tuning, t := range k.sweeper.Tunings() {
		for _, s := range t.Segments {
			readings := h.readings[s]
			var carriers []seen
			dithered := true
			for n, r := range readings {
				carriers = append(carriers, detected(r, n)...)
				dithered = dithered && dithers(r)
			}
			if !dithered {
				found.Doubtful = append(found.Doubtful, s.Name)
			}
			gain := readings[0].Gain.DB
			for _, l := range steadyLines(carriers, readings[0].Resolution, max(1, (sweeps+1)/2)) {
				level, _ := survey.LevelOf(l.power())
				found.Lines = append(found.Lines, survey.OwnLine{Frequency: l.frequency(), Gain: gain, Level: level})
				all = append(all, clockLine{heard: l.frequency(), tuned: l.frequency() + offset, tuning: tuning})
			}
			if floor := h.floor(s); floor != nil {
				found.Floors = append(found.Floors, survey.SelfNoise{Segment: s, Gain: gain, Density: survey.DensityOf(*floor)})
			}
		}
	}
	found.Broadcasters = newRasterSearch(all, offset, k.wide).broadcasters()
	return found, nil
}
