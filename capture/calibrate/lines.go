package calibrate

import (
	"context"
	"math"

	"nightfloor/survey"
)

// MeasuredLines are the lines that are there without an antenna, with what speaks against
// them.
type MeasuredLines struct {
	Lines  []survey.OwnLine   // lowest frequency first
	Floors []survey.SelfNoise // one a segment that has a floor
	// Doubtful names the segments where so few codes move that the converter makes
	// lines of its own.
	Doubtful []string
	// Broadcasters is how many of the lines stand on the raster of 5 kHz in the way of a
	// band of stations; 0: they are not stations.
	Broadcasters int
}

// OwnLines listens in several sweeps, at the gains that a pilot finds, and keeps
// the lines that are in half of them or more. An up-converter's offset is needed
// to tell broadcasters.
func (k *Calibrator) OwnLines(ctx context.Context, sweeps int, offset survey.Hz) (found MeasuredLines, err error) {
	h, err := k.Sweeps(ctx, sweeps)
	if err != nil {
		return found, err
	}
	var all []clockLine
	for tuning, t := range k.sweeper.Tunings() {
		for _, s := range t.Segments {
			readings := h.readings[s]
			var carriers []observed
			dithered := true
			for n, r := range readings {
				carriers = append(carriers, detectedCarriers(r, n)...)
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
			if floor := h.floor(s).value; !math.IsNaN(floor) {
				found.Floors = append(found.Floors, survey.SelfNoise{Segment: s, Gain: gain, Density: survey.DensityOf(floor)})
			}
		}
	}
	found.Broadcasters = newRasterSearch(all, offset, k.tunerError).broadcasters()
	return found, nil
}
